"""Where a slack line can be: the ellipsoid round its two held points.

A line of length L held at a and b stays in the points x with
``|x - a| + |x - b| <= L``.  That prolate spheroid is exactly the union of balls
centred on its axis: with half axes A = L / 2 and B, and half focal distance c,
the ball at t from the middle, ``|t| <= c^2 / A``, has radius
``B sqrt(1 - t^2 / c^2)`` and touches the spheroid from inside along a circle
(the normal at abscissa x meets the axis at ``t = x c^2 / A^2``).  So the gap is
the least, over t, of the distance of an axis point less that radius: one number
to look for, bracketed by halving.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import Tree, point_distance, segment_distance

Floats = NDArray[np.float64]

_FIRST = 32
_HALVINGS = 40


class SlackGap(NamedTuple):
    """Gap between where a slack line can be and a surface.

    Attributes
    ----------
    low, high : float, m
        The gap lies between them.  Positive: the line cannot touch, and this is
        how far it stays off.  Negative: it can touch; the surface reaches this
        far into one of the balls that make up the ellipsoid.
    witness : ndarray, shape (3,), m
        The point of the surface that ``high`` was measured to.
    """

    low: float
    high: float
    witness: Floats


def slack_gap(
    tree: Tree, a: ArrayLike, b: ArrayLike, length: float, within: float = 1e-4
) -> SlackGap:
    """Return the gap between a surface and all places of a line held at two points.

    Parameters
    ----------
    tree : Tree
    a, b : array_like, shape (3,), m, world
        Where the line is held.
    length : float, m
        Of the line between them; at least their distance.
    within : float, m
        How wide the bracket may be at most.

    Returns
    -------
    gap : SlackGap
        Of the surface: a line wholly inside a solid is not told from one outside.

    Raises
    ------
    ValueError
        If the line is shorter than its held points are apart, or a number is
        not finite.
    """
    start, end = np.asarray(a, float), np.asarray(b, float)
    apart = float(np.linalg.norm(end - start))
    if start.shape != (3,) or end.shape != (3,) or not np.isfinite([*start, *end, length]).all():
        raise ValueError("held points must have shape (3,) and be finite, as the length")
    if length < apart - 1e-9:
        raise ValueError(f"a line of {length} m cannot be held at points {apart} m apart")
    if not within > 0.0:
        raise ValueError(f"within must be more than 0, not {within}")
    half, focus = 0.5 * max(length, apart), 0.5 * apart
    middle = 0.5 * (start + end)
    axis = (end - start) / apart if apart > 0.0 else np.array([1.0, 0.0, 0.0])
    waist = float(np.sqrt(half**2 - focus**2))
    edge = focus**2 / half

    def radius(t: Floats) -> Floats:
        share = t / focus if focus > 0.0 else 0.0 * t
        return np.asarray(waist * np.sqrt(np.maximum(1.0 - share**2, 0.0)))

    ticks = np.linspace(-edge, edge, _FIRST + 1)
    s, t = ticks[:-1], ticks[1:]
    high, floor, witness = np.inf, np.inf, middle
    for _ in range(_HALVINGS):
        m = 0.5 * (s + t)
        found = point_distance(tree, middle + m[:, None] * axis)
        gap = found.distance - radius(m)
        best = int(np.argmin(gap))
        if gap[best] < high:
            high, witness = float(gap[best]), found.on_mesh[best]
        p, q = middle + s[:, None] * axis, middle + t[:, None] * axis
        widest = radius(np.clip(0.0, s, t))
        bound = segment_distance(tree, p, q).distance - widest
        low = float(min(bound.min(), floor, high))
        if high - low <= within:
            break
        keep = bound < high - within
        floor = min(floor, float(bound[~keep].min(initial=np.inf)))
        s, t = np.concatenate([s[keep], m[keep]]), np.concatenate([m[keep], t[keep]])
    return SlackGap(low - 1e-9, high, witness)
