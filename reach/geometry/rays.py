"""Where straight lines hit the triangles of a tree, and whether they do.

A ray is ``origin + t direction`` with t from 0 to ``far``, both ends included,
so a line of sight is a ray whose direction is target minus eye and whose far
is 1.  Directions need not be unit vectors.  Never start a ray on a surface:
that is a hit at t = 0.

Triangles are seen from both sides.  The test is watertight: a ray through an
edge or corner shared by two triangles hits at least one of them.  A triangle
seen exactly edge-on is not hit, nor is one without area.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks, inlined
from reach.geometry.crossing import box_entry, finite_inverse, ray_shear, ray_triangle
from reach.geometry.queries import (
    as_given,
    finite_points_of,
    near_order,
    points_of,
    sorted_rows,
    values_of,
)
from reach.geometry.tree import STACK, Floats, Tree
from reach.geometry.triangle import INF
from reach.geometry.vector import Vector


class Hit(NamedTuple):
    """First hits, one row a ray.

    Attributes
    ----------
    t : ndarray, shape (n,), in lengths of the direction
        ``inf`` where nothing is hit, ``nan`` where the ray is not finite.
    face : ndarray of int64, shape (n,)
        Row of the triangle in what the tree was built from, or -1.
    """

    t: Floats
    face: NDArray[np.int64]


def first_hit(tree: Tree, origins: ArrayLike, directions: ArrayLike, far: ArrayLike = INF) -> Hit:
    """Return where each ray first meets the surface.

    Parameters
    ----------
    tree : Tree
    origins : array_like, shape (n, 3) or (3,), m, world
    directions : array_like, shape (n, 3) or (3,), world
        Of any length.  A zero direction hits nothing.
    far : array_like, shape () or (n,), in lengths of the direction
        Hits beyond this do not count.

    Returns
    -------
    hit : Hit

    Raises
    ------
    ValueError
        If a shape does not fit or `far` is negative or ``nan``.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> first_hit(tree, [0.2, 0.2, 1.0], [0.0, 0.0, -2.0])
    Hit(t=array([0.5]), face=array([0]))
    """
    o = points_of("origins", origins)
    n = len(o)
    d = points_of("directions", directions, n)
    t = np.empty(n)
    row = np.full(n, -1, dtype=np.int64)
    limit = values_of("far", far, n)
    order = near_order(_ends(o, d, limit))
    rays = sorted_rows(order, o, d, limit)
    in_chunks(_first_rows, n, tree.tri, tree.box, tree.link, *rays, t, row)
    face = np.where(row >= 0, tree.face[row], -1).astype(np.int64)
    return Hit(as_given(order, t), as_given(order, face))


def any_hit(
    tree: Tree, origins: ArrayLike, directions: ArrayLike, far: ArrayLike = INF
) -> NDArray[np.bool_]:
    """Return whether each ray meets the surface at all.

    Parameters
    ----------
    tree : Tree
    origins : array_like, shape (n, 3) or (3,), m, world
    directions : array_like, shape (n, 3) or (3,), world
        Of any length.  A zero direction hits nothing.
    far : array_like, shape () or (n,), in lengths of the direction
        Hits beyond this do not count.

    Returns
    -------
    blocked : ndarray of bool, shape (n,)

    Raises
    ------
    ValueError
        If a shape does not fit, a number is not finite, or `far` is negative
        or ``nan``.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> any_hit(tree, [0.2, 0.2, 1.0], [[0.0, 0.0, -0.9]], far=1.0)
    array([False])
    """
    o = finite_points_of("origins", origins)
    n = len(o)
    d = finite_points_of("directions", directions, n)
    blocked = np.empty(n, dtype=np.bool_)
    limit = values_of("far", far, n)
    order = near_order(_ends(o, d, limit))
    rays = sorted_rows(order, o, d, limit)
    in_chunks(_any_rows, n, tree.tri, tree.box, tree.link, *rays, blocked)
    return as_given(order, blocked)


def _ends(o: Floats, d: Floats, far: Floats) -> Floats:
    """Return where rays end, for sorting them: sight lines end near the surface they look at."""
    if not np.isfinite(far).all():
        return o
    with np.errstate(over="ignore", invalid="ignore"):
        ends: Floats = far[:, None] * d
        ends += o
    return ends


@compiled
def any_hit_one(
    tri: Any, box: Any, link: Any, origin: Any, direction: Any, far: float, stack: Any
) -> bool:
    """Return whether one ray meets the surface, for compiled callers.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    origin : ndarray, shape (3,), m, world
    direction : ndarray, shape (3,), world
    far : float, in lengths of the direction
    stack : ndarray of int32, shape (STACK,)
        Room to work in.

    Returns
    -------
    blocked : bool
    """
    o = (origin[0], origin[1], origin[2])
    d = (direction[0], direction[1], direction[2])
    return _blocked(tri, box, link, o, d, far, stack)


@inlined
def _blocked(tri: Any, box: Any, link: Any, o: Vector, d: Vector, far: float, stack: Any) -> bool:
    """Return whether one ray meets the surface.

    One way out and no views of rows: leaving a loop elsewhere makes the
    compiler count references to every array, for a quarter of the time.
    """
    inverse = (finite_inverse(d[0]), finite_inverse(d[1]), finite_inverse(d[2]))
    shear = ray_shear(o, d)
    blocked = False
    stack[0] = 0
    n_stack = 0 if d[0] == 0.0 and d[1] == 0.0 and d[2] == 0.0 else 1
    while n_stack > 0 and not blocked:
        n_stack -= 1
        near = link[stack[n_stack], 0]
        count = link[stack[n_stack], 1]
        while near >= 0:
            t_left = box_entry(o, inverse, box, near, far)
            t_right = box_entry(o, inverse, box, near + 1, far)
            if t_left < np.inf:
                if t_right < np.inf:
                    turned = 1 if t_right < t_left else 0
                    stack[n_stack] = near + 1 - turned
                    n_stack += 1
                    near += turned
            elif t_right < np.inf:
                near += 1
            else:
                break
            count = link[near, 1]
            near = link[near, 0]
        if near < 0:
            for k in range(-near - 1, -near - 1 + count):
                num, det = ray_triangle(tri, k, shear)
                if det > 0.0 and num >= 0.0 and num <= far * det:
                    blocked = True
                    break
    return blocked


@compiled
def first_hit_one(
    tri: Any,
    box: Any,
    link: Any,
    origin: Any,
    direction: Any,
    far: float,
    stack: Any,
    depth: Any,
) -> tuple[float, int]:
    """Return where one ray first meets the surface, for compiled callers.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    origin : ndarray, shape (3,), m, world
    direction : ndarray, shape (3,), world
    far : float, in lengths of the direction
    stack : ndarray of int32, shape (STACK,)
    depth : ndarray of float64, shape (STACK,)
        Room to work in.

    Returns
    -------
    t : float, in lengths of the direction
        ``inf`` if nothing is hit.
    k : int
        Row of ``tri``, or -1 if nothing is hit.
    """
    o = (origin[0], origin[1], origin[2])
    d = (direction[0], direction[1], direction[2])
    if d[0] == 0.0 and d[1] == 0.0 and d[2] == 0.0:
        return np.inf, -1
    inverse = (finite_inverse(d[0]), finite_inverse(d[1]), finite_inverse(d[2]))
    shear = ray_shear(o, d)
    best = far
    first = -1
    stack[0] = 0
    depth[0] = 0.0
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        if depth[n_stack] > best:
            continue
        near = link[stack[n_stack], 0]
        count = link[stack[n_stack], 1]
        while near >= 0:
            far_child = near + 1
            t_near = box_entry(o, inverse, box, near, best)
            t_far = box_entry(o, inverse, box, far_child, best)
            if t_far < t_near:
                near, far_child = far_child, near
                t_near, t_far = t_far, t_near
            if t_near == np.inf:
                break
            if t_far < np.inf:
                stack[n_stack] = far_child
                depth[n_stack] = t_far
                n_stack += 1
            count = link[near, 1]
            near = link[near, 0]
        if near < 0:
            for k in range(-near - 1, -near - 1 + count):
                num, det = ray_triangle(tri, k, shear)
                if det > 0.0 and num >= 0.0 and num <= best * det:
                    t = min(num / det, best)
                    if t < best or first < 0:
                        best = t
                        first = k
    return (best, first) if first >= 0 else (np.inf, -1)


@compiled
def _any_rows(
    start: int,
    stop: int,
    tri: Any,
    box: Any,
    link: Any,
    o: Any,
    d: Any,
    far: Any,
    blocked: Any,
) -> None:
    stack = np.empty(STACK, np.int32)
    for i in range(start, stop):
        origin = (o[i, 0], o[i, 1], o[i, 2])
        direction = (d[i, 0], d[i, 1], d[i, 2])
        blocked[i] = _blocked(tri, box, link, origin, direction, far[i], stack)


@compiled
def _first_rows(
    start: int,
    stop: int,
    tri: Any,
    box: Any,
    link: Any,
    o: Any,
    d: Any,
    far: Any,
    t: Any,
    row: Any,
) -> None:
    stack = np.empty(STACK, np.int32)
    depth = np.empty(STACK)
    for i in range(start, stop):
        total = o[i, 0] + o[i, 1] + o[i, 2] + d[i, 0] + d[i, 1] + d[i, 2]
        if np.isfinite(total):
            t[i], row[i] = first_hit_one(tri, box, link, o[i], d[i], far[i], stack, depth)
        else:
            t[i] = np.nan
