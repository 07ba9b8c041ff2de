"""Whether what touches would be free a hair beside it: rounding alone decides such a touch."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from reach.geometry import PathGap, Tree, path_gap, transform_points
from reach.payload.records import Part, Thing
from reach.payload.track import Run, Track

Array = NDArray[np.float64]

HAIR = 1e-5
"""How far a part is laid aside (m): far above rounding, far below what anybody measures."""


def grazes(track: Track, run: Run, part: Part, thing: Thing, found: PathGap) -> bool:
    """Return whether a part that touches a thing on a run is free of it all along if laid aside.

    Parameters
    ----------
    found : PathGap
        With contact.  Of two triangles that touch from outside a normal, or what is square to an
        edge of each, leads away: these are tried, by `HAIR`.  The run is proved free as a whole,
        so that what goes in deeper later on does not count as a touch.
    """
    gap = found.gap
    pose = track.pose_at(track.place(run.first + found.piece, gap.time))
    mine = transform_points(pose, _triangle(part.tree, gap.face_payload))
    for way in _ways(mine, _triangle(thing.tree, gap.face_scene)):
        aside = run.poses.copy()
        aside[:, :3, 3] += HAIR * way
        beside = path_gap(thing.tree, part.tree, aside, 0.1 * HAIR, HAIR, 0.5 * HAIR, run.about).gap
        if beside.low > 0.0:
            return True
    return False


def _triangle(tree: Tree, face: int) -> Array:
    """Return the corners of a triangle by its row in what a tree was built from, (3, 3), m."""
    row = int(np.flatnonzero(tree.face == face)[0])
    corners: Array = tree.tri.reshape(-1, 3, 3)[row]
    return corners


def _ways(one: Array, other: Array) -> Iterator[Array]:
    """Yield the directions in which two triangles that just touch can be parted."""
    edges = [np.roll(corners, -1, axis=0) - corners for corners in (one, other)]
    square = [np.cross(some[0], some[1]) for some in edges]
    square += [np.cross(a, b) for a in edges[0] for b in edges[1]]
    for way in square:
        length = float(np.linalg.norm(way))
        if length > 0.0:
            yield way / length
            yield -way / length
