"""Poses as rows of seven numbers, and what lies between two of them.

A state is the place of the point that runs straight (m, world), then the unit
quaternion (w, x, y, z) of ``world_from_payload``.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry import compiled, pose_of
from reach.geometry.motion import turn_between
from reach.geometry.tree import Floats
from reach.geometry.vector import least

N_STATE = 7


def state_of(pose: ArrayLike, about: Floats) -> Floats:
    """Return the state of a pose (4, 4), world_from_payload."""
    given = np.asarray(pose, dtype=np.float64)
    axis, angle = turn_between(np.eye(3)[None], given[None, :3, :3])
    half = 0.5 * float(angle[0])
    turn = [math.cos(half), *(math.sin(half) * axis[0])]
    return np.concatenate([given[:3, :3] @ about + given[:3, 3], turn])


def pose_from(state: Floats, about: Floats) -> Floats:
    """Return the pose (4, 4), world_from_payload, of a state."""
    turn = np.empty((3, 3))
    fill_turn(state, turn)
    return pose_of(turn, state[:3] - turn @ about)


@compiled
def fill_turn(state: Any, turn: Any) -> None:
    """Write the rotation (3, 3) of a state."""
    w, x, y, z = state[3], state[4], state[5], state[6]
    turn[0, 0] = 1.0 - 2.0 * (y * y + z * z)
    turn[1, 1] = 1.0 - 2.0 * (x * x + z * z)
    turn[2, 2] = 1.0 - 2.0 * (x * x + y * y)
    turn[0, 1], turn[1, 0] = 2.0 * (x * y - w * z), 2.0 * (x * y + w * z)
    turn[0, 2], turn[2, 0] = 2.0 * (x * z + w * y), 2.0 * (x * z - w * y)
    turn[1, 2], turn[2, 1] = 2.0 * (y * z - w * x), 2.0 * (y * z + w * x)


@compiled
def turn_from(a: Any, b: Any, axis: Any) -> float:
    """Write the axis (body) of the shortest turn between two states; return its angle (rad)."""
    w = a[3] * b[3] + a[4] * b[4] + a[5] * b[5] + a[6] * b[6]
    x = a[3] * b[4] - a[4] * b[3] - a[5] * b[6] + a[6] * b[5]
    y = a[3] * b[5] - a[5] * b[3] - a[6] * b[4] + a[4] * b[6]
    z = a[3] * b[6] - a[6] * b[3] - a[4] * b[5] + a[5] * b[4]
    if w < 0.0:
        w, x, y, z = -w, -x, -y, -z
    size = math.sqrt(x * x + y * y + z * z)
    if size < 1e-12:
        axis[0], axis[1], axis[2] = 0.0, 0.0, 1.0
        return 0.0
    axis[0], axis[1], axis[2] = x / size, y / size, z / size
    return 2.0 * math.atan2(size, w)


@compiled
def between(a: Any, b: Any, share: float, out: Any) -> None:
    """Write the state at a share (0 to 1) of the motion from one state to another."""
    axis = np.empty(3)
    half = 0.5 * share * turn_from(a, b, axis)
    c, s = math.cos(half), math.sin(half)
    x, y, z = s * axis[0], s * axis[1], s * axis[2]
    w0, x0, y0, z0 = a[3], a[4], a[5], a[6]
    out[3] = w0 * c - x0 * x - y0 * y - z0 * z
    out[4] = w0 * x + x0 * c + y0 * z - z0 * y
    out[5] = w0 * y + y0 * c + z0 * x - x0 * z
    out[6] = w0 * z + z0 * c + x0 * y - y0 * x
    for i in range(3):
        out[i] = a[i] + share * (b[i] - a[i])
    whole = 1.0 / math.sqrt(out[3] ** 2 + out[4] ** 2 + out[5] ** 2 + out[6] ** 2)
    for i in range(3, 7):
        out[i] *= whole


@compiled
def length_of(a: Any, b: Any, arm: float) -> float:
    """Return how long a motion is (m): the way of the point that runs straight, and the turn."""
    way = math.sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2 + (b[2] - a[2]) ** 2)
    w = abs(a[3] * b[3] + a[4] * b[4] + a[5] * b[5] + a[6] * b[6])
    return way + arm * 2.0 * math.acos(least(w, 1.0))


@compiled
def turned_by(a: Any, w: float, x: float, y: float, z: float, out: Any) -> None:
    """Write the rotation of state `a` turned further, in its own axes, by a unit quaternion."""
    w0, x0, y0, z0 = a[3], a[4], a[5], a[6]
    out[3] = w0 * w - x0 * x - y0 * y - z0 * z
    out[4] = w0 * x + x0 * w + y0 * z - z0 * y
    out[5] = w0 * y + y0 * w + z0 * x - x0 * z
    out[6] = w0 * z + z0 * w + x0 * y - y0 * x
