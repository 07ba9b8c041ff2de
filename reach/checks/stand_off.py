"""Question. Does the tube round the way keep its stand-off from every hazard?

Margin. Metres between a hazard and the tube, its radius and the stand-off taken off; a
guaranteed lower bound along the whole way.

Limit. ``stand_off`` of each hazard that is active then, from its surface; of one that is so only
if the step begins late, no fail is proved.  Nor is it of a way that is planned: a side that was not
tried may pass.

Blind spots. Vents and sharp edges have checks of their own (exposure, edge); the way from the
last rail to the place itself is left out, and so is what happens when a hand slips (swing).
"""

from __future__ import annotations

from reach.checks.moving import Nearest, moves, piece_words, room_fix, unsized
from reach.checks.wording import SURE, UNKNOWN, apart, finding_on, not_asked, point, who
from reach.finding import Finding, Limit, Mark
from reach.model.provenance import Provenance
from reach.site import Site, Situation
from reach.travel.hazards import Met, met
from reach.travel.path import path_of
from reach.travel.sides import corridor_of, sides_words
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
        return not_asked(NAME, situation, "The way follows no rail.")
    hazards = [one for one in met(site, situation) if one.record.kind not in _OWN]
    if not hazards:
        return not_asked(NAME, situation, "There is no hazard to stay away from then.")
    found = [(Nearest(one.tree, corridor.axis, corridor.radius), one) for one in hazards]
    # Facets may stand inside the true surface: the bound counts that, hazard by hazard.
    nearest, one = min(found, key=lambda pair: _least(*pair))
    name, stand_off, low = one.name, one.record.stand_off, _least(nearest, one) - SURE
    sure = [near.gap - other.record.stand_off for near, other in found if other.is_sure]
    high = min(sure, default=UNKNOWN) + SURE
    if high < 0.0 and not path_of(site, situation).is_written:
        high = UNKNOWN
    stretch = corridor.stretch_of(nearest.piece)
    because = (
        f"{piece_words(stretch.rail, stretch.to_rail, True)} "
        f"({sides_words(site.scene, corridor, stretch)}) the tube round {who(situation)} comes to "
        f"{apart(nearest.gap)} {name}, stand-off {text_of(stand_off, 'm')}."
    )
    unknown = unsized(situation)
    if unknown and high >= 0.0:
        low, because = -UNKNOWN, because + unknown
    limit = Limit(f"stand-off of {name}", stand_off, "m", Provenance())
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (limit, site.limit("corridor_radius")),
        room_fix(site, situation, corridor, low),
        (Mark("segment", (point(nearest.on_axis), point(nearest.on_mesh)), name, bad=low < 0.0),),
        numbers={"gap": nearest.gap, "stand-off": stand_off},
    )


def _least(nearest: Nearest, hazard: Met) -> float:
    """Return what is left of the stand-off at least, m."""
    if nearest.touches:
        return -UNKNOWN
    return nearest.gap - hazard.error - hazard.record.stand_off
