"""Motions of an arm on which all joints start and stop together: where it is when."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.chain import Chain, Floats
from reach.arm.forward import postures_of


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
