"""Question. Does the tube round the way keep its stand-off from every hazard?

Margin. Metres between a hazard and the tube, its radius and the stand-off taken off; a
guaranteed lower bound along the whole way.

Limit. ``stand_off`` of each hazard, from its surface.

Blind spots. Vents and sharp edges have checks of their own (exposure, edge); the way from the
last rail to the place itself is left out, and so is what happens when a hand slips (swing).
"""

from __future__ import annotations

from reach.checks.moving import SIZES, Nearest, moves, not_asked_move, piece_words, unsized
from reach.checks.wording import SURE, UNKNOWN, apart, finding_on, point, who
from reach.finding import Finding, Limit, Mark
from reach.geometry import Tree
from reach.model.provenance import Provenance
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.sides import best_corridor, better_sides, corridor_of, sides_words
from reach.units import text_of

NAME = "stand-off"
IDS = ("F3",)

_OWN = ("vent", "sharp edge")
"""Kinds of hazard that other checks look at."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return a finding for each move, body and hazard that comes nearest to its stand-off."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    corridor = corridor_of(site, situation)
    if corridor is None:
        return not_asked_move(NAME, situation, "The way follows no rail.")
    hazards = [one for one in situation.surroundings.hazards if one[1] not in _OWN]
    if not hazards:
        return not_asked_move(NAME, situation, "There is no hazard to stay away from.")
    found = [_room(corridor, name, tree, off) for name, _, tree, off in hazards]
    worst = min(found, key=lambda one: one[0])
    room, name, nearest, stand_off = worst
    low = -UNKNOWN if nearest.touches else room - SURE
    high = room + SURE
    stretch = corridor.stretch_of(nearest.piece)
    because = (
        f"{piece_words(stretch.rail, stretch.to_rail, True)} "
        f"({sides_words(site.scene, corridor, stretch)}) the tube round {who(situation)} comes to "
        f"{apart(nearest.gap)} {name}, stand-off {text_of(stand_off, 'm')}."
    )
    unknown = unsized(situation)
    if unknown and high >= 0.0:
        low, because = -UNKNOWN, because + unknown
    record = site.scene.hazards[name]
    limit = Limit(f"stand-off of {name}", record.stand_off, "m", Provenance())
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (limit, site.limit("corridor_radius")),
        _fix(site, situation, corridor, low, unknown),
        (Mark("segment", (point(nearest.on_axis), point(nearest.on_mesh)), name, bad=high < 0.0),),
        numbers={"gap": nearest.gap, "stand-off": stand_off},
    )


def _room(
    corridor: Corridor, name: str, tree: Tree, stand_off: float
) -> tuple[float, str, Nearest, float]:
    nearest = Nearest(tree, corridor.axis, corridor.radius)
    return nearest.gap - stand_off, name, nearest, stand_off


def _fix(site: Site, situation: Situation, corridor: Corridor, low: float, unknown: str) -> str:
    if low >= 0.0:
        return ""
    if unknown and low == -UNKNOWN:
        return SIZES
    return better_sides(site, situation, corridor, best_corridor(site, situation))
