"""The room a suited worker takes up: capsules for trunk, helmet, backpack, limbs and tool.

Everything is in the boot frame: x ahead, y left, z up, origin on the plate between the
ankles.  The working arm is the right one; a left-hand question is mirrored beforehand.
Boots are left out up to ``boot_height``: they are meant to be close to what they stand on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.model.suit import Suit
from reach.worker import chain
from reach.worker.figure import (
    AHEAD,
    FOREARM,
    GRIP,
    HALF,
    HIP,
    SHOULDER,
    UPPER_ARM,
    Figure,
)

N_LEGS = 2
N_IDLE = 2
N_ARM = 3
ARM_NAMES = ("upper arm", "forearm", "hand")


@dataclass(frozen=True, eq=False, slots=True)
class Bulk:
    """Capsule data of one body in one suit with one tool, as arrays for the kernels.

    Attributes
    ----------
    shells : ndarray, shape (m, 7), m
        Torso capsules from the hip centre in the torso frame: two ends and a radius.
    tool : ndarray, shape (k, 7), m
        Tool capsules in the hand frame, from the grip centre.
    sizes : ndarray, shape (15,), m
        Leg, upper-arm, forearm and hand radii; half stance; eye ahead and above the
        hip; head play; directions of the idle upper arm and forearm (unit, torso frame);
        height of the boots.
    view : ndarray, shape (6,), rad
        Helmet edge to the side, down, up; head turn plus eye turn to the side, down, up.
    names : tuple of str
        One a capsule: legs, shells, idle arm, working arm, tool.
    n_body : int
        How many of them are legs and shells (held to the body clearance).
    """

    shells: NDArray[np.float64]
    tool: NDArray[np.float64]
    sizes: NDArray[np.float64]
    view: NDArray[np.float64]
    names: tuple[str, ...]
    n_body: int


def bulk_of(figure: Figure, suit: Suit, tool: NDArray[np.float64]) -> Bulk:
    """Return the capsule data of a figure.

    Parameters
    ----------
    figure : Figure
    suit : Suit
    tool : ndarray, shape (k, 7), m, hand frame
        Capsules of the tool held in the right hand: two ends and a radius.
    """
    p = figure.p
    shoulders = float(p[SHOULDER] - p[HIP])
    shells = np.empty((len(suit.torso), 7))
    for i, shell in enumerate(suit.torso.values()):
        lift = shoulders if shell.above == "shoulders" else 0.0
        shells[i, :3] = shell.start
        shells[i, 3:6] = shell.end
        shells[i, [2, 5]] += lift
        shells[i, 6] = shell.radius
    links = figure.body.links
    eye_up = suit.eye_above_shoulders
    if eye_up is None:
        eye_up = links.eye - links.shoulder
    sizes = np.array(
        [
            suit.leg_radius,
            suit.upper_arm_radius,
            suit.forearm_radius,
            suit.hand_radius,
            suit.stance / 2,
            suit.eye_ahead,
            shoulders + eye_up,
            suit.head_play,
            *_unit(figure.body.centres.idle_upper_arm),
            *_unit(figure.body.centres.idle_forearm),
            suit.boot_height,
        ]
    )
    eye = suit.eye_turn
    view = np.array(
        [
            suit.view_side,
            suit.view_down,
            suit.view_up,
            suit.neck_turn + eye,
            suit.neck_down + eye,
            suit.neck_up + eye,
        ]
    )
    names = (
        ("left leg", "right leg")
        + tuple(suit.torso)
        + ("idle upper arm", "idle forearm")
        + ARM_NAMES
        + ("tool",) * len(tool)
    )
    return Bulk(shells, np.ascontiguousarray(tool), sizes, view, names, N_LEGS + len(shells))


def _unit(vector: tuple[float, float, float]) -> NDArray[np.float64]:
    return np.asarray(vector) / float(np.linalg.norm(vector))


@compiled
def body_capsules(p, q, shells, sizes, R, S, eye, out):
    """Fill ``out`` (2 + m + 2, 7) with legs, torso shells and idle arm; ``eye`` (3,) too.

    ``R`` (3, 3) and ``S`` (3,) receive the torso rotation and the working shoulder.
    """
    hx, hy, hz = chain.trunk_fk(p, q, R, S)
    foot = sizes[4]
    for s in range(2):
        side = foot if s == 0 else -foot
        out[s, 0] = 0.0
        out[s, 1] = side
        out[s, 2] = sizes[14] + sizes[0]
        out[s, 3] = hx + R[0, 1] * side
        out[s, 4] = hy + R[1, 1] * side
        out[s, 5] = hz + R[2, 1] * side
        out[s, 6] = sizes[0]
    m = shells.shape[0]
    up = p[SHOULDER] - p[HIP]
    half = p[HALF]
    ahead = p[AHEAD]
    reach = p[FOREARM] + p[GRIP]
    for a in range(3):
        hip = hx if a == 0 else (hy if a == 1 else hz)
        for i in range(m):
            out[2 + i, a] = (
                hip + R[a, 0] * shells[i, 0] + R[a, 1] * shells[i, 1] + R[a, 2] * shells[i, 2]
            )
            out[2 + i, 3 + a] = (
                hip + R[a, 0] * shells[i, 3] + R[a, 1] * shells[i, 4] + R[a, 2] * shells[i, 5]
            )
        shoulder = hip + R[a, 0] * ahead + R[a, 1] * half + R[a, 2] * up
        elbow = shoulder + p[UPPER_ARM] * (
            R[a, 0] * sizes[8] + R[a, 1] * sizes[9] + R[a, 2] * sizes[10]
        )
        fist = elbow + reach * (R[a, 0] * sizes[11] + R[a, 1] * sizes[12] + R[a, 2] * sizes[13])
        out[2 + m, a] = shoulder
        out[2 + m, 3 + a] = elbow
        out[3 + m, a] = elbow
        out[3 + m, 3 + a] = fist
        eye[a] = hip + R[a, 0] * sizes[5] + R[a, 2] * sizes[6]
    for i in range(m):
        out[2 + i, 6] = shells[i, 6]
    out[2 + m, 6] = sizes[1]
    out[3 + m, 6] = sizes[2]


@compiled
def arm_capsules(p, sizes, tool, work, found, out):
    """Fill ``out`` (3 + k, 7) with upper arm, forearm, hand and tool of an evaluated posture.

    ``work`` and ``found`` are what `chain.evaluate` left: torso rotation, hand rotation,
    shoulder, wrist; upper-arm and forearm directions in the torso frame.
    """
    R = work[0:3]
    H = work[3:6]
    for a in range(3):
        shoulder = work[9, a]
        wrist = work[10, a]
        elbow = shoulder + p[UPPER_ARM] * (
            R[a, 0] * found[0] + R[a, 1] * found[1] + R[a, 2] * found[2]
        )
        grip = wrist + H[a, 0] * p[GRIP]
        out[0, a] = shoulder
        out[0, 3 + a] = elbow
        out[1, a] = elbow
        out[1, 3 + a] = wrist
        out[2, a] = wrist
        out[2, 3 + a] = grip
        for i in range(tool.shape[0]):
            out[3 + i, a] = (
                grip + H[a, 0] * tool[i, 0] + H[a, 1] * tool[i, 1] + H[a, 2] * tool[i, 2]
            )
            out[3 + i, 3 + a] = (
                grip + H[a, 0] * tool[i, 3] + H[a, 1] * tool[i, 4] + H[a, 2] * tool[i, 5]
            )
    out[0, 6] = sizes[1]
    out[1, 6] = sizes[2]
    out[2, 6] = sizes[3]
    for i in range(tool.shape[0]):
        out[3 + i, 6] = tool[i, 6]


@compiled
def view_excess(R, eye, target, view):
    """Angle by which the line of sight leaves the field of view, rad; <= 0 inside.

    The line must pass the helmet edge, and head plus eyes must be able to turn to it.
    """
    x = target[0] - eye[0]
    y = target[1] - eye[1]
    z = target[2] - eye[2]
    a = R[0, 0] * x + R[1, 0] * y + R[2, 0] * z
    b = R[0, 1] * x + R[1, 1] * y + R[2, 1] * z
    c = R[0, 2] * x + R[1, 2] * y + R[2, 2] * z
    flat = math.hypot(a, b)
    side = abs(math.atan2(b, a)) if flat > 1e-12 else 0.0
    lift = math.atan2(c, flat)
    worst = side - min(view[0], view[3])
    worst = max(worst, -lift - min(view[1], view[4]))
    return max(worst, lift - min(view[2], view[5]))
