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

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks, inlined
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
from reach.geometry.vector import Vector, greatest, least

_TINY = 1e-290
_WIDER = 1.0 + 4.0 * 2.0**-52


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
    order = near_order(o)
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
    order = near_order(o)
    rays = sorted_rows(order, o, d, limit)
    in_chunks(_any_rows, n, tree.tri, tree.box, tree.link, *rays, blocked)
    return as_given(order, blocked)


@inlined
def _inverse(d: float) -> float:
    """Return 1/d, large but finite for zero, so that a zero times it is no ``nan``."""
    return 1.0 / d if abs(d) > _TINY else math.copysign(1.0 / _TINY, d)


@inlined
def _enters(o: Vector, inverse: Vector, box: Any, far: float) -> float:
    """Return where a ray enters a box, or ``inf`` if it misses for sure.

    Errs on the side of a hit: the slab test's upper end is made wider by more
    than its rounding (Ize, Robust BVH ray traversal, 2013).
    """
    x0 = (box[0] - o[0]) * inverse[0]
    x1 = (box[3] - o[0]) * inverse[0]
    y0 = (box[1] - o[1]) * inverse[1]
    y1 = (box[4] - o[1]) * inverse[1]
    z0 = (box[2] - o[2]) * inverse[2]
    z1 = (box[5] - o[2]) * inverse[2]
    x0, x1 = least(x0, x1), greatest(x0, x1)
    y0, y1 = least(y0, y1), greatest(y0, y1)
    z0, z1 = least(z0, z1), greatest(z0, z1)
    start = greatest(greatest(x0, y0), greatest(z0, 0.0))
    end = least(least(x1, y1), least(z1, far))
    return start if start <= end * _WIDER else np.inf


@inlined
def ray_shear(d: Any) -> tuple[int, int, int, float, float, float]:
    """Return the longest axis, the two others, and the shear that makes a ray that axis.

    Returns
    -------
    kx, ky, kz : int
        Axes; `kz` is the one along which the direction `d` is longest.
    sx, sy, sz : float
        ``d[kx] / d[kz]``, ``d[ky] / d[kz]``, ``1 / d[kz]``.
    """
    kz = 0
    if abs(d[1]) > abs(d[kz]):
        kz = 1
    if abs(d[2]) > abs(d[kz]):
        kz = 2
    kx = kz + 1 if kz < 2 else 0
    ky = kx + 1 if kx < 2 else 0
    return kx, ky, kz, d[kx] / d[kz], d[ky] / d[kz], 1.0 / d[kz]


@inlined
def ray_triangle(
    tri: Any, k: int, o: Any, shear: tuple[int, int, int, float, float, float]
) -> tuple[float, float]:
    """Return numerator and denominator of the t at which a ray meets triangle `k`.

    Woop, Benthin and Wald, Watertight ray/triangle intersection, JCGT 2 (2013):
    the sign of each edge function is right or zero, and zero is a hit, so no
    ray slips between neighbours.

    Parameters
    ----------
    tri : ndarray, shape (n, 9), m
    k : int
    o : sequence of 3 float, m
        Origin of the ray.
    shear : tuple
        From :func:`ray_shear`.

    Returns
    -------
    num, det : float
        ``t = num / det`` with ``det > 0``; a miss has ``det = 0``.
    """
    kx, ky, kz, sx, sy, sz = shear
    t = tri[k]
    ox, oy, oz = o[kx], o[ky], o[kz]
    az, bz, cz = t[kz] - oz, t[3 + kz] - oz, t[6 + kz] - oz
    ax, ay = t[kx] - ox - sx * az, t[ky] - oy - sy * az
    bx, by = t[3 + kx] - ox - sx * bz, t[3 + ky] - oy - sy * bz
    cx, cy = t[6 + kx] - ox - sx * cz, t[6 + ky] - oy - sy * cz
    u = cx * by - cy * bx
    v = ax * cy - ay * cx
    w = bx * ay - by * ax
    if least(least(u, v), w) < 0.0 and greatest(greatest(u, v), w) > 0.0:
        return 0.0, 0.0
    det = u + v + w
    num = (u * az + v * bz + w * cz) * sz
    if det < 0.0:
        return -num, -det
    return num, det


@inlined
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
    if direction[0] == 0.0 and direction[1] == 0.0 and direction[2] == 0.0:
        return False
    o = (origin[0], origin[1], origin[2])
    inverse = (_inverse(direction[0]), _inverse(direction[1]), _inverse(direction[2]))
    shear = ray_shear(direction)
    stack[0] = 0
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        near = link[stack[n_stack], 0]
        count = link[stack[n_stack], 1]
        while near >= 0:
            far_child = near + 1
            t_near = _enters(o, inverse, box[near], far)
            t_far = _enters(o, inverse, box[far_child], far)
            if t_far < t_near:
                near, far_child = far_child, near
                t_near, t_far = t_far, t_near
            if t_near == np.inf:
                break
            if t_far < np.inf:
                stack[n_stack] = far_child
                n_stack += 1
            count = link[near, 1]
            near = link[near, 0]
        if near < 0:
            for k in range(-near - 1, -near - 1 + count):
                num, det = ray_triangle(tri, k, origin, shear)
                if det > 0.0 and num >= 0.0 and num <= far * det:
                    return True
    return False


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
    if direction[0] == 0.0 and direction[1] == 0.0 and direction[2] == 0.0:
        return np.inf, -1
    o = (origin[0], origin[1], origin[2])
    inverse = (_inverse(direction[0]), _inverse(direction[1]), _inverse(direction[2]))
    shear = ray_shear(direction)
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
            t_near = _enters(o, inverse, box[near], best)
            t_far = _enters(o, inverse, box[far_child], best)
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
                num, det = ray_triangle(tri, k, origin, shear)
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
        blocked[i] = any_hit_one(tri, box, link, o[i], d[i], far[i], stack)


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
