"""Exact distance of two triangles, with the two nearest points."""

from __future__ import annotations

from reach.geometry.compiled import compiled
from reach.geometry.triangle import INF, segment_triangle
from reach.geometry.vector import Vector, along, minus

Corners = tuple[Vector, Vector, Vector]


@compiled
def triangle_triangle(one: Corners, other: Corners) -> tuple[float, Vector, Vector]:
    """Return the squared distance of two triangles and a pair of nearest points.

    Parameters
    ----------
    one, other : (a, b, c), m
        Corners, in any order, coincident ones too.

    Returns
    -------
    d2 : float, m^2
        0 when they meet.
    p, q : (x, y, z), m
        Nearest points of `one` and `other`.

    Notes
    -----
    Of two triangles that do not meet, an edge of one is nearest to the other;
    of two that meet, an edge of one crosses the other.  So six edges against a
    triangle each are all there is.
    """
    best = INF
    a, b, c = one
    d, e, f = other
    p, q = a, d
    for i in range(3):
        start, stop = (a, b) if i == 0 else ((b, c) if i == 1 else (c, a))
        u = minus(stop, start)
        d2, s, v, w = segment_triangle(start, u, d, e, f, best)
        if d2 < best:
            best = d2
            p = along(start, s, u)
            q = along(along(d, v, minus(e, d)), w, minus(f, d))
    for i in range(3):
        start, stop = (d, e) if i == 0 else ((e, f) if i == 1 else (f, d))
        u = minus(stop, start)
        d2, s, v, w = segment_triangle(start, u, a, b, c, best)
        if d2 < best:
            best = d2
            q = along(start, s, u)
            p = along(along(a, v, minus(b, a)), w, minus(c, a))
    return best, p, q
