"""The way of one move: as it is written, or the quickest that is planned."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.passage import Passage
from reach.rails.proof import NoRoute, why_none
from reach.rails.route import Leg, Route, best_route
from reach.rails.written import written_route
from reach.site import Site, Situation
from reach.travel.ground import (
    PITCH,
    body_span,
    gap_limit,
    graph_in,
    rails_in,
    spot_in,
)

Array = NDArray[np.float64]

ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class End:
    """From a place to the rail that its way begins or ends with, where that comes nearest.

    Attributes
    ----------
    place, rail : str
    distance : float, m
    limit : Limit
        On that distance: of a place of work, or of a gap from a place on a rail.
    start, stop : ndarray, shape (3,), m, world
        The place, and the nearest point of the rail.
    """

    place: str
    rail: str
    distance: float
    limit: Limit
    start: Array
    stop: Array


@dataclass(frozen=True, eq=False)
class Path:
    """How one move goes.

    Attributes
    ----------
    route : Route or None
        The way as written, else the one planned; None when there is none.
    planned : Route or None
        The shortest way whose gaps the body spans, on rails that may be held.
    none : NoRoute or None
        Why there is no such way.
    is_written : bool
    gap : float, m
        The smaller of the limit on gaps and what the body spans for sure.
    most : float, m
        The same with what it may span at most.
    ends : tuple of End
        Between the places and the first and last rail of ``route``.
    """

    route: Route | None
    planned: Route | None
    none: NoRoute | None
    is_written: bool
    gap: float
    most: float
    ends: tuple[End, ...] = ()

    @property
    def usable(self) -> Route | None:
        """The written way where its gaps may be spanned to both ends, else the planned one."""
        if self.route is None or self.route.widest > self.most + ROUNDING:
            return self.planned
        near = all(end.distance <= end.limit.value + ROUNDING for end in self.ends)
        return self.route if near else self.planned

    @property
    def is_proof(self) -> bool:
        """Whether ``usable`` is the way as written, and not one of many that was planned."""
        return self.is_written and self.usable is self.route


def path_of(site: Site, situation: Situation) -> Path:
    """Return the way of a move; its ends are places, its rails those of the scene."""
    passage = situation.passage
    assert passage is not None
    key = (
        "path",
        passage.start,
        passage.stop,
        passage.written,
        passage.avoid,
        situation.body,
        id(situation.surroundings),
    )
    if key not in site.memo:
        site.memo[key] = _path(site, situation)
    found: Path = site.memo[key]
    return found


def _path(site: Site, situation: Situation) -> Path:
    passage = situation.passage
    assert passage is not None
    start, stop, avoid = passage.start, passage.stop, passage.avoid
    graph = graph_in(site, situation, (start, stop), avoid)
    planned = best_route(graph, start, stop)
    rails = rails_in(site, situation.surroundings)
    spots = graph.spots
    none = None
    # What is proved must hold for the longest span the body may have.
    gap = min(gap_limit(site).value, body_span(site, situation).high)
    if planned is None:
        span = site.limit("place_span").value
        none = why_none(rails, spots, gap, start, stop, span, PITCH, avoid)
    route = planned
    if passage.written is not None:
        route = _written(site, situation, passage.written)
    ends = _ends(site, situation, route) if route is not None else ()
    return Path(route, planned, none, passage.written is not None, graph.gap, gap, ends)


def _ends(site: Site, situation: Situation, route: Route) -> tuple[End, ...]:
    if not route.rails:
        return ()
    known = {rail.name: rail for rail in rails_in(site, situation.surroundings)}
    found = []
    for place, name in ((route.start, route.rails[0]), (route.stop, route.rails[-1])):
        spot, rail = spot_in(site, situation, place), known[name]
        at, start = np.asarray(spot.point), np.asarray(rail.start)
        way = np.asarray(rail.stop) - start
        length2 = float(way @ way)
        share = min(1.0, max(0.0, float((at - start) @ way) / length2)) if length2 else 0.0
        near = start + share * way
        limit = site.limit("place_span") if spot.span is None else gap_limit(site)
        found.append(End(place, name, float(np.linalg.norm(at - near)), limit, at, near))
    return tuple(found)


def detour(site: Site, situation: Situation, leg: Leg) -> Route | None:
    """Return the shortest way round a gap, from the one grip to the other, if there is one."""
    known = {rail.name: rail for rail in rails_in(site, situation.surroundings)}
    ends = []
    for name, at in ((leg.rail, leg.start), (leg.to_rail, leg.stop)):
        along = math.dist(known[name].start, at)
        ends.append(f"{name}@{along!r}" if name in site.scene.handrails else name)
    return best_route(graph_in(site, situation, (ends[0], ends[1])), ends[0], ends[1])


def moves_of(route: Route) -> tuple[Leg, ...]:
    """Return the legs on which the body is led along rails: all but those at the very ends."""
    return tuple(leg for leg in route.legs if leg.kind != "spot")


def pace_of(site: Site, passage: Passage) -> Limit:
    """Return the pace along rails with what is carried, m/s."""
    return site.limit("pace_loaded" if passage.is_loaded else "pace_free")


def longer_by(
    site: Site, situation: Situation, rail: str, to_rail: str, by: tuple[str, ...]
) -> float:
    """Return how much longer (m) a written way is with other rails put between two of its rails."""
    route = path_of(site, situation).route
    assert route is not None
    names = list(route.rails)
    at = next(i for i, pair in enumerate(pairwise(names)) if pair == (rail, to_rail))
    longer = _written(site, situation, (*names[: at + 1], *by, *names[at + 1 :]))
    return longer.length - route.length


def _written(site: Site, situation: Situation, names: tuple[str, ...]) -> Route:
    passage = situation.passage
    assert passage is not None
    start, stop = passage.start, passage.stop
    spots = graph_in(site, situation, (start, stop), passage.avoid).spots
    rails = rails_in(site, situation.surroundings)
    span = site.limit("place_span").value
    return written_route(rails, spots, names, start, stop, span, PITCH)
