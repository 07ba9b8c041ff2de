"""Clearance of a tube round a polyline, the plain stand-in for what moves along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.distance import segment_distance
from reach.geometry.queries import points_of, values_of
from reach.geometry.tree import Floats, Tree
from reach.geometry.triangle import INF
from reach.geometry.winding import inside


@dataclass(frozen=True, eq=False)
class Tube:
    """Gap of each segment of a polyline, one row a segment.

    Attributes
    ----------
    gap : ndarray, shape (k - 1,), m
        Distance from the segment to the surface less the radius: ``-radius``
        where it crosses the surface, and minus the distance less the radius
        where all of it lies inside a solid.  ``nan`` where it is not finite.
    on_axis, on_mesh : ndarray, shape (k - 1, 3), m, world
        Witness points; ``nan`` where nothing lies closer than asked.
    face : ndarray of int64, shape (k - 1,)
        Row of the nearest triangle in what the tree was built from, or -1.
    inside : ndarray of bool, shape (k - 1,)
        Whether the whole segment lies inside a solid (winding number).
    """

    gap: Floats
    on_axis: Floats
    on_mesh: Floats
    face: NDArray[np.int64]
    inside: NDArray[np.bool_]


def tube_clearance(
    tree: Tree, points: ArrayLike, radius: ArrayLike, within: ArrayLike = INF
) -> Tube:
    """Return the exact gap between a tube round a polyline and the surface, segment by segment.

    Parameters
    ----------
    tree : Tree
    points : array_like, shape (k, 3), m, world
        Two at least; neighbours may coincide.
    radius : array_like, shape () or (k - 1,), m
    within : array_like, shape () or (k - 1,), m
        Segments outside that lie farther than this from the surface count as
        that far: the gap is then a lower bound without a witness.

    Returns
    -------
    tube : Tube
        ``tube.gap.min()`` is the clearance of the whole.  Exact but for
        rounding (subtract 1e-9 m for a bound).

    Raises
    ------
    ValueError
        If a shape does not fit, there are fewer than two points, or `radius` or
        `within` is negative or ``nan``.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> tube_clearance(tree, [[0.2, 0.2, 3.0], [0.2, 0.2, 1.0], [0.2, 0.2, 0.5]], 0.1).gap
    array([0.9, 0.4])
    """
    corners = points_of("points", points)
    if len(corners) < 2:
        raise ValueError(f"a polyline needs at least two points, found {len(corners)}")
    p, q = corners[:-1], corners[1:]
    n = len(p)
    radii, limit = values_of("radius", radius, n), values_of("within", within, n)
    middle = 0.5 * (p + q)
    deep = inside(tree, middle)
    near = segment_distance(tree, p, q, np.where(deep, INF, limit))
    deep &= near.distance > 0.0
    gap = np.where(deep, -near.distance, near.distance) - radii
    return Tube(gap, near.on_query, near.on_mesh, near.face, deep)
