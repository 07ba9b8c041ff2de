"""Exact distances of points and segments to one triangle.

Scalars and tuples only, so that the compiler keeps everything in registers and
can build the routines for other devices.  They work in float64 without
directed rounding: whoever needs a guaranteed bound subtracts 1e-9 m, far more
than the rounding seen at the size of a space station.

Triangles may be degenerate.  One without area is the union of its edges; one
so thin that its normal would be rounding noise gets a normal that is made
perpendicular to its longest edge again.
"""

from __future__ import annotations

import math

from reach.geometry.compiled import compiled
from reach.geometry.vector import Vector, along, cross, dot, greatest, least, minus

INF = math.inf
_THIN2 = 1e-8
_PARALLEL2 = 1e-6


@compiled
def _clamped(x: float) -> float:
    return least(greatest(x, 0.0), 1.0)


@compiled
def point_segment(p: Vector, a: Vector, u: Vector) -> tuple[float, float]:
    """Return the squared distance of point `p` to the segment ``a + t u``.

    Returns
    -------
    d2 : float, m^2
    t : float
        Where the nearest point is, ``0 <= t <= 1``.
    """
    w = minus(p, a)
    uu = dot(u, u)
    t = _clamped(dot(u, w) / uu) if uu > 0.0 else 0.0
    r = along(w, -t, u)
    return dot(r, r), t


@compiled
def segment_segment(p: Vector, u: Vector, q: Vector, v: Vector) -> tuple[float, float, float]:
    """Return the squared distance of segments ``p + s u`` and ``q + t v``.

    Returns
    -------
    d2 : float, m^2
    s, t : float
        Where one pair of nearest points is, both from 0 to 1.

    Notes
    -----
    Follows Ericson, Real-Time Collision Detection (2005), section 5.1.9.  For
    nearly parallel segments the determinant there is a difference of almost
    equal numbers; it and its numerator are then taken from cross products.
    """
    w = minus(p, q)
    uu = dot(u, u)
    vv = dot(v, v)
    uw = dot(u, w)
    vw = dot(v, w)
    if uu <= 0.0:
        s = 0.0
        t = _clamped(vw / vv) if vv > 0.0 else 0.0
    elif vv <= 0.0:
        s = _clamped(-uw / uu)
        t = 0.0
    else:
        uv = dot(u, v)
        det = uu * vv - uv * uv
        num = uv * vw - uw * vv
        if det < _PARALLEL2 * uu * vv:
            n = cross(u, v)
            det = dot(n, n)
            num = dot(n, cross(v, w))
        s = _clamped(num / det) if det > 1e-28 * uu * vv else 0.0
        t = (uv * s + vw) / vv
        if t < 0.0:
            t = 0.0
            s = _clamped(-uw / uu)
        elif t > 1.0:
            t = 1.0
            s = _clamped((uv - uw) / uu)
    r = along(along(w, s, u), -t, v)
    return dot(r, r), s, t


@compiled
def triangle_normal(ab: Vector, ac: Vector) -> tuple[Vector, bool]:
    """Return a vector normal to a triangle, of about twice its area, and whether it is thin."""
    n = cross(ab, ac)
    b2 = dot(ab, ab)
    c2 = dot(ac, ac)
    nn = dot(n, n)
    if nn > _THIN2 * b2 * c2:
        return n, False
    longest = ab if b2 > c2 else ac
    bc = minus(ac, ab)
    if dot(bc, bc) > max(b2, c2):
        longest = bc
    e2 = dot(longest, longest)
    if e2 > 0.0:
        n = along(n, -dot(n, longest) / e2, longest)
        n = along(n, -dot(n, longest) / e2, longest)
    return n, True


@compiled
def point_triangle(
    p: Vector, a: Vector, b: Vector, c: Vector, bound2: float
) -> tuple[float, float, float]:
    """Return the squared distance of a point to a triangle, if below a bound.

    Parameters
    ----------
    p : (x, y, z), m
    a, b, c : (x, y, z), m
        Corners, in any order, coincident ones too.
    bound2 : float, m^2
        The search is given up once nothing below can come; ``inf`` for the
        plain distance.

    Returns
    -------
    d2 : float, m^2
        Exact where it is below `bound2`, otherwise some value not below it.
    v, w : float
        Nearest point is ``a + v (b - a) + w (c - a)``.
    """
    ab = minus(b, a)
    ac = minus(c, a)
    ap = minus(p, a)
    n, thin = triangle_normal(ab, ac)
    nn = dot(n, n)
    height = dot(n, ap)
    if height * height > bound2 * nn and nn > 0.0:
        return INF, 0.0, 0.0
    v = dot(ap, cross(ac, n))
    w = dot(ap, cross(n, ab))
    inside = v >= 0.0 and w >= 0.0 and v + w <= nn and nn > 0.0
    if inside:
        return height * height / nn, v / nn, w / nn
    d2 = INF
    bv = 0.0
    bw = 0.0
    if thin or w < 0.0:
        e2, t = point_segment(p, a, ab)
        if e2 < d2:
            d2, bv, bw = e2, t, 0.0
    if thin or v < 0.0:
        e2, t = point_segment(p, a, ac)
        if e2 < d2:
            d2, bv, bw = e2, 0.0, t
    if thin or v + w > nn:
        e2, t = point_segment(p, b, minus(c, b))
        if e2 < d2:
            d2, bv, bw = e2, 1.0 - t, t
    return d2, bv, bw


@compiled
def segment_triangle(
    p: Vector, u: Vector, a: Vector, b: Vector, c: Vector, bound2: float
) -> tuple[float, float, float, float]:
    """Return the squared distance of a segment to a triangle, if below a bound.

    Parameters
    ----------
    p, u : (x, y, z), m
        The segment is ``p + s u``, s from 0 to 1; `u` may be zero.
    a, b, c : (x, y, z), m
        Corners, in any order, coincident ones too.
    bound2 : float, m^2
        The search is given up once nothing below can come; ``inf`` for the
        plain distance.

    Returns
    -------
    d2 : float, m^2
        0 when they cross.  Exact where it is below `bound2`, otherwise some
        value not below it.
    s : float
        Nearest point of the segment is ``p + s u``.
    v, w : float
        Nearest point of the triangle is ``a + v (b - a) + w (c - a)``.
    """
    ab = minus(b, a)
    ac = minus(c, a)
    ap = minus(p, a)
    n, _ = triangle_normal(ab, ac)
    nn = dot(n, n)
    d2 = INF
    bs = 0.0
    bv = 0.0
    bw = 0.0
    if nn > 0.0:
        h0 = dot(n, ap)
        h1 = h0 + dot(n, u)
        crosses_plane = (h0 <= 0.0 and h1 >= 0.0) or (h0 >= 0.0 and h1 <= 0.0)
        s = 0.0
        h = h0
        if crosses_plane:
            h = 0.0
            s = h0 / (h0 - h1) if h0 != h1 else 0.0
        elif abs(h1) < abs(h0):
            h = h1
            s = 1.0
        if h * h > bound2 * nn:
            return INF, 0.0, 0.0, 0.0
        mv = cross(ac, n)
        mw = cross(n, ab)
        v0 = dot(ap, mv)
        w0 = dot(ap, mw)
        dv = dot(u, mv)
        dw = dot(u, mw)
        v = v0 + s * dv
        w = w0 + s * dw
        if v >= 0.0 and w >= 0.0 and v + w <= nn:
            # The point nearest to the plane lies over the face: nothing can be nearer.
            return h * h / nn, s, v / nn, w / nn
        if v0 >= 0.0 and w0 >= 0.0 and v0 + w0 <= nn:
            d2, bs, bv, bw = h0 * h0 / nn, 0.0, v0 / nn, w0 / nn
        v = v0 + dv
        w = w0 + dw
        if v >= 0.0 and w >= 0.0 and v + w <= nn and h1 * h1 < d2 * nn:
            d2, bs, bv, bw = h1 * h1 / nn, 1.0, v / nn, w / nn
    e2, s, t = segment_segment(p, u, a, ab)
    if e2 < d2:
        d2, bs, bv, bw = e2, s, t, 0.0
    e2, s, t = segment_segment(p, u, a, ac)
    if e2 < d2:
        d2, bs, bv, bw = e2, s, 0.0, t
    e2, s, t = segment_segment(p, u, b, minus(c, b))
    if e2 < d2:
        d2, bs, bv, bw = e2, s, 1.0 - t, t
    return d2, bs, bv, bw
