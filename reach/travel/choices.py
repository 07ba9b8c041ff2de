"""Ways to choose from between two places: the best, others that really differ, or why none.

Every leg of a way is reckoned out: gap with its margin, side of the body, time and length so far.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.kept.noting import altered
from reach.model.procedure import Aside
from reach.rails.alternatives import alternatives
from reach.rails.proof import NoRoute
from reach.rails.route import Leg, Route
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.ground import body_span, gap_limit, graph_in
from reach.travel.headings import aside_words
from reach.travel.path import pace_of, path_of
from reach.travel.sides import best_corridor, body_of

Array = NDArray[np.float64]

HANDS = 2

ROUNDING = 1e-9
"""A span this close to its limit (m) is at it."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One leg of a way, reckoned out.

    Attributes
    ----------
    leg : Leg
    names : tuple of 2 str
        What it leads from and to: rails, or the places at the ends.
    limit : float or None, m
        The most that may be spanned, where the leg is a span.
    side : str
        The side of the rail to which the body is held, in words; empty off the rails.
    seconds, length, time : float
        For the leg (s), and up to its end (m, s).
    """

    leg: Leg
    names: tuple[str, str]
    limit: float | None
    side: str
    seconds: float
    length: float
    time: float

    @property
    def margin(self) -> float | None:
        """What is left of the span, m."""
        if self.limit is None:
            return None
        left = self.limit - self.leg.length
        return 0.0 if abs(left) < ROUNDING else left


@dataclass(frozen=True, eq=False)
class Choice:
    """One way with the sides on which the body passes best.

    Attributes
    ----------
    route : Route
    corridor : Corridor or None
        None where nothing is led along a rail.
    body : dict of str -> Aside
    stages : tuple of Stage
    pace : Limit
    hands : int
        Hands that hold nothing else.
    """

    route: Route
    corridor: Corridor | None
    body: dict[str, Aside]
    stages: tuple[Stage, ...]
    pace: Limit
    hands: int

    @property
    def seconds(self) -> float:
        """Time for all of it, s."""
        return self.route.length / self.pace.value


def span_limit(site: Site, situation: Situation) -> float:
    """Return the widest gap that is allowed and that the body spans for sure, m."""
    return min(gap_limit(site).value, body_span(site, situation).low)


def without(situation: Situation, avoid: tuple[str, ...]) -> Situation:
    """Return the situation of a move that leaves rails out when its way is planned."""
    assert situation.passage is not None
    return altered(situation, passage=replace(situation.passage, avoid=avoid))


def choices_of(site: Site, situation: Situation, n: int) -> tuple[Choice, ...]:
    """Return the best way of a move and up to ``n`` others that really differ, best first.

    One pace holds on every leg, so the shortest way is the quickest.
    """
    passage = situation.passage
    assert passage is not None
    ends = passage.start, passage.stop
    graph = graph_in(site, situation, ends, passage.avoid)
    routes = alternatives(graph, *ends, n + 1)
    return tuple(_choice(site, situation, route) for route in routes)


def none_of(site: Site, situation: Situation) -> NoRoute | None:
    """Return why no way can be planned for a move; None when one can."""
    return path_of(site, situation).none


def along(situation: Situation, route: Route, body: dict[str, Aside]) -> Situation:
    """Return the situation of a move along given rails."""
    assert situation.passage is not None
    return altered(situation, passage=replace(situation.passage, written=route.rails, body=body))


def _choice(site: Site, situation: Situation, route: Route) -> Choice:
    passage = situation.passage
    assert passage is not None
    corridor = best_corridor(site, along(situation, route, {})) if route.rails else None
    body = body_of(site, corridor) if corridor is not None else {}
    hands = max(0, HANDS - len(passage.in_hand))
    # What is drawn and listed is the way that is checked: the one along the rails as written.
    route = route if corridor is None else corridor.route
    return Choice(
        route, corridor, body, stages_of(site, situation, route, corridor),
        pace_of(site, passage), hands,
    )  # fmt: skip


def stages_of(
    site: Site, situation: Situation, route: Route, corridor: Corridor | None
) -> tuple[Stage, ...]:
    """Return every leg of a route reckoned out, in order."""
    assert situation.passage is not None
    pace = pace_of(site, situation.passage).value
    limits = {"gap": span_limit(site, situation), "spot": site.limit("place_span").value}
    stages: list[Stage] = []
    length = 0.0
    for leg in route.legs:
        length += leg.length
        onto = leg.rail if leg.kind == "along" else leg.to_rail
        stages.append(
            Stage(
                leg,
                (leg.rail or route.start, onto or route.stop),
                limits.get(leg.kind),
                _side(site, corridor, leg) if corridor and leg.kind == "along" else "",
                leg.length / pace,
                length,
                length / pace,
            )
        )
    return tuple(stages)


def _side(site: Site, corridor: Corridor, leg: Leg) -> str:
    """Return in words how the body is held along a rail."""
    words = aside_words(site.scene, corridor.asides[leg.rail])
    return f"{words}, feet first" if leg.rail in corridor.feet_first else words
