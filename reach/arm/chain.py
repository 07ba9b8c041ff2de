"""A serial arm as flat arrays for the compiled routines: every joint turns or slides along z."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, pose_of
from reach.model.arm import Arm

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Chain:
    """The joints that move, with all that is fixed between them folded together.

    Between two joints that move everything is one rigid *piece*; piece 0 stands still with
    the base, piece i follows the i-th joint.  Its frame has z along that joint's axis.

    Attributes
    ----------
    arm : Arm
    fixed : ndarray, shape (n, 12)
        Pose of each joint in the piece before it: rotation row by row, then translation (m).
    slides : ndarray of bool, shape (n,)
    lower, upper, velocity : ndarray, shape (n,), rad or m, and per second
    end : ndarray, shape (12,)
        Pose of the tip link in the last piece, like a row of `fixed`.
    piece_of_link : ndarray of int, shape (n_links,)
    piece_from_link : ndarray, shape (n_links, 4, 4)
    """

    arm: Arm
    fixed: Floats
    slides: NDArray[np.bool_]
    lower: Floats
    upper: Floats
    velocity: Floats
    end: Floats
    piece_of_link: NDArray[np.int64]
    piece_from_link: Floats

    @property
    def n(self) -> int:
        """How many joints move."""
        return len(self.fixed)

    def search_range(self) -> tuple[Floats, Floats]:
        """Return finite limits to draw postures from: one turn where there is no end."""
        return np.maximum(self.lower, -math.pi), np.minimum(self.upper, math.pi)


def chain_of(arm: Arm) -> Chain:
    """Return an arm as flat arrays.

    Raises
    ------
    ValueError
        If no joint moves.
    """
    moving = arm.moving
    if not moving:
        raise ValueError(f"no joint of {arm.name} moves")
    pending = np.eye(4)
    fixed: list[Floats] = []
    pieces, poses = [0], [np.eye(4)]
    for joint in arm.joints:
        pending = pending @ joint.parent_from_joint
        if joint.moves:
            turned = pose_of(_onto_z(joint.axis), np.zeros(3))
            fixed.append(flat(pending @ turned))
            pending = inverse(turned)
        pieces.append(len(fixed))
        poses.append(pending)
    return Chain(
        arm,
        np.array(fixed),
        np.array([joint.kind == "prismatic" for joint in moving]),
        np.array([joint.lower for joint in moving]),
        np.array([joint.upper for joint in moving]),
        np.array([joint.velocity for joint in moving]),
        flat(pending),
        np.array(pieces),
        np.array(poses),
    )


def flat(pose: Floats) -> Floats:
    """Return a pose, shape (..., 4, 4), as 12 numbers: rotation row by row, then translation."""
    rows = pose[..., :3, :3].reshape(*pose.shape[:-2], 9)
    return np.ascontiguousarray(np.concatenate([rows, pose[..., :3, 3]], axis=-1))


def _onto_z(axis: Floats) -> Floats:
    """Return a rotation that takes z to ``axis``: its columns are two across it, and it."""
    least = np.eye(3)[int(np.argmin(np.abs(axis)))]
    x = np.cross(least, axis)
    x /= np.linalg.norm(x)
    return np.column_stack([x, np.cross(axis, x), axis])
