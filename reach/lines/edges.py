"""Where a line comes near flagged edges and hazards."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import Tree, segment_distance, segment_pair_distance

Floats = NDArray[np.float64]


class Touch(NamedTuple):
    """One stretch of a line near one edge or surface.

    Attributes
    ----------
    distance : float, m
        Between the line's axis and the edge, 0 where they meet.
    on_line, on_edge : ndarray, shape (3,), m
        The nearest points of both.
    stretch : int
        From ``points[stretch]`` to the next.
    edge : int
        Row of the edge, or of the triangle in what the tree was built from.
    """

    distance: float
    on_line: Floats
    on_edge: Floats
    stretch: int
    edge: int


def touches(points: ArrayLike, edges: ArrayLike | Tree, radius: float) -> list[Touch]:
    """Return where a line comes within `radius` of edges or of a surface.

    Parameters
    ----------
    points : array_like, shape (k, 3), m, world
        The line.
    edges : array_like, shape (n, 2, 3), m, world; or Tree
        Both ends of each edge, or a surface.
    radius : float, m
        Counts as touching: the line's own radius and what is kept clear.

    Returns
    -------
    touches : list of Touch
        Along the line.  For edges, one for each edge that is near: its nearest
        place.  For a surface, one for each stretch that is near.

    Raises
    ------
    ValueError
        If a shape does not fit or `radius` is negative.
    """
    line = np.asarray(points, dtype=np.float64)
    if line.ndim != 2 or line.shape[1:] != (3,) or len(line) < 2 or not np.isfinite(line).all():
        raise ValueError(f"a line needs finite points of shape (k, 3), k >= 2, not {line.shape}")
    if not radius >= 0.0:
        raise ValueError(f"radius must be 0 or more, not {radius}")
    if isinstance(edges, Tree):
        return _of_surface(line, edges, radius)
    ends = np.asarray(edges, dtype=np.float64)
    if ends.size == 0:
        return []
    if ends.ndim != 3 or ends.shape[1:] != (2, 3) or not np.isfinite(ends).all():
        raise ValueError(f"edges must be finite and have shape (n, 2, 3), not {ends.shape}")
    found = [_of_edge(line, i, *edge) for i, edge in enumerate(ends)]
    near = [touch for touch in found if touch.distance <= radius]
    return sorted(near, key=lambda touch: (touch.stretch, touch.edge))


def _of_surface(line: Floats, tree: Tree, radius: float) -> list[Touch]:
    found = segment_distance(tree, line[:-1], line[1:])
    return [
        Touch(float(found.distance[i]), found.on_query[i], found.on_mesh[i], int(i), int(face))
        for i, face in enumerate(found.face)
        if found.distance[i] <= radius
    ]


def _of_edge(line: Floats, i: int, p: Floats, q: Floats) -> Touch:
    n = len(line) - 1
    distance = segment_pair_distance(line[:-1], line[1:], np.tile(p, (n, 1)), np.tile(q, (n, 1)))
    k = int(np.argmin(distance))
    x, y = nearest_points(line[k], line[k + 1], p, q)
    return Touch(float(distance[k]), x, y, k, i)


def nearest_points(a: Floats, b: Floats, p: Floats, q: Floats) -> tuple[Floats, Floats]:
    """Return nearest points of the segments a b and p q, shape (3,) each, m.

    Either inside both, or at an end of one: all five places are tried.
    """
    u, v = b - a, q - p
    system = np.array([[u @ u, -u @ v], [u @ v, -v @ v]])
    pairs = [_onto(a, p, v), _onto(b, p, v)]
    pairs += [_onto(p, a, u)[::-1], _onto(q, a, u)[::-1]]
    if abs(np.linalg.det(system)) > 1e-12 * (u @ u) * (v @ v):
        s, t = np.linalg.solve(system, [(p - a) @ u, (p - a) @ v])
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            pairs.append((a + s * u, p + t * v))
    return min(pairs, key=lambda pair: float(np.linalg.norm(pair[0] - pair[1])))


def _onto(x: Floats, p: Floats, v: Floats) -> tuple[Floats, Floats]:
    vv = float(v @ v)
    t = min(max(float((x - p) @ v) / vv, 0.0), 1.0) if vv > 0.0 else 0.0
    return x, p + t * v
