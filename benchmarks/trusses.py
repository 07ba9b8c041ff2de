"""Lattice trusses of tubes to measure on: closed shells that overlap, as CAD exports have them.

A truss is a box girder of square section along x.  Chords, battens and
diagonals are separate closed tubes; a box of equipment sits inside every second
bay, with a handrail over it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import trimesh
from numpy.typing import ArrayLike, NDArray

SEED = 7


@dataclass(frozen=True)
class Truss:
    """How long and how finely meshed a truss is; lengths in metres."""

    n_bays: int
    n_sides: int
    n_rings: int
    n_splits: int
    bay: float = 2.0
    width: float = 2.0
    chord: float = 0.050
    batten: float = 0.035
    diagonal: float = 0.030
    rail: float = 0.016


TRUSSES = {
    "5k": Truss(n_bays=3, n_sides=15, n_rings=3, n_splits=1),
    "52k": Truss(n_bays=12, n_sides=24, n_rings=6, n_splits=2),
    "454k": Truss(n_bays=12, n_sides=48, n_rings=30, n_splits=3),
}
"""5,088, 51,888 and 453,984 triangles."""


def tube(start: ArrayLike, end: ArrayLike, radius: float, n_sides: int, n_rings: int) -> NDArray:
    """Return a closed tube between two points, shape (n, 3, 3), m, normals outward."""
    foot, axis = np.asarray(start, float), np.subtract(end, start)
    z = axis / np.linalg.norm(axis)
    x = np.cross(z, np.eye(3)[np.argmin(np.abs(z))])
    x /= np.linalg.norm(x)
    turn = np.linspace(0.0, 2.0 * np.pi, n_sides + 1)[:, None]
    turn[-1] = 0.0
    circle = radius * (np.cos(turn) * x + np.sin(turn) * np.cross(z, x))
    rings = foot + np.linspace(0.0, 1.0, n_rings + 1)[:, None, None] * axis + circle
    low, high = rings[:-1], rings[1:]
    here, there = np.s_[:, :-1], np.s_[:, 1:]
    wall = [
        np.stack([low[here], low[there], high[there]], axis=2),
        np.stack([low[here], high[there], high[here]], axis=2),
    ]
    bottom, top = rings[0], rings[-1]
    caps = [
        np.stack([np.broadcast_to(foot, bottom[1:].shape), bottom[1:], bottom[:-1]], axis=1),
        np.stack([np.broadcast_to(foot + axis, top[1:].shape), top[:-1], top[1:]], axis=1),
    ]
    return np.concatenate([part.reshape(-1, 3, 3) for part in wall + caps])


def _members(truss: Truss) -> Iterator[tuple[NDArray, NDArray, float]]:
    half = truss.width / 2.0
    square = half * np.array([[0, -1, -1], [0, 1, -1], [0, 1, 1], [0, -1, 1]])
    for station in range(truss.n_bays + 1):
        here = np.add(square, [station * truss.bay, 0.0, 0.0])
        there = np.add(here, [truss.bay, 0.0, 0.0])
        for k in range(4):
            yield here[k], here[k - 1], truss.batten
            if station < truss.n_bays:
                yield here[k], there[k], truss.chord
                low, high = (k, k - 1) if (station + k) % 2 else (k - 1, k)
                yield here[low], there[high], truss.diagonal


def _equipment(truss: Truss) -> Iterator[NDArray]:
    rng = np.random.default_rng(SEED)
    for station in range(0, truss.n_bays, 2):
        crate = trimesh.creation.box(extents=rng.uniform(0.5, 1.1, 3))
        for _ in range(truss.n_splits):
            crate = crate.subdivide()
        middle = [(station + 0.5) * truss.bay, *rng.uniform(-0.3, 0.3, 2)]
        yield np.asarray(crate.triangles) + middle
        y, z = rng.uniform(-0.6, 0.6), truss.width / 2.0 + 0.12
        ends = [[(station + s) * truss.bay, y, z] for s in (0.15, 0.85)]
        yield tube(*ends, truss.rail, max(12, truss.n_sides // 2), truss.n_rings)


def truss_triangles(name: str) -> NDArray:
    """Return the triangles of a named truss, shape (n, 3, 3), m."""
    truss = TRUSSES[name]
    parts = [tube(p, q, r, truss.n_sides, truss.n_rings) for p, q, r in _members(truss)]
    return np.concatenate([*parts, *_equipment(truss)])


def payload_triangles() -> NDArray:
    """Return an open frame of 1.66 x 1.06 x 1.45 m with a tank, a plate, a mast and a ring."""
    ends = np.array([[x, y, z] for x in (-0.8, 0.8) for y in (-0.5, 0.5) for z in (-0.4, 0.4)])
    parts = [
        tube(p, q, 0.03, 16, 2)
        for i, p in enumerate(ends)
        for q in ends[i + 1 :]
        if (p != q).sum() == 1
    ]
    tank = trimesh.creation.icosphere(subdivisions=2, radius=0.3)
    plate = trimesh.creation.box(extents=(0.5, 0.7, 0.05)).subdivide().subdivide()
    ring = trimesh.creation.torus(0.25, 0.02, major_sections=24, minor_sections=8)
    parts += [
        np.add(tank.triangles, [0.3, 0.0, 0.0]),
        np.add(plate.triangles, [-0.45, 0.0, 0.1]),
        tube([0.0, 0.0, 0.4], [0.0, 0.1, 1.0], 0.025, 16, 3),
        np.add(ring.triangles, [0.0, 0.1, 1.0]),
    ]
    return np.concatenate(parts)


def vertices_and_faces(triangles: NDArray) -> tuple[NDArray, NDArray]:
    """Return the same surface as shared vertices (v, 3) and faces (n, 3)."""
    vertices, index = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    return vertices, index.reshape(-1, 3).astype(np.int64)
