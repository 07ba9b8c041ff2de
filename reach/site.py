"""The scene made computable: every name looked up, every pose chained, search trees built, once.

`resolve` turns a loaded scene and procedure into a `Site` and its `Situation` list;
checks see nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.geometry import (
    Tree,
    build,
    frame_from_axes,
    pose_of,
    rotation_about,
    rotation_x,
    rotation_y,
    rotation_z,
    transform_directions,
    transform_points,
)
from reach.model.hardware import Restraint, Tool
from reach.model.procedure import Action, Drive
from reach.model.scene import Fastener, Scene, Socket, Station
from reach.model.shapes import Placed, Shaped
from reach.model.suit import Suit
from reach.passage import Line, Parked, Passage
from reach.solids import convex_parts, tessellation_error, triangles_of
from reach.worker.body import Body
from reach.worker.crowd import Crowd

NOTHING = np.full((1, 3, 3), 1e6)
"""What a world without solids is searched for: one point, a thousand kilometres away (m)."""

_ABOUT = {"x": rotation_x, "y": rotation_y, "z": rotation_z}


@dataclass(frozen=True, eq=False, slots=True)
class Surroundings:
    """All structure for one placement of the payloads, in the world frame.

    Attributes
    ----------
    tree : Tree
        Over every triangle of every solid.
    solid_of : ndarray, shape (n,)
        Index into ``names`` for each triangle.
    part_of : ndarray, shape (n,)
        Index into ``parts`` for each triangle, -1 where its solid is not known convex.
    names : tuple of str
    errors : ndarray, shape (len(names),), m
        How far the true round surface may stand outside its facets.
    excess : float, m
        How far facets may stand outside the true surface: those across a round hole do.
    parts : tuple of ndarray, shape (k, 3, 3), m
        Convex pieces, outward-facing triangles.
    hazards : tuple of (name, kind, Tree, stand-off in m)
        Stand-offs reach from the facets, so the tessellation error is in them.
    world_from : dict of str -> ndarray, shape (4, 4)
        Pose of every frame, solid and payload.
    """

    tree: Tree
    solid_of: NDArray[np.int64]
    part_of: NDArray[np.int64]
    names: tuple[str, ...]
    errors: NDArray[np.float64]
    excess: float
    parts: tuple[NDArray[np.float64], ...]
    hazards: tuple[tuple[str, str, Tree, float], ...]
    world_from: dict[str, NDArray[np.float64]]

    @property
    def error(self) -> float:
        """Largest of the errors, m: distances to facets are good to this."""
        return float(self.errors.max(initial=0.0))


@dataclass(frozen=True, eq=False, slots=True)
class Head:
    """A fastener in the world: head centre, outward axis, radius (m) and its record."""

    name: str
    point: NDArray[np.float64]
    axis: NDArray[np.float64]
    radius: float
    record: Fastener


@dataclass(frozen=True, eq=False, slots=True)
class Held:
    """A tool with its bit and extension, in the hand frame: tip and axis, envelope."""

    name: str
    record: Tool
    tip: NDArray[np.float64]
    axis: NDArray[np.float64]
    shaft_length: float
    shaft_radius: float
    bit_head: str | None
    title: str


@dataclass(frozen=True, eq=False, slots=True)
class Place:
    """Where the worker stands: the boot plate in the world, or blank when it is not set.

    ``world_from_socket`` is there for sockets only, ``setting`` holds joint angles (rad).
    """

    name: str
    restraint_name: str
    restraint: Restraint
    world_from_boots: NDArray[np.float64] | None
    world_from_socket: NDArray[np.float64] | None
    setting: dict[str, float] | None
    shown: str


@dataclass(frozen=True, eq=False, slots=True)
class Situation:
    """One action of one step for one worker and body, every name resolved.

    ``sets_restraint`` when the step itself gives the setting of the restraint stood in.
    With a ``crowd`` it is also asked for each of its people, in the same suit and place.
    ``at`` names where the worker is, or comes to by a ``passage``; ``others`` where everyone
    else was left, as steps are written; ``line`` is the safety line worn, ``trail`` those that
    the same worker took off and left; ``start`` counts in s since the procedure's start and
    ``duration`` is that of the step, s.
    """

    step: str
    action: Action
    worker: str
    case: str
    body: Body
    suit: Suit
    own_hand: str
    place: Place | None
    head: Head | None
    held: Held | None
    surroundings: Surroundings
    wanted_torque: float | None = None
    sets_restraint: bool = False
    crowd: Crowd | None = None
    passage: Passage | None = None
    at: str = ""
    others: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, Line] = field(default_factory=dict)
    trail: tuple[Parked, ...] = ()
    start: float | None = None
    duration: float | None = None

    @property
    def line(self) -> Line | None:
        """The safety line worn by the worker, if one is known."""
        return self.lines.get(self.worker)


@dataclass(frozen=True, eq=False)
class Site:
    """A scene with its limits, frames and bodies; ``memo`` keeps what several checks share.

    ``asked`` holds every situation of the procedure: for fixes that mend more than one step.
    """

    scene: Scene
    limits: dict[str, Limit]
    world_from: dict[str, NDArray[np.float64]]
    memo: dict[Any, Any] = field(default_factory=dict)
    asked: tuple[Situation, ...] = ()

    def limit(self, name: str) -> Limit:
        """Return a limit in force."""
        return self.limits[name]


def placed_pose(record: Placed) -> NDArray[np.float64]:
    """Return parent_from_child of a placed record, shape (4, 4)."""
    rotation = np.eye(3)
    for turn in record.turn:
        rotation = rotation_about(np.asarray(turn.axis), turn.angle) @ rotation
    return pose_of(rotation, np.asarray(record.at, float))


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
            elif name not in meshes:
                excess = max(excess, float(errors[i]))
    hazards = []
    for name, hazard in scene.hazards.items():
        world_from_hazard = world_from[hazard.frame] @ placed_pose(hazard)
        shape = meshes[name] if name in meshes else triangles_of(hazard)
        tree = build(_moved(world_from_hazard, shape))
        stand_off = hazard.stand_off + tessellation_error(hazard)
        hazards.append((name, hazard.kind, tree, stand_off))
    return Surroundings(
        tree=build(np.concatenate(triangles) if names else NOTHING),
        solid_of=np.concatenate(solid_of),
        part_of=np.concatenate(part_of),
        names=names,
        errors=errors,
        excess=excess,
        parts=tuple(parts),
        hazards=tuple(hazards),
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
    """Return the place a step works from; a blank setting leaves the boots unplaced."""
    if where in scene.stations:
        station = scene.stations[where]
        name = restraint_name or station.restraint
        restraint = _restraint(scene, name)
        boots = station_pose(station, world_from)
        return Place(where, name, restraint, boots, None, {}, "")
    world_from_socket = socket_pose(scene.sockets[where], world_from)
    name = restraint_name or ""
    restraint = _restraint(scene, name)
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
