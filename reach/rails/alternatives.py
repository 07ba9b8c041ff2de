"""Alternatives that really differ: each shares little of its length with every better one.

Two trees of best ways, out from the start and back from the goal, give for every grip the best
way by it.  Of these the best is taken that differs enough from all taken before, and again.
Where none is left, the ways taken are made dear and the trees grown anew.  What is returned
keeps its promise of differing; a better alternative that goes by the best way to no grip may
exist (finding the best ones exactly is hard: each grip added doubles what could be tried).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, dijkstra

from reach.rails.closest import Floats, Ints
from reach.rails.graph import Cost, RailGraph
from reach.rails.joins import TOUCH
from reach.rails.route import Route, route_of

DEARER = (2.0, 4.0, 16.0)
"""Factors on what is used by ways already taken, one after the other."""


def alternatives(
    graph: RailGraph,
    start: str,
    stop: str,
    k: int,
    apart: float = 0.3,
    cost: Cost | None = None,
) -> list[Route]:
    """Return up to ``k`` routes, best first, each of them really another.

    Parameters
    ----------
    graph : RailGraph
    start, stop : str
        Names of places.
    k : int
        How many at most; the best route is the first.
    apart : float
        A later route shares at most ``1 - apart`` of its length with any earlier one.
    cost : callable, optional
        See `reach.rails.route.best_route`.

    Raises
    ------
    ValueError
        If a name is unknown, ``k`` is below 1 or ``apart`` outside 0 to 1.
    """
    if k < 1 or not 0.0 <= apart <= 1.0:
        raise ValueError(f"k must be 1 or more and apart within 0 to 1, found {k} and {apart}")
    at, to = graph.node_of(start), graph.node_of(stop)
    if at == to:
        return [route_of(graph, [at], 0.0)]
    weighed = graph.weighed(cost)
    found: list[tuple[float, list[int]]] = []
    for dearer in (1.0, *DEARER):
        ways = weighed if dearer == 1.0 else _dearer(weighed, found, dearer)
        trees = _Tree.grown(graph, ways, weighed, at), _Tree.grown(graph, ways, weighed, to)
        _take(graph, trees, found, k, 1.0 - apart)
        if len(found) in (0, k):
            break
    found.sort(key=lambda each: each[0])
    return [route_of(graph, nodes, total) for total, nodes in found]


@dataclass(frozen=True, slots=True, eq=False)
class _Tree:
    """Best ways from a place to every grip.

    ``first`` and ``beyond`` bound the nodes at or behind a node in an order in which these
    stand side by side, so a sum along every way is one running sum.
    """

    parent: Ints
    first: Ints
    beyond: Ints
    cost: Floats
    length: Floats

    @classmethod
    def grown(cls, graph: RailGraph, ways: csr_array, weighed: csr_array, root: int) -> _Tree:
        """Grow the tree by ``ways``; its costs are those of ``weighed``."""
        reached, parent = dijkstra(ways, indices=root, return_predecessors=True)
        parent = np.where(parent < 0, -1, parent).astype(np.int64)
        first, beyond = _intervals(parent, root)
        behind = np.flatnonzero(parent >= 0)
        costs, lengths = np.zeros(len(parent)), np.zeros(len(parent))
        costs[behind] = _entries(weighed, parent[behind], behind)
        lengths[behind] = _entries(graph.ways, parent[behind], behind)
        tree = cls(parent, first, beyond, costs, lengths)
        unreached = ~np.isfinite(reached)
        sums = [tree.sums(behind, values[behind]) for values in (costs, lengths)]
        for values in sums:
            values[unreached] = np.inf
        return cls(parent, first, beyond, *sums)

    def sums(self, nodes: Ints, values: Floats) -> Floats:
        """Return, for every node, the sum of ``values`` at the ``nodes`` on its way."""
        steps = np.zeros(len(self.parent) + 1)
        np.add.at(steps, self.first[nodes], values)
        np.add.at(steps, self.beyond[nodes], -values)
        return np.asarray(np.cumsum(steps)[self.first])

    def shared(self, nodes: list[int], lengths: list[float]) -> Floats:
        """Return, for every node, how much (m) of its way goes along the route ``nodes``."""
        ends, values = [], []
        for (i, j), length in zip(pairwise(nodes), lengths, strict=True):
            if self.parent[j] == i or self.parent[i] == j:
                ends.append(j if self.parent[j] == i else i)
                values.append(length)
        return self.sums(np.array(ends, np.int64), np.array(values))

    def way(self, node: int) -> list[int]:
        """Return the nodes from the root to ``node``."""
        nodes = [node]
        while self.parent[nodes[-1]] >= 0:
            nodes.append(int(self.parent[nodes[-1]]))
        return nodes[::-1]


def _intervals(parent: Ints, root: int) -> tuple[Ints, Ints]:
    """Number the nodes of a tree so that all behind a node follow it: first and beyond."""
    n = len(parent)
    children = np.flatnonzero(parent >= 0)
    tree = csr_array((np.ones(len(children)), (parent[children], children)), shape=(n, n))
    order = breadth_first_order(tree, root, return_predecessors=False).tolist()
    up, size, first = parent.tolist(), [1] * n, [n] * n
    for node in reversed(order[1:]):
        size[up[node]] += size[node]
    following = [0] * n
    first[root], following[root] = 0, 1
    for node in order[1:]:
        above = up[node]
        first[node] = following[above]
        following[above] += size[node]
        following[node] = first[node] + 1
    starts = np.array(first, np.int64)
    return starts, np.minimum(n, starts + np.array(size))


def _entries(matrix: csr_array, rows: Ints, columns: Ints) -> Floats:
    """Return the stored entries at these rows and columns, which are all there."""
    n = matrix.shape[1]
    keys = np.repeat(np.arange(matrix.shape[0]), np.diff(matrix.indptr)) * n + matrix.indices
    return np.asarray(matrix.data[np.searchsorted(keys, rows * n + columns)], np.float64)


def _take(
    graph: RailGraph,
    trees: tuple[_Tree, _Tree],
    found: list[tuple[float, list[int]]],
    k: int,
    most: float,
) -> None:
    """Add to ``found`` the best ways by some grip that differ from all in it, up to ``k``."""
    out, back = trees
    total = (out.cost + back.cost)[: graph.n_grips]
    length = (out.length + back.length)[: graph.n_grips]
    turns = out.parent[: graph.n_grips] == back.parent[: graph.n_grips]  # back the way it came
    total[turns] = np.inf
    for _, nodes in found:
        _close(graph, trees, nodes, total, length, most)
    while len(found) < k and len(total):
        by = int(np.argmin(total))
        if not np.isfinite(total[by]):
            return
        nodes = out.way(by) + back.way(by)[-2::-1]
        cost, total[by] = float(total[by]), np.inf
        if len(set(nodes)) == len(nodes):
            found.append((cost, nodes))
            _close(graph, trees, nodes, total, length, most)


def _close(
    graph: RailGraph,
    trees: tuple[_Tree, _Tree],
    nodes: list[int],
    total: Floats,
    length: Floats,
    most: float,
) -> None:
    """Take out of ``total`` the ways that share more than ``most`` of their length with a route."""
    lengths = [graph.edge(i, j)[0] for i, j in pairwise(nodes)]
    same = trees[0].shared(nodes, lengths) + trees[1].shared(nodes, lengths)
    total[same[: graph.n_grips] > most * length + TOUCH] = np.inf


def _dearer(weighed: csr_array, found: list[tuple[float, list[int]]], factor: float) -> csr_array:
    """Return the ways with those of the routes found made dearer."""
    data = weighed.data.copy()
    for _, nodes in found:
        for two in pairwise(nodes):
            for i, j in (two, two[::-1]):
                first, last = weighed.indptr[i], weighed.indptr[i + 1]
                at = first + int(np.searchsorted(weighed.indices[first:last], j))
                if at < last and weighed.indices[at] == j:
                    data[at] *= factor
    return csr_array((data, weighed.indices, weighed.indptr), shape=weighed.shape)
