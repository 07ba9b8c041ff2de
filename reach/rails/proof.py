"""Why there is no route: what can be got to from both ends, and the least that would join them.

The rails that can be got to from the start are all there are (a component of the graph); when
the goal is not among what they reach, no sequence of moves leads there.  Gaps are then taken in
rising order and joined until start and goal are connected: the last one is the bottleneck, and
no set of wider spans below it would do.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from reach.rails.closest import Floats, Ints, closest, near_pairs
from reach.rails.graph import RailGraph, lines_of, places_of, rail_graph, usable_of
from reach.rails.joins import TOUCH
from reach.rails.records import Rail, Spot, Vec
from reach.rails.route import best_route

if TYPE_CHECKING:
    import networkx


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap that is too wide, and the handholds that close it.

    Attributes
    ----------
    names : tuple of 2 str
        Rails or places on its two sides, from the start's side on.
    start, stop : tuple of 3 floats, m, world
        The two points.
    width, limit : float, m
    handholds : tuple of points, m, world
        The fewest, equally spaced, that leave no step above its limit.
    to_place : bool
        Whether one side is a place, whose span is the limit.
    """

    names: tuple[str, str]
    start: Vec
    stop: Vec
    width: float
    limit: float
    handholds: tuple[Vec, ...]
    to_place: bool = False


@dataclass(frozen=True, slots=True)
class NoRoute:
    """Proof that no route exists, and what would make one.

    Attributes
    ----------
    start, stop : str
        Names of the places.
    from_start, from_stop : tuple of str
        All rails that can be got to from either, by name in the order given.
    bottleneck : float, m
        The least gap limit with which a route exists; infinite where a place holds no rail,
        nan when no free rail is left to go by.
    rails : tuple of 2 str
        Both sides of the gap that is farthest above its limit; a place may be one of them.
    points : tuple of 2 points, m, world; None when no free rail is left
    gaps : tuple of Gap
        Every gap above its limit on the way whose widest gap is least; closing all of them
        makes a route.
    handholds : int
        How many extra handholds close all of these.
    freed : tuple of str
        Rails not in use (blocked, not to be touched, not rated, avoided) each of which alone
        would make a route if it were free.  Rails that are gone cannot be freed.
    freed_together : tuple of str
        Where none alone does: a smallest set that does; empty if all of them do not.
    """

    start: str
    stop: str
    from_start: tuple[str, ...]
    from_stop: tuple[str, ...]
    bottleneck: float
    rails: tuple[str, str]
    points: tuple[Vec, Vec] | None
    gaps: tuple[Gap, ...]
    handholds: int
    freed: tuple[str, ...]
    freed_together: tuple[str, ...]


def why_none(
    rails: Sequence[Rail],
    spots: Sequence[Spot],
    gap: float,
    start: str,
    stop: str,
    spot_span: float = 1.2,
    pitch: float = 0.3,
    avoid: Collection[str] = (),
    allow: Collection[str] = (),
) -> NoRoute | None:
    """Return the proof that no route leads from ``start`` to ``stop``; None when one does.

    Parameters are those of `reach.rails.graph.rail_graph`, and the names of the two places.

    Raises
    ------
    ValueError
        As `rail_graph`, and for a place that is unknown.
    """
    graph = rail_graph(rails, spots, gap, spot_span, pitch, avoid, allow)
    if best_route(graph, start, stop) is not None:
        return None
    usable = usable_of(rails, avoid, allow)
    ends = [graph.spots[graph.node_of(name) - graph.n_grips] for name in (start, stop)]
    gaps = _narrowest(_Ground(graph, usable, ends))
    widest = max(gaps, key=lambda each: each.width - each.limit, default=None)
    free = set(usable.tolist())
    idle = [rail.name for k, rail in enumerate(rails) if k not in free and rail.status != "gone"]
    freed, together = _freed(graph, ends, idle)
    return NoRoute(
        start,
        stop,
        _held_from(graph, start),
        _held_from(graph, stop),
        _bottleneck(gaps),
        widest.names if widest else ("", ""),
        (widest.start, widest.stop) if widest else None,
        tuple(gaps),
        sum(len(each.handholds) for each in gaps),
        freed,
        together,
    )


def _bottleneck(gaps: Sequence[Gap]) -> float:
    if any(each.to_place for each in gaps):
        return math.inf
    return max((each.width for each in gaps), default=math.nan)


def _held_from(graph: RailGraph, place: str) -> tuple[str, ...]:
    """Return the rails of the component that a place is joined to."""
    labels = _grip_labels(graph)
    node = graph.node_of(place)
    grips = graph.csr.indices[graph.csr.indptr[node] : graph.csr.indptr[node + 1]]
    held = np.unique(graph.rail[: graph.n_grips][np.isin(labels, labels[grips])])
    return tuple(graph.rails[k].name for k in held.tolist())


def _grip_labels(graph: RailGraph) -> Ints:
    """Return the component of each grip; places join nothing, they are not passed through."""
    from scipy.sparse.csgraph import connected_components

    grips = graph.csr[: graph.n_grips, : graph.n_grips]
    return np.asarray(connected_components(grips, directed=False)[1], np.int64)


class _Ground:
    """Rails in use and the two places as segments, with what is joined already."""

    def __init__(self, graph: RailGraph, usable: Ints, ends: list[Spot]) -> None:
        lines = lines_of(graph.rails, graph.pitch)
        points, spans = places_of(ends, graph.spot_span)
        self.names = [*(graph.rails[k].name for k in usable.tolist()), *(e.name for e in ends)]
        self.start = np.concatenate([lines.start[usable], points])
        self.along = np.concatenate([lines.along[usable], np.zeros((2, 3))])
        self.limits = np.concatenate([np.full(len(usable), graph.gap), spans])
        self.gap, self.n = graph.gap, len(usable)

    def gaps_within(self, reach: float) -> tuple[Ints, Floats, Floats, Floats]:
        """Return pairs, excess over their limit (m) and the two shares, for widths to ``reach``.

        A place that holds rails holds no others; one that holds none may come to any.
        """
        pairs = near_pairs(self.start, self.start + self.along, reach)
        pairs = pairs[pairs[:, 0] < self.n]  # from place to place there is nothing to hold
        i, j = pairs[:, 0], pairs[:, 1]
        s, t, width = closest(self.start[i], self.along[i], self.start[j], self.along[j])
        excess = width - self.limits[j]
        place, in_span = j >= self.n, excess <= TOUCH
        near = (width <= reach) & (~place | in_span | ~np.isin(j, j[place & in_span]))
        return pairs[near], excess[near], s[near], t[near]

    def extent(self) -> float:
        """Return a width that no gap exceeds."""
        ends = np.concatenate([self.start, self.start + self.along])
        return float(np.linalg.norm(np.ptp(ends, axis=0))) + 1.0


def _narrowest(ground: _Ground) -> list[Gap]:
    """Return the gaps above their limit on the way whose widest excess is least."""
    if not ground.n:
        return []
    most, end = float(ground.limits.max()), ground.extent()
    reach = 2.0 * most
    while True:
        pairs, excess, s, t = ground.gaps_within(min(reach, end))
        rows = _way(pairs, excess, ground.n + 2)
        # A way with less excess has no gap beyond what this search took in.
        if rows and most + max(excess[row] for row, _ in rows) <= reach:
            wide = [(row, turned) for row, turned in rows if excess[row] > TOUCH]
            return [_too_wide(ground, pairs[r], float(s[r]), float(t[r]), b) for r, b in wide]
        if reach >= end:
            return []
        reach *= 2.0


def _way(pairs: Ints, excess: Floats, n: int) -> list[tuple[int, bool]]:
    """Return the rows of ``pairs`` from the last node but one to the last, and which are turned.

    In a least spanning tree every way has the least widest step there is (Hu, Operations
    Research 9 (1961) 898).
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

    first, last = n - 2, n - 1
    weights = 1.0 + np.maximum(0.0, excess)  # a stored zero would be no edge to the library
    matrix = csr_array((weights, (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    order, before = breadth_first_order(minimum_spanning_tree(matrix), first, directed=False)
    if last not in order:
        return []
    row_of = {(i, j): row for row, (i, j) in enumerate(pairs.tolist())}
    way, node = [], last
    while node != first:
        above = int(before[node])
        way.append((row_of[min(above, node), max(above, node)], above > node))
        node = above
    return way[::-1]


def _too_wide(ground: _Ground, pair: Ints, s: float, t: float, turned: bool) -> Gap:
    """Return the gap of a pair at shares ``s`` and ``t``, and the handholds that close it."""
    i, j = pair.tolist()
    ends = [ground.start[i] + s * ground.along[i], ground.start[j] + t * ground.along[j]]
    width, limit = float(np.linalg.norm(ends[1] - ends[0])), float(ground.limits[j])
    place = j >= ground.n
    # From a rail to a place the last step may be the place's own span.
    bridged = width - limit if place else width
    n = math.ceil(bridged / ground.gap - 1e-9) - (0 if place else 1)
    step = bridged / width / (n if place else n + 1)
    holds = [_vec(ends[0] + (k + 1) * step * (ends[1] - ends[0])) for k in range(n)]
    names, points = (ground.names[i], ground.names[j]), (_vec(ends[0]), _vec(ends[1]))
    if turned:
        names, points, holds = names[::-1], points[::-1], holds[::-1]
    return Gap(names, points[0], points[1], width, limit, tuple(holds), place)


def _vec(point: Floats) -> Vec:
    x, y, z = point.tolist()
    return x, y, z


def _freed(
    graph: RailGraph, ends: list[Spot], idle: list[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return rails that alone would make a route, or the fewest that would together."""
    if not idle:
        return (), ()
    import networkx

    first, last = (f"place {spot.name}" for spot in ends)
    islands = _islands(graph, idle, [first, last], ends)
    plain = islands.subgraph([node for node in islands if node not in idle])
    near = [networkx.node_connected_component(plain, end) for end in (first, last)]
    alone = [
        name for name in idle if all(any(other in part for other in islands[name]) for part in near)
    ]
    if alone or not networkx.has_path(islands, first, last):
        return tuple(alone), ()
    way = networkx.shortest_path(
        islands, first, last, weight=lambda _, onto, __: 1 if onto in idle else 0
    )
    return (), tuple(node for node in way if node in idle)


def _islands(
    graph: RailGraph, idle: list[str], names: list[str], ends: list[Spot]
) -> networkx.Graph:
    """Return what touches what were all ``idle`` rails free: components, idle rails, places."""
    import networkx

    opened = rail_graph(graph.rails, ends, graph.gap, graph.spot_span, graph.pitch, allow=[*idle])
    labels = np.zeros(len(graph.rails), np.int64)
    labels[graph.rail[: graph.n_grips]] = _grip_labels(graph)
    known = [
        r.name if r.name in idle else f"component {labels[k]}" for k, r in enumerate(graph.rails)
    ]
    islands = networkx.Graph()
    islands.add_nodes_from([*names, *known])
    rows = np.repeat(np.arange(len(opened.points)), np.diff(opened.csr.indptr))
    across = np.flatnonzero((rows < opened.csr.indices) & (opened.kinds > 0))
    for i, j in zip(rows[across].tolist(), opened.csr.indices[across].tolist(), strict=True):
        onto = known[opened.rail[j]] if j < opened.n_grips else names[j - opened.n_grips]
        if known[opened.rail[i]] != onto:
            islands.add_edge(known[opened.rail[i]], onto)
    return islands
