"""The k shortest ways that visit no grip twice, in order of length.

Yen's scheme with Lawler's rule (no deviation before the one a way came from), each spur search
led by the exact distance to the goal: Yen, Management Science 17 (1971) 712; Lawler, Management
Science 18 (1972) 401.
"""

from __future__ import annotations

import heapq
from bisect import insort
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from reach.rails.graph import Cost, RailGraph
from reach.rails.joins import TOUCH
from reach.rails.route import Route, all_lengths, route_of


def shortest_paths(
    graph: RailGraph, start: str, stop: str, k: int, cost: Cost | None = None
) -> list[Route]:
    """Return the ``k`` best loopless ways, best first; fewer where there are no more.

    They differ by a grip at least, which is often little: see `reach.rails.alternatives`.

    Raises
    ------
    ValueError
        If a name is unknown or ``k`` is below 1.
    """
    if k < 1:
        raise ValueError(f"k must be 1 or more, found {k}")
    at, to = graph.node_of(start), graph.node_of(stop)
    if at == to:
        return [route_of(graph, [at], 0.0)]
    search = _search_of(graph, to, cost)
    return [route_of(graph, nodes, length) for length, nodes in _ranked(search, at, k)]


@dataclass(frozen=True, slots=True)
class _Search:
    """The ways, and the least cost from each node to the goal, the one place that is entered."""

    bounds: list[int]
    onto: list[int]
    costs: list[float]
    ahead: list[float]
    goal: int
    last: dict[int, float]

    def neighbours(self, node: int) -> list[tuple[int, float]]:
        """Return the nodes that one step leads to, and what each step costs."""
        first, beyond = self.bounds[node], self.bounds[node + 1]
        steps = list(zip(self.onto[first:beyond], self.costs[first:beyond], strict=True))
        if node in self.last:
            steps.append((self.goal, self.last[node]))
        return steps

    def spur(
        self, root: list[int], banned: set[int], begun: float, most: float
    ) -> tuple[float, list[int]] | None:
        """Return the best way on from the end of ``root`` whose first step is not banned.

        None where there is none, or none that costs at most ``most`` from the start on.
        """
        first, closed = root[-1], set(root[:-1])
        best, before = {first: begun}, {first: first}
        heap = [(begun + self.ahead[first], first)]
        done: set[int] = set()
        while heap:
            least, node = heapq.heappop(heap)
            if node in done:
                continue
            if least > most:
                return None
            done.add(node)
            if node == self.goal:
                break
            for other, step in self.neighbours(node):
                if other in closed or other in done or (node == first and other in banned):
                    continue
                length = best[node] + step
                if length < best.get(other, np.inf) and self.ahead[other] < np.inf:
                    best[other], before[other] = length, node
                    heapq.heappush(heap, (length + self.ahead[other], other))
        if self.goal not in done:
            return None
        way = [self.goal]
        while way[-1] != first:
            way.append(before[way[-1]])
        return best[self.goal], way[::-1]


def _search_of(graph: RailGraph, goal: int, cost: Cost | None) -> _Search:
    """Lay out the ways for a search in plain Python."""
    ways = graph.weighed(cost)
    ahead = all_lengths(graph, graph.spots[goal - graph.n_grips].name, cost)[0]
    first, beyond = ways.indptr[goal], ways.indptr[goal + 1]
    grips, steps = ways.indices[first:beyond].tolist(), ways.data[first:beyond].tolist()
    lists = (ways.indptr.tolist(), ways.indices.tolist(), ways.data.tolist(), ahead.tolist())
    return _Search(*lists, goal, dict(zip(grips, steps, strict=True)))


def _ranked(search: _Search, at: int, k: int) -> list[tuple[float, list[int]]]:
    first = search.spur([at], set(), 0.0, np.inf)
    if first is None:
        return []
    waiting, seen = [(*first, 0)], {tuple(first[1])}
    costs = [first[0]]  # of all ways met, rising: what is beyond the k-th is never wanted
    found: list[tuple[float, list[int]]] = []
    while waiting:
        length, nodes, left_at = heapq.heappop(waiting)
        found.append((length, nodes))
        if len(found) == k:
            break
        begun = _sums(search, nodes)
        for i in range(left_at, len(nodes) - 1):
            root = nodes[: i + 1]
            banned = {way[i + 1] for _, way in found if len(way) > i + 1 and way[: i + 1] == root}
            most = costs[k - 1] + TOUCH if len(costs) >= k else np.inf
            spur = search.spur(root, banned, begun[i], most)
            if spur is None:
                continue
            way = root[:-1] + spur[1]
            if tuple(way) not in seen:
                seen.add(tuple(way))
                insort(costs, spur[0])
                heapq.heappush(waiting, (spur[0], way, i))
    return found


def _sums(search: _Search, nodes: list[int]) -> list[float]:
    """Return the cost from the start to each node of a way."""
    sums = [0.0]
    for i, j in pairwise(nodes):
        sums.append(sums[-1] + min(step for other, step in search.neighbours(i) if other == j))
    return sums
