"""Distance between pairs of segments: the axes of two capsules."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.queries import points_of
from reach.geometry.tree import Floats
from reach.geometry.triangle import segment_segment


@compiled
def segment_segment_distance(p0: Any, p1: Any, q0: Any, q1: Any) -> float:
    """Return the distance of two segments, from Python or from compiled code.

    Parameters
    ----------
    p0, p1 : ndarray, shape (3,), m
        Ends of the one; they may coincide.
    q0, q1 : ndarray, shape (3,), m, same frame
        Ends of the other; they may coincide.

    Returns
    -------
    distance : float, m
        0 when they meet, never negative.  Less both radii it is the clearance
        of two capsules.
    """
    p = (p0[0], p0[1], p0[2])
    q = (q0[0], q0[1], q0[2])
    u = (p1[0] - p0[0], p1[1] - p0[1], p1[2] - p0[2])
    v = (q1[0] - q0[0], q1[1] - q0[1], q1[2] - q0[2])
    return math.sqrt(segment_segment(p, u, q, v)[0])


def segment_pair_distance(p0: ArrayLike, p1: ArrayLike, q0: ArrayLike, q1: ArrayLike) -> Floats:
    """Return the distance of the segments in each row.

    Parameters
    ----------
    p0, p1, q0, q1 : array_like, shape (n, 3) or (3,), m, same frame
        Ends of the segments ``p0 p1`` and ``q0 q1``; `p0` gives the number of
        rows, one row of the others is repeated.

    Returns
    -------
    distance : ndarray, shape (n,), m
        ``nan`` where an end is ``nan``.

    Raises
    ------
    ValueError
        If a shape does not fit.

    Examples
    --------
    >>> segment_pair_distance([0, 0, 0], [1, 0, 0], [0.5, 0.25, -1], [0.5, 0.25, 1])
    array([0.25])
    """
    a = points_of("p0", p0)
    n = len(a)
    distance = np.empty(n)
    b, c, d = points_of("p1", p1, n), points_of("q0", q0, n), points_of("q1", q1, n)
    in_chunks(_rows, n, a, b, c, d, distance)
    return distance


@compiled
def _rows(start: int, stop: int, p0: Any, p1: Any, q0: Any, q1: Any, distance: Any) -> None:
    for i in range(start, stop):
        total = 0.0
        for j in range(3):
            total += p0[i, j] + p1[i, j] + q0[i, j] + q1[i, j]
        if np.isfinite(total):
            distance[i] = segment_segment_distance(p0[i], p1[i], q0[i], q1[i])
        else:
            distance[i] = np.nan
