"""Shadows: from where a spot is surely hidden by a convex solid.

Seen from a spot outside it, a convex solid hides a convex region: the points behind its near
faces and inside the cone through its outline.  A ball inside all of these half-spaces sees
nothing of the spot, wherever in the ball the eye is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Shadows:
    """Half-spaces of shadow regions, one region a (spot, solid), sorted by spot.

    Attributes
    ----------
    planes : ndarray, shape (m, 4)
        Unit normal n and offset d, world; inside is n . x <= d.
    start, stop : ndarray, shape (k,)
        Rows of ``planes`` that bound region k.
    spot : ndarray, shape (k,)
        Which spot the region belongs to.
    """

    planes: Array
    start: NDArray[np.int64]
    stop: NDArray[np.int64]
    spot: NDArray[np.int64]


def shadow_planes(triangles: Array, spot: Array) -> Array | None:
    """Return the half-spaces (m, 4) of the region hidden from ``spot`` by a convex solid.

    None when the spot is inside the solid or touches it, or when the surface is not closed:
    then nothing is sure.

    Parameters
    ----------
    triangles : ndarray, shape (k, 3, 3), m
        A closed convex surface facing outward.
    spot : ndarray, shape (3,), m

    Examples
    --------
    A unit cube hides what is straight behind it:

    >>> import trimesh
    >>> cube = np.asarray(trimesh.creation.box().triangles)
    >>> planes = shadow_planes(cube, np.array([2.0, 0.0, 0.0]))
    >>> bool((planes[:, :3] @ [-3.0, 0.0, 0.0] <= planes[:, 3]).all())
    True
    >>> bool((planes[:, :3] @ [3.0, 0.0, 0.0] <= planes[:, 3]).all())
    False
    """
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    area = np.linalg.norm(normal, axis=1)
    keep = area > 1e-14
    triangles, normal = triangles[keep], normal[keep] / area[keep, None]
    offset = np.einsum("ij,ij->i", normal, triangles[:, 0])
    lit = normal @ spot - offset > 1e-9
    if not lit.any():
        return None
    centre = triangles.reshape(-1, 3).mean(axis=0)
    near = np.column_stack((normal[lit], offset[lit]))
    corners = np.round(triangles.reshape(-1, 3), 9)
    _, index = np.unique(corners, axis=0, return_inverse=True)
    index = index.reshape(-1, 3)
    edges: dict[tuple[int, int], list[tuple[bool, Array, Array]]] = {}
    for f, face in enumerate(index):
        for i in range(3):
            a, b = int(face[i]), int(face[(i + 1) % 3])
            ends = (triangles[f, i], triangles[f, (i + 1) % 3])
            edges.setdefault((min(a, b), max(a, b)), []).append((bool(lit[f]), *ends))
    if any(len(sides) != 2 for sides in edges.values()):
        return None
    outline = []
    for sides in edges.values():
        if sides[0][0] != sides[1][0]:
            _, start, end = sides[0]
            n = np.cross(start - spot, end - spot)
            size = float(np.linalg.norm(n))
            if size < 1e-12:
                return None
            n = n / size
            if n @ (centre - spot) > 0.0:
                n = -n
            outline.append([*n, n @ spot])
    if len(outline) < 3:
        return None
    return np.vstack((near, np.asarray(outline)))


def shadows_of(parts: list[Array], spots: Array) -> Shadows:
    """Return the shadow regions of convex ``parts`` for each of ``spots`` (n, 3), m, world."""
    planes: list[Array] = []
    start, stop, spot_of = [], [], []
    n = 0
    for i, spot in enumerate(spots):
        for part in parts:
            region = shadow_planes(part, spot)
            if region is None:
                continue
            planes.append(region)
            start.append(n)
            n += len(region)
            stop.append(n)
            spot_of.append(i)
    return Shadows(
        np.concatenate(planes) if planes else np.empty((0, 4)),
        np.asarray(start, np.int64),
        np.asarray(stop, np.int64),
        np.asarray(spot_of, np.int64),
    )
