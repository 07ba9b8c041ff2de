"""The graph of grips: which hold follows which, hand over hand, with one hand always on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.rails.closest import Floats, Ints
from reach.rails.joins import TOUCH, Holds, Joins, Lines, holds_of, joins_within
from reach.rails.records import HANDHOLD, Rail, Spot, index_of

if TYPE_CHECKING:
    from scipy.sparse import csr_array

if TYPE_CHECKING:
    import networkx

KINDS = ("along", "gap", "spot")
"""What an edge is: along one rail, from rail to rail, between a place and a rail."""

Cost = Callable[["RailGraph"], Floats]
"""Gives the factor on the length of every stored edge of ``csr``, for example s/m."""


@dataclass(frozen=True, eq=False)
class RailGraph:
    """Grips and places as nodes, and what one move of a hand or body joins as edges.

    Nodes are the grips, rail by rail in order along each, then the places.

    Attributes
    ----------
    points : ndarray, shape (n, 3), m, world
    rail : ndarray, shape (n,)
        Index into ``rails``; -1 for a place.
    along : ndarray, shape (n,), m
        Distance from the rail's start; nan for a place.
    rails : tuple of Rail
    spots : tuple of Spot
    gap, spot_span, pitch : float, m
    csr : csr_array, shape (n, n), m
        Lengths of the edges, symmetric; an edge of length 0 is stored.
    kinds : ndarray, shape (n_edges,), uint8
        Index into `KINDS` for each entry of ``csr.data``.
    """

    points: Floats
    rail: Ints
    along: Floats
    rails: tuple[Rail, ...]
    spots: tuple[Spot, ...]
    gap: float
    spot_span: float
    pitch: float
    csr: csr_array
    kinds: NDArray[np.uint8]

    @property
    def n_grips(self) -> int:
        """Number of grips; the nodes from here on are the places."""
        return len(self.points) - len(self.spots)

    @cached_property
    def onward(self) -> NDArray[np.bool_]:
        """Which stored edges a way may take: a place is left, never passed through."""
        return np.asarray(self.csr.indices < self.n_grips)

    @cached_property
    def ways(self) -> csr_array:
        """``csr`` without the edges that enter a place, shape (n, n), m."""
        return self.weighed(None)

    def weighed(self, cost: Cost | None) -> csr_array:
        """Return the ways with their lengths times the factors of a ``cost``."""
        from scipy.sparse import csr_array

        data = self.csr.data if cost is None else self.csr.data * cost(self)
        before = np.concatenate([[0], np.cumsum(self.onward)])
        parts = data[self.onward], self.csr.indices[self.onward], before[self.csr.indptr]
        return csr_array(parts, shape=self.csr.shape)

    def node_of(self, spot: str) -> int:
        """Return the node of a place; ValueError with the nearest name if there is none."""
        return self.n_grips + index_of("place", spot, [each.name for each in self.spots])

    @cached_property
    def _keys(self) -> Ints:
        rows = np.repeat(np.arange(len(self.points)), np.diff(self.csr.indptr))
        return np.asarray(rows * len(self.points) + self.csr.indices, np.int64)

    def entries(self, i: Ints, j: Ints) -> Ints:
        """Return where in ``csr.data`` the edges from ``i`` to ``j`` are; all must be there."""
        return np.asarray(np.searchsorted(self._keys, i * len(self.points) + j), np.int64)

    def edges_along(self, nodes: Sequence[int]) -> Ints:
        """Return where in ``csr.data`` the edges along a way of ``nodes`` are."""
        way = np.array(nodes, np.int64)
        return self.entries(way[:-1], way[1:])

    def networkx(self) -> networkx.Graph:
        """Return the graph for other tools.

        Nodes are integers with ``point``, ``rail`` (name, or the place's), ``along`` and
        ``out``; edges have ``kind`` and ``length`` (m).
        """
        import networkx  # takes long, and nothing here needs it

        graph = networkx.Graph()
        for node, (point, rail, along) in enumerate(
            zip(self.points.tolist(), self.rail.tolist(), self.along.tolist(), strict=True)
        ):
            name = self.rails[rail].name if rail >= 0 else self.spots[node - self.n_grips].name
            out = self.rails[rail].out if rail >= 0 else None
            graph.add_node(node, point=tuple(point), rail=name, along=along, out=out)
        rows = np.repeat(np.arange(len(self.points)), np.diff(self.csr.indptr))
        once = rows < self.csr.indices
        entries = rows[once], self.csr.indices[once], self.csr.data[once], self.kinds[once]
        for i, j, length, kind in zip(*(part.tolist() for part in entries), strict=True):
            graph.add_edge(i, j, kind=KINDS[kind], length=length)
        return graph


def per_kind(along: float = 1.0, gap: float = 1.0, spot: float = 1.0) -> Cost:
    """Return a cost of so much a metre for each kind of edge, for example s/m."""
    factors = np.array([along, gap, spot])
    return lambda graph: np.asarray(factors[graph.kinds], np.float64)


def rail_graph(
    rails: Sequence[Rail],
    spots: Sequence[Spot],
    gap: float,
    spot_span: float = 1.2,
    pitch: float = 0.3,
    avoid: Collection[str] = (),
    allow: Collection[str] = (),
) -> RailGraph:
    """Return the graph of all grips.

    Parameters
    ----------
    rails, spots : sequences of Rail and Spot
    gap : float, m
        The farthest from rail to rail, hand to hand with one hand always on.
    spot_span : float, m
        The farthest from a place to a rail, unless the place has its own.
    pitch : float, m
        Grips along a rail are at most so far apart.
    avoid, allow : collections of str
        Rails not to use, and rails to use though blocked, not to be touched or not rated;
        ``avoid`` goes before ``allow``.

    Raises
    ------
    ValueError
        If a name is unknown or given twice, or a length is not positive and finite.
    """
    rails, spots = tuple(rails), tuple(spots)
    check_inputs(rails, spots, {"gap": gap, "spot_span": spot_span, "pitch": pitch})
    usable = usable_of(rails, avoid, allow)
    lines = lines_of(rails, pitch)
    points, spans = places_of(spots, spot_span)
    joins = joins_within(lines, usable, gap)
    holds = holds_of(lines, usable, points, spans)
    return assembled(rails, spots, lines, usable, joins, holds, (gap, spot_span, pitch))


def usable_of(rails: Sequence[Rail], avoid: Collection[str], allow: Collection[str]) -> Ints:
    """Return the indices of the rails that may be held; ValueError for unknown names."""
    names = [rail.name for rail in rails]
    for name in (*avoid, *allow):
        if name not in names:
            index_of("rail", name, names)
    asked, shunned = set(allow), set(avoid)
    good = [(r.usable or r.name in asked) and r.name not in shunned for r in rails]
    return np.flatnonzero(np.array(good, bool)).astype(np.int64)


def lines_of(rails: Sequence[Rail], pitch: float) -> Lines:
    """Return the axes of rails and the number of pitch grips on each."""
    start = np.array([rail.start for rail in rails], np.float64).reshape(-1, 3)
    along = np.array([rail.stop for rail in rails], np.float64).reshape(-1, 3) - start
    length = np.linalg.norm(along, axis=1)
    holds = length < HANDHOLD
    along[holds], length[holds] = 0.0, 0.0
    counts = np.ceil(length / pitch - 1e-9).astype(np.int64) + 1
    return Lines(start, along, length, np.where(holds, 1, np.maximum(2, counts)))


def places_of(spots: Sequence[Spot], spot_span: float) -> tuple[Floats, Floats]:
    """Return points (n, 3) and spans (n,) of places, m."""
    points = np.array([spot.point for spot in spots], np.float64).reshape(-1, 3)
    spans = [spot_span if spot.span is None else spot.span for spot in spots]
    return points, np.array(spans, np.float64)


def assembled(
    rails: tuple[Rail, ...], spots: tuple[Spot, ...], lines: Lines, usable: Ints, joins: Joins,
    holds: Holds, sizes: tuple[float, float, float],
) -> RailGraph:  # fmt: skip
    """Return the graph that these joins and holds make; ``sizes`` are gap, span and pitch (m)."""
    grip_rail, grip_s, _ = lines.grips(np.arange(len(rails)))
    rail, along, node = _nodes(
        np.concatenate([grip_rail, joins.rail, joins.other, holds.rail]),
        np.concatenate([grip_s, joins.s, joins.t, holds.s]),
    )
    cuts = np.cumsum([len(grip_rail), len(joins.rail), len(joins.other)])
    _, one, other, held = np.split(node, cuts)
    points = np.concatenate([lines.at(rail, along), places_of(spots, 0.0)[0]])
    free = np.zeros(len(rails) + 1, bool)
    free[usable] = True
    behind = np.flatnonzero((rail[1:] == rail[:-1]) & free[rail[1:]])
    i = np.concatenate([behind, one, held])
    j = np.concatenate([behind + 1, other, len(rail) + holds.spot])
    kinds = np.repeat(np.arange(3, dtype=np.uint8), [len(behind), len(one), len(held)])
    lengths = np.linalg.norm(points[i] - points[j], axis=1)
    lengths[: len(behind)] = np.diff(along)[behind]
    csr, kinds = _matrix(len(points), i, j, lengths, kinds)
    none = np.full(len(spots), -1)
    return RailGraph(
        points, np.concatenate([rail, none]), np.concatenate([along, none * np.nan]), rails, spots,
        *sizes, csr, kinds,
    )  # fmt: skip


def _nodes(rail: Ints, s: Floats) -> tuple[Ints, Floats, Ints]:
    """Make one node of points that coincide: rail and distance of each, node of each point."""
    order = np.lexsort((s, rail))
    rail, s = rail[order], s[order]
    new = np.ones(len(rail), bool)
    new[1:] = (np.diff(rail) > 0) | (np.diff(s) > TOUCH)
    node = np.empty(len(rail), np.int64)
    node[order] = np.cumsum(new) - 1
    return rail[new], s[new], node


def _matrix(
    n: int, i: Ints, j: Ints, lengths: Floats, kinds: NDArray[np.uint8]
) -> tuple[csr_array, NDArray[np.uint8]]:
    """Return the symmetric matrix of edges, each pair of nodes once, and their kinds."""
    from scipy.sparse import csr_array

    low, high = np.minimum(i, j), np.maximum(i, j)
    _, first = np.unique(low * n + high, return_index=True)
    low, high, lengths, kinds = low[first], high[first], lengths[first], kinds[first]
    rows, columns = np.concatenate([low, high]), np.concatenate([high, low])
    order = np.argsort(rows * n + columns)
    starts = np.concatenate([[0], np.cumsum(np.bincount(rows, minlength=n))])
    parts = np.tile(lengths, 2)[order], columns[order].astype(np.int32), starts.astype(np.int32)
    return csr_array(parts, shape=(n, n)), np.tile(kinds, 2)[order]


def check_inputs(rails: Sequence[Rail], spots: Sequence[Spot], sizes: dict[str, float]) -> None:
    """Raise ValueError listing every name given twice and every number that cannot be."""
    problems = [
        f"{name} must be positive and finite, found {value!r}"
        for name, value in sizes.items()
        if not 0.0 < value < np.inf
    ]
    for what, names in (("rail", [r.name for r in rails]), ("place", [s.name for s in spots])):
        twice = [name for name, times in Counter(names).items() if times > 1]
        problems += [f"{what} {name!r} is given {names.count(name)} times" for name in twice]
    for what, width, names, points in (
        ("rail", 6, [r.name for r in rails], [(*r.start, *r.stop) for r in rails]),
        ("place", 3, [s.name for s in spots], [s.point for s in spots]),
    ):
        finite = np.isfinite(np.array(points, np.float64).reshape(-1, width)).all(axis=1)
        problems += [f"{what} {names[k]!r} is not finite" for k in np.flatnonzero(~finite)]
    for spot in spots:
        if spot.span is not None and not 0.0 <= spot.span < np.inf:
            problems.append(f"place {spot.name!r} has a span of {spot.span!r}")
    if problems:
        raise ValueError("; ".join(problems))
