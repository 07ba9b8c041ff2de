"""Facets round capsules and boxes: outside of what they stand for, by a known excess."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import Tree, build

Array = NDArray[np.float64]

SIDES = 32
RINGS = 8
"""Facets round a capsule, and rings of them over each of its round ends."""


def capsule_facets(capsule: Array) -> tuple[Array, float]:
    """Return facets that hold a capsule, and how far they stand outside it at most.

    Parameters
    ----------
    capsule : ndarray, shape (7,), m
        Two ends of the axis, which may coincide, and the radius.

    Returns
    -------
    triangles : ndarray, shape (n, 3, 3), m
        Corners anticlockwise seen from outside.
    excess : float, m

    Notes
    -----
    Corners lie on a larger sphere, ``1 / (cos(pi / SIDES) cos(pi / (4 RINGS)))`` times the
    radius: a facet between two meridians and two rings comes nearest to the axis in its middle.

    Examples
    --------
    >>> triangles, excess = capsule_facets(np.array([0, 0, 0, 0, 0, 1, 0.3]))
    >>> bool(0.3 <= triangles[:, :, 0].max() <= 0.3 + excess)
    True
    """
    p, q, radius = capsule[:3], capsule[3:6], float(capsule[6])
    length = float(np.linalg.norm(q - p))
    axis = (q - p) / length if length > 0.0 else np.array([0.0, 0.0, 1.0])
    across = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    across /= np.linalg.norm(across)
    aside = np.cross(axis, across)
    scale = 1.0 / (math.cos(math.pi / SIDES) * math.cos(math.pi / (4 * RINGS)))
    outer = radius * scale
    turn = 2.0 * math.pi * np.arange(SIDES) / SIDES
    circle = np.outer(np.cos(turn), across) + np.outer(np.sin(turn), aside)
    rise = 0.5 * math.pi * np.arange(RINGS) / RINGS
    rings = [
        end + side * outer * math.sin(up) * axis + outer * math.cos(up) * circle
        for end, side, ups in ((p, -1.0, rise[::-1]), (q, 1.0, rise))
        for up in ups
    ]
    if length == 0.0:
        del rings[RINGS]
    pieces = []
    for low, high in pairwise(rings):
        low_next, high_next = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
        pieces += [np.stack([low, low_next, high_next], 1), np.stack([low, high_next, high], 1)]
    after = np.roll(rings[0], -1, axis=0)
    pieces.append(np.stack([np.broadcast_to(p - outer * axis, after.shape), after, rings[0]], 1))
    after = np.roll(rings[-1], -1, axis=0)
    pieces.append(np.stack([np.broadcast_to(q + outer * axis, after.shape), rings[-1], after], 1))
    return np.concatenate(pieces), outer - radius


def box_facets(low: Array, high: Array) -> Array:
    """Return the facets of a box from its lowest to its highest corner, shape (12, 3, 3), m."""
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)])
    places = low + corners * (high - low)
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = [face for a, b, c, d in quads for face in ((a, b, c), (a, c, d))]
    return np.asarray(places[np.array(faces)])


def placed(pose: Array, triangles: Array) -> Array:
    """Return facets in another frame, turned outside out again where the pose mirrors."""
    world = triangles @ pose[:3, :3].T + pose[:3, 3]
    return world[:, ::-1] if np.linalg.det(pose[:3, :3]) < 0.0 else world


@dataclass(frozen=True, eq=False)
class KeptTree(Tree):
    """A tree that keeps its bounds: what is moved is asked for them at every pose."""

    @cached_property
    def bounds(self) -> Array:
        """Lowest and highest corner, shape (2, 3), m."""
        corners = self.tri.reshape(-1, 3)
        return np.array([corners.min(axis=0), corners.max(axis=0)])


def kept_tree(triangles: ArrayLike) -> KeptTree:
    """Return the search tree of a set of triangles, as `reach.geometry.build` makes it."""
    tree = build(triangles)
    return KeptTree(tree.tri, tree.box, tree.link, tree.face)
