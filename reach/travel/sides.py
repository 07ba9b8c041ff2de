"""On which side of its rails a body passes, and which end first: chosen so that it passes.

Written sides are judged as they are; others are chosen, see `reach.travel.choosing`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.model.procedure import Aside
from reach.model.scene import Scene
from reach.site import Site, Situation
from reach.travel.choosing import body_room, facing_of, passing_sides, rooms_beside
from reach.travel.corridor import ROUNDING, Corridor, Stretch, room_at
from reach.travel.ground import rails_in
from reach.travel.headings import aside_vector, aside_words, toward_word
from reach.travel.path import moves_of, path_of
from reach.travel.stance import mover_of
from reach.units import text_of

Array = NDArray[np.float64]


def corridor_of(site: Site, situation: Situation) -> Corridor | None:
    """Return the corridor of a move, None where it follows no rail.

    The sides are those that are written; along a written way others are straight out, along a
    planned one those with which the tube passes, as near to straight out as can be.
    """
    return _corridor(site, situation, path_of(site, situation).is_written, True)


def best_corridor(site: Site, situation: Situation) -> Corridor | None:
    """Return the corridor with the best sides, whatever is written."""
    return _corridor(site, situation, False, False)


def _corridor(
    site: Site, situation: Situation, others_straight: bool, keep_written: bool
) -> Corridor | None:
    passage = situation.passage
    assert passage is not None
    route = path_of(site, situation).route
    if route is None or not moves_of(route):
        return None
    key = ("corridor", others_straight, keep_written, id(route), passage, situation.body)
    if key not in site.memo:
        radius = site.limit("corridor_radius").value
        mover = mover_of(site, situation)
        stretches = tuple(
            Stretch(leg.rail, leg.to_rail or leg.rail, np.asarray(leg.start), np.asarray(leg.stop))
            for leg in moves_of(route)
        )
        offsets = {
            rail.name: radius * np.asarray(rail.out, float)
            for rail in rails_in(site, situation.surroundings)
            if rail.name in route.rails
        }
        written = {
            rail: aside_vector(site.scene, aside)
            for rail, aside in passage.body.items()
            if keep_written and rail in offsets
        }
        straight = {rail: written.get(rail, np.zeros(3)) for rail in offsets}
        found = Corridor(route, mover, radius, offsets, straight, stretches)
        if not others_straight and room_at(site, situation, found.axis, found.radius).min() < 0.0:
            plain = found
            found = passing_sides(site, situation, plain, set(written))
            if room_at(site, situation, found.axis, found.radius).min() < 0.0:
                found = passing_sides(site, situation, plain, set(written), higher=True)
        faced = facing_of(site, situation, found)
        if not others_straight and body_room(site, situation, faced).min() < 0.0:
            beside = rooms_beside(site, situation, found, set(written))
            faced = facing_of(
                site, situation, passing_sides(site, situation, found, set(written), beside)
            )
        site.memo[key] = faced
    kept: Corridor = site.memo[key]
    return kept


def body_of(site: Site, corridor: Corridor) -> dict[str, Aside]:
    """Return the sides of a corridor as a procedure holds them; straight out is left out."""
    return {
        rail: Aside(by=float(np.linalg.norm(aside)), toward=toward_word(site.scene, aside))
        for rail, aside in corridor.asides.items()
        if float(np.linalg.norm(aside)) > ROUNDING
    }


def sides_words(scene: Scene, corridor: Corridor, stretch: Stretch) -> str:
    """Return in words how the body is held along one stretch of the way."""
    names = dict.fromkeys((stretch.rail, stretch.to_rail))
    sides = [aside_words(scene, corridor.asides[rail]) for rail in names]
    ends = ["feet first" if rail in corridor.feet_first else "head first" for rail in names]
    side = ", then ".join(dict.fromkeys(sides))
    return f"body {side}, {', then '.join(dict.fromkeys(ends))}"


def better_sides(
    site: Site, situation: Situation, corridor: Corridor, best: Corridor | None
) -> str:
    """Return with which sides the way passes, or that none do; empty when nothing is better."""
    if best is None:
        return ""
    room = _all_room(site, situation, best)
    if room < 0.0:
        return (
            "On no side that was tried both tube and body pass: go another way, or carry less "
            f"(short by {text_of(-room, 'm')} at best)."
        )
    asides = dict(best.asides)
    for rail in best.asides:
        # What need not change is left as it is.
        kept = asides | {rail: corridor.asides[rail]}
        if _all_room(site, situation, best.with_asides(kept)) >= 0.0:
            asides = kept
    room = _all_room(site, situation, best.with_asides(asides))
    words = [
        f"{aside_words(site.scene, aside)} at {rail}"
        for rail, aside in asides.items()
        if float(np.linalg.norm(aside - corridor.asides[rail])) > ROUNDING
    ]
    if not words:
        return ""
    return f"Hold the body {', '.join(words)}: {text_of(room, 'm')} is left then."


def _all_room(site: Site, situation: Situation, corridor: Corridor) -> float:
    """Return what is left round tube and body, m."""
    tube = float(room_at(site, situation, corridor.axis, corridor.radius).min())
    return min(tube, float(body_room(site, situation, corridor).min()))
