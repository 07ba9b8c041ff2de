"""Question. Is the fastener too near: closer to boots or own body than a tool can be brought?

Margin. Metres outside the inner reach sphere round the boot plate (no posture brings the wrist
closer to it); when a work posture is known, also the room between the worker's own body and
hand and tool, whichever is less.

Limit. ``inner_margin`` of the scene's limits; the inner sphere is a proved bound from the joint
ranges of the suit file.

Blind spots. Outside the inner sphere a fastener can still be out of reach: the check on reach
says so. Cloth touching cloth at the forearm is allowed, equipment worn on the chest is part of
the trunk only where the suit file gives it.
"""

from __future__ import annotations

import math

from reach.checks.wording import (
    SURE,
    at_least,
    attempts,
    blank,
    drives,
    finding_on,
    head_mark,
    standing,
    who,
)
from reach.finding import Finding
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import Attempt
from reach.worker.bound import reach_sphere, wrist_slack

NAME = "inner"
IDS = ("A7",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    limit = site.limit("inner_margin")
    missing = blank(situation)
    if missing:
        return finding_on(
            NAME,
            situation,
            missing,
            -math.inf,
            math.inf,
            "m",
            (limit,),
        )
    attempt = max(attempts(site, situation), key=lambda tried: tried.wrist_distance)
    inner = reach_sphere(attempt.figure)[0]
    beyond = attempt.wrist_distance - inner
    slack = wrist_slack(attempt.figure) + SURE
    low, high = beyond - slack, beyond + slack
    own = _own_room(attempt)
    if own is not None:
        # Another posture may leave more room, so what this one leaves is no upper end.
        low = min(max(low, 0.0), own)
    low, high = low - limit.value, high - limit.value
    assert situation.head is not None
    name = situation.head.name
    if high < 0.0:
        because = (
            f"{who(situation)} {standing(situation)}: {name} is too near the boots; the wrist "
            f"would have to come at least {at_least(-high)} closer to the plate than any arm "
            f"posture brings it (inner bound {text_of(inner, 'm')})."
        )
    elif own is not None:
        because = (
            f"{who(situation)} {standing(situation)} works on {name} with {text_of(own, 'm')} "
            "between own body and hand and tool."
        )
    else:
        because = (
            f"{who(situation)} {standing(situation)}: {name} lies {text_of(beyond, 'm')} outside "
            "the inner reach sphere round the boots."
        )
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (limit,),
        f"Move the boots at least {at_least(-high)} away from {name}." if high < 0.0 else "",
        (head_mark(situation, high < 0.0),),
        {"inner sphere": inner, "wrist from plate": attempt.wrist_distance, "wrist slack": slack},
    )


def _own_room(attempt: Attempt) -> float | None:
    if attempt.short > 0.0 or attempt.witness is None:
        return None
    return attempt.witness.own_room
