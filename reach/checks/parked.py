"""How wide the widest gap between grips is where things are parked on a rail."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reach.geometry import segment_pair_distance

Stretch = tuple[float, float]
"""Begin and end along a rail, m from its start."""

Ends = tuple[NDArray[np.float64], NDArray[np.float64]]


def free_parts(length: float, taken: Sequence[Stretch], least: float) -> list[Stretch]:
    """Return what is left of a rail to hold on to.

    Parameters
    ----------
    length : float, m
    taken : sequence of (begin, end)
        What is taken up, m from its start, in any order.
    least : float, m
        Less than that is no grip.

    Examples
    --------
    >>> free_parts(2.0, [(0.5, 0.9), (1.0, 1.4)], 0.12)
    [(0.0, 0.5), (1.4, 2.0)]
    """
    parts, begin = [], 0.0
    for low, high in sorted(taken):
        parts.append((begin, min(low, length)))
        begin = max(begin, high)
    parts.append((begin, length))
    return [(low, high) for low, high in parts if high - low >= least]


def widest_step(begin: Ends, end: Ends, rail: Ends, parts: Sequence[Stretch]) -> float:
    """Return the widest gap, m, on the way over a rail that needs the narrowest gaps.

    Parameters
    ----------
    begin, end : two points each, shape (3,), m, world
        What is held before and after the rail, the same point twice for a spot.
    rail : two points, shape (3,), m, world
    parts : sequence of (begin, end), m
        Where the rail may be held; infinite where it may not be at all.
    """
    if not parts:
        return math.inf
    way = (rail[1] - rail[0]) / np.linalg.norm(rail[1] - rail[0])
    held = [begin, *((rail[0] + low * way, rail[0] + high * way) for low, high in parts), end]
    n = len(held)
    p, q = (np.array([one[k] for one in held]) for k in (0, 1))
    i, j = np.divmod(np.arange(n * n), n)
    gaps = segment_pair_distance(p[i], q[i], p[j], q[j]).reshape(n, n)
    # Straight from what is before to what is behind is not over the rail.
    gaps[0, -1] = gaps[-1, 0] = math.inf
    for k in range(n):
        gaps = np.minimum(gaps, np.maximum(gaps[:, k : k + 1], gaps[k : k + 1]))
    return float(gaps[0, -1])
