"""Question. Is there a free tube along the way, wide enough for a body and what it carries?

Margin. Metres between the structure and the tube round the way, its radius taken off; a
guaranteed lower bound along the whole way, not at samples of it.

Limit. ``corridor_radius``, or the distance to which what is carried sticks out, where that is
more.  The axis of the tube lies that limit off the rail on the side from which it is held, aside
of that where the step says so (``body``), and goes round in an arc from rail to rail.

Blind spots. The way from the last rail to the place itself is left out; a payload that moves
meanwhile is where the step has it; rails and soft parts are no structure.
"""

from __future__ import annotations

from reach.checks.moving import SIZES, Nearest, moves, not_asked_move, piece_words, unsized
from reach.checks.wording import SURE, UNKNOWN, finding_on, point, who
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.sides import best_corridor, better_sides, corridor_of, sides_words
from reach.units import text_of

NAME = "corridor"
IDS = ("F1", "F2")


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    corridor = corridor_of(site, situation)
    if corridor is None:
        return not_asked_move(NAME, situation, "The way follows no rail.")
    around = situation.surroundings
    nearest = Nearest(around.tree, corridor.axis, corridor.radius)
    solid = around.names[around.solid_of[nearest.face]] if around.names else ""
    low = -UNKNOWN if nearest.touches else nearest.gap - around.error - SURE
    high = nearest.gap + around.excess + SURE
    stretch = corridor.stretch_of(nearest.piece)
    because = (
        f"The tube of {text_of(corridor.radius, 'm')} round the way of {who(situation)}"
        f"{_items(corridor)} {'cuts into' if high < 0.0 else 'keeps clear of'} {solid or 'all'} "
        f"{piece_words(stretch.rail, stretch.to_rail)} "
        f"({sides_words(site.scene, corridor, stretch)})."
    )
    unknown = unsized(situation)
    if unknown and high >= 0.0:
        low, because = -UNKNOWN, because + unknown
    marks = (
        Mark("segment", (point(nearest.on_axis), point(nearest.on_mesh)), solid, bad=high < 0.0),
    )
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (site.limit("corridor_radius"),),
        _fix(site, situation, corridor, low, unknown),
        marks if around.names else (),
        numbers={"radius": corridor.radius, "items reach": corridor.mover.wide},
    )


def _items(corridor: Corridor) -> str:
    names = corridor.mover.names[corridor.mover.n_body :]
    if not names or corridor.mover.wide < corridor.radius:
        return ""
    return f", as wide as {' and '.join(names)} {'makes' if len(names) == 1 else 'make'} it,"


def _fix(site: Site, situation: Situation, corridor: Corridor, low: float, unknown: str) -> str:
    if low >= 0.0:
        return ""
    if unknown and low == -UNKNOWN:
        return SIZES
    return better_sides(site, situation, corridor, best_corridor(site, situation))
