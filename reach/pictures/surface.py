"""Plain surfaces with a colour and a normal at every point: capsules, boxes, rings, joined."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.pictures.palette import rgb

Array = NDArray[np.float64]

N_AROUND = 28
N_RINGS = 7
"""Facets round a capsule, and rings on each of its rounded ends."""


@dataclass(frozen=True, eq=False, slots=True)
class Surface:
    """Triangles; m, world.

    Attributes
    ----------
    points : ndarray, shape (n, 3), m
    normals : ndarray, shape (n, 3)
        Unit, outward.
    faces : ndarray of int64, shape (m, 3)
    colours : ndarray of uint8, shape (n, 3)
    """

    points: Array
    normals: Array
    faces: NDArray[np.int64]
    colours: NDArray[np.uint8]


def painted(points: Array, normals: Array, faces: NDArray[np.int64], colour: str) -> Surface:
    """Return a surface of one colour."""
    return Surface(
        points, normals, faces, np.tile(np.array(rgb(colour), np.uint8), (len(points), 1))
    )


def capsule(
    start: Array,
    end: Array,
    radius: float,
    colour: str,
    fine: tuple[int, int] = (N_AROUND, N_RINGS),
) -> Surface:
    """Return a capsule between two points (m), with so many facets round it and rings an end."""
    directions, is_end, faces = _capsule_net(*fine)
    along = end - start
    length = float(np.linalg.norm(along))
    z = along / length if length > 1e-9 else np.array([0.0, 0.0, 1.0])
    x, y = across(z)
    normals = directions @ np.stack([x, y, z])
    points = np.where(is_end[:, None], end, start) + radius * normals
    return painted(points, normals, faces, colour)


def box(pose: Array, size: tuple[float, float, float], colour: str) -> Surface:
    """Return a box centred on the origin of a pose, full sizes along its axes (m)."""
    points: list[Array] = []
    normals: list[Array] = []
    faces: list[list[int]] = []
    half = np.asarray(size) / 2.0
    for axis in range(3):
        for sign in (-1.0, 1.0):
            normal = np.zeros(3)
            normal[axis] = sign
            u, v = np.eye(3)[(axis + 1) % 3], np.eye(3)[(axis + 2) % 3]
            corners = [normal + a * u + b * v for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
            first = len(points)
            points += corners
            normals += [normal] * 4
            turned = [[0, 1, 2], [0, 2, 3]] if sign > 0 else [[0, 2, 1], [0, 3, 2]]
            faces += [[first + i for i in face] for face in turned]
    world = np.asarray(points) * half @ pose[:3, :3].T + pose[:3, 3]
    return painted(world, np.asarray(normals) @ pose[:3, :3].T, np.asarray(faces), colour)


def disc(centre: Array, axis: Array, inner: float, outer: float, colour: str) -> Surface:
    """Return a flat ring facing along an axis; ``inner`` 0 makes it a full disc (m)."""
    x, y = across(axis)
    turn = 2.0 * np.pi * np.arange(48) / 48
    circle = np.outer(np.cos(turn), x) + np.outer(np.sin(turn), y)
    points = np.concatenate([centre + inner * circle, centre + outer * circle])
    i = np.arange(48)
    j = (i + 1) % 48
    faces = np.concatenate([np.stack([i, i + 48, j + 48], 1), np.stack([i, j + 48, j], 1)])
    return painted(points, np.tile(axis, (96, 1)), faces, colour)


def rod(start: Array, end: Array, radius: float, colour: str) -> Surface:
    """Return a round rod with flat ends between two points (m)."""
    axis = (end - start) / np.linalg.norm(end - start)
    x, y = across(axis)
    turn = 2.0 * np.pi * np.arange(24) / 24
    circle = np.outer(np.cos(turn), x) + np.outer(np.sin(turn), y)
    points = np.concatenate([start + radius * circle, end + radius * circle])
    i = np.arange(24)
    j = (i + 1) % 24
    faces = np.concatenate([np.stack([i, j, j + 24], 1), np.stack([i, j + 24, i + 24], 1)])
    wall = painted(points, np.concatenate([circle, circle]), faces, colour)
    caps = [disc(end, axis, 0.0, radius, colour), disc(start, -axis, 0.0, radius, colour)]
    return joined([wall, *caps])


def joined(surfaces: Iterable[Surface]) -> Surface:
    """Return several surfaces as one."""
    parts = list(surfaces)
    starts = np.cumsum([0, *(len(part.points) for part in parts[:-1])])
    return Surface(
        np.concatenate([part.points for part in parts]),
        np.concatenate([part.normals for part in parts]),
        np.concatenate([part.faces + k for part, k in zip(parts, starts, strict=True)]),
        np.concatenate([part.colours for part in parts]),
    )


def mesh_of(surface: Surface) -> Any:
    """Return a surface as a mesh that can be drawn."""
    mesh = plain_mesh(surface.points.astype(np.float32), surface.faces)
    mesh.point_data["colour"] = surface.colours
    mesh.point_data.active_normals = surface.normals.astype(np.float32)
    return mesh


def plain_mesh(points: Any, faces: Any) -> Any:
    """Return points (n, 3) and triangles (m, 3) as a mesh without colours."""
    import pyvista as pv

    return pv.PolyData.from_regular_faces(points, faces)


def across(axis: Array) -> tuple[Array, Array]:
    """Return two unit vectors square to a unit vector; with it they are right-handed."""
    x = cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    x /= math.sqrt(float(x @ x))
    return x, cross(axis, x)


def cross(a: Array, b: Array) -> Array:
    """Return the cross product of two vectors; for single ones quicker than the general one."""
    return np.array(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )


@lru_cache(maxsize=4)
def _capsule_net(n_around: int, n_rings: int) -> tuple[Array, NDArray[np.bool_], NDArray[np.int64]]:
    """Return directions from the end centres, whether at the far end, and faces."""
    lift = np.linspace(-0.5 * np.pi, 0.0, n_rings + 1)
    lift = np.concatenate([lift, -lift[::-1]])
    is_end = np.repeat(np.arange(len(lift)) > n_rings, n_around)
    turn = 2.0 * np.pi * np.arange(n_around) / n_around
    flat = np.cos(lift)[:, None]
    directions = np.stack(
        [
            (flat * np.cos(turn)).ravel(),
            (flat * np.sin(turn)).ravel(),
            np.repeat(np.sin(lift), n_around),
        ],
        axis=1,
    )
    faces = []
    for k in range(len(lift) - 1):
        i = k * n_around + np.arange(n_around)
        j = k * n_around + (np.arange(n_around) + 1) % n_around
        faces += [np.stack([i, j, j + n_around], 1), np.stack([i, j + n_around, i + n_around], 1)]
    return directions, is_end, np.concatenate(faces)
