"""The way of one move: as it is written, or the quickest that is planned."""

from __future__ import annotations

from dataclasses import dataclass, field

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
    """

    route: Route | None
    planned: Route | None
    none: NoRoute | None
    is_written: bool
    gap: float
    avoid: tuple[str, ...] = field(default=())

    @property
    def usable(self) -> Route | None:
        """The written way where its gaps can be spanned, else the planned one."""
        if self.route is not None and self.route.widest <= self.gap + 1e-9:
            return self.route
        return self.planned


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
    if planned is None:
        # What is proved must hold for the longest span the body may have.
        gap = min(gap_limit(site).value, body_span(site, situation).high)
        span = site.limit("place_span").value
        none = why_none(rails, spots, gap, start, stop, span, PITCH, avoid)
    route = planned
    if passage.written is not None:
        route = written_route(
            rails, spots, passage.written, start, stop, site.limit("place_span").value, PITCH
        )
    return Path(route, planned, none, passage.written is not None, graph.gap, avoid)


def between(site: Site, situation: Situation, start: str, stop: str) -> Route | None:
    """Return the shortest way a body can take from one place to another, if there is one."""
    if spot_in(site, situation, start).point == spot_in(site, situation, stop).point:
        return None
    return best_route(graph_in(site, situation, (start, stop)), start, stop)


def moves_of(route: Route) -> tuple[Leg, ...]:
    """Return the legs on which the body is led along rails: all but those at the very ends."""
    return tuple(leg for leg in route.legs if leg.kind != "spot")


def pace_of(site: Site, passage: Passage) -> Limit:
    """Return the pace along rails with what is carried, m/s."""
    return site.limit("pace_loaded" if passage.is_loaded else "pace_free")
