"""Whether flat-ended cylinders touch the triangles of a tree: room for a tool.

A triangle wholly inside the cylinder is found, one that only touches it too.
A cylinder wholly inside a solid touches none of its triangles and is *not*
found: ask :func:`reach.geometry.winding.winding_number` for that.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.distance import corners_of
from reach.geometry.queries import as_given, finite_points_of, near_order, sorted_rows, values_of
from reach.geometry.tree import STACK, Tree
from reach.geometry.vector import Vector, along, cross, dot, greatest, least, minus


def cylinder_overlap(
    tree: Tree, p: ArrayLike, q: ArrayLike, radius: ArrayLike
) -> NDArray[np.bool_]:
    """Return whether each solid cylinder touches the surface.

    Parameters
    ----------
    tree : Tree
    p, q : array_like, shape (n, 3) or (3,), m, world
        Centres of the two flat ends, distinct.
    radius : array_like, shape () or (n,), m

    Returns
    -------
    touches : ndarray of bool, shape (n,)
        Exact but for rounding at first contact.

    Raises
    ------
    ValueError
        If a shape does not fit, a number is not finite, the ends of a
        cylinder coincide or `radius` is negative.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> cylinder_overlap(tree, [0.2, 0.2, 0.1], [0.2, 0.2, 0.5], [0.3])
    array([False])
    """
    low = finite_points_of("p", p)
    n = len(low)
    high = finite_points_of("q", q, n)
    flat = np.flatnonzero((low == high).all(axis=1))
    if len(flat):
        raise ValueError(f"cylinder {flat[0]} has no length: both ends are {low[flat[0]].tolist()}")
    touches = np.empty(n, dtype=np.bool_)
    radii = values_of("radius", radius, n)
    order = near_order(low)
    cylinders = sorted_rows(order, low, high, radii)
    in_chunks(_rows, n, tree.tri, tree.box, tree.link, *cylinders, touches)
    return as_given(order, touches)


@compiled
def cylinder_overlap_one(
    tri: Any, box: Any, link: Any, p: Any, q: Any, radius: float, stack: Any
) -> bool:
    """Return whether one solid cylinder touches the surface, for compiled callers.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    p, q : ndarray, shape (3,), m, world
        Centres of the two flat ends, distinct.
    radius : float, m
    stack : ndarray of int32, shape (STACK,)
        Room to work in.

    Returns
    -------
    touches : bool
    """
    z = (0.5 * (q[0] - p[0]), 0.5 * (q[1] - p[1]), 0.5 * (q[2] - p[2]))
    middle = (p[0] + z[0], p[1] + z[1], p[2] + z[2])
    half = math.sqrt(dot(z, z))
    z = (z[0] / half, z[1] / half, z[2] / half)
    x, y = _across(z)
    size = (
        half * abs(z[0]) + radius * math.sqrt(greatest(0.0, 1.0 - z[0] * z[0])),
        half * abs(z[1]) + radius * math.sqrt(greatest(0.0, 1.0 - z[1] * z[1])),
        half * abs(z[2]) + radius * math.sqrt(greatest(0.0, 1.0 - z[2] * z[2])),
    )
    stack[0] = 0
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        node = stack[n_stack]
        if _misses_box(middle, z, size, half, radius, box, node):
            continue
        first = link[node, 0]
        if first >= 0:
            stack[n_stack] = first
            stack[n_stack + 1] = first + 1
            n_stack += 2
            continue
        for k in range(-first - 1, -first - 1 + link[node, 1]):
            a, b, c = corners_of(tri, k)
            a, b, c = minus(a, middle), minus(b, middle), minus(c, middle)
            if _touches_triangle(
                (dot(a, x), dot(a, y), dot(a, z)),
                (dot(b, x), dot(b, y), dot(b, z)),
                (dot(c, x), dot(c, y), dot(c, z)),
                half,
                radius,
            ):
                return True
    return False


@compiled
def _across(z: Vector) -> tuple[Vector, Vector]:
    """Return two unit vectors that are perpendicular to `z` and to each other."""
    x = (0.0, -z[2], z[1])
    if abs(z[0]) > 0.7:
        x = (z[2], 0.0, -z[0])
    scale = 1.0 / math.sqrt(dot(x, x))
    x = (x[0] * scale, x[1] * scale, x[2] * scale)
    return x, cross(z, x)


@compiled
def _misses_box(
    middle: Vector, z: Vector, size: Vector, half: float, radius: float, box: Any, node: int
) -> bool:
    """Return whether a cylinder is surely clear of a box.

    Looks along the three axes, along the cylinder, and across it towards the
    centre of the box.
    """
    rx = 0.5 * (box[node, 3] - box[node, 0])
    ry = 0.5 * (box[node, 4] - box[node, 1])
    rz = 0.5 * (box[node, 5] - box[node, 2])
    c = (
        box[node, 0] + rx - middle[0],
        box[node, 1] + ry - middle[1],
        box[node, 2] + rz - middle[2],
    )
    if abs(c[0]) > size[0] + rx or abs(c[1]) > size[1] + ry or abs(c[2]) > size[2] + rz:
        return True
    t = dot(c, z)
    if abs(t) > half + abs(z[0]) * rx + abs(z[1]) * ry + abs(z[2]) * rz:
        return True
    c = along(c, -t, z)
    cc = dot(c, c)
    gap: float = cc - abs(c[0]) * rx - abs(c[1]) * ry - abs(c[2]) * rz
    return gap > 0.0 and gap * gap > radius * radius * cc


@compiled
def _touches_triangle(a: Vector, b: Vector, c: Vector, half: float, radius: float) -> bool:
    """Return whether a triangle touches ``x^2 + y^2 <= radius^2, |z| <= half``.

    The part of the triangle between the ends is a convex polygon.  It touches
    if the axis pierces it or one of its edges comes within the radius; edges
    are pieces of the triangle's, and cuts along the two end planes.
    """
    if greatest(a[2], greatest(b[2], c[2])) < -half or least(a[2], least(b[2], c[2])) > half:
        return False
    if greatest(a[0], greatest(b[0], c[0])) < -radius or least(a[0], least(b[0], c[0])) > radius:
        return False
    if greatest(a[1], greatest(b[1], c[1])) < -radius or least(a[1], least(b[1], c[1])) > radius:
        return False
    r2 = radius * radius
    if _edge_near(a, b, half, r2) or _edge_near(b, c, half, r2) or _edge_near(c, a, half, r2):
        return True
    u = c[0] * b[1] - c[1] * b[0]
    v = a[0] * c[1] - a[1] * c[0]
    w = b[0] * a[1] - b[1] * a[0]
    if not ((u < 0.0 or v < 0.0 or w < 0.0) and (u > 0.0 or v > 0.0 or w > 0.0)):
        det = u + v + w
        if det != 0.0 and abs(u * a[2] + v * b[2] + w * c[2]) <= half * abs(det):
            return True
    return _cut_near(a, b, c, half, r2) or _cut_near(a, b, c, -half, r2)


@compiled
def _flat_near(ax: float, ay: float, ux: float, uy: float, t0: float, t1: float, r2: float) -> bool:
    """Return whether ``a + t u`` comes within a radius of 0 for a t from t0 to t1."""
    uu = ux * ux + uy * uy
    t = -(ax * ux + ay * uy) / uu if uu > 0.0 else t0
    t = least(greatest(t, t0), t1)
    x = ax + t * ux
    y = ay + t * uy
    return x * x + y * y <= r2


@compiled
def _edge_near(a: Vector, b: Vector, half: float, r2: float) -> bool:
    """Return whether the part of edge `ab` between the ends comes within the radius."""
    low = least(a[2], b[2])
    high = greatest(a[2], b[2])
    if low > half or high < -half:
        return False
    t0 = 0.0
    t1 = 1.0
    if low < -half or high > half:
        dz = b[2] - a[2]
        s0 = (-half - a[2]) / dz
        s1 = (half - a[2]) / dz
        t0 = greatest(0.0, least(s0, s1))
        t1 = least(1.0, greatest(s0, s1))
    return _flat_near(a[0], a[1], b[0] - a[0], b[1] - a[1], t0, t1, r2)


@compiled
def _cut_near(a: Vector, b: Vector, c: Vector, level: float, r2: float) -> bool:
    """Return whether the cut of a triangle at height `level` comes within the radius."""
    above_a = a[2] > level
    above_b = b[2] > level
    above_c = c[2] > level
    if above_a == above_b and above_b == above_c:
        return False
    # Turn the corners until the first one is alone on its side.
    if above_a == above_b:
        a, b, c = c, a, b
    elif above_a == above_c:
        a, b, c = b, c, a
    s = (level - a[2]) / (b[2] - a[2])
    t = (level - a[2]) / (c[2] - a[2])
    px = a[0] + s * (b[0] - a[0])
    py = a[1] + s * (b[1] - a[1])
    qx = a[0] + t * (c[0] - a[0])
    qy = a[1] + t * (c[1] - a[1])
    return _flat_near(px, py, qx - px, qy - py, 0.0, 1.0, r2)


@compiled
def _rows(
    start: int,
    stop: int,
    tri: Any,
    box: Any,
    link: Any,
    p: Any,
    q: Any,
    radius: Any,
    touches: Any,
) -> None:
    stack = np.empty(STACK, np.int32)
    for i in range(start, stop):
        touches[i] = cylinder_overlap_one(tri, box, link, p[i], q[i], radius[i], stack)
