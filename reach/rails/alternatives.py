"""Alternatives that really differ: each shares little of its length with every better one.

Two trees of best ways, out from the start and back from the goal, give for every grip the best
way by it.  Of these the best is taken that differs enough from all taken before, and again.
Where none is left, the ways taken are made dear and the trees grown anew.  What is returned
keeps its promise of differing; a better alternative that goes by the best way to no grip may
exist (finding the best ones exactly is hard: each grip added doubles what could be tried).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from reach.rails.closest import Floats, Ints
from reach.rails.graph import Cost, RailGraph
from reach.rails.joins import TOUCH
from reach.rails.route import Route, route_of

if TYPE_CHECKING:
    from scipy.sparse import csr_array

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
    ground = _Ground(graph, cost)
    found: list[tuple[float, list[int]]] = []
    for dearer in (1.0, *DEARER):
        ways = ground.dearer(found, dearer)
        trees = _Tree.grown(ground, ways, at), _Tree.grown(ground, ways, to)
        _take(ground, trees, found, k, 1.0 - apart)
        if len(found) in (0, k):
            break
    if dearer > 1.0:  # trees grown anew may have found better ways: worse ones have to yield
        found = _yielded(ground, found, 1.0 - apart)
    return [route_of(graph, nodes, total) for total, nodes in found]


class _Ground:
    """The graph with what each edge costs, and which edges are as good as the same.

    The same are all edges between one place and one rail, and all between the same two rails:
    to take hold a little farther along is no other way.
    """

    def __init__(self, graph: RailGraph, cost: Cost | None) -> None:
        self.graph, csr = graph, graph.csr
        self.costs = csr.data if cost is None else csr.data * cost(graph)
        n, rail = len(graph.points), graph.rail
        rows, columns = np.repeat(np.arange(n), np.diff(csr.indptr)), csr.indices
        ends = [
            # On a rail the two grips tell the edge, else the rails; places stand after these.
            np.where(graph.kinds == 0, node, n + np.where(rail[node] < 0, node + n, rail[node]))
            for node in (rows, columns.astype(np.int64))
        ]
        low, high = np.minimum(*ends), np.maximum(*ends)
        self.likes = np.unique(low * 4 * n + high, return_inverse=True)[1]

    def shared(self, nodes: list[int], other: list[int]) -> float:
        """Return the share of a way's length that is as good as the same as in another."""
        mine = self.graph.edges_along(nodes)
        lengths = self.graph.csr.data[mine]
        same = np.isin(self.likes[mine], self.likes[self.graph.edges_along(other)])
        return float(lengths[same].sum() / max(lengths.sum(), TOUCH))

    def dearer(self, found: list[tuple[float, list[int]]], factor: float) -> csr_array:
        """Return the ways, with all that is as good as used by the routes found made dearer."""
        from scipy.sparse import csr_array

        csr, onward = self.graph.csr, self.graph.onward
        used = np.zeros(len(csr.data), bool)
        for _, nodes in found:
            used |= np.isin(self.likes, self.likes[self.graph.edges_along(nodes)])
        costs = np.where(used, factor, 1.0) * self.costs
        before = np.concatenate([[0], np.cumsum(onward)])
        return csr_array((costs[onward], csr.indices[onward], before[csr.indptr]), shape=csr.shape)


@dataclass(frozen=True, slots=True, eq=False)
class _Tree:
    """Best ways from a place to every grip.

    ``first`` and ``beyond`` bound the nodes at or behind a node in an order in which these
    stand side by side, so a sum along every way is one running sum.
    """

    parent: Ints
    first: Ints
    beyond: Ints
    behind: Ints
    entry: Ints
    cost: Floats
    length: Floats

    @classmethod
    def grown(cls, ground: _Ground, ways: csr_array, root: int) -> _Tree:
        """Grow the tree by ``ways``; ``entry`` is the edge to each of the nodes ``behind``."""
        from scipy.sparse.csgraph import dijkstra

        reached, parent = dijkstra(ways, indices=root, return_predecessors=True)
        parent = np.where(parent < 0, -1, parent).astype(np.int64)
        behind = np.flatnonzero(parent >= 0)
        entry = ground.graph.entries(parent[behind], behind)
        nothing = np.zeros(0)
        bare = cls(parent, *_intervals(parent, root), behind, entry, nothing, nothing)
        cost, length = (
            np.where(np.isfinite(reached), bare.sums(behind, values[entry]), np.inf)
            for values in (ground.costs, ground.graph.csr.data)
        )
        return replace(bare, cost=cost, length=length)

    def sums(self, nodes: Ints, values: Floats) -> Floats:
        """Return, for every node, the sum of ``values`` at the ``nodes`` on its way."""
        steps = np.zeros(len(self.parent) + 1)
        np.add.at(steps, self.first[nodes], values)
        np.add.at(steps, self.beyond[nodes], -values)
        return np.asarray(np.cumsum(steps)[self.first])

    def shared(self, ground: _Ground, likes: Ints) -> Floats:
        """Return, for every node, how much (m) of its way is as good as edges of these kinds."""
        wanted = np.zeros(len(ground.graph.csr.data), bool)
        wanted[likes] = True
        same = np.flatnonzero(wanted[ground.likes[self.entry]])
        return self.sums(self.behind[same], ground.graph.csr.data[self.entry[same]])

    def way(self, node: int) -> list[int]:
        """Return the nodes from the root to ``node``."""
        nodes = [node]
        while self.parent[nodes[-1]] >= 0:
            nodes.append(int(self.parent[nodes[-1]]))
        return nodes[::-1]


def _intervals(parent: Ints, root: int) -> tuple[Ints, Ints]:
    """Number the nodes of a tree so that all behind a node follow it: first and beyond."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import breadth_first_order

    n = len(parent)
    children = np.flatnonzero(parent >= 0)
    tree = csr_array((np.ones(len(children)), (parent[children], children)), shape=(n, n))
    order = breadth_first_order(tree, root, return_predecessors=False).astype(np.int64)
    place = np.empty(n, np.int64)
    place[order] = np.arange(len(order))
    above = place[parent[order[1:]]]  # not falling: the order goes level by level
    bounds = [0, 1]
    while bounds[-1] < len(order):
        bounds.append(1 + int(np.searchsorted(above, bounds[-1])))
    levels = [slice(i, j) for i, j in pairwise(bounds[1:])]
    up = np.concatenate([[0], above])
    size, at = (
        np.ones(len(order), np.int64),
        np.zeros(len(order), np.int64),
    )
    for level in reversed(levels):
        np.add.at(size, up[level], size[level])
    for level in levels:  # behind the parent, and behind the parent's children that came before
        before = np.cumsum(size[level]) - size[level]
        eldest = np.searchsorted(up[level], up[level])
        at[level] = at[up[level]] + 1 + before - before[eldest]
    first, beyond = np.full(n, n), np.full(n, n)
    first[order], beyond[order] = at, at + size
    return first, beyond


def _take(
    ground: _Ground,
    trees: tuple[_Tree, _Tree],
    found: list[tuple[float, list[int]]],
    k: int,
    most: float,
) -> None:
    """Add to ``found`` the best ways by some grip that differ from all in it, up to ``k``."""
    out, back = trees
    n = ground.graph.n_grips
    total, length = (out.cost + back.cost)[:n], (out.length + back.length)[:n]
    total[out.parent[:n] == back.parent[:n]] = np.inf  # back the way it came

    def close(nodes: list[int]) -> None:
        likes = ground.likes[ground.graph.edges_along(nodes)]
        same = out.shared(ground, likes) + back.shared(ground, likes)
        total[same[:n] > most * length + TOUCH] = np.inf

    for _, nodes in found:
        close(nodes)
    while len(found) < k and n:
        by = int(np.argmin(total))
        if not np.isfinite(total[by]):
            return
        nodes = out.way(by) + back.way(by)[-2::-1]
        cost, total[by] = float(total[by]), np.inf
        if len(set(nodes)) == len(nodes):
            found.append((cost, nodes))
            close(nodes)


def _yielded(
    ground: _Ground, found: list[tuple[float, list[int]]], most: float
) -> list[tuple[float, list[int]]]:
    """Return ways in order of cost without those that share too much with a better one."""
    kept: list[tuple[float, list[int]]] = []
    for cost, nodes in sorted(found):
        if all(ground.shared(nodes, better) <= most + TOUCH for _, better in kept):
            kept.append((cost, nodes))
    return kept
