"""What stands round a worksite as surfaces: structure with haze, rails, sockets, fasteners."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, transform_directions, transform_points
from reach.model.scene import Scene
from reach.pictures.palette import (
    FAR_STRUCTURE,
    FASTENER,
    HANDRAIL,
    HAZARD,
    INK,
    OTHER_FASTENER,
    RESTRAINT,
    STRUCTURE,
    rgb,
)
from reach.pictures.surface import Surface, disc, joined, painted, plain_mesh, rod
from reach.placing import socket_pose
from reach.site import Head, Site, Situation, Surroundings

Array = NDArray[np.float64]

NEAR, FAR = 2.2, 6.0
"""Structure nearer than this is drawn in full, farther than that it fades to haze, m."""

LEFT_OUT = 12.0
"""Structure farther than this is not drawn, m."""

THINGS_WITHIN = 3.5
"""Rails, sockets and other fasteners within this are drawn, m."""


FOREGROUND = 0.7
"""Share of the way from the viewer to the worksite that rails are kept out of."""

HAZARDS_WITHIN = 4.0
"""Hazards within this of the boots are drawn and named, m."""


@dataclass(frozen=True, eq=False, slots=True)
class Structure:
    """All structure of one placement of the payloads, with normals that keep sharp edges.

    Attributes
    ----------
    points, normals : ndarray, shape (n, 3), m, world
    faces : ndarray of int64, shape (m, 3)
    pieces : ndarray of int64, shape (m,)
        Convex piece of each face, or one less than minus its solid where none is known.
    """

    points: Array
    normals: Array
    faces: NDArray[np.int64]
    pieces: NDArray[np.int64]


def structure_of(around: Surroundings) -> Structure:
    """Return the structure ready to draw."""
    corners = np.empty((len(around.tree.face), 3, 3))
    corners[around.tree.face] = around.tree.tri.reshape(-1, 3, 3)
    faces = np.arange(3 * len(corners)).reshape(-1, 3)
    mesh = plain_mesh(corners.reshape(-1, 3), faces)
    mesh.cell_data["row"] = np.arange(len(faces))
    mesh = mesh.clean(tolerance=0.0)
    mesh = mesh.compute_normals(
        cell_normals=False,
        split_vertices=True,
        feature_angle=40.0,
        consistent_normals=False,
        auto_orient_normals=False,
    )
    row = np.asarray(mesh.cell_data["row"])
    pieces = np.where(around.part_of >= 0, around.part_of, -1 - around.solid_of)
    return Structure(
        np.asarray(mesh.points, np.float64),
        np.asarray(mesh.point_data["Normals"], np.float64),
        np.asarray(mesh.regular_faces, np.int64),
        pieces[row],
    )


def piece_of(around: Surroundings, faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the pieces of triangles of the tree, as in `Structure.pieces`."""
    part = around.part_of[faces]
    return np.where(part >= 0, part, -1 - around.solid_of[faces])


def solid_surfaces(
    structure: Structure, centre: Array, veiled: NDArray[np.int64]
) -> tuple[Surface | None, Surface | None]:
    """Return the structure round a centre, hazy with distance, and the veiled pieces of it.

    Parameters
    ----------
    centre : ndarray, shape (3,), m, world
    veiled : ndarray of int64
        Pieces that are to be looked through.
    """
    distance = np.linalg.norm(structure.points - centre, axis=1)
    share = np.clip((distance - NEAR) / (FAR - NEAR), 0.0, 1.0)[:, None]
    near, far = np.asarray(rgb(STRUCTURE)), np.asarray(rgb(FAR_STRUCTURE))
    colours = np.asarray(np.rint((1.0 - share) * near + share * far), np.uint8)
    close = (distance[structure.faces] < LEFT_OUT).any(axis=1)
    is_veiled = np.isin(structure.pieces, veiled)
    return (
        _part(structure, colours, close & ~is_veiled),
        _part(structure, colours, close & is_veiled),
    )


def _part(
    structure: Structure, colours: NDArray[np.uint8], which: NDArray[np.bool_]
) -> Surface | None:
    if not which.any():
        return None
    used, faces = np.unique(structure.faces[which], return_inverse=True)
    return Surface(
        structure.points[used],
        structure.normals[used],
        faces.reshape(-1, 3),
        colours[used],
    )


def things_near(
    site: Site, situation: Situation, centre: Array, viewer: Array | None = None
) -> Surface | None:
    """Return rails, sockets and other fasteners near a centre, m, world.

    Rails that stand close before a ``viewer`` outside are left out: they would fill the picture.
    """
    scene, head = site.scene, situation.head
    world_from = site.world_from
    parts: list[Surface] = []
    moving = movable_frames(scene)
    for rail in scene.handrails.values():
        if rail.frame in moving or rail.condition == "gone":
            continue
        ends = transform_points(world_from[rail.frame], np.array([rail.start, rail.end]))
        if _distance(ends, centre) < THINGS_WITHIN and not _fills(ends, viewer, centre):
            parts.append(rod(ends[0], ends[1], rail.radius, HANDRAIL))
    for socket in scene.sockets.values():
        if socket.frame in moving:
            continue
        pose = socket_pose(socket, world_from)
        if np.linalg.norm(pose[:3, 3] - centre) < THINGS_WITHIN:
            at, axis = pose[:3, 3], pose[:3, 2]
            parts.append(rod(at - 0.03 * axis, at + 0.03 * axis, 0.04, RESTRAINT))
    for name, record in scene.fasteners.items():
        if record.frame in moving or (head is not None and name == head.name):
            continue
        pose = world_from[record.frame]
        at = transform_points(pose, np.array([record.at]))[0]
        if np.linalg.norm(at - centre) < THINGS_WITHIN:
            axis = transform_directions(pose, np.array([record.axis]))[0]
            parts.append(rod(at - 0.012 * axis, at + 0.004 * axis, 0.014, OTHER_FASTENER))
    return joined(parts) if parts else None


def _fills(ends: Array, viewer: Array | None, centre: Array) -> bool:
    if viewer is None:
        return False
    return _distance(ends, viewer) < FOREGROUND * float(np.linalg.norm(centre - viewer))


def movable_frames(scene: Scene) -> set[str]:
    """Return payloads with several poses and what rides on them: where they are is not known."""
    moving = {name for name, payload in scene.payloads.items() if len(payload.poses) > 1}
    records = {**scene.frames, **scene.solids}
    for _ in records:
        riding = {name for name, record in records.items() if record.frame in moving}
        if riding <= moving:
            break
        moving |= riding
    return moving


def hazards_near(around: Surroundings, stand: Array) -> list[tuple[str, str, Tree, float]]:
    """Return name, kind, tree and stand-off (m) of the hazards near a place to stand."""
    near = []
    for hazard in around.hazards:
        low, high = hazard[2].bounds
        gap = np.maximum(np.maximum(low - stand, stand - high), 0.0)
        if np.linalg.norm(gap) < HAZARDS_WITHIN:
            near.append(hazard)
    return near


def hazards_of(around: Surroundings, stand: Array) -> Surface | None:
    """Return the hazards near a place to stand as plain surfaces, to be drawn as veils."""
    corners = [tree.tri.reshape(-1, 3, 3) for _, _, tree, _ in hazards_near(around, stand)]
    if not corners:
        return None
    triangles = np.concatenate(corners)
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    faces = np.arange(3 * len(triangles)).reshape(-1, 3)
    return painted(triangles.reshape(-1, 3), np.repeat(normals, 3, axis=0), faces, HAZARD)


def fastener_of(head: Head) -> Surface:
    """Return a fastener's head with a halo round it, so that it is found at a glance."""
    lift = 0.002 * head.axis
    r = max(head.radius, 0.006)
    top = head.point + 0.004 * head.axis
    return joined(
        [
            rod(head.point - 0.6 * r * head.axis, top, r, FASTENER),
            disc(head.point + lift, head.axis, 2.0 * r, 3.4 * r, FASTENER),
            disc(head.point + 0.8 * lift, head.axis, 1.6 * r, 3.8 * r, INK),
        ]
    )


def _distance(ends: Iterable[Array], point: Array) -> float:
    a, b = ends
    along = b - a
    share = np.clip((point - a) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
    return float(np.linalg.norm(a + share * along - point))
