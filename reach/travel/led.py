"""A safety line led along rails from its anchor: how long it is, and how long pulled tight."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reach.geometry import Tree
from reach.lines.taut import Taut, taut
from reach.passage import Line
from reach.rails.route import Route, best_route
from reach.rails.written import written_route
from reach.site import Site, Situation
from reach.travel.ground import PITCH, graph_in, on_crane, rails_in
from reach.travel.path import path_of

THICK = 0.01
"""A line pulled tight is held this far off the structure (m)."""


@dataclass(frozen=True, eq=False)
class Led:
    """A line from its anchor to one place along rails.

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


def led_to(
    site: Site, situation: Situation, line: Line, place: str, avoid: tuple[str, ...] = ()
) -> Led | None:
    """Return a line led to a place, None where no rails lead from its anchor to it.

    Nor do any that is known of from an anchor on the tip of a crane, which goes where that does.
    """
    if on_crane(site, line.anchor):
        return None
    names = tuple(dict.fromkeys((line.anchor, place)))
    route = best_route(graph_in(site, situation, names, avoid), line.anchor, place)
    return None if route is None else Led(line, place, route)


def led_along(
    site: Site, situation: Situation, led: Led, way: Route, avoid: tuple[str, ...] = ()
) -> Led | None:
    """Return a line after a move: led on along the way, taken in where it goes back over it.

    Parameters
    ----------
    led : Led
        To where the move begins.
    way : Route
        From there on.
    """
    rails: list[str] = []
    for name in (*led.route.rails, *way.rails):
        if len(rails) > 1 and rails[-2] == name:
            rails.pop()
        elif not rails or rails[-1] != name:
            rails.append(name)
    if not rails:
        return led_to(site, situation, led.line, way.stop, avoid)
    names = tuple(dict.fromkeys((led.line.anchor, way.stop)))
    spots = graph_in(site, situation, names, avoid).spots
    route = written_route(
        rails_in(site, situation.surroundings), spots, rails, led.line.anchor, way.stop,
        site.limit("place_span").value, PITCH,
    )  # fmt: skip
    return Led(led.line, way.stop, route)


def led_ends(site: Site, situation: Situation, line: Line) -> tuple[Led, ...]:
    """Return a line of a move where that begins and where it ends, as far as rails lead it."""
    passage = situation.passage
    assert passage is not None
    way = path_of(site, situation).usable
    before = led_to(site, situation, line, passage.start, passage.avoid)
    if before is None or way is None:
        return ()
    after = led_along(site, situation, before, way, passage.avoid)
    return (before,) if after is None else (before, after)


def tight_of(site: Site, situation: Situation, led: Led, is_close: bool = True) -> Taut:
    """Return the line pulled tight round the structure, on the side on which it was led.

    Only where ``is_close`` is more than the straight line proved from below: that takes longer.
    """
    anchor, around = led.line.anchor, situation.surroundings
    key = ("tight", anchor, led.place, led.route.rails, id(around), situation.body, is_close)
    if key not in site.memo:
        site.memo[key] = _taut(around.tree, led, is_close)
    found: Taut = site.memo[key]
    return found


def _taut(tree: Tree, led: Led, is_close: bool) -> Taut:
    try:
        return taut(tree, led.route.points, THICK, gates=is_close)
    except ValueError:
        # A line that is led through structure has no way round it that could be named.
        points, length = led.route.points, led.route.length
        return Taut(led.straight, math.inf, points, length, "straight", 0.0, ())
