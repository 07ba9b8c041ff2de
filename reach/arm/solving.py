"""Postures for poses of the tip: one for each of many poses, or all branches for one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.bound import full_reach, shortage
from reach.arm.centring import centre
from reach.arm.chain import Chain, Floats, flat
from reach.arm.forward import tip_jacobian
from reach.arm.inverse import MOST_STEPS, descend
from reach.arm.starts import Starts, rank, starts_of
from reach.geometry import compiled, in_chunks

TRIES = 64
"""Descents before a pose is given up: not found is not out of reach."""
BRANCH_TRIES = 192
APART = 0.2
"""rad (or m): postures are different where one joint at least differs by this."""


class Solved(NamedTuple):
    """One posture a pose.

    Attributes
    ----------
    q : ndarray, shape (m, n), rad or m
        ``nan`` where none was found.
    found : ndarray of bool, shape (m,)
    tries : ndarray of int, shape (m,)
        Descents begun.
    """

    q: Floats
    found: NDArray[np.bool_]
    tries: NDArray[np.int64]


@dataclass(frozen=True, eq=False, slots=True)
class Posture:
    """One way to hold the tip at a pose.

    Attributes
    ----------
    q : ndarray, shape (n,), rad or m
    from_limits : ndarray, shape (n,), rad or m
        How far each joint is from its nearer limit; infinite where it has none.
    limit_share : float
        The smallest distance from a limit as a share of half the joint's range: 1 where all
        are in the middle, 0 where one is at its limit.
    limited_by : str
        Name of that joint; empty where none has limits.
    singular : float
        Distance from singular poses: the smallest singular value of the tip's Jacobian with
        lengths as shares of the full reach; 0 where a direction is lost.
    """

    q: Floats
    from_limits: Floats
    limit_share: float
    limited_by: str
    singular: float


@dataclass(frozen=True, eq=False, slots=True)
class Reached:
    """What is known about one pose.

    Attributes
    ----------
    postures : tuple of Posture
        All that differ, farthest from limits first; empty is "not found", not "out of reach".
    shortage : float, m
        Above 0: proved out of reach, by at least so much.
    reach_used : float
        Distance from base to tip as a share of the full reach.
    """

    postures: tuple[Posture, ...]
    shortage: float
    reach_used: float

    @property
    def proved_out_of_reach(self) -> bool:
        """Whether no posture can exist."""
        return self.shortage > 0.0


def posture_for(
    chain: Chain, base_from_tip: ArrayLike, starts: Starts | None = None, tries: int = TRIES
) -> Solved:
    """Return a posture for each pose, the first that is found.

    Parameters
    ----------
    chain : Chain
    base_from_tip : array_like, shape (m, 4, 4) or (4, 4)
    starts : Starts, optional
        Made with `starts_of` where not given; keep it for many calls.
    tries : int
        Descents a pose.

    Returns
    -------
    solved : Solved

    Raises
    ------
    ValueError
        If a pose is not finite or its rotation is none.
    """
    targets = _targets(base_from_tip)
    starts = starts or starts_of(chain)
    m = len(targets)
    q, found = np.empty((m, chain.n)), np.zeros(m, np.bool_)
    tries_ = np.zeros(m, np.int64)
    in_chunks(_first, m, targets, *_numbers(chain, starts), tries, q, found, tries_, chunk=16)
    return Solved(q, found, tries_)


def solutions(
    chain: Chain,
    base_from_tip: ArrayLike,
    starts: Starts | None = None,
    tries: int = BRANCH_TRIES,
    apart: float = APART,
    centred: bool = True,
) -> Reached:
    """Return the postures found for a pose, all branches that the starts lead into.

    Parameters
    ----------
    chain : Chain
    base_from_tip : array_like, shape (4, 4)
    starts : Starts, optional
        Made with `starts_of` where not given; keep it for many calls.
    tries : int
        Descents, from as many starts.
    apart : float, rad or m
        Postures are different where one joint at least differs by this.
    centred : bool
        Whether an arm with more than six joints is moved, tip held, away from its limits:
        of each branch the best posture is then left.

    Raises
    ------
    ValueError
        If the pose is not finite or its rotation is none.
    """
    targets = _targets(base_from_tip)
    starts = starts or starts_of(chain)
    tries = min(tries, len(starts.q))
    q, found = np.empty((tries, chain.n)), np.zeros(tries, np.bool_)
    short = float(shortage(chain, np.asarray(base_from_tip))[0])
    if short <= 0.0:
        cost, turn = np.empty(len(starts.q)), np.empty(len(starts.q))
        rank(
            targets[0], starts.first_from_base, starts.tips, chain.slides[0], starts.unit, cost,
            turn,
        )  # fmt: skip
        order = np.argsort(cost, kind="stable")[:tries]
        in_chunks(
            _all, tries, targets[0], *_numbers(chain, starts), order, turn, centred, q, found,
            chunk=8,
        )  # fmt: skip
    kept = [_posture(chain, row) for row in _different(chain, q[found], apart)]
    used = float(np.linalg.norm(targets[0, 9:])) / full_reach(chain)
    return Reached(tuple(kept), short, used)


def _different(chain: Chain, rows: Floats, apart: float) -> Floats:
    """Return the postures that differ, those farthest from their limits first."""
    share = _shares(chain, rows).min(axis=1, initial=np.inf)
    worth = np.column_stack([np.where(np.isfinite(share), share, 1.0), rows])
    kept = np.empty_like(rows)
    count = 0
    for row in rows[np.lexsort(worth.T[::-1])[::-1]]:
        if (np.abs(kept[:count] - row).max(axis=1) > apart).all():
            kept[count] = row
            count += 1
    return kept[:count]


def _shares(chain: Chain, q: Floats) -> Floats:
    """Return how far joints are from their limits as a share of half their range."""
    from_limits = np.minimum(q - chain.lower, chain.upper - q)
    half = 0.5 * (chain.upper - chain.lower)
    with np.errstate(invalid="ignore"):
        return np.where(np.isinf(half), np.inf, from_limits / np.where(half > 0.0, half, 1.0))


def describe(chain: Chain, q: ArrayLike) -> Posture:
    """Return a posture with its distances from limits and from singular poses."""
    return _posture(chain, np.asarray(q, dtype=np.float64))


def _posture(chain: Chain, q: Floats) -> Posture:
    from_limits = np.minimum(q - chain.lower, chain.upper - q)
    share = _shares(chain, q)
    n = int(np.argmin(share))
    limited = bool(np.isfinite(share[n]))
    jacobian = tip_jacobian(chain, q)
    jacobian[:3] /= full_reach(chain)
    return Posture(
        q,
        from_limits,
        float(share[n]) if limited else 1.0,
        chain.arm.moving[n].name if limited else "",
        float(np.linalg.svd(jacobian, compute_uv=False)[-1]) if chain.n >= 6 else 0.0,
    )


def _targets(base_from_tip: ArrayLike) -> Floats:
    poses = np.asarray(base_from_tip, dtype=np.float64)
    if poses.shape[-2:] != (4, 4):
        raise ValueError(f"poses have shape (m, 4, 4) or (4, 4), not {poses.shape}")
    turns = poses[..., :3, :3]
    if not np.isfinite(poses).all():
        raise ValueError("a pose is not finite")
    square = np.abs(np.swapaxes(turns, -1, -2) @ turns - np.eye(3)).max(initial=0.0)
    if square > 1e-9 or (np.linalg.det(turns) < 0.0).any():
        raise ValueError("a pose holds no rotation: its axes are not square and right-handed")
    return flat(poses.reshape(-1, 4, 4))


def _numbers(chain: Chain, starts: Starts) -> tuple[Any, ...]:
    return (
        chain.fixed, chain.slides, chain.end, chain.lower, chain.upper, starts.q, starts.tips,
        starts.first_from_base, starts.unit,
    )  # fmt: skip


@compiled
def _begin(start: Any, turn: float, slides: bool, lower: Any, upper: Any, q: Any) -> None:
    for k in range(len(q)):
        q[k] = start[k]
    if not slides:
        q[0] = min(max(turn, lower[0]), upper[0])


@compiled
def _first(
    begin: int, stop: int, targets: Any, fixed: Any, slides: Any, end: Any, lower: Any, upper: Any,
    stored: Any, tips: Any, first_from_base: Any, unit: float, tries: int, q: Any, found: Any,
    tried: Any,
) -> None:  # fmt: skip
    cost, turn = np.empty(len(stored)), np.empty(len(stored))
    for r in range(begin, stop):
        rank(targets[r], first_from_base, tips, slides[0], unit, cost, turn)
        for _ in range(min(tries, len(stored))):
            best = 0
            for k in range(1, len(cost)):
                if cost[k] < cost[best]:
                    best = k
            cost[best] = np.inf
            tried[r] += 1
            _begin(stored[best], turn[best], slides[0], lower, upper, q[r])
            if descend(targets[r], q[r], fixed, slides, end, lower, upper, unit, MOST_STEPS):
                found[r] = True
                _within_a_turn(q[r], slides, lower, upper)
                break
        if not found[r]:
            for k in range(q.shape[1]):
                q[r, k] = np.nan


@compiled
def _all(
    begin: int, stop: int, target: Any, fixed: Any, slides: Any, end: Any, lower: Any, upper: Any,
    stored: Any, tips: Any, first_from_base: Any, unit: float, order: Any, turn: Any,
    centred: bool, q: Any, found: Any,
) -> None:  # fmt: skip
    for r in range(begin, stop):
        _begin(stored[order[r]], turn[order[r]], slides[0], lower, upper, q[r])
        found[r] = descend(target, q[r], fixed, slides, end, lower, upper, unit, MOST_STEPS)
        if found[r]:
            _within_a_turn(q[r], slides, lower, upper)
            if centred and len(fixed) > 6:
                centre(target, q[r], fixed, slides, end, lower, upper, unit)


@compiled
def _within_a_turn(q: Any, slides: Any, lower: Any, upper: Any) -> None:
    """Take whole turns off joints that turn without end."""
    for k in range(len(q)):
        if not slides[k] and np.isinf(lower[k]) and np.isinf(upper[k]):
            q[k] -= 2.0 * math.pi * math.floor(q[k] / (2.0 * math.pi) + 0.5)
