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

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import (
    STACK,
    Tree,
    compiled,
    point_distance,
    point_tree_distance2,
    segment_tree_distance2,
)

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

    ticks = np.linspace(-edge, edge, _FIRST + 1)
    low, high, at = _bracket(
        tree.tri, tree.box, tree.link, middle, axis, focus, waist, ticks, float(within)
    )
    witness = point_distance(tree, middle + at * axis).on_mesh[0]
    return SlackGap(low - 1e-9, high, witness)


@compiled
def _bracket(
    tri: Any, box: Any, link: Any, middle: Any, axis: Any, focus: float, waist: float, ticks: Any,
    within: float,
) -> tuple[float, float, float]:  # fmt: skip
    """Return bounds of the gap (m), and where on the axis the upper one was met."""
    stack, depth = np.empty(STACK, np.int32), np.empty(STACK)
    p, q = np.empty(3), np.empty(3)
    s, t = ticks[:-1].copy(), ticks[1:].copy()
    high, floor, low, at = np.inf, np.inf, -np.inf, 0.0
    for _ in range(_HALVINGS):
        n = len(s)
        bound, least_bound = np.empty(n), np.inf
        for i in range(n):
            m = 0.5 * (s[i] + t[i])
            for k in range(3):
                q[k] = middle[k] + m * axis[k]
            d2 = point_tree_distance2(tri, box, link, q, np.inf, stack, depth)[0]
            gap = math.sqrt(d2) - _radius(m, focus, waist)
            if gap < high:
                high, at = gap, m
            for k in range(3):
                p[k] = middle[k] + s[i] * axis[k]
                q[k] = middle[k] + t[i] * axis[k]
            d2 = segment_tree_distance2(tri, box, link, p, q, np.inf, stack, depth)[0]
            widest = _radius(min(max(0.0, s[i]), t[i]), focus, waist)
            bound[i] = math.sqrt(d2) - widest
            least_bound = min(least_bound, bound[i])
        low = min(least_bound, min(floor, high))
        if high - low <= within:
            break
        keep = bound < high - within
        for i in range(n):
            if not keep[i]:
                floor = min(floor, bound[i])
        m_kept = 0.5 * (s[keep] + t[keep])
        s, t = np.concatenate((s[keep], m_kept)), np.concatenate((m_kept, t[keep]))
    return low, high, at


@compiled
def _radius(t: float, focus: float, waist: float) -> float:
    """Return the radius of the ball at t from the middle, m."""
    share = t / focus if focus > 0.0 else 0.0
    return waist * math.sqrt(max(1.0 - share * share, 0.0))
