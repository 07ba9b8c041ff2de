"""How far off hazards are to be kept, as shells round them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree
from reach.pictures.moving import is_hazard_near
from reach.pictures.palette import STAND_OFF
from reach.pictures.surface import Surface, joined, painted
from reach.site import Site, Surroundings

Array = NDArray[np.float64]


def stand_off_shells(site: Site, around: Surroundings, points: Array) -> Surface | None:
    """Return a shell at the stand-off round each hazard near points that has one.

    Faces are moved outward, so that at edges and corners the shell is a little farther off than
    what is asked there.
    """
    shells = [
        shell_of(tree, site.scene.hazards[name].stand_off)
        for name, _, tree, _ in around.hazards
        if site.scene.hazards[name].stand_off > 0.0 and is_hazard_near(tree, points)
    ]
    return joined(shells) if shells else None


def shell_of(tree: Tree, off: float) -> Surface:
    """Return a closed surface with its faces moved outward by so much, m."""
    triangles = tree.tri.reshape(-1, 3, 3)
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    points, index = np.unique(np.round(triangles.reshape(-1, 3), 6), axis=0, return_inverse=True)
    index = index.reshape(-1)
    moved = points.copy()
    for k in range(len(points)):
        round_it = normals[np.flatnonzero(index == k) // 3]
        unlike = np.unique(np.round(round_it, 6), axis=0)
        # The shift that brings every plane through this corner out by as much.
        moved[k] += np.linalg.lstsq(unlike, np.full(len(unlike), off), rcond=1e-3)[0]
    corners = moved[index].reshape(-1, 3, 3)
    faces = np.arange(3 * len(corners)).reshape(-1, 3)
    return painted(corners.reshape(-1, 3), np.repeat(normals, 3, axis=0), faces, STAND_OFF)
