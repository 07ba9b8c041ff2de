"""Exact distance from points and segments to the triangles of a tree."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.box import point_box2, segment_box2
from reach.geometry.compiled import compiled, in_chunks, inlined
from reach.geometry.queries import FEW, as_given, near_order, points_of, sorted_rows, values_of
from reach.geometry.tree import STACK, Floats, Tree
from reach.geometry.triangle import INF, point_triangle, segment_triangle
from reach.geometry.vector import Vector, dot


@dataclass(frozen=True, eq=False)
class Nearest:
    """Answers of a distance query, one row a query.

    Attributes
    ----------
    distance : ndarray, shape (n,), m
        0 where the query crosses the surface, never negative.  Where nothing
        lies closer than ``within`` it is ``within``: a valid lower bound, no
        more.  ``nan`` where the query is not finite.
    on_query, on_mesh : ndarray, shape (n, 3), m, world
        The two witness points.  ``nan`` where nothing lies closer than
        ``within``.
    face : ndarray of int64, shape (n,)
        Row of the nearest triangle in what the tree was built from, or -1.
    """

    distance: Floats
    on_query: Floats
    on_mesh: Floats
    face: NDArray[np.int64]


def point_distance(tree: Tree, points: ArrayLike, within: ArrayLike = INF) -> Nearest:
    """Return how far points are from the surface, and where it is nearest.

    The sign is not part of it: a point inside a solid has the distance to the
    solid's skin.  See :func:`reach.geometry.winding.winding_number`.

    Parameters
    ----------
    tree : Tree
    points : array_like, shape (n, 3) or (3,), m, world
    within : array_like, shape () or (n,), m
        Farther than this is not interesting; makes the search quicker.

    Returns
    -------
    nearest : Nearest
        Exact but for rounding (not directed: subtract 1e-9 m for a bound).

    Raises
    ------
    ValueError
        If a shape does not fit or `within` is negative or ``nan``.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> point_distance(tree, [0.2, 0.2, 0.5]).distance
    array([0.5])
    """
    p = points_of("points", points)
    return _nearest(tree, p, p, within, _point_rows)


def segment_distance(tree: Tree, p: ArrayLike, q: ArrayLike, within: ArrayLike = INF) -> Nearest:
    """Return how far segments are from the surface, and where it is nearest.

    Parameters
    ----------
    tree : Tree
    p, q : array_like, shape (n, 3) or (3,), m, world
        Ends of each segment; they may coincide.
    within : array_like, shape () or (n,), m
        Farther than this is not interesting; makes the search quicker.

    Returns
    -------
    nearest : Nearest
        Exact but for rounding (not directed: subtract 1e-9 m for a bound).

    Raises
    ------
    ValueError
        If a shape does not fit or `within` is negative or ``nan``.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> segment_distance(tree, [0.2, 0.2, 0.5], [0.2, 0.2, 2.0]).distance
    array([0.5])
    """
    starts = points_of("p", p)
    return _nearest(tree, starts, points_of("q", q, len(starts)), within, _segment_rows)


def _nearest(tree: Tree, p: Floats, q: Floats, within: ArrayLike, kernel: Any) -> Nearest:
    n = len(p)
    limit = values_of("within", within, n)
    few = n < FEW  # whose order makes no difference
    order = near_order(p)
    queries = [p, q, limit] if few else sorted_rows(order, p, q, limit)
    distance = np.empty(n)
    on_query = np.full((n, 3), np.nan)
    on_mesh = np.full((n, 3), np.nan)
    row = np.full(n, -1, dtype=np.int64)
    answers = (distance, on_query, on_mesh, row)
    in_chunks(kernel, n, tree.tri, tree.box, tree.link, *queries, *answers)
    face = np.where(row >= 0, tree.face[row], -1).astype(np.int64)
    if few:
        return Nearest(distance, on_query, on_mesh, face)
    return Nearest(*(as_given(order, answer) for answer in (distance, on_query, on_mesh, face)))


@inlined
def corners_of(tri: Any, k: int) -> tuple[Vector, Vector, Vector]:
    """Return the corners of triangle `k` of a tree."""
    return (
        (tri[k, 0], tri[k, 1], tri[k, 2]),
        (tri[k, 3], tri[k, 4], tri[k, 5]),
        (tri[k, 6], tri[k, 7], tri[k, 8]),
    )


@compiled
def point_tree_distance2(
    tri: Any, box: Any, link: Any, p: Any, bound2: float, stack: Any, depth: Any
) -> tuple[float, int]:
    """Return the squared distance of one point to the tree, for compiled callers.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    p : ndarray, shape (3,), m, world
    bound2 : float, m^2
        Only what is closer is looked for; ``inf`` for the plain distance.
    stack : ndarray of int32, shape (STACK,)
    depth : ndarray of float64, shape (STACK,)
        Room to work in; what they hold does not matter.

    Returns
    -------
    d2 : float, m^2
        `bound2` if nothing is closer.
    k : int
        Row of ``tri``, or -1 if nothing is closer.
    """
    point = (p[0], p[1], p[2])
    best = bound2
    nearest = -1
    stack[0] = 0
    depth[0] = 0.0
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        if depth[n_stack] >= best:
            continue
        near = link[stack[n_stack], 0]
        count = link[stack[n_stack], 1]
        while near >= 0:
            far = near + 1
            d_near = point_box2(point, box, near)
            d_far = point_box2(point, box, far)
            if d_far < d_near:
                near, far = far, near
                d_near, d_far = d_far, d_near
            if d_near >= best:
                break
            if d_far < best:
                stack[n_stack] = far
                depth[n_stack] = d_far
                n_stack += 1
            count = link[near, 1]
            near = link[near, 0]
        if near < 0:
            for k in range(-near - 1, -near - 1 + count):
                a, b, c = corners_of(tri, k)
                d2 = point_triangle(point, a, b, c, best)[0]
                if d2 < best:
                    best = d2
                    nearest = k
    return best, nearest


@compiled
def segment_tree_distance2(
    tri: Any, box: Any, link: Any, p0: Any, p1: Any, bound2: float, stack: Any, depth: Any
) -> tuple[float, int]:
    """Return the squared distance of one segment to the tree, for compiled callers.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    p0, p1 : ndarray, shape (3,), m, world
        Ends of the segment; they may coincide.
    bound2 : float, m^2
        Only what is closer is looked for; ``inf`` for the plain distance.
    stack : ndarray of int32, shape (STACK,)
    depth : ndarray of float64, shape (STACK,)
        Room to work in; what they hold does not matter.

    Returns
    -------
    d2 : float, m^2
        0 if the segment crosses a triangle, `bound2` if nothing is closer.
    k : int
        Row of ``tri``, or -1 if nothing is closer.
    """
    p = (p0[0], p0[1], p0[2])
    u = (p1[0] - p0[0], p1[1] - p0[1], p1[2] - p0[2])
    half = (0.5 * u[0], 0.5 * u[1], 0.5 * u[2])
    middle = (p[0] + half[0], p[1] + half[1], p[2] + half[2])
    length2 = dot(half, half)
    per_length2 = 1.0 / length2 if length2 > 0.0 else 0.0
    best = bound2
    nearest = -1
    stack[0] = 0
    depth[0] = 0.0
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        if depth[n_stack] >= best:
            continue
        near = link[stack[n_stack], 0]
        count = link[stack[n_stack], 1]
        while near >= 0:
            far = near + 1
            d_near = segment_box2(middle, half, per_length2, box, near)
            d_far = segment_box2(middle, half, per_length2, box, far)
            if d_far < d_near:
                near, far = far, near
                d_near, d_far = d_far, d_near
            if d_near >= best:
                break
            if d_far < best:
                stack[n_stack] = far
                depth[n_stack] = d_far
                n_stack += 1
            count = link[near, 1]
            near = link[near, 0]
        if near < 0:
            for k in range(-near - 1, -near - 1 + count):
                a, b, c = corners_of(tri, k)
                d2 = segment_triangle(p, u, a, b, c, best)[0]
                if d2 < best:
                    best = d2
                    nearest = k
    return best, nearest


@compiled
def _point_rows(
    start: int,
    stop: int,
    tri: Any,
    box: Any,
    link: Any,
    p: Any,
    q: Any,
    limit: Any,
    distance: Any,
    on_query: Any,
    on_mesh: Any,
    row: Any,
) -> None:
    stack = np.empty(STACK, np.int32)
    depth = np.empty(STACK)
    for i in range(start, stop):
        bound2 = limit[i] * limit[i]
        if not np.isfinite(p[i, 0] + p[i, 1] + p[i, 2]):
            distance[i] = np.nan
            continue
        d2, k = point_tree_distance2(tri, box, link, p[i], bound2, stack, depth)
        distance[i] = math.sqrt(d2)
        row[i] = k
        if k >= 0:
            a, b, c = corners_of(tri, k)
            v, w = point_triangle((p[i, 0], p[i, 1], p[i, 2]), a, b, c, np.inf)[1:]
            for j in range(3):
                on_query[i, j] = p[i, j]
                on_mesh[i, j] = a[j] + v * (b[j] - a[j]) + w * (c[j] - a[j])
        else:
            distance[i] = limit[i]


@compiled
def _segment_rows(
    start: int,
    stop: int,
    tri: Any,
    box: Any,
    link: Any,
    p: Any,
    q: Any,
    limit: Any,
    distance: Any,
    on_query: Any,
    on_mesh: Any,
    row: Any,
) -> None:
    stack = np.empty(STACK, np.int32)
    depth = np.empty(STACK)
    for i in range(start, stop):
        total = p[i, 0] + p[i, 1] + p[i, 2] + q[i, 0] + q[i, 1] + q[i, 2]
        if not np.isfinite(total):
            distance[i] = np.nan
            continue
        d2, k = segment_tree_distance2(
            tri, box, link, p[i], q[i], limit[i] * limit[i], stack, depth
        )
        distance[i] = math.sqrt(d2)
        row[i] = k
        if k >= 0:
            a, b, c = corners_of(tri, k)
            u = (q[i, 0] - p[i, 0], q[i, 1] - p[i, 1], q[i, 2] - p[i, 2])
            s, v, w = segment_triangle((p[i, 0], p[i, 1], p[i, 2]), u, a, b, c, np.inf)[1:]
            for j in range(3):
                on_query[i, j] = p[i, j] + s * u[j]
                on_mesh[i, j] = a[j] + v * (b[j] - a[j]) + w * (c[j] - a[j])
        else:
            distance[i] = limit[i]
