"""Question. Does the body stay out of what vents blow while they blow?

Asked of moves, and of places of work with the body at rest (in each step where vents have times).

Margin. Metres between the body with what it carries and the cone of a vent, less the stand-off of
the vent: along the whole way a guaranteed lower bound, with a witness.

Limit. ``stand_off`` of the vent. It counts in steps that may last into a span of ``active``; a
vent without spans, and a step without times, always count. Of a vent that blows only if the step
begins late no fail is proved, nor of a way that is planned: another may keep clear.

Blind spots. Arms are left out on the way, and at a place of work those of the work posture; the
way between a rail and the place itself is left out. What a vent carries, how long it is borne and
what it does beyond its cone are not looked at.
"""

from __future__ import annotations

import math

from reach.checks.moving import piece_words
from reach.checks.once import firsts
from reach.checks.wording import (
    ANOTHER_WAY,
    SURE,
    UNKNOWN,
    apart,
    finding_on,
    not_asked,
    point,
    standing,
    who,
)
from reach.finding import Finding, Limit, Mark
from reach.model.provenance import Provenance
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.hazards import Met, met
from reach.travel.near import Near, moving_near, resting_near
from reach.travel.path import path_of
from reach.travel.sides import corridor_of

NAME = "exposure"
IDS = ("B6",)

BEYOND = 1.0
"""Gaps wider than this (m) are not measured."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move, and for each place of work and step in it."""
    return [_finding(site, situation) for situation in firsts(site, situations, _question)]


def _question(site: Site, situation: Situation) -> object:
    is_timed = any(one.kind == "vent" and one.active for one in site.scene.hazards.values())
    place = same_place(site, situation)
    return (place, situation.step) if place is not None and is_timed else place


def same_place(_: Site, situation: Situation) -> object:
    """Return what makes it the same body at rest in the same place; a move is its own."""
    if situation.passage is not None:
        return id(situation)
    place = situation.place
    if place is None or place.world_from_boots is None:
        return None
    pose, around = place.world_from_boots.tobytes(), id(situation.surroundings)
    return (situation.worker, situation.case, place.name, pose, around)


def _finding(site: Site, situation: Situation) -> Finding:
    if not any(hazard.kind == "vent" for hazard in site.scene.hazards.values()):
        return not_asked(NAME, situation, "The scene has no vent.")
    vents = list(met(site, situation, "vent"))
    if not vents:
        return not_asked(NAME, situation, "No vent is active while the step lasts.")
    corridor = corridor_of(site, situation) if situation.passage is not None else None
    if situation.passage is not None and corridor is None:
        return not_asked(NAME, situation, "The way follows no rail.")
    found = [(_near(site, situation, corridor, vent), vent) for vent in vents]
    near, vent = min(found, key=lambda one: one[0].low - _asked(one[1]))
    low, high = near.low - _asked(vent), near.high - vent.record.stand_off
    bad = high < 0.0
    sure = [each.high - one.record.stand_off for each, one in found if one.is_sure]
    high = min(sure, default=UNKNOWN)
    on_way = near.piece >= 0 and corridor is not None
    how = (
        f"{who(situation)} on the way"
        if situation.passage is not None
        else f"{who(situation)} {standing(situation)} at rest"
    )
    if near.part:
        at = ""
        if on_way and corridor is not None:
            stretch = corridor.stretch_of(near.piece)
            at = f" {piece_words(stretch.rail, stretch.to_rail)}"
        because = f"{how}: the {near.part} is {apart(near.high)} what {vent.name} blows{at}."
    else:
        because = f"{how}: no vent that is active is nearer than {BEYOND:.0f} m."
    if low < 0.0 and not vent.is_sure:
        because += " It is active only if the step is late for those before it."
    if high < 0.0 and situation.passage is not None and not path_of(site, situation).is_written:
        high, because = UNKNOWN, because + ANOTHER_WAY
    limit = Limit(f"stand-off of {vent.name}", vent.record.stand_off, "m", Provenance())
    fix = f"Have {vent.name} closed meanwhile, or stay out of its cone." if low < 0.0 else ""
    return finding_on(
        NAME, situation, because, low - SURE, high + SURE, "m", (limit,), fix, marks_of(near, bad)
    )


def _asked(vent: Met) -> float:
    return vent.record.stand_off + vent.error


def _near(site: Site, situation: Situation, corridor: Corridor | None, vent: Met) -> Near:
    if corridor is None:
        return resting_near(site, situation, vent.tree, legs_alone=False)
    return moving_near(corridor, vent.tree, len(corridor.mover.p), BEYOND + _asked(vent))


def marks_of(near: Near, bad: bool) -> tuple[Mark, ...]:
    """Return the shortest line from the part of the body to the thing, if it was met."""
    if not near.part or not math.isfinite(float(near.on_thing[0])):
        return ()
    ends = (point(near.on_part), point(near.on_thing))
    return (Mark("segment", ends, near.part, bad=bad),)
