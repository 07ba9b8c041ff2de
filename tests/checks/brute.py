"""Slow twins in plain numpy: distances over all triangles, rays over all triangles, winding."""

import numpy as np


def _dots(a, b):
    return np.einsum("...i,...i->...", a, b)


def point_to_triangles(p, triangles):
    """Distance from one point to every triangle."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    n = np.cross(b - a, c - a)
    n = n / np.linalg.norm(n, axis=1)[:, None]
    height = _dots(p - a, n)
    foot = p - height[:, None] * n
    inside = np.ones(len(triangles), bool)
    edges = np.full(len(triangles), np.inf)
    for u, v in ((a, b), (b, c), (c, a)):
        inside &= _dots(np.cross(v - u, foot - u), n) >= 0.0
        t = np.clip(_dots(p - u, v - u) / _dots(v - u, v - u), 0.0, 1.0)
        edges = np.minimum(edges, np.linalg.norm(u + t[:, None] * (v - u) - p, axis=1))
    return np.where(inside, np.abs(height), edges)


def segments_apart(p, q, u, v):
    """Distance of segment pq to every segment uv, by clamped closest points and end points."""
    d, e, r = q - p, v - u, p - u
    a, b, c = d @ d, e @ d, _dots(e, e)
    f, g = r @ d, _dots(r, e)
    det = a * c - b * b
    s = np.where(det > 1e-15, np.clip((b * g - c * f) / np.where(det > 1e-15, det, 1.0), 0, 1), 0.0)
    best = np.full(len(u), np.inf)
    for fixed in (s, np.zeros(len(u)), np.ones(len(u))):
        t = np.clip((b * fixed + g) / c, 0.0, 1.0)
        again = np.clip((b * t - f) / a, 0.0, 1.0) if a > 0 else np.zeros(len(u))
        apart = (p + again[:, None] * d) - (u + t[:, None] * e)
        best = np.minimum(best, np.linalg.norm(apart, axis=1))
    return best


def hits(p, q, triangles):
    """Whether segment pq crosses each triangle."""
    a = triangles[:, 0]
    e, f = triangles[:, 1] - a, triangles[:, 2] - a
    d = q - p
    h = np.cross(d, f)
    det = _dots(e, h)
    ok = np.abs(det) > 1e-14
    inv = 1.0 / np.where(ok, det, 1.0)
    s = p - a
    u = _dots(s, h) * inv
    k = np.cross(s, e)
    v = (k @ d) * inv
    t = _dots(f, k) * inv
    return ok & (u >= 0) & (v >= 0) & (u + v <= 1) & (t >= 0) & (t <= 1)


def segment_distance(p, q, triangles):
    """Least distance of segment pq to the surface; 0 where it crosses."""
    if hits(p, q, triangles).any():
        return 0.0
    best = min(point_to_triangles(p, triangles).min(), point_to_triangles(q, triangles).min())
    for i, j in ((0, 1), (1, 2), (2, 0)):
        best = min(best, segments_apart(p, q, triangles[:, i], triangles[:, j]).min())
    return float(best)


def is_inside(p, triangles):
    """Whether a point is inside closed surfaces: solid angles of all triangles."""
    a, b, c = (triangles[:, i] - p for i in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    det = _dots(a, np.cross(b, c))
    den = la * lb * lc + _dots(a, b) * lc + _dots(b, c) * la + _dots(c, a) * lb
    return bool(abs(2.0 * np.arctan2(det, den).sum()) > 2.0 * np.pi)
