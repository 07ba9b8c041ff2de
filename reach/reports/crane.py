"""A crane at a station as text, CSV and JSON: reach used, branches joint by joint, time."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from rich.padding import Padding
from rich.table import Table

from reach.reports.margin import margin_text
from reach.reports.record import plain, record_of
from reach.reports.route import sourced
from reach.reports.table import heading, laid_out, paragraph, printed
from reach.units import text_of

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.crane import Branch, CraneAt, Nearest
    from reach.cranes import CraneAnswer, CraneThere

SCHEMA = "crane-1"

COLUMNS = (
    "case", "branch", "joint", "angle", "lower", "upper", "from_limit", "is_tightest", "singular",
    "joint_margin", "singular_margin", "link_margin", "link", "thing", "gap", "asked",
)  # fmt: skip
"""Columns of the CSV: a row is a joint of a branch, SI units; what holds for the branch repeats."""


def render_crane(
    answer: CraneAnswer, width: int = 100, colour: bool = False, units: str = "si"
) -> str:
    """Return branches, time and findings as text that stands alone.

    Parameters
    ----------
    answer : CraneAnswer
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    """
    return printed(_parts(answer, width, units), width, colour)


def crane_csv(answer: CraneAnswer) -> str:
    """Return one row for each joint of each branch under `COLUMNS`, SI units."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for there in answer.there:
        for number, branch in enumerate(there.at.branches, 1):
            table.writerows(_rows(there, number, branch))
    return text.getvalue()


def crane_json(answer: CraneAnswer) -> str:
    """Return the answer as JSON text, SI units: the findings and, beside them, the branches."""
    record = record_of(answer.outcome) | {
        "exit_code": answer.exit_code,
        "crane": {
            "schema": SCHEMA,
            "crane": answer.crane,
            "station": answer.asked.station,
            "from": answer.asked.start,
            "worker": answer.asked.worker,
            "at": [_record(there) for there in answer.there],
        },
    }
    return json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _rows(there: CraneThere, number: int, branch: Branch) -> Iterator[tuple[Any, ...]]:
    rig = there.at.rig
    near = branch.nearest[0] if branch.nearest else None
    tail = (None,) * 4 if near is None else (near.link, near.thing, near.gap, near.asked)
    for k, joint in enumerate(rig.joints):
        numbers = (
            branch.posture.q[k], rig.chain.lower[k], rig.chain.upper[k],
            branch.posture.from_limits[k],
        )  # fmt: skip
        yield (
            there.case, number, joint, *(_rounded(v) for v in numbers),
            "yes" if k == branch.tightest else "", _rounded(branch.posture.singular),
            _rounded(branch.joint_margin), _rounded(branch.singular_margin),
            _rounded(branch.link_margin), *(_rounded(v) for v in tail),
        )  # fmt: skip


def _rounded(value: Any) -> Any:
    if value is None or isinstance(value, str):
        return value
    return round(float(value), 6) + 0.0 if math.isfinite(value) else None


def _record(there: CraneThere) -> dict[str, Any]:
    at = there.at
    return {
        "case": there.case,
        "distance": plain(at.distance),
        "full_reach": plain(at.rig.full_reach),
        "reach_used": plain(at.reach_used),
        "shortage": plain(max(at.shortage, 0.0)),
        "time": plain(there.seconds),
        "least_time": plain(there.least),
        "branches": [
            {
                "joints": {
                    joint: {
                        "angle": plain(float(branch.posture.q[k])),
                        "from_limit": plain(float(branch.posture.from_limits[k])),
                    }
                    for k, joint in enumerate(at.rig.joints)
                },
                "tightest": at.rig.joints[branch.tightest],
                "singular": plain(branch.posture.singular),
                "nearest": [
                    {
                        "kind": near.kind, "link": near.link, "thing": near.thing,
                        "gap": plain(near.gap), "asked": plain(near.asked),
                    }
                    for near in branch.nearest
                ],
            }
            for branch in at.branches
        ],
    }  # fmt: skip


# ---- text ------------------------------------------------------------------------------


def _parts(answer: CraneAnswer, width: int, units: str) -> Iterator[RenderableType]:
    there = answer.worst
    at, site = there.at, answer.site
    who = "" if there.situation is None else f", {there.situation.worker} ({there.case}) on it"
    yield heading("CRANE", f"{answer.crane} at {answer.asked.station}{who}")
    reserve = site.limit("crane_reserve")
    left = (1.0 - reserve.value) * at.rig.full_reach - at.distance
    full, may = text_of(at.rig.full_reach, "m", units), 100.0 * (1.0 - reserve.value)
    words = (
        f"{text_of(at.distance, 'm', units)} from base to tip, {100.0 * at.reach_used:.0f} % of "
        f"the full reach of {full}; {may:.0f} % may be used: {margin_text(left, left, 'm', units)}."
    )
    yield paragraph(words, 2)
    if at.shortage > 0.0:
        short = margin_text(-math.inf, -at.shortage, "m", units)
        yield paragraph(f"Proved out of reach: {short}.", 2)
    elif at.best is None:
        yield paragraph("No posture was found within the joint limits, which is no proof.", 2)
    else:
        yield from _branches(at, units)
        yield from _best(at, at.best, units)
    yield from _time(answer, there)
    yield heading("RECKONED WITH")
    for name in ("crane_reserve", "joint_reserve", "singular_reserve", "link_clearance"):
        yield paragraph(sourced(site.limit(name), units), 2)
    yield from laid_out(answer.outcome, width, units)


def _branches(at: CraneAt, units: str) -> Iterator[RenderableType]:
    n = len(at.branches)
    yield heading("BRANCHES", f"{n} found, the one with the best worst margin first")
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for name in ("", *at.rig.joints, "singular", "links"):
        table.add_column(name.replace("_", "\n"), justify="right", no_wrap=True)
    table.add_column("limited\nby", no_wrap=True)
    for number, branch in enumerate(at.branches, 1):
        cells = [
            _joint(at, k, float(q), float(branch.posture.from_limits[k]))
            for k, q in enumerate(branch.posture.q)
        ]
        gap = f"{branch.nearest[0].gap:.2f}" if branch.nearest else ""
        table.add_row(str(number), *cells, f"{branch.posture.singular:.3f}", gap, _by(at, branch))
    yield Padding(table, (0, 0, 0, 2), expand=False)
    words = (
        "Joints in degrees, in brackets how far each is from its nearer limit (sliding joints in "
        "m); 'singular': distance from singular poses; 'links': the gap that leaves least of what "
        "is asked, m. The search for branches is not complete."
    )
    yield paragraph(words, 2)


def _joint(at: CraneAt, k: int, value: float, left: float) -> str:
    if at.rig.chain.slides[k]:
        return f"{value:.2f} ({left:.2f})"
    shown = "free" if math.isinf(left) else f"{math.degrees(left):.0f}"
    return f"{math.degrees(value) + 0.0:.0f} ({shown})".replace("-0 ", "0 ")


def _by(at: CraneAt, branch: Branch) -> str:
    """Return what limits a branch most, in a few words."""
    from reach.crane.at_rest import worst_of

    far = math.inf
    joint = worst_of(branch.joint_margin, far, far)
    singular = worst_of(far, branch.singular_margin, far)
    link = worst_of(far, far, branch.link_margin)
    least = min(joint, singular, link)
    if least == joint:
        return at.rig.joints[branch.tightest]
    return "singular" if least == singular else "links"


def _best(at: CraneAt, best: Branch, units: str) -> Iterator[RenderableType]:
    yield heading("BRANCH 1", f"limited by {_by(at, best)}")
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    for name in ("joint", "at", "from", "to", "left"):
        table.add_column(name, justify="left" if name == "joint" else "right", no_wrap=True)
    for k, joint in enumerate(at.rig.joints):
        unit = "m" if at.rig.chain.slides[k] else "rad"
        numbers = (
            best.posture.q[k], at.rig.chain.lower[k], at.rig.chain.upper[k],
            best.posture.from_limits[k],
        )  # fmt: skip
        table.add_row(joint, *(_angle(float(v), unit) for v in numbers))
    yield Padding(table, (0, 0, 0, 2), expand=False)
    for near in best.nearest[:5]:
        yield paragraph(_near(near, units), 2)


def _angle(value: float, unit: str) -> str:
    return "free" if math.isinf(value) else text_of(value + 0.0, unit)


def _near(near: Nearest, units: str) -> str:
    own = "its own " if near.kind == "self" else "the rider's " if near.kind == "rider" else ""
    asked = f", {text_of(near.asked, 'm', units)} asked" if near.asked > 0.0 else ""
    return f"{near.link} to {own}{near.thing}: {text_of(near.gap, 'm', units)} at least{asked}."


def _time(answer: CraneAnswer, there: CraneThere) -> Iterator[RenderableType]:
    start = answer.asked.start
    if start is None:
        return
    yield heading("TIME", f"from {start}")
    if there.seconds is not None:
        words = f"{_minutes(there.seconds)} at the joints' rates in the postures found"
        yield paragraph(f"{words}; in any posture {_minutes(there.least)} at least.", 2)
    else:
        why = "it is not known how it gets there"
        if there.way is not None and there.way.why:
            why = there.way.why.rstrip(".")
            why = f"{why[0].lower()}{why[1:]}"
        yield paragraph(f"Not known, for {why}; {_minutes(there.least)} at least.", 2)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.1f} min"
