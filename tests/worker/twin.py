"""Slow twin of the arm: limits and forward kinematics straight from the definitions.

Shares nothing with the kernels but the suit record and the body's links: joints are turned one
by one with scipy rotations, limits are read from where the bones are.
"""

import math

import numpy as np
from scipy.spatial.transform import Rotation

from reach.worker.figure import Figure

X, Y, Z = np.eye(3)


def turn(axis, angle):
    return Rotation.from_rotvec(np.asarray(axis) * angle).as_matrix()


def torso_of(figure: Figure, q):
    """Hip centre, torso rotation and hanging shoulder of five trunk angles."""
    k, suit = figure.body.links, figure.suit
    ankle = np.array([0.0, 0.0, k.ankle + suit.sole])
    leg = turn(X, q[0]) @ turn(Y, q[1])
    hip = ankle + leg @ np.array([0.0, 0.0, k.hip - k.ankle])
    torso = leg @ turn(Y, q[2]) @ turn(X, q[3]) @ turn(Z, q[4])
    return hip, torso, hip + torso @ np.array([suit.shoulder_ahead, -k.half, k.shoulder - k.hip])


def cone_axis(suit):
    """Straight ahead, turned up about the left-pointing axis, then turned outward (right)."""
    outward, above = suit.arm_cone_axis
    return turn(Z, -outward) @ turn(Y, -above) @ X


def hinge_at(suit, upper):
    """Elbow hinge of the untwisted arm along ``upper``: swung there with the shortest turn."""
    c = cone_axis(suit)
    up_and_in = np.array([0.0, -1.0, 1.0])  # flexes up: -y; flexes inward: +z; half-way
    hinge = up_and_in - (up_and_in @ c) * c
    hinge /= np.linalg.norm(hinge)
    normal = np.cross(c, upper)
    if np.linalg.norm(normal) < 1e-12:
        return hinge
    angle = math.atan2(np.linalg.norm(normal), c @ upper)
    return turn(normal / np.linalg.norm(normal), angle) @ hinge


def excess(suit, torso, shoulder, elbow, wrist, hand):
    """Return name -> excess over the limit (rad) of an arm given by where its bones are."""
    upper, fore = torso.T @ (elbow - shoulder), torso.T @ (wrist - elbow)
    u, v, h = upper / np.linalg.norm(upper), fore / np.linalg.norm(fore), torso.T @ hand
    bend = math.acos(np.clip(u @ v, -1, 1))
    hinge = np.cross(u, v) / np.linalg.norm(np.cross(u, v))
    rest = hinge_at(suit, u)
    twist = math.atan2(u @ np.cross(rest, hinge), rest @ hinge)
    # With the wrist straight and no pronation the thumb points where the elbow flexes to.
    flexes_to = np.cross(hinge, v)
    forearm = np.stack([v, flexes_to, hinge], axis=1)
    turned = Rotation.from_matrix(forearm.T @ h)
    about_forearm, deviation, flexion = turned.as_euler("XZY")
    thumb = forearm @ turn(X, about_forearm) @ Z
    pronation = math.atan2(v @ np.cross(flexes_to, thumb), flexes_to @ thumb)
    oval = math.hypot(flexion / suit.wrist_flexion, deviation / suit.wrist_deviation)
    return {
        "cone": math.acos(np.clip(u @ cone_axis(suit), -1, 1)) - suit.arm_cone,
        "twist": abs(twist) - suit.arm_twist,
        "elbow": max(bend - suit.elbow[1], suit.elbow[0] - bend),
        "pronation": abs(pronation) - suit.pronation,
        "wrist": (oval - 1.0) * suit.wrist_deviation,
    }


def planted(figure: Figure, n: int, seed: int, over: float = 1.6):
    """Return tips and tool directions (n, 3) of random legal postures, many at their limits."""
    rng = np.random.default_rng(seed)
    k, suit, grip = figure.body.links, figure.suit, figure.grip
    axis = np.asarray(grip.axis, float) / np.linalg.norm(grip.axis)
    c = cone_axis(suit)
    side = np.cross(c, Z) / np.linalg.norm(np.cross(c, Z))
    tips, directions = np.empty((n, 3)), np.empty((n, 3))

    def share():
        return float(np.clip(over * rng.uniform(-1, 1), -1, 1))

    def radius():
        return min(1.0, over * math.sqrt(rng.random()))

    for i in range(n):
        names = ("ankle_roll", "ankle_pitch", "hip_flexion", "waist_lateral", "waist_twist")
        ranges = [getattr(suit, name) for name in names]
        q = [s * high if s > 0 else -s * low for s, (low, high) in ((share(), r) for r in ranges)]
        _, torso, shoulder = torso_of(figure, q)
        off, around = radius() * suit.arm_cone, rng.uniform(0, 2 * math.pi)
        u = turn(turn(c, around) @ side, off) @ c
        hinge = turn(u, share() * suit.arm_twist) @ hinge_at(suit, u)
        low, high = suit.elbow
        v = turn(hinge, low + (high - low) * np.clip(1.6 * rng.random() - 0.3, 0, 1)) @ u
        thumb = turn(v, share() * suit.pronation) @ np.cross(hinge, v)
        straight = np.stack([v, np.cross(thumb, v), thumb], axis=1)
        bend, around = radius(), rng.uniform(0, 2 * math.pi)
        deviation = bend * math.sin(around) * suit.wrist_deviation
        flexion = bend * math.cos(around) * suit.wrist_flexion
        hand = straight @ turn(Z, deviation) @ turn(Y, flexion)
        arm = k.upper_arm * u + k.forearm * v + hand @ (k.grip * X + np.asarray(grip.tip))
        tips[i], directions[i] = shoulder + torso @ arm, torso @ hand @ axis
    return tips, directions
