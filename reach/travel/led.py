"""A safety line led along rails from its anchor: how long it is, and how long pulled tight."""

from __future__ import annotations

from dataclasses import dataclass

from reach.lines.taut import Taut, taut
from reach.passage import Line
from reach.rails.route import Route, best_route
from reach.site import Site, Situation
from reach.travel.ground import graph_in, spot_in

THICK = 0.01
"""A line pulled tight is held this far off the structure (m)."""


@dataclass(frozen=True, eq=False)
class Led:
    """A line from its anchor to one place along the shortest way over rails that may be held.

    Attributes
    ----------
    line : Line
    place : str
    route : Route
        From the anchor to the place.
    straight : float, m
        From the one to the other through everything.
    """

    line: Line
    place: str
    route: Route

    @property
    def straight(self) -> float:
        """Distance from the anchor to the place through everything, m."""
        ends = self.route.points[[0, -1]]
        return float(((ends[1] - ends[0]) ** 2).sum() ** 0.5)


def led_to(site: Site, situation: Situation, line: Line, place: str) -> Led | None:
    """Return a line led to a place, None where no rails lead from its anchor to it."""
    if spot_in(site, situation, line.anchor).point == spot_in(site, situation, place).point:
        start = spot_in(site, situation, line.anchor)
        graph = graph_in(site, situation, (start.name,))
        route = best_route(graph, start.name, start.name)
    else:
        graph = graph_in(site, situation, (line.anchor, place))
        route = best_route(graph, line.anchor, place)
    return None if route is None else Led(line, place, route)


def tight_of(site: Site, situation: Situation, led: Led, is_close: bool = True) -> Taut:
    """Return the line pulled tight round the structure, on the side on which it was led.

    Only where ``is_close`` is more than the straight line proved from below: that takes longer.
    """
    anchor, around = led.line.anchor, situation.surroundings
    key = ("tight", anchor, led.place, id(around), situation.body, is_close)
    if key not in site.memo:
        site.memo[key] = taut(around.tree, led.route.points, THICK, gates=is_close)
    found: Taut = site.memo[key]
    return found
