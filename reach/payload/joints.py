"""Postures of a crane along a way that is written: of all branches that arrive the best one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain, Followed, Starts, follow_all
from reach.geometry import inverse
from reach.payload.scoring import Score, Scorer
from reach.payload.track import Run, Track
from reach.site import Carriage

Array = NDArray[np.float64]

MOST_WAYS = 40
"""Branches that are followed all the way and compared, at most."""

COARSE = 40
"""Postures by which branches are told apart first."""

GOOD = 0.3
"""A way with so much left of everything, scaled, is good: no other is looked for."""

MOST_OF_HALF = 10
"""The same with the range of one joint halved."""

MOST_TRIES = 4
"""Branches of the first run of legs from which the rest is followed, at most."""

ALIKE = 0.05
"""Scores this near each other are the same."""

MOST_HALVES = 2
"""Joints whose range is halved to draw an arm with a joint to spare to another side, at most."""

OVERLAP = 0.1
"""The halves overlap by so much of the range, either way."""


@dataclass(frozen=True, eq=False, slots=True)
class Joints:
    """Postures of a crane along its way, as `reach.payload.crane_way.CraneWay` has them."""

    q: Array
    at: Array
    off: float
    off_turn: float
    stuck_at: float
    shortage: float
    why: str


@dataclass(frozen=True, eq=False, slots=True)
class _Asked:
    """With which ranges of its joints an arm is to follow, how far off their ends, from where."""

    chain: Chain
    start: Array | None
    reserve: float
    is_whole: bool = False
    most: int = MOST_WAYS


@dataclass(frozen=True, eq=False, slots=True)
class JointSearch:
    """An arm on its base that carries something, and all that is asked of it."""

    chain: Chain
    starts: Starts
    world_from_base: Array
    scorer: Scorer

    def carrying(
        self, carriage: Carriage, payload_from_tip: Array, before: Array | None = None
    ) -> Joints:
        """Return postures that carry a payload along its path.

        Parameters
        ----------
        before : ndarray, shape (n_joints,), optional
            The posture in which it ended before: kept where everything asked is kept from there.
        """
        about = np.array([leg.about or (0.0, 0.0, 0.0) for leg in carriage.legs], float)
        places = np.arange(len(carriage.poses), dtype=float)
        runs = Track(carriage.poses, about, places).runs(range(len(carriage.legs)))
        best: tuple[Score, Joints] | None = None
        nothing: Joints | None = None
        for asked in self._variants(before):
            found = list(self._from(asked, runs, payload_from_tip))
            ways = [one for one in found if not isinstance(one, Joints)]
            lost = [one for one in found if isinstance(one, Joints)]
            # What is said of the arm with all of its ranges counts.
            if lost and (nothing is None or asked.is_whole):
                nothing = lost[0]
            for way in ways:
                if best is None or way[0].rank > best[0].rank:
                    best = way
            if nothing is not None and nothing.shortage > 0.0:
                break
            if best is not None and best[0].worst >= 0.0:
                break
            if asked.is_whole and asked.start is None and _all_alike([one for one, _ in ways]):
                break
        if best is not None:
            return best[1]
        assert nothing is not None
        return nothing

    def _variants(self, before: Array | None) -> Iterator[_Asked]:
        """Yield the ranges to follow with, and where to start: all of them, then halves of some.

        An arm with a joint to spare is eased to the middle of its ranges on its way: another
        middle draws it to another side of what is near.
        """
        chain, reserve = self.chain, self._reserve()
        if before is not None:
            yield _Asked(chain, before, 0.0, is_whole=True)
        yield _Asked(chain, None, 0.0, is_whole=True)
        if reserve > 0.0:
            yield _Asked(chain, None, reserve)
        if chain.n <= 6:
            return
        lower, upper = chain.lower, chain.upper
        wide = np.argsort(-np.where(np.isfinite(upper - lower), upper - lower, 0.0))
        for k in [int(k) for k in wide if 0 < k < chain.n - 1][:MOST_HALVES]:
            middle, more = 0.5 * (lower[k] + upper[k]), OVERLAP * (upper[k] - lower[k])
            for low, high in ((middle - more, upper[k]), (lower[k], middle + more)):
                new_lower, new_upper = lower.copy(), upper.copy()
                new_lower[k], new_upper[k] = low, high
                half = replace(chain, lower=new_lower, upper=new_upper)
                yield _Asked(half, None, reserve, most=MOST_OF_HALF)

    def _reserve(self) -> float:
        """Return what joints are to keep off their limits, 0 where a range is too small for it."""
        reserve = self.scorer.joint_reserve
        return reserve if (self.chain.upper - self.chain.lower > 2.0 * reserve).all() else 0.0

    def _from(
        self, asked: _Asked, runs: list[Run], held: Array
    ) -> Iterator[tuple[Score, Joints] | Joints]:
        """Yield ways with their scores, or how far one comes."""
        first = runs[0]
        ways: list[tuple[Score, Followed]] = []
        for way in islice(self._ways(asked, first, held), asked.most):
            if not way.found:
                yield self._nothing(way)
                return
            ways.append((self.scorer.of_way(way.q, first.first + way.at, COARSE), way))
            if ways[-1][0].worst >= GOOD:
                break
        ways.sort(key=lambda one: one[0].rank, reverse=True)
        for _, way in ways[:MOST_TRIES]:
            joints = self._on(asked, way, runs, held)
            if joints.why:
                yield joints
                continue
            score = self.scorer.of_way(joints.q, joints.at)
            yield score, joints
            if score.worst >= 0.0:
                return

    def _on(self, asked: _Asked, way: Followed, runs: list[Run], held: Array) -> Joints:
        """Return one way of the first run followed through the others."""
        parts = [way]
        for run in runs[1:]:
            more = next(self._ways(replace(asked, start=parts[-1].q[-1]), run, held))
            if not more.found:
                return self._nothing(more, run.first)
            parts.append(more)
        return _joined(parts, [run.first for run in runs])

    def _ways(self, asked: _Asked, run: Run, held: Array) -> Iterator[Followed]:
        return follow_all(
            asked.chain, inverse(self.world_from_base) @ run.poses, tip_from_body=inverse(held),
            about=run.about, from_posture=asked.start, starts=self.starts, reserve=asked.reserve,
        )  # fmt: skip

    def _nothing(self, way: Followed, first: int = 0) -> Joints:
        nothing = np.empty((0, self.chain.n)), np.empty(0)
        if way.shortage > 0.0:
            why = f"the way is out of reach by {way.shortage:.3f} m at its worst, proved"
        else:
            held = f", held up by {way.stuck_by}" if way.stuck_by else ""
            why = f"no postures that go all the way were found{held}"
        return Joints(*nothing, math.nan, math.nan, first + way.stuck_at, way.shortage, why)


def _all_alike(scores: list[Score]) -> bool:
    """Return whether all ways fall short alike: then the way that is asked does, not a branch."""
    worst = [one.worst for one in scores]
    return len(worst) >= MOST_TRIES and max(worst) - min(worst) < ALIKE


def _joined(parts: list[Followed], firsts: list[int]) -> Joints:
    rows = [parts[0].q] + [one.q[1:] for one in parts[1:]]
    at = [parts[0].at + firsts[0]]
    at += [one.at[1:] + first for one, first in zip(parts[1:], firsts[1:], strict=True)]
    return Joints(
        np.vstack(rows),
        np.concatenate(at),
        max(one.off for one in parts),
        max(one.off_turn for one in parts),
        math.nan,
        0.0,
        "",
    )
