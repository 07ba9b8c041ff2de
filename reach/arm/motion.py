"""Motions of an arm on which all joints start and stop together: time, and clearance for sure."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.bound import ROUNDING
from reach.arm.chain import Chain, Floats
from reach.arm.clearance import asked_capsules, compared_pairs, pair_gaps, structure_gaps
from reach.arm.covers import Covers, covers_of
from reach.arm.forward import postures_of
from reach.arm.rates import farthest, steady_and_bend, velocities
from reach.geometry import Tree

TOLERANCE = 1e-3
"""m; a bracket this narrow is not narrowed further."""
MOST_POSTURES = 20_000
_FIRST_CUTS = 16


class GapBracket(NamedTuple):
    """What is known about the smallest gap over a motion.

    Attributes
    ----------
    low : float, m
        Proved: at no moment is the gap smaller.
    high : float, m
        The gap between the covers at ``moment``.
    moment : float
        Share of the motion, 0 to 1.
    postures : int
        How many were looked at.
    """

    low: float
    high: float
    moment: float
    postures: int


def duration(chain: Chain, waypoints: ArrayLike) -> Floats:
    """Return the least time between postures that follow each other, at the joints' rates.

    Every joint turns evenly and all take the time of the slowest; starting and stopping
    take none.

    Parameters
    ----------
    chain : Chain
    waypoints : array_like, shape (m, n_joints), rad or m

    Returns
    -------
    seconds : ndarray, shape (m - 1,)
        ``nan`` where a joint that moves has no rate.

    Raises
    ------
    ValueError
        If there are fewer than two postures or one is beyond a limit.
    """
    rows = waypoints_of(chain, waypoints)
    ways = np.abs(np.diff(rows, axis=0))
    times = np.where(ways > 0.0, ways / chain.velocity, 0.0)
    return np.asarray(times.max(axis=1))


def waypoints_of(chain: Chain, waypoints: ArrayLike) -> Floats:
    """Return postures of a motion, all inside the limits; a ValueError says which is not."""
    rows = postures_of(chain, waypoints)
    if len(rows) < 2:
        raise ValueError("a motion needs two postures at least")
    beyond = np.argwhere(~((rows >= chain.lower) & (rows <= chain.upper)))
    if len(beyond):
        n, k = beyond[0]
        name = chain.arm.moving[k].name
        low, high = chain.lower[k], chain.upper[k]
        raise ValueError(
            f"posture {n} of the motion has {name} at {rows[n, k]:g}, "
            f"outside its limits {low:g} to {high:g}"
        )
    return rows


def posture_at(chain: Chain, waypoints: ArrayLike, seconds: ArrayLike) -> Floats:
    """Return the postures at moments of a motion, shape (k, n_joints).

    Parameters
    ----------
    chain : Chain
    waypoints : array_like, shape (m, n_joints), rad or m
    seconds : array_like, shape (k,) or ()
        Since the start; before it and after the end the motion stands.
    """
    rows = waypoints_of(chain, waypoints)
    at = np.concatenate([[0.0], np.cumsum(duration(chain, rows))])
    moments = np.atleast_1d(np.asarray(seconds, dtype=np.float64))
    return np.column_stack([np.interp(moments, at, column) for column in rows.T])


def self_gap(
    chain: Chain, start: ArrayLike, end: ArrayLike, covers: Covers | None = None,
    wanted: float | None = None, tolerance: float = TOLERANCE,
) -> GapBracket:  # fmt: skip
    """Return a bracket on the smallest gap between links over a motion from start to end.

    Parameters
    ----------
    chain : Chain
    start, end : array_like, shape (n_joints,), rad or m
    covers : Covers, optional
    wanted : float, m, optional
        The search ends as soon as the bracket lies on one side of it.
    tolerance : float, m
    """
    covers = covers or covers_of(chain)
    rows = waypoints_of(chain, np.stack([np.asarray(start), np.asarray(end)]))
    way, pairs = rows[1] - rows[0], compared_pairs(covers)
    a, b = pairs[:, 0], pairs[:, 1]
    # Seen from the piece nearer to the base only the joints between the two move the other.
    between = np.arange(chain.n)[None, :] >= covers.piece[a][:, None]
    speed, bend = steady_and_bend(chain, way, farthest(chain, covers)[b], between)

    def look(s: Floats, half: float) -> tuple[Floats, Floats]:
        q = _between(rows, s)
        added = velocities(chain, q, way, covers)[:, b]
        moving = np.einsum("nkejc,kj->nkec", added, between)
        return pair_gaps(chain, q, covers, pairs), _carried(moving, speed, bend, half)

    return _bracket(look, len(pairs), wanted, tolerance)


def structure_gap(
    chain: Chain, start: ArrayLike, end: ArrayLike, tree: Tree, covers: Covers | None = None,
    world_from_base: ArrayLike | None = None, without: Collection[str] | None = None,
    wanted: float | None = None, tolerance: float = TOLERANCE,
) -> GapBracket:  # fmt: skip
    """Return a bracket on the smallest gap to structure over a motion from start to end.

    Parameters
    ----------
    chain : Chain
    start, end : array_like, shape (n_joints,), rad or m
    tree : Tree
        Structure, in the world.
    covers, world_from_base, without
        As `structure_clearance` has them.
    wanted : float, m, optional
        The search ends as soon as the bracket lies on one side of it.
    tolerance : float, m
    """
    asked = asked_capsules(chain, covers or covers_of(chain), without)
    rows = waypoints_of(chain, np.stack([np.asarray(start), np.asarray(end)]))
    way, far = rows[1] - rows[0], farthest(chain, asked)
    speed, bend = steady_and_bend(chain, way, far, np.ones_like(far, bool))

    def look(s: Floats, half: float) -> tuple[Floats, Floats]:
        q = _between(rows, s)
        moving = velocities(chain, q, way, asked).sum(axis=3)
        gaps = structure_gaps(chain, q, tree, asked, world_from_base)
        return gaps, _carried(moving, speed, bend, half)

    return _bracket(look, len(far), wanted, tolerance)


def _between(rows: Floats, s: Floats) -> Floats:
    return np.asarray(rows[0] + s[:, None] * (rows[1] - rows[0]))


def _carried(moving: Floats, speed: Floats, bend: Floats, half: float) -> Floats:
    """Return how far an axis gets in ``half`` of a cut, either way from its middle: (n, k), m."""
    now = np.linalg.norm(moving, axis=-1).max(axis=-1)
    return np.asarray(np.minimum(speed * half, now * half + 0.5 * bend * half * half))


def _bracket(
    look: Callable[[Floats, float], tuple[Floats, Floats]],
    n: int,
    wanted: float | None,
    tolerance: float,
) -> GapBracket:
    """Narrow down the smallest of ``n`` gaps: around a moment none shrinks by more than is said.

    Cuts of the motion are halved where their lower bound is lowest until the bracket is as
    narrow as ``tolerance``, lies on one side of ``wanted``, or enough postures were seen.
    """
    if n == 0:
        return GapBracket(np.inf, np.inf, 0.0, 0)
    half = 0.5 / _FIRST_CUTS
    middles: Floats = (2.0 * np.arange(_FIRST_CUTS, dtype=np.float64) + 1.0) * half
    least = look(np.array([0.0, 1.0]), 0.0)[0].min(axis=1)
    high, moment, count = float(least.min()), float(least.argmin()), 2
    settled = np.inf
    while True:
        gaps, carried = look(middles, half)
        least, count = gaps.min(axis=1), count + len(middles)
        if least.min() < high:
            high, moment = float(least.min()), float(middles[least.argmin()])
        lows = (gaps - carried).min(axis=1) - ROUNDING
        low = min(settled, float(lows.min()))
        again = lows < (high - tolerance if wanted is None else min(high - tolerance, wanted))
        decided = wanted is not None and (low >= wanted or high < wanted)
        if decided or not again.any() or count + 2 * again.sum() > MOST_POSTURES:
            return GapBracket(min(low, high), high, moment, count)
        settled = min(settled, float(lows[~again].min(initial=np.inf)))
        half *= 0.5
        middles = (middles[again, None] + np.array([-half, half])).ravel()
