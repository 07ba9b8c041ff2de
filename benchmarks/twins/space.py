"""Shapes and frames of small scenes, worked out apart: plain matrices, distances by coal.

Shapes are the exact ones (a cylinder is round), not the facets that the program looks at.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from typing import Any

import coal
import numpy as np

from benchmarks.twins.writing import Q


def turned(axis: Sequence[float], angle: float) -> Any:
    """Return the rotation by an angle about an axis, (3, 3), by Rodrigues' formula."""
    x, y, z = np.asarray(axis, float) / np.linalg.norm(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * (k @ k)


def any_shape(rng: random.Random) -> dict[str, Any]:
    """Return a box or a cylinder for a record of a scene."""
    if rng.random() < 0.6:
        return {"box": vector([rng.choice([0.01, 0.1, 0.4]) for _ in range(3)])}
    return {
        "cylinder": {
            "radius": Q(rng.choice([0.02, 0.1]), "length"),
            "height": Q(rng.choice([0.1, 1.0]), "length"), "sides": rng.choice([6, 16]),
        }
    }  # fmt: skip


def any_state_of_a_rail(rng: random.Random) -> dict[str, Any]:
    """Return what a rail may say of its state, mostly nothing."""
    said: dict[str, Any] = {}
    if rng.random() < 0.1:
        said["condition"] = rng.choice(["blocked", "no-touch", "gone"])
    if rng.random() < 0.1:
        said["rated"] = False
    if rng.random() < 0.15:
        said["rating"] = Q(rng.choice([500.0, 556.0, 600.0]), "force")
    return said


def pose(rotation: Any, at: Any) -> Any:
    """Return a 4 x 4 pose."""
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = rotation, at
    return out


def pose_of(record: Mapping[str, Any]) -> Any:
    """Return the pose of a written record in its frame: turns in the order written, then moved."""
    rotation = np.eye(3)
    for one in record.get("turn", ()):
        rotation = turned([float(v) for v in one["axis"]], float(one["angle"])) @ rotation
    return pose(rotation, [float(v) for v in record.get("at", (0, 0, 0))])


def world_from(scene: Mapping[str, Any], name: str, placed: Mapping[str, str] | None = None) -> Any:
    """Return the pose of a frame by name, frames chained; payloads in the poses given."""
    if name == "world":
        return np.eye(4)
    if name in scene.get("payloads", {}):
        poses = scene["payloads"][name]["poses"]
        record = poses[(placed or {}).get(name, next(iter(poses)))]
    else:
        record = scene.get("frames", {}).get(name) or scene["solids"][name]
    return world_from(scene, record.get("in", "world"), placed) @ pose_of(record)


def moved(a_from_b: Any, point: Any) -> Any:
    """Return a point of b in a."""
    return a_from_b[:3, :3] @ np.asarray([float(v) for v in point]) + a_from_b[:3, 3]


def vector(values: Any) -> list[Q]:
    """Return three lengths to be written."""
    return [Q(float(v), "length") for v in values]


def unit(v: Any) -> Any:
    """Return a vector of length 1."""
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)


def any_rotation(rng: random.Random) -> Any:
    """Return a rotation drawn evenly, as turns to be written and as a matrix."""
    axis = [rng.gauss(0, 1) for _ in range(3)]
    angle = rng.uniform(-math.pi, math.pi)
    return [{"axis": axis, "angle": Q(angle, "angle")}], turned(axis, angle)


def any_site(rng: random.Random) -> dict[str, Any]:
    """Return a frame turned any way, one time in three far from the origin."""
    turn, _ = any_rotation(rng)
    return {"at": vector([rng.uniform(-3, 3) + rng.choice([0, 0, 2000.0])] * 3), "turn": turn}


def solid_of(record: Mapping[str, Any], meshes: Mapping[str, Any], inner: bool = False) -> Any:
    """Return the coal shape of a written solid; ``inner``: what lies inside all facets of it."""
    if "box" in record:
        return coal.Box(*(float(v) for v in record["box"]))
    if "cylinder" in record:
        one = record["cylinder"]
        share = math.cos(math.pi / one["sides"]) if inner else 1.0
        return coal.Cylinder(share * float(one["radius"]), float(one["height"]))
    if "cone" in record:
        raise ValueError("cones are not used in these scenes")
    corners, faces = meshes[record["mesh"]["file"]]
    points, triangles = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for corner in corners:
        points.append(np.asarray(corner, float))
    for face in faces:
        triangles.append(coal.Triangle(*(int(i) for i in face)))
    shape = coal.BVHModelOBBRSS()
    shape.beginModel(len(faces), len(corners))
    shape.addSubModel(points, triangles)
    shape.endModel()
    return shape


def placed_shapes(
    scene: Mapping[str, Any],
    table: str,
    placed: Mapping[str, str] | None = None,
    inner: bool = False,
) -> dict[str, tuple[Any, Any]]:
    """Return name -> shape and its pose in the world."""
    meshes = scene.get("_meshes", {})
    return {
        name: (
            solid_of(one, meshes, inner),
            world_from(scene, one.get("in", "world"), placed) @ pose_of(one),
        )
        for name, one in scene.get(table, {}).items()
    }


def transform(world: Any) -> Any:
    """Return a pose as coal takes it."""
    return coal.Transform3s(world[:3, :3], world[:3, 3])


def capsule_pose(a: Any, b: Any) -> tuple[float, Any]:
    """Return length and pose of a capsule or a cylinder between two points."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    length = float(np.linalg.norm(b - a))
    if length < 1e-12:
        return 0.0, pose(np.eye(3), a)
    z = (b - a) / length
    x = np.cross(z, np.eye(3)[int(np.argmin(np.abs(z)))])
    x /= np.linalg.norm(x)
    return length, pose(np.stack([x, np.cross(z, x), z], axis=1), 0.5 * (a + b))


def apart(shape: Any, world: Any, a: Any, b: Any, radius: float) -> float:
    """Return the distance of a capsule from a shape, m: negative where they are in each other."""
    length, at = capsule_pose(a, b)
    thin = coal.Capsule(1e-6, length) if length > 0.0 else coal.Sphere(1e-6)
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    request.enable_signed_distance = True
    d = coal.distance(shape, transform(world), thin, transform(at), request, result)
    return float(d) + 1e-6 - radius


def overlap(shape: Any, world: Any, other: Any, at: Any) -> bool:
    """Return whether two shapes are in each other."""
    request, result = coal.CollisionRequest(), coal.CollisionResult()
    return bool(coal.collide(shape, transform(world), other, transform(at), request, result))


def hidden(shapes: Sequence[tuple[Any, Any]], eye: Any, spot: Any) -> bool:
    """Return whether a line of sight meets a shape: a thin capsule along it."""
    length, at = capsule_pose(eye, spot)
    line = coal.Capsule(1e-7, length)
    return any(overlap(shape, world, line, at) for shape, world in shapes)
