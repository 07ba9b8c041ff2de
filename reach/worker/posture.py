"""Posture: joint angles and landmarks of one answer of the search, for pictures and checks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.worker.chain import evaluate, trunk_fk, work_arrays
from reach.worker.figure import ANKLE, FOREARM, GRIP, UPPER_ARM, Figure, mirrored
from reach.worker.question import questions

Array = NDArray[np.float64]

JOINTS = (
    "ankle_roll",
    "ankle_pitch",
    "hip_flexion",
    "waist_lateral",
    "waist_twist",
    "shoulder_z",
    "shoulder_y",
    "shoulder_x",
    "elbow",
    "pronation",
    "wrist_deviation",
    "wrist_flexion",
)
"""The revolute joints from plate to hand, about x, y, y, x, z, z, y, x, z, x, z, y."""

_MIRROR = np.diag([1.0, -1.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Posture:
    """Landmarks of one posture; points in m, all in the boot frame.

    Attributes
    ----------
    hand : str
        The hand that works, ``"right"`` or ``"left"``.
    ankle, hip : ndarray, shape (3,)
        Middle of the ankles and of the hips.
    shoulder, elbow, wrist, grip, tip : ndarray, shape (3,)
        Of the arm that works; the shoulder as raised by the arm.
    idle_shoulder, idle_elbow, idle_wrist : ndarray, shape (3,)
        Of the other arm, folded in front.
    eye : ndarray, shape (3,)
        Between the eyes, head straight.
    torso_rotation, hand_rotation : ndarray, shape (3, 3)
        Boot from torso and boot from hand.  For the left hand both frames are those of the
        mirrored figure, so the tool's axis is ``hand_rotation @ mirrored(grip.axis)``.
    violation : float, rad
        Worst excess over an arm limit; at most 0 is legal.
    """

    hand: str
    ankle: Array
    hip: Array
    shoulder: Array
    elbow: Array
    wrist: Array
    grip: Array
    tip: Array
    idle_shoulder: Array
    idle_elbow: Array
    idle_wrist: Array
    eye: Array
    torso_rotation: Array
    hand_rotation: Array
    violation: float


def posture_of(
    figure: Figure, x: ArrayLike, tip: ArrayLike, direction: ArrayLike, hand: str = "right"
) -> Posture:
    """Return the landmarks of posture vector ``x``.

    Parameters
    ----------
    x : array_like, shape (9,)
    tip, direction : array_like, shape (3,), m and any length, boot frame
        The target as it is, for either hand.
    hand : str
        With ``"left"``, ``x`` is the answer to the mirrored target.

    Raises
    ------
    ValueError
        If the hand is neither right nor left.
    """
    if hand not in ("right", "left"):
        raise ValueError(f"hand must be 'right' or 'left', found {hand!r}")
    if hand == "right":
        return _right(figure, x, tip, direction)
    other = _right(figure, x, mirrored(tip), mirrored(direction))
    flipped = {
        name: mirrored(getattr(other, name))
        for name in Posture.__slots__
        if name not in ("hand", "torso_rotation", "hand_rotation", "violation")
    }
    return Posture(
        hand="left",
        torso_rotation=_MIRROR @ other.torso_rotation @ _MIRROR,
        hand_rotation=_MIRROR @ other.hand_rotation @ _MIRROR,
        violation=other.violation,
        **flipped,
    )


def joint_angles(figure: Figure, x: ArrayLike, tip: ArrayLike, direction: ArrayLike) -> Array:
    """Return the angles of the joints `JOINTS`, rad, shape (12,), of a right-hand posture.

    Every joint is a plain rotation about its axis in a chain of offsets; pronation counts
    from the thumb pointing 90 deg off the elbow hinge, wrist_flexion turns last.

    Parameters
    ----------
    x : array_like, shape (9,)
    tip, direction : array_like, shape (3,), m and any length, boot frame
    """
    vector = np.asarray(x, np.float64)
    _, out, _ = _evaluated(figure, vector, tip, direction)
    u, n = out[0:3], out[6:9]
    upper = np.stack([u, np.cross(n, u), n], axis=1)
    shoulder = (
        math.atan2(upper[1, 0], upper[0, 0]),
        -math.asin(min(1.0, max(-1.0, upper[2, 0]))),
        math.atan2(upper[2, 1], upper[2, 2]),
    )
    arm = (out[9], out[11] - 0.5 * math.pi, out[13], out[12])
    return np.array([*vector[:5], *shoulder, *arm])


def shoulder_rise(figure: Figure, x: ArrayLike, tip: ArrayLike, direction: ArrayLike) -> float:
    """Return how far the arm of a posture has raised its shoulder along the torso, m."""
    vector = np.asarray(x, np.float64)
    work, _, _ = _evaluated(figure, vector, tip, direction)
    rotation, low = np.empty((3, 3)), np.empty(3)
    trunk_fk(figure.p, vector, rotation, low)
    return float((work[9] - low) @ rotation[:, 2])


def _evaluated(
    figure: Figure, x: Array, tip: ArrayLike, direction: ArrayLike
) -> tuple[Array, Array, float]:
    t, d = questions(tip, direction)
    work, out = work_arrays()
    return work, out, float(evaluate(figure.p, t[0], d[0], x, work, out))


def _right(figure: Figure, x: ArrayLike, tip: ArrayLike, direction: ArrayLike) -> Posture:
    p, body, suit = figure.p, figure.body, figure.suit
    vector = np.asarray(x, np.float64)
    work, out, violation = _evaluated(figure, vector, tip, direction)
    torso, hand, shoulder, wrist = work[0:3], work[3:6], work[9], work[10]
    rotation, low = np.empty((3, 3)), np.empty(3)
    hip = np.array(trunk_fk(p, vector, rotation, low))
    at_rest = torso.T @ (low - hip)
    idle_shoulder = hip + torso @ mirrored(at_rest)
    idle_elbow = idle_shoulder + p[UPPER_ARM] * (torso @ _unit(body.centres.idle_upper_arm))
    above = suit.eye_above_shoulders
    eye_up = body.links.eye - body.links.shoulder if above is None else above
    return Posture(
        hand="right",
        ankle=np.array([0.0, 0.0, p[ANKLE]]),
        hip=hip,
        shoulder=shoulder.copy(),
        elbow=shoulder + p[UPPER_ARM] * (torso @ out[0:3]),
        wrist=wrist.copy(),
        grip=wrist + p[GRIP] * hand[:, 0],
        tip=questions(tip, direction)[0][0],
        idle_shoulder=idle_shoulder,
        idle_elbow=idle_elbow,
        idle_wrist=idle_elbow + p[FOREARM] * (torso @ _unit(body.centres.idle_forearm)),
        eye=hip + torso @ np.array([suit.eye_ahead, 0.0, at_rest[2] + eye_up]),
        torso_rotation=torso.copy(),
        hand_rotation=hand.copy(),
        violation=violation,
    )


def _unit(vector: tuple[float, float, float]) -> Array:
    v = np.array(vector)
    return np.asarray(v / np.linalg.norm(v), np.float64)
