"""Boots that turn out of a restraint: the standing body swept about the sole normal.

The sweep is covered, not sampled: between two angles looked at, no point of a capsule comes
nearer to anything than half the arc it runs through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import capsule_clearance, pose_of, rotation_z, transform_points
from reach.resting import Resting
from reach.site import Surroundings

Array = NDArray[np.float64]

SHARP = 0.002
"""The least room is known to this (m)."""

N_FIRST = 9
MOST_ANGLES = 2000
"""Angles looked at before the bound is left as it is."""


@dataclass(frozen=True, slots=True)
class Swept:
    """The least room of a standing body while it turns.

    Attributes
    ----------
    low, high : float, m
        Room beyond the clearance asked: proved for the whole turn, and seen at ``angle``.
    angle : float, rad
    part : int
        Which capsule it is that has the least room.
    """

    low: float
    high: float
    angle: float
    part: int


def turned_pose(rest: Resting, angle: float) -> Array:
    """Return world from boots with the boots turned by ``angle`` (rad) about the sole normal.

    Left-handed workers rest in a mirrored frame, in which a turn goes the other way.
    """
    pose = rest.world_from_boots
    way = 1.0 if np.linalg.det(pose[:3, :3]) > 0.0 else -1.0
    return np.asarray(pose @ pose_of(rotation_z(way * angle), np.zeros(3)), np.float64)


def swept_room(rest: Resting, around: Surroundings, twist: float) -> Swept:
    """Return the least room while the boots turn from 0 to ``twist`` (rad, toes left positive).

    Parameters
    ----------
    rest : Resting
        Its capsules turn with the boots; its floor is the clearance asked.
    around : Surroundings
        Structure, less its tessellation error, and hazards with their stand-off; no vents.
    """
    c = rest.capsules
    arm = np.maximum(np.hypot(c[:, 0], c[:, 1]), np.hypot(c[:, 3], c[:, 4]))
    angles = np.unique(np.linspace(0.0, twist, N_FIRST))
    rooms = _rooms(rest, around, angles)
    order = np.argsort(angles)
    angles, rooms = angles[order], rooms[order]
    while True:
        high = rooms.min()
        width = np.diff(angles)
        least = 0.5 * (rooms[1:] + rooms[:-1]) - 0.5 * width[:, None] * arm
        least = np.minimum(least, np.minimum(rooms[1:], rooms[:-1]))
        covered = least.min(axis=1, initial=np.inf)
        coarse = np.flatnonzero(covered < high - SHARP)
        if len(coarse) == 0 or len(angles) + len(coarse) > MOST_ANGLES:
            low = min(float(high), float(covered.min(initial=np.inf)))
            at, part = np.unravel_index(int(np.argmin(rooms)), rooms.shape)
            return Swept(low, float(high), float(angles[at]), int(part))
        middle = 0.5 * (angles[coarse] + angles[coarse + 1])
        angles = np.concatenate([angles, middle])
        rooms = np.concatenate([rooms, _rooms(rest, around, middle)])
        order = np.argsort(angles)
        angles, rooms = angles[order], rooms[order]


def _rooms(rest: Resting, around: Surroundings, angles: Array) -> Array:
    """Return the room of every capsule at every angle, shape (n_angles, n_capsules), m."""
    c, n = rest.capsules, len(angles)
    poses = [turned_pose(rest, float(angle)) for angle in angles]
    p = np.concatenate([transform_points(pose, c[:, :3]) for pose in poses])
    q = np.concatenate([transform_points(pose, c[:, 3:6]) for pose in poses])
    radius, floor = np.tile(c[:, 6], n), np.tile(rest.floor, n)
    room = np.asarray(capsule_clearance(around.tree, p, q, radius)) - floor - around.error
    for _, kind, tree, stand_off in around.hazards:
        if kind != "vent":
            clear = np.asarray(capsule_clearance(tree, p, q, radius)) - stand_off
            room = np.minimum(room, clear)
    return np.asarray(room.reshape(n, len(c)), np.float64)
