"""Places that paths of a payload are measured in: the demo, a wall with a slot, a thin plate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import trimesh

from reach.files.scene import load_scene
from reach.geometry import (
    build,
    inverse,
    pose_of,
    rotation_x,
    rotation_y,
    rotation_z,
    transform_points,
)
from reach.legs import placed_pose
from reach.paths import Cargo, Obstacle
from reach.placing import frames_of
from reach.solids import tessellation_error, triangles_of

BOOM = (3.2, 0.6, 0.6)


@dataclass(frozen=True, eq=False)
class Problem:
    """Obstacles, what moves, from where to where."""

    name: str
    obstacles: list[Obstacle]
    cargo: Cargo
    start: np.ndarray
    goal: np.ndarray


def box(extents, middle=(0.0, 0.0, 0.0)) -> np.ndarray:
    """Return the triangles of a box, m."""
    return np.asarray(trimesh.creation.box(extents=extents).triangles) + middle


def demo(clearance: float = 0.2) -> Problem:
    """Return the demo's boom with a rider's boots, from above its carrier to near its seat."""
    scene = load_scene("brackenfall").scene
    world_from = frames_of(scene, {})
    obstacles, parts, worst = [], [], 0.0
    payload_from_world = inverse(world_from["relay-boom"])
    for name, solid in scene.solids.items():
        placed = transform_points(world_from[name], triangles_of(solid))
        error = tessellation_error(solid)
        if solid.frame == "relay-boom":
            parts.append(transform_points(payload_from_world, placed))
            worst = max(worst, error)
        else:
            obstacles.append(Obstacle(name, build(placed), clearance + error))
    for name, hazard in scene.hazards.items():
        placed = transform_points(
            world_from[hazard.frame] @ placed_pose(hazard), triangles_of(hazard)
        )
        obstacles.append(
            Obstacle(name, build(placed), hazard.stand_off + tessellation_error(hazard))
        )
    boots = box((0.35, 0.3, 0.1), (-0.6, -1.4, -0.6))
    cargo = Cargo((build(np.concatenate(parts)), build(boots)), (worst, 0.0), np.zeros(3))
    start = pose_of(np.eye(3), (5.6, 0.0, 2.9))
    goal = pose_of(rotation_z(-np.pi / 2), (22.5, 3.6, 0.4))
    return Problem("carrier to seat", obstacles, cargo, start, goal)


def slotted_wall(width: float, height: float, thick: float = 0.1, size: float = 8.0) -> np.ndarray:
    """Return a wall across x round a slot `width` along y and `height` along z, m."""
    side, over = 0.5 * (size - width), 0.5 * (size - height)
    return np.concatenate(
        [box((thick, side, size), (0.0, s * 0.5 * (width + side), 0.0)) for s in (-1, 1)]
        + [box((thick, width, over), (0.0, 0.0, s * 0.5 * (height + over))) for s in (-1, 1)]
    )


def slot(height: float = 4.0, spare: float = 0.10, clearance: float = 0.02) -> Problem:
    """Return a boom to be taken through a slot a little wider, in a wall that stands askew."""
    askew = pose_of(rotation_z(0.35) @ rotation_x(0.2), (0.3, -0.2, 0.1))
    wall = transform_points(askew, slotted_wall(BOOM[1] + spare, height))
    cargo = Cargo((build(box(BOOM)),), (0.0,), np.zeros(3))
    start = pose_of(rotation_z(1.4) @ rotation_x(0.5), (-3.5, 0.5, 0.3))
    goal = pose_of(rotation_z(-1.2) @ rotation_y(0.6), (3.5, -0.5, -0.3))
    return Problem(
        f"slot {BOOM[1] + spare:g} x {height:g} m",
        [Obstacle("wall", build(wall), clearance)],
        cargo,
        start,
        goal,
    )


def shut_in(problem: Problem, half: float = 3.9) -> np.ndarray:
    """Return bounds inside the wall's outline: the way round it is closed."""
    return np.array([[-6.0, -half, -half], [6.0, half, half]]) * [1.0, 0.6, 0.6]
