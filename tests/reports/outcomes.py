"""A run written by hand: one finding of every verdict, in the order of steps, checks, sizes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.finding import Finding, Limit, Mark
from reach.model.provenance import Provenance, SourceMark
from reach.run import Outcome

INVENTED = Provenance(
    source="Hollin yard handbook", place="page 3", mark=SourceMark.INVENTED, note="Replace it."
)
PRACTICE = Provenance(source="Tank divers", mark=SourceMark.COMMON_PRACTICE)
SURVEY = Provenance(source="Body survey", place="table 7", mark=SourceMark.PUBLISHED)
CLEARANCE = Limit("body_clearance", 0.1, "m", INVENTED)
BOLT = ("W1", "IB2", "PT-1", "SK3")
FAR_BOLT = ("W1", "IB7", "PT-1", "SK3")


def finding(check: str, low: float, high: float, **changes: Any) -> Finding:
    asked: dict[str, Any] = {
        "step": "turn-IB2",
        "about": BOLT,
        "case": "medium",
        "because": f"{check} was looked at.",
        "unit": "m",
    }
    return Finding(check=check, low=low, high=high, **(asked | changes))


def far(case: str, missing: float, because: str) -> Finding:
    return finding(
        "reach",
        -math.inf,
        -missing,
        step="turn-IB7",
        about=FAR_BOLT,
        case=case,
        because=because,
        fix=f"An extension of {missing + 0.01:.2f} m would do.",
        marks=(Mark("sphere", ((1.0, 2.0, 3.0),), "outer bound", 0.8, bad=True),),
        numbers={"tier": "outer bound", "distance": np.float64(1.02), "tried": np.arange(3)},
    )


FAR = "The head lies outside the outer bound of both shoulders."
FAILS = (
    finding("clearance", -0.04, -0.02, limits=(CLEARANCE,), because="The backpack meets bay 4."),
    finding("sight", -math.inf, -0.2, unit="", because="A diagonal hides the head."),
    far("small", 0.25, "The head lies outside the outer bound of the small body."),
    far("medium", 0.18, FAR),
    far("large", 0.18, FAR),
)
OPENS = (
    finding("access", -math.inf, math.inf, because="The search ended after 4,000 cells."),
    finding("reach", -0.05, 0.2, case="large", because="A posture was not found in time."),
)
REVIEWS = (finding("glove", -0.004, 0.006, because="The gap is as wide as the glove."),)
PASSES = (
    finding("reach", 0.11, 0.16, case="small"),
    finding("reach", 0.12, math.inf),
    finding("torque", 12.0, 12.0, case="small", unit="N m"),
    finding("torque", 12.0, 12.0, unit="N m"),
    finding("sight", math.radians(20.0), math.radians(25.0), unit="rad"),
)
SILENT = (finding("hand", math.nan, math.nan, because="The bolt may be turned by either hand."),)
MIXED = PASSES[:2] + OPENS + FAILS + REVIEWS + PASSES[2:] + SILENT


def outcome(findings: tuple[Finding, ...] = MIXED, **changes: Any) -> Outcome:
    told: dict[str, Any] = {
        "title": "Hollin yard",
        "procedure": "Two bolts",
        "findings": findings,
        "not_asked": (("two-handed", "No step asks for both hands."),),
        "inputs": (("hollin/scene.toml", "ab" * 32), ("/home/ada/two-bolts.toml", "cd" * 32)),
        "assumptions": (
            ("limits.body_clearance", "0.100 m", INVENTED),
            ("limits.sight_angle", "60.0 deg", PRACTICE),
            ("people.male", "ANSUR II", SURVEY),
        ),
        "warnings": ("mesh truss.stl is 4200 m long; is its unit right?",),
        "seconds": 3.21,
        "site": None,
        "situations": (),
    }
    return Outcome(**(told | changes))
