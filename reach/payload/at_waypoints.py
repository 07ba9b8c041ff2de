"""How near what is moved comes at the waypoints alone: what a look at those would have told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import swept_gap
from reach.payload.asked import asked_by, is_meant
from reach.payload.parts import parts_of
from reach.payload.records import Part, Thing
from reach.payload.things import things_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

WITHIN = 1e-3
"""How narrow brackets are, m."""


@dataclass(frozen=True, eq=False, slots=True)
class AtWaypoint:
    """The pair that is nearest to its stand-off while what is moved is at one waypoint.

    Attributes
    ----------
    name : str
        Of the pose.
    place : int
        Its number on the way, from 0.
    part, thing : str
        Empty where nothing is to be kept off there.
    low, high : float, m
        Bracket of their gap; facet errors are in it.
    stand_off : float, m
        The larger of what the legs before and after it ask.
    """

    name: str
    place: int
    part: str
    thing: str
    low: float
    high: float
    stand_off: float

    @property
    def margin(self) -> float:
        """What is left of the stand-off at most, m."""
        return self.high - self.stand_off


def at_waypoints(site: Site, carriage: Carriage) -> tuple[AtWaypoint, ...]:
    """Return for each waypoint that has a name the pair with the least margin there."""
    parts, things = parts_of(site, carriage), things_of(site, carriage)
    pairs = [(part, thing) for thing in things for part in parts]
    return tuple(_least(site, carriage, place, pairs) for place in _places(carriage))


def pair_at_waypoints(site: Site, carriage: Carriage, part: str, thing: str) -> AtWaypoint | None:
    """Return the waypoint with a name at which a part comes nearest to a thing.

    None where it is nowhere judged at one.
    """
    pairs = [
        (one, other)
        for one in parts_of(site, carriage)
        for other in things_of(site, carriage)
        if (one.name, other.name) == (part, thing)
    ]
    found = [_least(site, carriage, place, pairs) for place in _places(carriage)]
    known = [at for at in found if at.thing]
    return min(known, key=lambda at: at.margin, default=None)


def _places(carriage: Carriage) -> list[int]:
    return [place for place, name in enumerate(carriage.names) if name]


def _asked(site: Site, carriage: Carriage, place: int, part: Part, thing: Thing) -> float | None:
    """Return what is asked at a waypoint, m; None where a leg to or from it means contact."""
    legs = range(len(carriage.legs))[max(place - 1, 0) : place + 1]
    if any(is_meant(site, carriage, part, thing, leg) for leg in legs):
        return None
    asked = {leg: off for off, mine in asked_by(site, carriage, part, thing) for leg in mine}
    return max((asked[leg] for leg in legs), default=thing.stand_off)


def _least(
    site: Site, carriage: Carriage, place: int, pairs: Sequence[tuple[Part, Thing]]
) -> AtWaypoint:
    pose, name = carriage.poses[place], carriage.names[place]
    best = AtWaypoint(name, place, "", "", np.inf, np.inf, 0.0)
    for part, thing in pairs:
        asked = _asked(site, carriage, place, part, thing)
        if asked is None:
            continue
        outside, inside = part.error + thing.error, part.excess + thing.excess
        far = best.margin + asked + outside  # what is farther cannot have the least margin
        if far <= 0.0:
            continue
        gap = swept_gap(thing.tree, part.tree, pose, pose, WITHIN, far)
        if np.isnan(gap.time):
            continue
        found = AtWaypoint(
            name, place, part.name, thing.name, max(gap.low - outside, 0.0), gap.high + inside,
            asked,
        )  # fmt: skip
        if found.margin < best.margin:
            best = found
    return best
