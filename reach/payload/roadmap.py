"""A way of an arm from some postures to others round what a direct move goes through.

Postures in between are drawn at random from a seed, the good ones joined with their neighbours.
The quickest way is looked for among the moves not known to be bad, its moves are looked at, and so
on (lazily): most moves are never looked at.  The budget counts moves, so that one question has one
answer on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain
from reach.payload.scoring import Scorer, sampled

Array = NDArray[np.float64]

ROUNDS = (200, 600, 1200)
"""Postures drawn by the end of each round."""

MOST_NODES = 240
"""Good postures that are joined, at most."""

MOST_MOVES = 160
"""Moves that are looked at, at most."""

NEIGHBOURS = 12
SEED = 20
SPREAD = 0.7
"""rad: how far from the moves between the ends half of the postures are drawn."""

BESIDE = 0.2
"""rad: how far from the ends a quarter of them is drawn."""

_LEAST = 1e-6


@dataclass(eq=False)
class Roadmap:
    """Postures with moves between them; the first ``n_starts`` and the next ``n_goals`` are ends.

    Parameters
    ----------
    scorer : Scorer
    starts, goals : ndarray, shape (k, n_joints)
    asked : ndarray, shape (n_kinds,)
        The least of each kind that is good.
    """

    scorer: Scorer
    starts: Array
    goals: Array
    asked: Array
    seen: dict[tuple[int, int], bool] = field(default_factory=dict, init=False)
    """Whether each move that was looked at leaves what is asked."""

    def __post_init__(self) -> None:
        """Set out with the ends alone."""
        self.nodes = np.vstack([self.starts, self.goals])
        self.random = np.random.default_rng(SEED)
        self.drawn = 0

    def way(self) -> Array | None:
        """Return postures from a start to a goal, all moves good in samples; None if none found."""
        for total in ROUNDS:
            self._draw(total - self.drawn)
            while (path := self._quickest()) is not None:
                unseen = [move for move in _moves(path) if move not in self.seen]
                if not unseen:
                    return self._shortened(path)
                if len(self.seen) >= MOST_MOVES:
                    return None
                self._look(unseen)
        return None

    def refuse(self, start: Array, stop: Array) -> None:
        """Count a move as bad: a proof says so where samples did not."""
        a, b = (int(np.abs(self.nodes - one).max(axis=1).argmin()) for one in (start, stop))
        self.seen[min(a, b), max(a, b)] = False

    def _draw(self, n: int) -> None:
        """Draw postures and keep the good ones."""
        chain = self.scorer.chain
        self.drawn += n
        n_near = n // 2
        a = self.starts[self.random.integers(len(self.starts), size=n_near)]
        b = self.goals[self.random.integers(len(self.goals), size=n_near)]
        share = self.random.random((n_near, 1))
        near = a + share * (b - a) + self.random.normal(0.0, SPREAD, (n_near, chain.n))
        # From a tight place the way out is short, and found beside it.
        ends = self.nodes[: len(self.starts) + len(self.goals)]
        n_beside = n // 4
        beside = ends[self.random.integers(len(ends), size=n_beside)]
        beside = beside + self.random.normal(0.0, BESIDE, (n_beside, chain.n))
        low, high = _range(chain, self.nodes)
        anywhere = low + self.random.random((n - n_near - n_beside, chain.n)) * (high - low)
        rows = np.clip(np.vstack([near, beside, anywhere]), low, high)
        good = rows[self.scorer.keeps(rows, np.arange(len(rows)), self.asked)]
        self.nodes = np.vstack([self.nodes, good])[
            : MOST_NODES + len(self.starts) + len(self.goals)
        ]

    def _quickest(self) -> list[int] | None:
        """Return the quickest way among moves that are not known to be bad."""
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import dijkstra

        nodes, n_ends = self.nodes, len(self.starts) + len(self.goals)
        times = self._times(nodes[:, None] - nodes[None])
        keep = np.argsort(times, axis=1)[:, 1 : NEIGHBOURS + 1]
        joined = np.zeros(times.shape, bool)
        joined[np.arange(len(nodes))[:, None], keep] = True
        # Ends stand out of the way: they are joined with more.
        more = np.argsort(times[:n_ends], axis=1)[:, : 4 * NEIGHBOURS]
        joined[np.arange(n_ends)[:, None], more] = True
        joined |= joined.T
        for (a, b), is_good in self.seen.items():
            joined[a, b] = joined[b, a] = is_good
        weights = np.where(joined, times + _LEAST, 0.0)
        n_starts = len(self.starts)
        found = dijkstra(
            csr_array(weights), directed=False, indices=np.arange(n_starts),
            return_predecessors=True, min_only=True,
        )  # fmt: skip
        distance, before = found[0], found[1]
        goal = n_starts + int(distance[n_starts:n_ends].argmin())
        if not np.isfinite(distance[goal]):
            return None
        path = [goal]
        while before[path[-1]] >= 0:
            path.append(int(before[path[-1]]))
        return path[::-1]

    def _times(self, ways: Array) -> Array:
        rates = self.scorer.chain.velocity
        known = np.where(np.isnan(rates) | (rates <= 0.0), 1.0, rates)
        return np.asarray((np.abs(ways) / known).max(axis=-1))

    def _look(self, moves: list[tuple[int, int]]) -> None:
        """Look at moves in samples."""
        rows = [sampled(self.nodes[[a, b]]) for a, b in moves]
        way = np.repeat(np.arange(len(moves)), [len(one) for one in rows])
        kept = self.scorer.keeps(np.vstack(rows), way, self.asked)
        self.seen.update(zip(moves, map(bool, kept), strict=True))

    def _shortened(self, path: list[int]) -> Array:
        """Return a way without the postures that good moves pass by."""
        kept = list(path)
        k = 0
        while k + 2 < len(kept):
            for far in range(len(kept) - 1, k + 1, -1):
                move = _sorted(kept[k], kept[far])
                if move not in self.seen:
                    self._look([move])
                if self.seen[move]:
                    del kept[k + 1 : far]
                    break
            k += 1
        return self.nodes[kept]


def _sorted(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _moves(path: list[int]) -> list[tuple[int, int]]:
    return [_sorted(a, b) for a, b in pairwise(path)]


def _range(chain: Chain, nodes: Array) -> tuple[Array, Array]:
    """Return between which values joints are drawn; round the ends where there is no limit."""
    low = np.where(np.isfinite(chain.lower), chain.lower, nodes.min(axis=0) - np.pi)
    high = np.where(np.isfinite(chain.upper), chain.upper, nodes.max(axis=0) + np.pi)
    return low, high
