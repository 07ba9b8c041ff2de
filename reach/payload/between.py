"""A crane alone between two stations: the move of its joints that leaves most, round things too.

Of the branches at both stations those pairs are taken between which an even move of all joints
leaves most of all that is asked; where none is clear, ways by other postures are looked for.  Its
operator is free to choose: a clear way found is a witness, none found proves nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import duration
from reach.payload.roadmap import Roadmap
from reach.payload.scoring import KINDS, Score, Scorer

Array = NDArray[np.float64]

N_COARSE = 9
"""Postures by which pairs of branches are told apart first."""

MOST_FINE = 8
"""Pairs that are then looked at closely."""

MOST_PROVED = 3
"""Ways of one kind that are proved, at most."""

SLACK = 0.005
"""What is left of the same posture may differ by so much, scaled."""

PROVED = ("solid", "hazard", "self", "carried", "singular")
"""The kinds that a proof says something about."""

Prove = Callable[[Array], float]
"""Postures of a way -> the least that is proved to be left of what is asked, scaled."""


@dataclass(frozen=True, eq=False, slots=True)
class Ends:
    """Postures at both stations, those that are wanted first in each trial."""

    starts: Array
    goals: Array


def best_between(scorer: Scorer, trials: Sequence[Ends], prove: Prove) -> Array:
    """Return postures from one station to the other, shape (k, n_joints).

    Parameters
    ----------
    scorer : Scorer
    trials : sequence of Ends
        The first with which a clear way is found is taken; none may be empty.
    prove : callable
        Says what is proved of a way.
    """
    best: tuple[tuple[float, ...], Array] | None = None
    # No way leaves more than a station itself does, in whatever posture.
    stations = [np.vstack([one.starts for one in trials]), np.vstack([one.goals for one in trials])]
    asked = np.minimum(0.0, [scorer.margins(rows).max(axis=0) for rows in stations]).min(axis=0)
    proved = min(float(asked[KINDS.index(kind)]) for kind in PROVED) - 2.0 * SLACK
    for ends in trials:
        for q, score in _found(scorer, ends, asked - SLACK, prove):
            is_clear = bool((score.least >= asked - SLACK).all()) and score.time >= 0.0
            if is_clear and prove(q) >= (proved if asked.any() else 0.0):
                return q
            if best is None or score.rank > best[0]:
                best = score.rank, q
    assert best is not None
    return best[1]


def _found(scorer: Scorer, ends: Ends, asked: Array, prove: Prove) -> Iterator[tuple[Array, Score]]:
    """Yield ways, direct ones first, those that leave most first."""
    direct = sorted(_direct(scorer, ends), key=lambda one: one[0], reverse=True)
    for _, q, score in direct[:MOST_PROVED]:
        yield q, score
    clear = [
        rows[(scorer.margins(rows) >= asked).all(axis=1)] for rows in (ends.starts, ends.goals)
    ]  # fmt: skip
    if not all(map(len, clear)):
        return
    roads = Roadmap(scorer, clear[0], clear[1], asked)
    for _ in range(MOST_PROVED):
        way = roads.way()
        if way is None:
            return
        yield way, scorer.of_way(way)
        # Asked for another: a proof found less than the samples did.  Leave out its worst move.
        lows = [prove(way[k : k + 2]) for k in range(len(way) - 1)]
        k = int(np.argmin(lows))
        roads.refuse(way[k], way[k + 1])


def _direct(
    scorer: Scorer, ends: Ends
) -> list[tuple[tuple[tuple[float, ...], float], Array, Score]]:
    """Return the best direct moves: rank and, of the same rank, the quicker; way; score."""
    a, b = np.divmod(np.arange(len(ends.starts) * len(ends.goals)), len(ends.goals))
    pairs = np.stack([ends.starts[a], ends.goals[b]], axis=1)
    if len(pairs) > MOST_FINE:
        share = np.linspace(0.0, 1.0, N_COARSE)[:, None]
        rows = pairs[:, None, 0] + share * (pairs[:, None, 1] - pairs[:, None, 0])
        margins = scorer.margins(rows.reshape(-1, rows.shape[-1]))
        least = margins.reshape(len(pairs), N_COARSE, -1).min(axis=1)
        order = sorted(range(len(pairs)), key=lambda k: Score(least[k]).rank, reverse=True)
        pairs = pairs[order[:MOST_FINE]]
    found = []
    for pair in pairs:
        score = scorer.of_way(pair)
        needed = float(duration(scorer.chain, pair).sum())
        found.append(((score.rank, -needed), pair, score))
    return found
