"""The safety line of a move as it is led: from its anchor along the rails of the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.passage import Line
from reach.rails.route import best_route
from reach.site import Site, Situation
from reach.travel.ground import graph_in, rails_in, spot_in
from reach.travel.path import between, path_of

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Led:
    """A safety line from its anchor to where the move leads.

    Attributes
    ----------
    line : Line
    points : ndarray, shape (n, 3), m, world
        As it is led along rails.
    length : float, m
    """

    line: Line
    points: Array
    length: float


def led_of(site: Site, situation: Situation) -> Led | None:
    """Return the line worn on a move, led along rails that lead there and those of the way.

    None where no line is worn, there is no way, or no rails lead from the anchor.
    """
    line = situation.line
    route = path_of(site, situation).route
    if line is None or route is None:
        return None
    start, stop = spot_in(site, situation, line.anchor), spot_in(site, situation, route.stop)
    if start.point == stop.point:
        return None
    used = set(route.rails)
    if line.anchor != route.start:
        before = between(site, situation, line.anchor, route.start)
        if before is None:
            return None
        used |= set(before.rails)
    # What is led there and back again is pulled in: the shortest way on the rails used is left.
    names = (rail.name for rail in rails_in(site, situation.surroundings))
    idle = tuple(name for name in names if name not in used)
    graph = graph_in(site, situation, (line.anchor, route.stop), idle)
    led = best_route(graph, line.anchor, route.stop)
    return None if led is None else Led(line, led.points, led.length)
