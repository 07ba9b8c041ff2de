"""The legs of a path: which way a payload turns from one pose to the next, about which point."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.geometry import pose_of, rotation_about
from reach.geometry.motion import turn_between
from reach.model.carrying import Leg
from reach.model.shapes import Placed

Array = NDArray[np.float64]

HALF_TURN = math.pi - 1e-6
"""A turn of this much (rad) or more is as short one way round as the other."""

_ASKEW = 1e-6
"""An axis fits a turn that it explains but for this much (rad)."""

_LONGEST = 0.75 * math.pi
"""A turn about a given axis is cut into equal parts of at most this much (rad)."""


def placed_pose(record: Placed) -> Array:
    """Return parent_from_child of a placed record, shape (4, 4)."""
    rotation = np.eye(3)
    for turn in record.turn:
        rotation = rotation_about(np.asarray(turn.axis), turn.angle) @ rotation
    return pose_of(rotation, np.asarray(record.at, float))


def turn_of_leg(before: Array, after: Array, leg: Leg) -> tuple[Array, float]:
    """Return the axis (payload's directions) and angle (rad, >= 0) of one leg.

    Parameters
    ----------
    before, after : ndarray, shape (4, 4), parent_from_payload
    leg : Leg
        Its ``axis``, where there is one, says which way round.

    Raises
    ------
    ValueError
        If the leg is half a turn and says no axis, or its axis does not lead there.

    Examples
    --------
    >>> from reach.geometry import rotation_z
    >>> here, there = np.eye(4), np.eye(4)
    >>> there[:3, :3] = rotation_z(-0.5 * math.pi)
    >>> axis, angle = turn_of_leg(here, there, Leg(axis=(0.0, 0.0, 1.0)))
    >>> round(math.degrees(angle))
    270
    """
    a, b = before[:3, :3], after[:3, :3]
    if leg.axis is None:
        shortest, turns = turn_between(a[None], b[None])
        if float(turns[0]) >= HALF_TURN:
            raise ValueError("turns by 180 deg: say about which axis, in its leg: axis = [x, y, z]")
        return shortest[0], float(turns[0])
    axis = np.asarray(leg.axis, float)
    relative = a.T @ b
    side = np.eye(3)[int(np.argmin(np.abs(axis)))]
    side = np.cross(axis, side)
    side /= np.linalg.norm(side)
    turned = relative @ side
    angle = math.atan2(float(np.cross(side, turned) @ axis), float(side @ turned)) % (2.0 * math.pi)
    _, askew = turn_between(rotation_about(axis, angle)[None], relative[None])
    if float(askew[0]) > _ASKEW:
        raise ValueError("no turn about this axis leads from one pose to the next")
    return axis, 0.0 if angle > 2.0 * math.pi - _ASKEW else angle


def legs_in_between(before: Array, after: Array, leg: Leg) -> Array:
    """Return the poses of one leg, before and after it included, shape (k, 4, 4).

    Two unless a turn about a given axis is too long to be told apart from the other way round;
    from each to the next the payload turns the shortest way about the same axis.

    Raises
    ------
    ValueError
        As for `turn_of_leg`.
    """
    axis, angle = turn_of_leg(before, after, leg)
    n = max(1, math.ceil(angle / _LONGEST)) if leg.axis is not None else 1
    about = np.zeros(3) if leg.about is None else np.asarray(leg.about, float)
    start, stop = (pose[:3, :3] @ about + pose[:3, 3] for pose in (before, after))
    poses = [before]
    for k in range(1, n):
        turn = before[:3, :3] @ rotation_about(axis, angle * k / n)
        point = start + (stop - start) * (k / n)
        poses.append(pose_of(turn, point - turn @ about))
    return np.array([*poses, after])
