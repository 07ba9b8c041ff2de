"""Slow answers to the questions the tree answers fast: every triangle, every time.

The numpy twins share nothing with the package.  The compiled ones share its
one-triangle routines, which the numpy twins test, and serve where counts are
large.
"""

from __future__ import annotations

import numpy as np

from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.triangle import point_triangle, segment_triangle


def random_triangles(rng, n, size=0.3, spread=2.0):
    middle = rng.uniform(-spread, spread, (n, 1, 3))
    return middle + rng.normal(scale=size, size=(n, 3, 3))


def points_to_segment(points, a, b):
    """Distance of points (n, 3) to one segment."""
    u = b - a
    uu = u @ u
    t = np.clip((points - a) @ u / uu, 0.0, 1.0) if uu > 0.0 else np.zeros(len(points))
    return np.linalg.norm(points - a - t[:, None] * u, axis=1)


def point_to_triangle(p, triangle):
    """Distance of a point to a triangle: over the face, else to the nearest edge."""
    a, b, c = triangle
    edges = [(a, b), (b, c), (c, a)]
    best = min(points_to_segment(p[None], start, end)[0] for start, end in edges)
    plane = np.column_stack([b - a, c - a])
    (v, w), _, rank, _ = np.linalg.lstsq(plane, p - a, rcond=None)
    if rank == 2 and v >= 0.0 and w >= 0.0 and v + w <= 1.0:
        best = min(best, np.linalg.norm(p - a - plane @ [v, w]))
    return best


def segment_to_segment(p, q, a, b):
    """Distance of two segments: at an end, or between two inner points."""
    best = min(
        points_to_segment(np.array([p, q]), a, b).min(),
        points_to_segment(np.array([a, b]), p, q).min(),
    )
    span = np.column_stack([q - p, a - b])
    (s, t), _, rank, _ = np.linalg.lstsq(span, a - p, rcond=None)
    if rank == 2 and 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
        best = min(best, np.linalg.norm(p + s * (q - p) - a - t * (b - a)))
    return best


def crosses(p, q, triangle):
    """Whether a segment meets the inside of a triangle that it is not parallel to."""
    a, b, c = triangle
    system = np.column_stack([q - p, a - b, a - c])
    if abs(np.linalg.det(system)) < 1e-12:
        return False
    t, v, w = np.linalg.solve(system, a - p)
    return 0.0 <= t <= 1.0 and v >= 0.0 and w >= 0.0 and v + w <= 1.0


def segment_to_triangle(p, q, triangle):
    """Distance of a segment to a triangle: crossing, ends over the face, or edges."""
    if crosses(p, q, triangle):
        return 0.0
    a, b, c = triangle
    return min(
        point_to_triangle(p, triangle),
        point_to_triangle(q, triangle),
        *(segment_to_segment(p, q, *edge) for edge in ((a, b), (b, c), (c, a))),
    )


def ray_hits(o, d, triangles):
    """Every t at which a line meets each triangle (n, 3, 3), ``inf`` for a miss; by Cramer."""
    e1 = triangles[:, 1] - triangles[:, 0]
    e2 = triangles[:, 2] - triangles[:, 0]
    s = o - triangles[:, 0]
    p = np.cross(d, e2)
    q = np.cross(s, e1)
    det = (e1 * p).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        u = (s * p).sum(axis=1) / det
        v = (q @ d) / det
        t = (e2 * q).sum(axis=1) / det
        return np.where((u >= 0) & (v >= 0) & (u + v <= 1) & (t >= 0), t, np.inf)


def solid_angles(p, triangles):
    """Winding number at a point, by summing signed solid angles in numpy."""
    a, b, c = (triangles[:, k] - p for k in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    det = (a * np.cross(b, c)).sum(axis=1)
    den = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return np.arctan2(det, den).sum() / (2.0 * np.pi)


def all_point_distances(triangles, points):
    """Distance of points to the nearest of all triangles."""
    return all_segment_distances(triangles, points, points)


def all_segment_distances(triangles, p, q):
    """Distance of segments (or points, where the ends are equal) to the nearest of all triangles.

    A triangle is left out only where its bounding sphere is farther than the
    nearest centroid: a rule that knows nothing of boxes and trees.
    """
    distance = np.empty(len(p))
    centroid = triangles.mean(axis=1)
    radius = np.linalg.norm(triangles - centroid[:, None], axis=2).max(axis=1)
    columns = (*np.ascontiguousarray(centroid.T), radius, triangles.reshape(-1, 9))
    in_chunks(_rows, len(p), *columns, p.copy(), q.copy(), distance, chunk=16)
    return distance


@compiled
def _rows(start, stop, x, y, z, radius, tri, p, q, distance):
    d2 = np.empty(len(x))
    for i in range(start, stop):
        point = (p[i, 0], p[i, 1], p[i, 2])
        u = (q[i, 0] - p[i, 0], q[i, 1] - p[i, 1], q[i, 2] - p[i, 2])
        half = 0.5 * np.sqrt(u[0] ** 2 + u[1] ** 2 + u[2] ** 2)
        mx, my, mz = point[0] + 0.5 * u[0], point[1] + 0.5 * u[1], point[2] + 0.5 * u[2]
        nearest = np.inf
        for k in range(len(x)):
            d2[k] = (x[k] - mx) ** 2 + (y[k] - my) ** 2 + (z[k] - mz) ** 2
            nearest = d2[k] if d2[k] < nearest else nearest
        limit = np.sqrt(nearest) + half + 1e-9
        best = np.inf
        for k in range(len(x)):
            if d2[k] > (limit + radius[k]) ** 2:
                continue
            t = tri[k]
            a, b, c = (t[0], t[1], t[2]), (t[3], t[4], t[5]), (t[6], t[7], t[8])
            if half > 0.0:
                found = segment_triangle(point, u, a, b, c, best)[0]
            else:
                found = point_triangle(point, a, b, c, best)[0]
            best = min(best, found)
        distance[i] = np.sqrt(best)
