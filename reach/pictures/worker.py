"""The worker as surfaces: suited body, arm that works, tool, boots and what holds them."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.geometry import pose_of, rotation_x, rotation_y, rotation_z, transform_points
from reach.model.suit import Suit
from reach.pictures.palette import (
    ARM,
    BACKPACK,
    BOOT,
    HELMET,
    IDLE_ARM,
    LEG,
    RESTRAINT,
    SUIT,
    TOOL,
    VISOR,
)
from reach.pictures.shown import Shown
from reach.pictures.surface import Surface, box, capsule, joined, painted, rod
from reach.site import Place, Situation

Array = NDArray[np.float64]

COLOURS = {
    "left leg": LEG,
    "right leg": LEG,
    "backpack": BACKPACK,
    "helmet": HELMET,
    "head": ARM,
    "idle upper arm": IDLE_ARM,
    "idle forearm": IDLE_ARM,
    "upper arm": ARM,
    "forearm": ARM,
    "hand": BOOT,
    "tool": TOOL,
}
"""By name of the part; anything else is suit."""

_VISOR, _VISOR_LIFT = math.radians(62.0), 0.003
_BOOT = (0.29, 0.115, 0.10)
_PLATE = (0.42, 0.40, 0.025)
_STANCHION = 0.022
_SHIN = 0.85
"""Radius of a boot's shaft, as a share of the leg's."""
_TURNS = {"x": rotation_x, "y": rotation_y, "z": rotation_z}


def body_of(shown: Shown) -> Surface:
    """Return trunk, head, backpack, legs and idle arms."""
    parts = []
    for row, name in zip(shown.capsules[: shown.n_own], shown.names, strict=False):
        part = capsule(row[:3], row[3:6], row[6], COLOURS.get(name, SUIT))
        parts.append(part)
        if name == "helmet":
            parts.append(_visor(row, shown.torso))
    return joined(parts)


def arm_of(shown: Shown) -> Surface | None:
    """Return the arm that works with its hand; None when nothing is turned."""
    return _rest(shown, is_tool=False)


def tool_of(shown: Shown, situation: Situation) -> Surface | None:
    """Return the tool with its shaft up to the tip; None when nothing is turned."""
    envelope = _rest(shown, is_tool=True)
    held, head = situation.held, situation.head
    if shown.tip is None or held is None or head is None:
        return envelope
    if held.record.kind == "hand":
        return envelope
    # Also when out of reach the tool is drawn pointing as it should.
    shaft = rod(shown.tip, shown.tip + held.shaft_length * head.axis, held.shaft_radius, TOOL)
    return joined([shaft] if envelope is None else [envelope, shaft])


def boots_of(situation: Situation) -> Surface:
    """Return both boots and, for a foot restraint, plate and stanchion down to the socket."""
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    pose = place.world_from_boots
    parts = []
    for side in (-0.5, 0.5):
        at = np.array([0.04, side * situation.suit.stance, _BOOT[2] / 2.0])
        parts.append(box(pose @ pose_of(np.eye(3), at), _BOOT, BOOT))
        parts.append(_shin(pose, situation.suit, side))
    if place.restraint.kind == "foot restraint":
        under = np.array([0.03, 0.0, -_PLATE[2] / 2.0])
        parts.append(box(pose @ pose_of(np.eye(3), under), _PLATE, RESTRAINT))
        parts += _stanchion(place)
    return joined(parts)


def _shin(pose: Array, suit: Suit, side: float) -> Surface:
    """Return the shaft of a boot, from the sole up into the leg."""
    ends = [[0.0, side * suit.stance, z] for z in (_BOOT[2], suit.boot_height + suit.leg_radius)]
    low, high = transform_points(pose, np.array(ends))
    return capsule(low, high, _SHIN * suit.leg_radius, BOOT)


def stanchion_points(place: Place) -> list[Array]:
    """Return where the links of a restraint meet, from the socket to the boot plate, m, world."""
    if place.world_from_socket is None or place.setting is None:
        return []
    pose = place.world_from_socket
    points = [pose[:3, 3]]
    for link in place.restraint.chain:
        if link.shift is not None:
            pose = pose @ pose_of(np.eye(3), np.asarray(link.shift, float))
            points.append(pose[:3, 3])
        else:
            assert link.turn is not None
            turn = _TURNS[link.turn](place.setting[link.name])
            pose = pose @ pose_of(turn, np.zeros(3))
    return points


def _stanchion(place: Place) -> list[Surface]:
    points = stanchion_points(place)
    links = [
        capsule(a, b, _STANCHION, RESTRAINT)
        for a, b in pairwise(points)
        if np.linalg.norm(b - a) > 1e-6
    ]
    if place.world_from_socket is not None:
        axis = place.world_from_socket[:3, 2]
        at = place.world_from_socket[:3, 3]
        links.append(rod(at - 0.03 * axis, at + 0.05 * axis, 2.0 * _STANCHION, RESTRAINT))
    return links


def _rest(shown: Shown, is_tool: bool) -> Surface | None:
    rows = [
        (row, name)
        for row, name in zip(shown.capsules, shown.names, strict=True)
        if (name == "tool") is is_tool
    ][0 if is_tool else shown.n_own :]
    parts = [capsule(row[:3], row[3:6], row[6], COLOURS.get(name, SUIT)) for row, name in rows]
    return joined(parts) if parts else None


def _visor(row: Array, torso: Array) -> Surface:
    """Return the part of a helmet that is looked through: a cap that lies on its capsule."""
    lift = np.linspace(0.0, _VISOR, 12)
    turn = 2.0 * np.pi * np.arange(48) / 48
    ahead = np.repeat(np.cos(lift), 48)[:, None] * torso[:, 0]
    round_ = np.outer(np.cos(turn), torso[:, 1]) + np.outer(np.sin(turn), torso[:, 2])
    normals = ahead + (np.sin(lift)[:, None, None] * round_).reshape(-1, 3)
    is_high = (normals @ (row[3:6] - row[:3]) > 0.0)[:, None]
    points = np.where(is_high, row[3:6], row[:3]) + (row[6] + _VISOR_LIFT) * normals
    i = (np.arange(11)[:, None] * 48 + np.arange(48)).ravel()
    j = (np.arange(11)[:, None] * 48 + (np.arange(48) + 1) % 48).ravel()
    faces = np.concatenate([np.stack([i, i + 48, j + 48], 1), np.stack([i, j + 48, j], 1)])
    return painted(points, normals, faces, VISOR)
