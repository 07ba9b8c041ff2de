"""The way that the tip of an arm is asked to go: leg by leg, straight and evenly turning."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.bound import full_reach
from reach.arm.chain import Chain, Floats
from reach.geometry import compiled, in_chunks, inverse, pose_of
from reach.geometry.motion_chain import chain_of as motions_of
from reach.geometry.motion_chain import one_pose

SAMPLES_A_REACH = 60
"""Between two postures that are tried the tip goes this part of the full reach at most,"""
TURN_A_SAMPLE = 0.1
"""or turns by this (rad)."""


@dataclass(frozen=True, eq=False, slots=True)
class Way:
    """Where the tip is asked to be, from 0 to the number of legs.

    Attributes
    ----------
    legs : ndarray, shape (k, 22)
        Of each leg, base frame: place of the point that runs straight at its start and its
        step (m), turning axis, angle (rad), rotation of the tip at the start row by row, and
        the lever from that point to the tip at the start (m).
    counts : ndarray of int, shape (k,)
        Into how many samples each leg is cut at first.
    """

    legs: Floats
    counts: NDArray[np.int64]

    def targets(self, at: ArrayLike) -> Floats:
        """Return tip poses, shape (m, 12), at leg numbers plus times 0 to 1."""
        moments = np.atleast_1d(np.asarray(at, dtype=np.float64))
        found = np.empty((len(moments), 12))
        in_chunks(_rows, len(moments), moments, self.legs, found)
        return found

    def samples(self) -> Floats:
        """Return the moments of all first samples, corners included."""
        cut = [k + np.arange(n) / n for k, n in enumerate(self.counts)]
        return np.concatenate([*cut, [float(len(self.legs))]])


def way_of(
    chain: Chain, base_from_body: ArrayLike, tip_from_body: ArrayLike | None, about: ArrayLike
) -> Way:
    """Return the way of the tip that carries a body from pose to pose.

    Raises
    ------
    ValueError
        With fewer than two poses, or one that is not finite or not rigid.
    """
    body_from_tip = np.eye(4)
    if tip_from_body is not None:
        held = one_pose("tip_from_body", tip_from_body)[0]
        if not np.isfinite(held).all():
            raise ValueError("tip_from_body is not finite")
        body_from_tip = inverse(held)
    path = motions_of(base_from_body, about)
    turn, place, step, axis, angle = path.motions
    k = len(turn)
    lever = turn @ (body_from_tip[:3, 3] - path.about)
    legs = np.empty((k, 22))
    legs[:, :3], legs[:, 3:6] = place, step
    legs[:, 6:9] = np.einsum("kij,kj->ki", turn, axis)
    legs[:, 9] = angle
    legs[:, 10:19] = (turn @ body_from_tip[:3, :3]).reshape(k, 9)
    legs[:, 19:] = lever
    length = np.linalg.norm(step, axis=1) + angle * np.linalg.norm(lever, axis=1)
    n = np.maximum(length * SAMPLES_A_REACH / full_reach(chain), angle / TURN_A_SAMPLE)
    return Way(legs, np.maximum(np.ceil(n), 1.0).astype(np.int64))


def pose_from(row: Floats) -> Floats:
    """Return a pose, shape (4, 4), from 12 numbers."""
    return pose_of(row[:9].reshape(3, 3), row[9:])


@compiled
def target_at(u: float, legs: Any, target: Any) -> None:
    """Write the tip pose, 12 numbers, at leg number plus time ``u``."""
    k = min(int(u), len(legs) - 1)
    leg, t = legs[k], u - k
    x, y, z = leg[6], leg[7], leg[8]
    s, c = math.sin(t * leg[9]), math.cos(t * leg[9])
    d = 1.0 - c
    spin = (
        (c + d * x * x, d * x * y - s * z, d * x * z + s * y),
        (d * x * y + s * z, c + d * y * y, d * y * z - s * x),
        (d * x * z - s * y, d * y * z + s * x, c + d * z * z),
    )
    for i in range(3):
        a = spin[i]
        for j in range(3):
            target[3 * i + j] = a[0] * leg[10 + j] + a[1] * leg[13 + j] + a[2] * leg[16 + j]
        lever = a[0] * leg[19] + a[1] * leg[20] + a[2] * leg[21]
        target[9 + i] = leg[i] + t * leg[3 + i] + lever


@compiled
def _rows(start: int, stop: int, at: Any, legs: Any, found: Any) -> None:
    for r in range(start, stop):
        target_at(at[r], legs, found[r])
