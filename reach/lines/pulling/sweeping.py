"""Compiled: whether a line may lie here, and whether it gets there without crossing structure."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry import compiled, segment_tree_distance2
from reach.geometry.distance import corners_of
from reach.geometry.triangle import segment_triangle
from reach.geometry.vector import Vector, cross, minus


@compiled
def beside_box(v: Any, box: Any, node: int, a: Any, b: Any, c: Any, gap: float) -> bool:
    """Return whether the plane across `v` parts triangle a b c from a box by more than `gap`."""
    middle = half = 0.0
    for j in range(3):
        middle += v[j] * 0.5 * (box[node, j] + box[node, 3 + j])
        half += abs(v[j]) * (0.5 * (box[node, 3 + j] - box[node, j]) + gap)
    pa = v[0] * a[0] + v[1] * a[1] + v[2] * a[2] - middle
    pb = v[0] * b[0] + v[1] * b[1] + v[2] * b[2] - middle
    pc = v[0] * c[0] + v[1] * c[1] + v[2] * c[2] - middle
    return bool(min(pa, min(pb, pc)) > half or max(pa, max(pb, pc)) < -half)


@compiled
def _vector(x: Any) -> Vector:
    return x[0], x[1], x[2]


@compiled
def _distance2(p: Vector, q: Vector, a: Vector, b: Vector, c: Vector, bound2: float) -> float:
    return float(segment_triangle(p, minus(q, p), a, b, c, bound2)[0])


@compiled
def swept_free(
    tri: Any, box: Any, link: Any, a: Any, b: Any, c: Any, gap: float, stack: Any
) -> bool:
    """Return whether every triangle of the tree stays at least `gap` from triangle a b c.

    Two triangles are nearest at an edge of one of them, so six distances of a
    segment to a triangle are the distance of a pair, 0 where they cross.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    a, b, c : ndarray, shape (3,), m, world
        Corners; they may lie on one line.
    gap : float, m
    stack : ndarray of int32, shape (STACK,)
        Room to work in.

    Returns
    -------
    free : bool
    """
    pa, pb, pc = _vector(a), _vector(b), _vector(c)
    ab, bc, ca = minus(pb, pa), minus(pc, pb), minus(pa, pc)
    normal = cross(ab, bc)
    across = (cross(normal, ab), cross(normal, bc), cross(normal, ca))
    x, y, z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    gap2 = gap * gap
    mine = (pa, pb, pc, pa)
    stack[0] = 0
    n = 1
    while n > 0:
        n -= 1
        node = stack[n]
        if (
            beside_box(x, box, node, a, b, c, gap)
            or beside_box(y, box, node, a, b, c, gap)
            or beside_box(z, box, node, a, b, c, gap)
            or beside_box(normal, box, node, a, b, c, gap)
            or beside_box(across[0], box, node, a, b, c, gap)
            or beside_box(across[1], box, node, a, b, c, gap)
            or beside_box(across[2], box, node, a, b, c, gap)
        ):
            continue
        near = link[node, 0]
        if near >= 0:
            stack[n] = near
            stack[n + 1] = near + 1
            n += 2
            continue
        for k in range(-near - 1, -near - 1 + link[node, 1]):
            p, q, r = corners_of(tri, k)
            for i in range(6):
                if i < 3:
                    near2 = _distance2(mine[i], mine[i + 1], p, q, r, gap2)
                else:
                    theirs = (p, q, r, p)
                    near2 = _distance2(theirs[i - 3], theirs[i - 2], pa, pb, pc, gap2)
                if near2 < gap2:
                    return False
    return True


@compiled
def cuts(p: Any, q: Any, sleeve: Any, at: Any) -> int:
    """Write where a segment enters and leaves the sleeves into `at`; return how many stretches.

    Parameters
    ----------
    p, q : ndarray, shape (3,), m
    sleeve : ndarray, shape (2, 4), m
        Centre and radius of the ball round each end of the line, radius 0 for none.
    at : ndarray, shape (6,)
        Stretch ``i`` runs from ``at[i]`` to ``at[i + 1]``, as shares of the segment.
    """
    at[0] = 0.0
    n = 1
    for s in range(2):
        radius = sleeve[s, 3]
        if radius <= 0.0:
            continue
        uu = ud = dd = 0.0
        for j in range(3):
            u, d = q[j] - p[j], p[j] - sleeve[s, j]
            uu += u * u
            ud += u * d
            dd += d * d
        root2 = ud * ud - uu * (dd - radius * radius)
        if uu <= 0.0 or root2 <= 0.0:
            continue
        root = math.sqrt(root2)
        for t in ((-ud - root) / uu, (-ud + root) / uu):
            if 0.0 < t < 1.0:
                at[n] = t
                n += 1
    at[n] = 1.0
    at[: n + 1].sort()
    return n


@compiled
def in_sleeve(x: Any, sleeve: Any) -> bool:
    """Return whether a point lies in the ball round an end."""
    for s in range(2):
        d2 = 0.0
        for j in range(3):
            d2 += (x[j] - sleeve[s, j]) ** 2
        if d2 < sleeve[s, 3] ** 2:
            return True
    return False


@compiled
def clear(
    tri: Any,
    box: Any,
    link: Any,
    p: Any,
    q: Any,
    need: float,
    least: float,
    sleeve: Any,
    stack: Any,
    depth: Any,
) -> bool:
    """Return whether a segment stays `need` off the surface, in the sleeves only `least` (m)."""
    if sleeve[0, 3] <= 0.0 and sleeve[1, 3] <= 0.0:
        return bool(segment_tree_distance2(tri, box, link, p, q, need * need, stack, depth)[1] < 0)
    at = np.empty(6)
    n = cuts(p, q, sleeve, at)
    for i in range(n):
        start, stop = p + at[i] * (q - p), p + at[i + 1] * (q - p)
        wanted = least if in_sleeve(0.5 * (start + stop), sleeve) else need
        if (
            segment_tree_distance2(tri, box, link, start, stop, wanted * wanted, stack, depth)[1]
            >= 0
        ):
            return False
    return True


@compiled
def contact(
    tri: Any, box: Any, link: Any, p: Any, q: Any, reach: float, stack: Any, depth: Any, out: Any
) -> float:
    """Return how far a segment is from the surface, and write how it touches into `out`.

    Parameters
    ----------
    reach : float, m
        Farther is no contact.
    out : ndarray, shape (13,)
        Unit direction away from the surface, the touching place as a share of the segment, and
        the edges of the triangle that is touched.

    Returns
    -------
    distance : float, m
        ``inf`` where nothing is within `reach`, 0 (and no direction) where it crosses.
    """
    d2, k = segment_tree_distance2(tri, box, link, p, q, reach * reach, stack, depth)
    if k < 0:
        return np.inf
    d = math.sqrt(d2)
    a, b, c = corners_of(tri, k)
    u = (q[0] - p[0], q[1] - p[1], q[2] - p[2])
    s, v, w = segment_triangle(_vector(p), u, a, b, c, np.inf)[1:]
    out[3] = s
    size = 0.0
    for j in range(3):
        out[j] = p[j] + s * u[j] - (a[j] + v * (b[j] - a[j]) + w * (c[j] - a[j]))
        size += out[j] * out[j]
        out[4 + j], out[7 + j], out[10 + j] = b[j] - a[j], c[j] - b[j], a[j] - c[j]
    if size <= 0.0:
        return 0.0
    for j in range(3):
        out[j] /= math.sqrt(size)
    return d
