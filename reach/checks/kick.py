"""Question. Do boots stay clear of what does not bear a kick?

Asked of moves, with the legs swept along, and of places of work, with the legs at rest.

Margin. Metres between the legs and the nearest thing that is said to bear less than a kick, less
the kick band: along the whole way a guaranteed lower bound, with a witness.

Limit. ``kick_band`` is how far a boot may kick, ``kick_load`` the kick; what a thing bears stands
with the solid or hazard (``kick_load``). Of a way that is planned no fail is proved: another may
keep clear.

Blind spots. Things that do not say what they bear are not asked about. Legs are straight; on the
way between a rail and the place itself they are not looked at. Kicks by knees, hands and what is
carried are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

from reach.checks.exposure import marks_of, same_place
from reach.checks.moving import piece_words
from reach.checks.once import firsts
from reach.checks.wording import (
    ANOTHER_WAY,
    SURE,
    UNKNOWN,
    apart,
    finding_on,
    not_asked,
    standing,
    who,
)
from reach.finding import Finding
from reach.geometry import Tree
from reach.site import Site, Situation
from reach.travel.near import Near, moving_near, resting_near, tree_of
from reach.travel.path import path_of
from reach.travel.sides import corridor_of
from reach.units import text_of

NAME = "kick"
IDS = ("B2",)

BEYOND = 1.0
"""Gaps wider than the kick band by more than this (m) are not measured."""


@dataclass(frozen=True, eq=False)
class _Weak:
    """A thing that does not bear a kick: name, what it bears (N), surface, error of facets (m)."""

    name: str
    bears: float
    tree: Tree
    error: float


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and each place of work and setting."""
    return [_finding(site, situation) for situation in firsts(site, situations, same_place)]


def _finding(site: Site, situation: Situation) -> Finding:
    load, band = site.limit("kick_load"), site.limit("kick_band")
    told = [thing.kick_load for thing in site.scene.solids.values()]
    told += [thing.kick_load for thing in site.scene.hazards.values()]
    if all(bears is None for bears in told):
        return not_asked(NAME, situation, "Nothing in the scene says what kick it bears.")
    weak = _weak(site, situation, load.value)
    if not weak:
        return not_asked(NAME, situation, "All that say what kick they bear are strong enough.")
    found: list[tuple[Near, _Weak]] = []
    words = f"{who(situation)} {standing(situation)}"
    corridor = None
    if situation.passage is not None:
        corridor = corridor_of(site, situation)
        if corridor is None:
            return not_asked(NAME, situation, "The way follows no rail.")
        words = f"{who(situation)} on the way"
        beyond = band.value + BEYOND
        legs = corridor.mover.n_legs
        found = [(moving_near(corridor, one.tree, legs, beyond), one) for one in weak]
    else:
        found = [(resting_near(site, situation, one.tree, True), one) for one in weak]
    near, thing = min(found, key=lambda one: one[0].low - one[1].error)
    low, high = near.low - thing.error - band.value, near.high - band.value
    bears = f"bears {text_of(thing.bears, 'N')}, a kick is {text_of(load.value, 'N')}"
    if not near.part:
        because = f"{words}: the legs stay far from all that does not bear a kick."
    else:
        at = ""
        if corridor is not None:
            stretch = corridor.stretch_of(near.piece)
            at = f" {piece_words(stretch.rail, stretch.to_rail)}"
        because = (
            f"{words}: the {near.part} is {apart(near.high)} {thing.name}{at}, which {bears}; a "
            f"boot may kick {text_of(band.value, 'm')} far."
        )
    if high < 0.0 and corridor is not None and not path_of(site, situation).is_written:
        high, because = UNKNOWN, because + ANOTHER_WAY
    fix = f"Keep the legs {text_of(-low, 'm')} farther from {thing.name}, or guard it."
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "m",
        (band, load),
        fix if low < 0.0 else "",
        marks_of(near, near.high < band.value),
        {"thing": thing.name, "bears": thing.bears},
    )


def _weak(site: Site, situation: Situation, kick: float) -> list[_Weak]:
    around = situation.surroundings
    found = []
    for i, name in enumerate(around.names):
        bears = site.scene.solids[name].kick_load
        if bears is not None and bears < kick:
            tree = tree_of(site, around, name)
            found.append(_Weak(name, bears, tree, float(around.errors[i])))
    for name, _, tree, stand_off in around.hazards:
        record = site.scene.hazards[name]
        if record.kick_load is not None and record.kick_load < kick:
            found.append(_Weak(name, record.kick_load, tree, stand_off - record.stand_off))
    return found
