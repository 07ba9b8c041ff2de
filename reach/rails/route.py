"""The best way from place to place along the rails, leg by leg."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np

from reach.rails.closest import Floats, Ints
from reach.rails.graph import KINDS, Cost, RailGraph
from reach.rails.joins import TOUCH
from reach.rails.records import Vec


@dataclass(frozen=True, slots=True)
class Leg:
    """One stretch of a way: along a rail, from rail to rail, or between a place and a rail.

    Attributes
    ----------
    kind : {"along", "gap", "spot"}
    rail, to_rail : str
        The rail left and the rail come to; empty for a place.
    start, stop : tuple of 3 floats, m, world
    length : float, m
    """

    kind: str
    rail: str
    to_rail: str
    start: Vec
    stop: Vec
    length: float


@dataclass(frozen=True, eq=False)
class Route:
    """A way from place to place.

    Attributes
    ----------
    start, stop : str
        Names of the places.
    rails : tuple of str
        The rails in order, none twice in a row.
    legs : tuple of Leg
        Legs without length are left out.
    length : float, m
    widest : float, m
        The widest gap from rail to rail; 0 when there is none.
    at : tuple of str
        The rails on both sides of the widest gap; empty names when there is none.
    points : ndarray, shape (k, 3), m, world
    cost : float
        What was made smallest: the length (m), or the sum of a cost such as seconds.
    nodes : tuple of int
        The nodes of the graph, start and stop among them.
    """

    start: str
    stop: str
    rails: tuple[str, ...]
    legs: tuple[Leg, ...]
    length: float
    widest: float
    at: tuple[str, str]
    points: Floats
    cost: float
    nodes: tuple[int, ...]


def best_route(graph: RailGraph, start: str, stop: str, cost: Cost | None = None) -> Route | None:
    """Return the best route, or None when no sequence of rails leads there.

    Parameters
    ----------
    graph : RailGraph
    start, stop : str
        Names of places.
    cost : callable, optional
        Factor on the length of every edge, see `reach.rails.graph.Cost`; length by default.

    Raises
    ------
    ValueError
        If a name is unknown; the message has the nearest right one.
    """
    at, to = graph.node_of(start), graph.node_of(stop)
    if at == to:
        return route_of(graph, [at], 0.0)
    costs, before = _from_place(graph, to, cost)
    if not np.isfinite(costs[at]):
        return None
    return route_of(graph, followed(before, at), float(costs[at]))


def all_lengths(graph: RailGraph, stop: str, cost: Cost | None = None) -> tuple[Floats, Ints]:
    """Return the least length (or cost) from every node to a place, and the way there.

    Returns
    -------
    lengths : ndarray, shape (n,), m
        Infinite where no way leads to ``stop``.
    onward : ndarray, shape (n,)
        The next node on the way to ``stop``; -1 at ``stop`` and where there is no way.
        `followed` reads a whole way from it.
    """
    return _from_place(graph, graph.node_of(stop), cost)


def followed(onward: Ints, node: int) -> list[int]:
    """Return the nodes from ``node`` on to where ``onward`` leads, both ends among them."""
    nodes = [node]
    while onward[nodes[-1]] >= 0:
        nodes.append(int(onward[nodes[-1]]))
    return nodes


def _from_place(graph: RailGraph, place: int, cost: Cost | None) -> tuple[Floats, Ints]:
    """Search outward from a place; edges cost the same both ways, so this serves all starts."""
    ways = graph.ways if cost is None else graph.weighed(cost)
    from scipy.sparse.csgraph import dijkstra

    costs, before = dijkstra(ways, indices=place, return_predecessors=True)
    before = np.where(before < 0, -1, before).astype(np.int64)
    for other in range(graph.n_grips, len(graph.points)):
        first, last = ways.indptr[other], ways.indptr[other + 1]
        if other != place and last > first:
            grips = ways.indices[first:last]
            sums = costs[grips] + ways.data[first:last]
            best = int(np.argmin(sums))
            if np.isfinite(sums[best]):
                costs[other], before[other] = sums[best], grips[best]
    return costs, before


def route_of(graph: RailGraph, nodes: list[int], cost: float | None = None) -> Route:
    """Return the route along these nodes, each joined to the next.

    It is named by the places at its ends; where an end is a grip, by the rail that has it.
    """
    names = [graph.rails[k].name if k >= 0 else "" for k in graph.rail[nodes].tolist()]
    legs = _legs(graph, nodes, names)
    length = sum(leg.length for leg in legs)
    gaps = [leg for leg in legs if leg.kind == "gap"]
    widest = max(gaps, key=lambda leg: leg.length, default=None)
    n = graph.n_grips
    ends = [names[k] if nodes[k] < n else graph.spots[nodes[k] - n].name for k in (0, -1)]
    first = tuple(graph.points[nodes[0]].tolist())
    return Route(
        ends[0],
        ends[1],
        tuple(name for name, _ in groupby(names) if name),
        legs,
        length,
        widest.length if widest else 0.0,
        (widest.rail, widest.to_rail) if widest else ("", ""),
        np.array([first, *(leg.stop for leg in legs)], np.float64),
        length if cost is None else cost,
        tuple(nodes),
    )


def _legs(graph: RailGraph, nodes: list[int], names: list[str]) -> tuple[Leg, ...]:
    points = [tuple(point) for point in graph.points[nodes].tolist()]
    edges = graph.edges_along(nodes)
    kinds = [KINDS[kind] for kind in graph.kinds[edges].tolist()]
    lengths, legs, k = graph.csr.data[edges].tolist(), [], 0
    while k < len(kinds):
        last = k + 1
        if kinds[k] == "along":  # all steps along one rail are one leg
            while last < len(kinds) and kinds[last] == "along":
                last += 1
        length = sum(lengths[k:last])
        if length > TOUCH:
            legs.append(Leg(kinds[k], names[k], names[last], points[k], points[last], length))
        k = last
    return tuple(legs)
