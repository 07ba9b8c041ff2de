"""Question. Does the body itself, turning from rail to rail, keep clear with what it carries?

Margin. Metres between helmet, backpack, trunk, legs, boots or carried items and the structure,
beyond the clearance asked; or a hazard, beyond its stand-off.  A bound over the whole motion.

Limit. ``body_clearance``, and ``stand_off`` of each hazard that is active then; of one that is so
only if the step begins late, no fail is proved.  Nor is it of a way that is planned: a side that
was not tried may pass.  The body looks the way it goes, its chest to the rail, hands abreast of the
shoulders; between rails it turns at a constant rate.

Blind spots. Arms are left out: they go to the rail.  Knees are straight and the trunk upright;
the way from the last rail to the place is left out; another way to turn may do as well.
"""

from __future__ import annotations

import numpy as np

from reach.checks.moving import moves, piece_words, room_fix, unsized
from reach.checks.wording import SURE, UNKNOWN, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.travel.path import path_of
from reach.travel.sides import corridor_of, sides_words
from reach.travel.sweep import room_of

NAME = "passing"
IDS = ("E4",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    corridor = corridor_of(site, situation)
    if corridor is None:
        return not_asked(NAME, situation, "The way follows no rail.")
    mover = corridor.mover
    swept = room_of(site, situation, mover, *corridor.poses)
    i = int(np.argmin(swept.low))
    low, high, capsule = float(swept.low[i]) - SURE, float(swept.high[i]) + SURE, swept.capsule[i]
    if high < 0.0 and not path_of(site, situation).is_written:
        high = UNKNOWN
    stretch = corridor.stretch_of(i)
    near = mover.names[capsule] if capsule >= 0 else "no part"
    if capsule < mover.n_body:
        near += f" of {who(situation)}"
    how = "comes too near to" if low < 0.0 else "keeps clear of"
    what = f"{how} {swept.names[i]}" if capsule >= 0 else "comes near anything"
    because = (
        f"{piece_words(stretch.rail, stretch.to_rail, True)} "
        f"({sides_words(site.scene, corridor, stretch)}) {near} {what}."
    )
    unknown = unsized(situation)
    if unknown and high >= 0.0:
        low, because = -UNKNOWN, because + unknown
    marks: tuple[Mark, ...] = ()
    if capsule >= 0:
        ends = (point(swept.on_axis[i]), point(swept.on_mesh[i]))
        marks = (Mark("segment", ends, swept.names[i], bad=low < 0.0),)
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (site.limit("body_clearance"),),
        room_fix(site, situation, corridor, low),
        marks,
        numbers={"share of the piece": float(swept.time[i])} if capsule >= 0 else {},
    )
