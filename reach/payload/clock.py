"""When what is moved is where: each leg takes a share of the time in proportion to its length."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.geometry.motion_chain import steps_of
from reach.site import Carriage

Array = NDArray[np.float64]


def leg_lengths(carriage: Carriage, farthest: float = 0.0) -> Array:
    """Return the length of each leg, shape (k - 1,), m.

    The larger of the way of the point that runs straight, and of the turn times the largest
    distance from that point to what is moved.

    Parameters
    ----------
    farthest : float, m
        That distance from the frame's origin, to the farthest point of what is moved; that
        from the point that runs straight is taken to be larger by the distance of the two.
    """
    about = [(0.0, 0.0, 0.0) if leg.about is None else leg.about for leg in carriage.legs]
    return lengths_of(carriage.poses, np.array(about, float).reshape(-1, 3), farthest)


def lengths_of(poses: Array, about: Array, farthest: float = 0.0) -> Array:
    """Return the length of each motion from pose to pose, shape (k - 1,), m, as `leg_lengths`.

    Parameters
    ----------
    poses : ndarray, shape (k, 4, 4)
    about : ndarray, shape (k - 1, 3), m
        The point that runs straight on each, in the frame of what is moved.
    """
    found = np.empty(len(about))
    if not len(about):
        return found
    for i, (step, angle) in enumerate(zip(*steps_of(poses, about), strict=True)):
        arm = farthest + float(np.linalg.norm(about[i]))
        found[i] = max(float(np.linalg.norm(step)), float(angle) * arm)
    return found


def moments(carriage: Carriage, farthest: float = 0.0) -> Array:
    """Return the share of the time at the end of each leg, shape (k - 1,); the last is 1.

    Parameters
    ----------
    farthest : float, m
        As for `leg_lengths`; `reach.payload.parts.farthest_of` knows it.
    """
    lengths = leg_lengths(carriage, farthest)
    total = float(lengths.sum())
    if total <= 0.0:
        return np.arange(1, len(lengths) + 1) / max(len(lengths), 1)
    ends = np.cumsum(lengths) / total
    ends[-1] = 1.0
    return np.asarray(ends)


def place_at(ends: Array, time: float) -> float:
    """Return where on its way something is: leg number plus time 0 to 1 within it.

    Parameters
    ----------
    ends : ndarray, shape (k - 1,)
        As `moments` gives them.
    time : float
        Share of the time of the whole motion, 0 to 1.

    Examples
    --------
    >>> place_at(np.array([0.25, 1.0]), 0.625)
    1.5
    """
    leg = min(int(np.searchsorted(ends, time, side="right")), len(ends) - 1)
    before = float(ends[leg - 1]) if leg else 0.0
    length = float(ends[leg]) - before
    return leg + (min(max((time - before) / length, 0.0), 1.0) if length > 0.0 else 0.0)


def time_at(ends: Array, place: float) -> float:
    """Return the share of the time at which something is at a place of its way.

    Examples
    --------
    >>> time_at(np.array([0.25, 1.0]), 1.5)
    0.625
    """
    leg = min(math.floor(place), len(ends) - 1)
    before = float(ends[leg - 1]) if leg else 0.0
    return before + (place - leg) * (float(ends[leg]) - before)
