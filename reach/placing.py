"""Poses chained: where frames, sockets, boots, heads and all structure are in the world."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.geometry import (
    frame_from_axes,
    pose_of,
    rotation_x,
    rotation_y,
    rotation_z,
    transform_directions,
    transform_points,
)
from reach.legs import placed_pose
from reach.model.hardware import Restraint
from reach.model.procedure import Drive
from reach.model.scene import Scene, Socket, Station
from reach.model.shapes import Placed, Shaped
from reach.site import Head, Held, Place, Surroundings
from reach.solids import convex_parts, tessellation_error, triangles_of

NOTHING = np.full((1, 3, 3), 1e6)
"""What a world without solids is searched for: one point, a thousand kilometres away (m)."""

_ABOUT = {"x": rotation_x, "y": rotation_y, "z": rotation_z}


def frames_of(scene: Scene, placed: dict[str, str]) -> dict[str, NDArray[np.float64]]:
    """Return world_from_name of the world, every frame, solid and payload."""
    records: dict[str, Placed] = {**scene.frames, **scene.solids}
    for name, payload in scene.payloads.items():
        chosen = placed.get(name) or next(iter(payload.poses))
        records[name] = payload.poses[chosen]
    world_from: dict[str, NDArray[np.float64]] = {"world": np.eye(4)}

    def chain(name: str) -> NDArray[np.float64]:
        if name not in world_from:
            world_from[name] = chain(records[name].frame) @ placed_pose(records[name])
        return world_from[name]

    for name in records:
        chain(name)
    return world_from


def boots_from_setting(restraint: Restraint, setting: dict[str, float]) -> NDArray[np.float64]:
    """Return socket_from_boots of a restraint at joint angles (rad), shape (4, 4)."""
    pose = np.eye(4)
    for link in restraint.chain:
        if link.shift is not None:
            pose = pose @ pose_of(np.eye(3), np.asarray(link.shift, float))
        else:
            assert link.turn is not None
            pose = pose @ pose_of(_ABOUT[link.turn](setting[link.name]), np.zeros(3))
    return pose


def socket_pose(socket: Socket, world_from: dict[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return world_from_socket: z the outward axis, x the clocking zero made square to it."""
    frame = frame_from_axes(np.asarray(socket.axis), np.asarray(socket.zero))
    return world_from[socket.frame] @ pose_of(frame, np.asarray(socket.at, float))


def station_pose(
    station: Station, world_from: dict[str, NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Return world_from_boots of a station: z the sole normal, x the toes."""
    frame = frame_from_axes(np.asarray(station.up), np.asarray(station.toes))
    return world_from[station.frame] @ pose_of(frame, np.asarray(station.at, float))


def surroundings_of(
    scene: Scene, world_from: dict[str, NDArray[np.float64]], meshes: dict[str, NDArray[np.float64]]
) -> Surroundings:
    """Return every solid and hazard as triangles in the world, with search trees."""
    triangles: list[NDArray[np.float64]] = [np.empty((0, 3, 3))]
    solid_of: list[NDArray[np.int64]] = [np.empty(0, np.int64)]
    part_of: list[NDArray[np.int64]] = [np.empty(0, np.int64)]
    parts: list[NDArray[np.float64]] = []
    names = tuple(scene.solids)
    errors, excess = np.zeros(len(names)), 0.0
    for i, (name, solid) in enumerate(scene.solids.items()):
        errors[i] = tessellation_error(solid)
        for piece, convex in _pieces(solid, meshes.get(name)):
            world = _moved(world_from[name], piece)
            triangles.append(world)
            solid_of.append(np.full(len(world), i))
            part_of.append(np.full(len(world), len(parts) if convex else -1))
            if convex:
                parts.append(world)
            else:
                excess = max(excess, float(errors[i]))
    hazards = []
    for name, hazard in scene.hazards.items():
        world_from_hazard = world_from[hazard.frame] @ placed_pose(hazard)
        shape = meshes[name] if name in meshes else triangles_of(hazard)
        stand_off = hazard.stand_off + tessellation_error(hazard)
        hazards.append((name, hazard.kind, _moved(world_from_hazard, shape), stand_off))
    return Surroundings(
        triangles=np.concatenate(triangles) if names else NOTHING,
        solid_of=np.concatenate(solid_of),
        part_of=np.concatenate(part_of),
        names=names,
        errors=errors,
        excess=excess,
        parts=tuple(parts),
        shapes=tuple(hazards),
        world_from=world_from,
    )


def _pieces(
    solid: Shaped, mesh: NDArray[np.float64] | None
) -> list[tuple[NDArray[np.float64], bool]]:
    if mesh is not None:
        return [(mesh, False)]
    convex = convex_parts(solid)
    if convex:
        return [(piece, True) for piece in convex]
    return [(triangles_of(solid), False)]


def _moved(pose: NDArray[np.float64], triangles: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.ascontiguousarray(transform_points(pose, triangles.reshape(-1, 3)).reshape(-1, 3, 3))


def head_of(
    site_scene: Scene, world_from: dict[str, NDArray[np.float64]], name: str, default_radius: float
) -> Head:
    """Return a fastener in the world."""
    record = site_scene.fasteners[name]
    pose = world_from[record.frame]
    return Head(
        name=name,
        point=transform_points(pose, np.asarray(record.at, float)[None])[0],
        axis=transform_directions(pose, np.asarray(record.axis)[None])[0],
        radius=default_radius if record.head_radius is None else record.head_radius,
        record=record,
    )


def held_of(scene: Scene, drive: Drive) -> Held:
    """Return the tool of a drive action with its bit and extension fitted."""
    tool = scene.tools[_piece(scene, drive.tool)]
    axis = np.asarray(tool.axis)
    length, radius, words = tool.shaft_length, tool.shaft, [drive.tool]
    bit_head = None
    added = 0.0
    if drive.extension:
        bar = scene.extensions[_piece(scene, drive.extension)]
        added += bar.length
        radius = max(radius, bar.radius)
        words.append(drive.extension)
    if drive.bit:
        bit = scene.bits[_piece(scene, drive.bit)]
        added += bit.length
        radius = max(radius, bit.radius)
        bit_head = bit.head
        words.append(drive.bit)
    return Held(
        name=drive.tool,
        record=tool,
        tip=np.asarray(tool.tip, float) + added * axis,
        axis=axis,
        shaft_length=length + added,
        shaft_radius=radius,
        bit_head=bit_head,
        title=" + ".join(words),
    )


def _piece(scene: Scene, name: str) -> str:
    """Return what a name stands for: the kind of an item, or the name itself."""
    return scene.items[name].kind if name in scene.items else name


def place_of(
    scene: Scene,
    world_from: dict[str, NDArray[np.float64]],
    where: str,
    restraint_name: str | None,
    setting: dict[str, Any] | None,
) -> Place:
    """Return the place a step works from; a blank setting leaves the boots unplaced.

    Beside sockets and stations ``where`` may be any pose of boots in ``world_from``.
    """
    if where in scene.stations:
        station = scene.stations[where]
        name = restraint_name or station.restraint
        restraint = _restraint(scene, name)
        boots = station_pose(station, world_from)
        return Place(where, name, restraint, boots, None, {}, "")
    name = restraint_name or ""
    restraint = _restraint(scene, name)
    if where not in scene.sockets:
        return Place(where, name, restraint, world_from[where], None, {}, "")
    world_from_socket = socket_pose(scene.sockets[where], world_from)
    if setting is None and restraint.joints:
        return Place(where, name, restraint, None, world_from_socket, None, "blank")
    angles = setting_angles(restraint, setting or {})
    boots = world_from_socket @ boots_from_setting(restraint, angles)
    return Place(where, name, restraint, boots, world_from_socket, angles, shown(restraint, angles))


def _restraint(scene: Scene, name: str) -> Restraint:
    return scene.restraints[_piece(scene, name)]


def setting_angles(restraint: Restraint, setting: dict[str, Any]) -> dict[str, float]:
    """Return joint angles (rad) of a setting as written: detent numbers or angles."""
    angles = {}
    for joint in restraint.joints:
        value = setting[joint.name]
        angles[joint.name] = joint.stops[int(value)] if joint.numbered else float(value)
    return angles


def shown(restraint: Restraint, angles: dict[str, float]) -> str:
    """Return a setting in words: ``clocking 1, pitch +30 deg``."""
    words = []
    for joint in restraint.joints:
        angle = angles[joint.name]
        if joint.numbered:
            stops = np.asarray(joint.stops)
            words.append(f"{joint.name} {int(np.argmin(np.abs(stops - angle)))}")
        else:
            words.append(f"{joint.name} {np.degrees(angle) + 0.0:+.4g} deg")
    return ", ".join(words)
