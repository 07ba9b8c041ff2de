"""Question. Is there a free tube along the way, wide enough for a body and what it carries?

Margin. Metres between the structure and the tube round the way, its radius taken off; a
guaranteed lower bound along the whole way, not at samples of it.

Limit. ``corridor_radius``; what is carried beside the body and sticks out of the tube is swept
as it hangs.  The axis of the tube lies that limit off the rail on the side from which it is held,
aside of that where the step says so (``body``), and goes round in an arc from rail to rail.  Of a
way that is planned no fail is proved: a side that was not tried may pass.

Blind spots. The way from the last rail to the place itself is left out; a payload that moves
meanwhile is where the step has it; rails and soft parts are no structure.
"""

from __future__ import annotations

import numpy as np

from reach.checks.moving import Nearest, moves, piece_words, room_fix, unsized
from reach.checks.wording import SURE, UNKNOWN, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.travel.path import path_of
from reach.travel.sides import corridor_of, sides_words
from reach.travel.sweep import items_room
from reach.units import text_of

NAME = "corridor"
IDS = ("F1", "F2")


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    corridor = corridor_of(site, situation)
    is_written = path_of(site, situation).is_written
    if corridor is None:
        return not_asked(NAME, situation, "The way follows no rail.")
    around = situation.surroundings
    nearest = Nearest(around.tree, corridor.axis, corridor.radius)
    solid = around.names[around.solid_of[nearest.face]] if around.names else ""
    low = -UNKNOWN if nearest.touches else nearest.gap - around.error - SURE
    high = nearest.gap + around.excess + SURE
    stretch = corridor.stretch_of(nearest.piece)
    what, ends = f"the tube of {text_of(corridor.radius, 'm')}", (nearest.on_axis, nearest.on_mesh)
    carried = items_room(situation, corridor)
    if carried is not None and carried.low.min() < low:
        i = int(np.argmin(carried.low))
        low, high = float(carried.low[i]) - SURE, min(high, float(carried.high[i]) + SURE)
        what, solid = corridor.mover.names[int(carried.capsule[i])], carried.names[i]
        stretch, ends = corridor.stretch_of(i), (carried.on_axis[i], carried.on_mesh[i])
    if not is_written and high < 0.0:
        high = UNKNOWN
    because = (
        f"{what[:1].upper()}{what[1:]} on the way of {who(situation)} "
        f"{'comes into' if low < 0.0 else 'keeps clear of'} {solid or 'everything'} "
        f"{piece_words(stretch.rail, stretch.to_rail)} "
        f"({sides_words(site.scene, corridor, stretch)})."
    )
    unknown = unsized(situation)
    if unknown and high >= 0.0:
        low, because = -UNKNOWN, because + unknown
    marks = (Mark("segment", (point(ends[0]), point(ends[1])), solid, bad=low < 0.0),)
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (site.limit("corridor_radius"),),
        room_fix(site, situation, corridor, low),
        marks if around.names else (),
        numbers={"radius": corridor.radius},
    )
