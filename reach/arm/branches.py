"""Branches along a way: postures to begin from, the walks that arrive, and what is put between."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.asked import Way, pose_from, way_of
from reach.arm.chain import Chain, Floats
from reach.arm.forward import postures_of, tip_poses
from reach.arm.solving import solutions
from reach.arm.starts import Starts, starts_of
from reach.arm.straying import strays
from reach.arm.walking import between, walks
from reach.geometry import in_chunks

MOST_POSTURES = 4_000
_ROOM = 6
"""A walk may take so many times the first samples."""
_NEAR_LIMIT = 0.01
"""rad (or m): a joint so near to its limit is said to hold up a walk."""
_AT_START = 1e-6
"""A posture to start from must hold the tip this near to the first pose (m, and of its axes)."""


@dataclass(frozen=True, eq=False, slots=True)
class Asked:
    """The question: ``chain`` has its limits drawn in by the reserve."""

    chain: Chain
    way: Way
    starts: Starts
    tries: int

    @staticmethod
    def of(
        chain: Chain, base_from_body: ArrayLike, tip_from_body: ArrayLike | None,
        about: ArrayLike, starts: Starts | None, tries: int, reserve: float,
    ) -> Asked:  # fmt: skip
        """Return the question of `follow`; a ValueError says what is wrong with it."""
        way = way_of(chain, base_from_body, tip_from_body, about)
        return Asked(_narrowed(chain, reserve), way, starts or starts_of(chain), tries)


def _narrowed(chain: Chain, reserve: float) -> Chain:
    lower, upper = chain.lower + reserve, chain.upper - reserve
    if not reserve >= 0.0 or (lower > upper).any():
        raise ValueError(f"a reserve of {reserve:g} leaves a joint of {chain.arm.name} no range")
    return replace(chain, lower=lower, upper=upper)


def rounds(
    asked: Asked, from_posture: ArrayLike | None, start_only: bool
) -> Iterator[tuple[Floats, Floats]]:
    """Yield postures to walk from, with their moments: first few, then more."""
    chain, n_legs = asked.chain, len(asked.way.legs)
    if from_posture is not None:
        q = postures_of(chain, from_posture)[:1].copy()
        _standing(chain, asked.way, q[0])
        yield q, np.zeros(1)
        return
    ends = [0.0, float(n_legs)]
    yield _seeds(asked, ends[:1] if start_only else ends, True)
    if not start_only:
        # Not centred, one branch has many postures: what lies between matters with 7 joints.
        inner = [float(k) for k in range(1, n_legs)]
        yield _seeds(asked, [*ends, *inner], chain.n <= 6)


def _standing(chain: Chain, way: Way, q: Floats) -> None:
    beyond = np.flatnonzero(~((q >= chain.lower) & (q <= chain.upper)))
    if len(beyond):
        name = chain.arm.moving[beyond[0]].name
        raise ValueError(f"the posture to start from has {name} outside its limits")
    apart = np.abs(tip_poses(chain, q)[0] - pose_from(way.targets(0.0)[0])).max()
    if not apart <= _AT_START:
        raise ValueError(f"the posture to start from is not at the first pose, {apart:.2g} off")


def _seeds(asked: Asked, corners: list[float], centred: bool) -> tuple[Floats, Floats]:
    chain = asked.chain
    found, moments = [], []
    for corner in corners:
        pose = pose_from(asked.way.targets(corner)[0])
        ways = solutions(chain, pose, asked.starts, asked.tries, centred=centred)
        for posture in ways.postures:
            for q in _turned(chain, posture.q):
                found.append(q)
                moments.append(corner)
    return np.array(found).reshape(-1, chain.n), np.array(moments, dtype=np.float64)


def _turned(chain: Chain, q: Floats) -> list[Floats]:
    """Return a posture with all whole turns of its joints that the limits leave room for."""
    rows = [q]
    for k in np.flatnonzero(~chain.slides & np.isfinite(chain.upper - chain.lower)):
        for row in list(rows):
            for turn in (-2.0 * math.pi, 2.0 * math.pi):
                if chain.lower[k] <= row[k] + turn <= chain.upper[k]:
                    other = row.copy()
                    other[k] += turn
                    rows.append(other)
    return rows


def walked(
    asked: Asked, seeds: Floats, moments: Floats
) -> tuple[list[tuple[Floats, Floats]], tuple[float, str]]:
    """Return all walks from start to end, how far others came from the start and what held them."""
    chain, way = asked.chain, asked.way
    m, most = len(seeds), _ROOM * int(way.counts.sum()) + 2
    at, q = np.empty((m, 2, most)), np.empty((m, 2, most, chain.n))
    found = np.zeros((m, 2), np.int64)
    in_chunks(
        walks, m, seeds, moments, way.legs, way.counts, *_numbers(asked), at, q, found,
        chunk=1,
    )  # fmt: skip
    arrived: list[tuple[Floats, Floats]] = []
    come: tuple[float, str] = (0.0, "")
    for r in range(m):
        n_back, n_on = found[r]
        if at[r, 0, n_back - 1] > 0.0:
            continue
        last = float(at[r, 1, n_on - 1])
        if last < len(way.legs):
            come = max(come, (last, _at_limit(chain, q[r, 1, n_on - 1])))
            continue
        moved = [x[r, 0, n_back - 1 : 0 : -1] for x in (at, q)]
        arrived.append(
            (
                np.concatenate([moved[0], at[r, 1, :n_on]]),
                np.concatenate([moved[1], q[r, 1, :n_on]]),
            )
        )
    return arrived, come


def _at_limit(chain: Chain, q: Floats) -> str:
    left = np.minimum(q - chain.lower, chain.upper - q)
    k = int(left.argmin())
    return chain.arm.moving[k].name if left[k] < _NEAR_LIMIT else ""


def _numbers(asked: Asked) -> tuple[Any, ...]:
    chain = asked.chain
    return (
        chain.fixed, chain.slides, chain.end, chain.lower, chain.upper, asked.starts.unit,
    )  # fmt: skip


def filled(
    asked: Asked, at: Floats, q: Floats, off: float, off_turn: float
) -> tuple[Floats, Floats, float, float] | float:
    """Return postures, moments and what is proved, with postures put where it is too little.

    Where none can be put, the moment of that.
    """
    way = asked.way
    while True:
        away, turned = strays(asked.chain, way, at, q)
        wide: NDArray[np.int64] = np.flatnonzero((away > off) | (turned > off_turn))
        if not len(wide) or len(q) + len(wide) > MOST_POSTURES:
            return q, at, float(away.max()), float(turned.max())
        moments = 0.5 * (at[wide] + at[wide + 1])
        new, found = np.empty((len(wide), q.shape[1])), np.zeros(len(wide), np.bool_)
        in_chunks(
            between, len(wide), moments, q[wide], q[wide + 1], way.legs, *_numbers(asked), new,
            found,
        )  # fmt: skip
        if not found.all():
            return float(moments[np.argmin(found)])
        at, q = np.insert(at, wide + 1, moments), np.insert(q, wide + 1, new, axis=0)
