"""Question. Does what is moved keep off structure and hazards on its whole way?

Asked of the payload, of whoever rides with it, and of the boot plate on the crane's tip, one
answer each: the thing that comes nearest to what is asked of it.

Margin. Metres between the gap and the stand-off.  The low end is a proved bound over all the
way, not at samples of it; the high end is a place where it comes so near.

Limit. ``stand_off`` of a leg for a thing, else of the hazard or the solid, of the payload, or
``payload_clearance``; of a hazard while it is ``active``.  Where a leg asks 0 of a solid, and of
what a payload seats on in a guide, contact of the payload is meant and not judged here; a rider
and a boot plate may touch nothing.
Of a way that is left blank the straight one is tried, of a crane that moves by itself one way of
its joints, turning evenly: that it comes too near is no proof; a start or goal that does is one.

Blind spots. The rider's arms are folded, and boots are a box round both; the boot has a wall as
thick as the sole.  The joints and links of the crane, swinging, stopping and errors of the way
have checks of their own or none; safety lines, hoses and what hangs on the rider are left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from reach.checks.carrying import (
    finding_of_carriage,
    gap_mark,
    interval_words,
    leg_words,
    moved_words,
    not_asked_of_carriage,
    out_of_reach,
    turned_so_far,
)
from reach.checks.untold import untold
from reach.checks.wording import SURE, UNKNOWN
from reach.finding import Finding, Limit
from reach.geometry import path_gap
from reach.model.provenance import Provenance
from reach.payload.gaps import gaps_of
from reach.payload.parts import parts_of
from reach.payload.records import Part, PartGap
from reach.payload.shifting import FARTHEST, Shift, clearing_shift
from reach.payload.things import things_of
from reach.payload.track import track_of
from reach.site import Carriage, Site
from reach.units import text_of

NAME = "sweep"
IDS = ("L2",)
TAKES = "carriages"


def find(site: Site, carriages: tuple[Carriage, ...]) -> list[Finding]:
    """Return one finding for each motion and part of what is moved."""
    return [finding for carriage in carriages for finding in _findings(site, carriage)]


def _findings(site: Site, carriage: Carriage) -> list[Finding]:
    parts = parts_of(site, carriage)
    if not parts:
        return [not_asked_of_carriage(NAME, carriage, f"{_what(carriage)} has no size.")]
    if track_of(site, carriage) is None:
        why = out_of_reach(site, carriage)
        return [not_asked_of_carriage(NAME, carriage, why) if why else _unknown(carriage)]
    return [
        *(_finding(site, carriage, part) for part in parts),
        *untold(NAME, site, carriage),
    ]


def _what(carriage: Carriage) -> str:
    words = moved_words(carriage)
    return words[:1].upper() + words[1:]


def _unknown(carriage: Carriage) -> Finding:
    if len(carriage.poses) < 2:
        because = f"It is not known from where {moved_words(carriage)} comes."
        fix = "Name the station it comes from: from in the action, or --from."
    else:
        because = f"No way of the joints that takes {moved_words(carriage)} there was found."
        fix = ""
    return finding_of_carriage(NAME, carriage, because, -UNKNOWN, UNKNOWN, "m", fix=fix)


def judged(gap: PartGap) -> tuple[float, float]:
    """Return the margin of a gap, m; contact that is not meant is never good.

    What comes near a hazard that may be active then or not proves nothing.
    """
    low, high = gap.margin
    if not gap.is_sure and high < 0.0:
        high = UNKNOWN
    return low - SURE, high + SURE if gap.high > 0.0 else high


def _finding(site: Site, carriage: Carriage, part: Part) -> Finding:
    mine = [gap for gap in gaps_of(site, carriage) if gap.part == part.name]
    asked = [gap for gap in mine if not gap.is_contact_meant]
    meant = sorted({gap.thing for gap in mine if gap.is_contact_meant})
    about = () if part.kind == "payload" else (part.name,)
    numbers: dict[str, Any] = {"answer": part.kind, "contact meant": meant}
    if not asked:
        why = f"Nothing is there that {_name(carriage, part)} must keep off."
        return not_asked_of_carriage(NAME, carriage, why, about=about)
    margins = [judged(gap) for gap in asked]
    low = min(one[0] for one in margins)
    high = min(one[1] for one in margins)
    worst = asked[min(range(len(asked)), key=lambda i: (margins[i][1], margins[i][0]))]
    if math.isinf(high) or low < 0.0 <= high:
        worst = asked[min(range(len(asked)), key=lambda i: margins[i][0])]
    because = _because(carriage, part, worst, low)
    fix = ""
    if low < 0.0:
        shift = None if math.isnan(worst.at) else _shift(site, carriage, worst)
        fix = _fix(carriage, part, worst, shift)
    if carriage.is_blank or not carriage.payload:
        low, high, because = _of_blank(site, carriage, part, low, high, because)
    numbers |= {
        "gaps": _table(carriage, mine),
        "waypoints": _waypoints(site, carriage, part, worst),
    }
    return finding_of_carriage(
        NAME,
        carriage,
        because,
        low,
        high,
        "m",
        _limits(site, worst),
        fix,
        gap_mark(worst.on_part, worst.on_thing, f"{part.name} to {worst.thing}", low < 0.0),
        numbers,
        (*about, worst.thing),
    )


def _name(carriage: Carriage, part: Part) -> str:
    return part.name if part.kind != "plate" else f"the {part.name}"


def _because(carriage: Carriage, part: Part, gap: PartGap, low: float) -> str:
    name = _name(carriage, part)
    name = name[:1].upper() + name[1:] if part.kind == "plate" else name
    asked = f"{text_of(gap.stand_off, 'm')} is asked"
    if math.isinf(gap.high):
        return (
            f"{name} keeps {interval_words(gap.low, gap.high)} from everything; of {gap.thing} "
            f"{asked}."
        )
    where = f"{leg_words(carriage, gap.at)} ({_place(carriage, gap)})"
    if not gap.is_sure:
        asked = f"{asked} while it is active, which it may not be all the while"
    if gap.high <= 0.0:
        how = "is in contact with" if gap.at == 0.0 else "comes into contact with"
        return f"{name} {how} {gap.thing} {where}; {asked}."
    how = "comes within" if low < 0.0 else "keeps"
    link = "of" if low < 0.0 else "from"
    return f"{name} {how} {interval_words(gap.low, gap.high)} {link} {gap.thing} {where}; {asked}."


def _place(carriage: Carriage, gap: PartGap) -> str:
    x, y, z = gap.pose[:3, 3]
    turned = math.degrees(turned_so_far(carriage, gap.at))
    what = carriage.payload or "boots"
    words = f"{what} at ({x:.2f}, {y:.2f}, {z:.2f}) m"
    return f"{words}, turned {turned:.0f} deg" if turned >= 0.5 else words


def _table(carriage: Carriage, gaps: Sequence[PartGap]) -> dict[str, Any]:
    """Return every gap by thing, the nearest to its stand-off where legs ask differently."""
    found: dict[str, Any] = {}
    for gap in sorted(gaps, key=lambda one: (one.is_contact_meant, one.margin[0])):
        has_witness = not math.isnan(gap.at)
        found.setdefault(
            gap.thing,
            {
                "gap": [gap.low, gap.high],
                "stand-off": gap.stand_off,
                "piece": gap.piece_of_part,
                "moment": gap.at if has_witness else None,
                "leg": leg_words(carriage, gap.at) if has_witness else "",
                "position": [float(v) for v in gap.pose[:3, 3]] if has_witness else None,
                "turned": turned_so_far(carriage, gap.at) if has_witness else None,
                "contact is meant": gap.is_contact_meant,
            },
        )
    return found


def _waypoints(site: Site, carriage: Carriage, part: Part, gap: PartGap) -> dict[str, float]:
    """Return the gap to one thing in each pose alone: what a look at the poses would tell (m)."""
    thing = next(one for one in things_of(site, carriage) if one.name == gap.thing)
    found = {}
    for name, pose in zip(carriage.names, carriage.poses, strict=True):
        if name:
            gap_there = path_gap(thing.tree, part.tree, np.array([pose, pose])).gap.high
            found[name] = float(gap_there)
    return found


def _limits(site: Site, gap: PartGap) -> tuple[Limit, ...]:
    """Return what the gap is measured against: the limit, or the stand-off that is written."""
    limit = site.limit("payload_clearance")
    if gap.stand_off == limit.value:
        return (limit,)
    hazard = site.scene.hazards.get(gap.thing)
    where = "hazard" if hazard is not None and hazard.stand_off == gap.stand_off else "leg or solid"
    source = Provenance(source=f"stand_off of the scene's {where} {gap.thing}")
    return (Limit("stand_off", gap.stand_off, "m", source),)


def _shift(site: Site, carriage: Carriage, gap: PartGap) -> Shift | None:
    leg = min(int(gap.at), len(carriage.legs) - 1)
    key = ("shift", carriage, leg, gap.thing)
    if not carriage.payload:
        return None
    if key not in site.memo:
        site.memo[key] = clearing_shift(site, carriage, leg, gap.thing)
    found: Shift | None = site.memo[key]
    return found


def _fix(carriage: Carriage, part: Part, gap: PartGap, shift: Shift | None) -> str:
    if shift is not None:
        axis = int(np.argmax(np.abs(shift.by)))
        by = (
            f"{abs(shift.by[axis]):.1f} m along {'-' if shift.by[axis] < 0.0 else '+'}{'xyz'[axis]}"
        )
        poses = " and ".join(shift.poses)
        return f"Move {poses} by {by}: that clears the legs it changes, proved for all parts."
    if math.isnan(gap.at):
        return ""
    n = len(carriage.legs)
    if gap.at in (0.0, float(n)):
        pose = carriage.names[0 if gap.at == 0.0 else n]
        return (
            f"Move {pose}, or write what the leg keeps off {gap.thing} (0 where contact is meant)."
        )
    if not carriage.payload:
        return f"Take the crane by way of a station farther from {gap.thing}."
    return (
        f"Lead the way farther from {gap.thing}: no pose beside that leg moved by up to "
        f"{FARTHEST:g} m along one axis clears it."
    )


def _of_blank(
    site: Site, carriage: Carriage, part: Part, low: float, high: float, because: str
) -> tuple[float, float, str]:
    """Return what is known where the way is not written.

    That one way comes too near proves nothing: the straight one, or one of the crane's joints.
    """
    tried = "The way is left blank; straight" if carriage.payload else "On a way of the joints"
    if because.startswith("The "):
        because = f"the {because[4:]}"
    if low >= 0.0:
        return low, high, f"{tried}, {because}"
    if high < 0.0:
        end = _ends(site, carriage, part)
        if end is not None:
            name, thing, gap = end
            return -UNKNOWN, -SURE, (
                f"No way can be clear: at {name} {_name(carriage, part)} is {gap:.3f} m from "
                f"{thing}, less than is asked."
            )  # fmt: skip
    return -UNKNOWN, UNKNOWN, f"{tried}, {because} Another way may be clear."


def _ends(site: Site, carriage: Carriage, part: Part) -> tuple[str, str, float] | None:
    """Return start or goal of a way where it is too near to something, whatever lies between."""
    things = {thing.name: thing for thing in things_of(site, carriage)}
    for gap in gaps_of(site, carriage):
        if gap.part != part.name or gap.is_contact_meant or not gap.is_sure:
            continue
        thing = things[gap.thing]
        over = part.excess + thing.excess
        for name, pose, leg in (
            (carriage.names[0], carriage.poses[0], 0),
            (carriage.names[-1], carriage.poses[-1], len(carriage.legs) - 1),
        ):
            if leg not in gap.legs:
                continue
            there = path_gap(thing.tree, part.tree, np.array([pose, pose])).gap.high + over
            if there < gap.stand_off or there <= 0.0:
                return name, gap.thing, float(there)
    return None
