"""Question. Does the body itself, turning from rail to rail, keep clear with what it carries?

Margin. Metres between helmet, backpack, trunk, legs, boots or carried items and the structure,
beyond the clearance asked; or a hazard, beyond its stand-off.  A bound over the whole motion.

Limit. ``body_clearance``, and ``stand_off`` of each hazard.  The body looks the way it goes, its
chest to the rail, hands abreast of the shoulders; between rails it turns at a constant rate.

Blind spots. Arms are left out: they go to the rail.  Knees are straight and the trunk upright;
the way from the last rail to the place is left out; another way to turn may do as well.
"""

from __future__ import annotations

import numpy as np

from reach.checks.moving import moves, not_asked_move, piece_words
from reach.checks.wording import SURE, finding_on, point, who
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.travel.corridor import best_corridor, corridor_of
from reach.travel.sides import better_sides, sides_words
from reach.travel.sweep import Swept, passing_of

NAME = "passing"
IDS = ("E4",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    corridor = corridor_of(site, situation)
    if corridor is None:
        return not_asked_move(NAME, situation, "The way follows no rail.")
    swept: Swept = passing_of(site, situation, corridor)
    stretch = corridor.stretches[swept.piece]
    part = corridor.mover.names[swept.capsule] if swept.capsule >= 0 else "the body"
    low, high = swept.low - SURE, swept.high + SURE
    near = f"{part} of {who(situation)}" if swept.capsule < corridor.mover.n_body else part
    how = "comes too near to" if high < 0.0 else "keeps clear of"
    because = (
        f"{piece_words(stretch.rail, stretch.to_rail).capitalize()} "
        f"({sides_words(site, corridor, stretch)}) {near} {how} {swept.name or 'everything'}."
    )
    limits = [site.limit("body_clearance")]
    marks = ()
    if np.isfinite(swept.on_mesh).all():
        ends = (point(swept.on_axis), point(swept.on_mesh))
        marks = (Mark("segment", ends, swept.name, bad=high < 0.0),)
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        tuple(limits),
        better_sides(site, situation, corridor, best_corridor(site, situation)) if low < 0.0 else "",
        marks,
        numbers={"moment": swept.time},
    )
