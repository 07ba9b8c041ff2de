"""A suited body from the definitions of its joints: where its parts are, what its joints are at.

Link lengths and the suit's record are taken from the models; everything else is worked out here.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchmarks.twins.space import turned, unit

X, Y, Z = np.eye(3)
TRUNK = ("ankle_roll", "ankle_pitch", "hip_flexion", "waist_lateral", "waist_twist")

NEAR = 2e-6
"""Lengths (m) and angles (rad) that differ by less than this are the same."""

RISE = 5e-3
"""How far a shoulder's rise may be off (m): it hangs on itself, and is found by a few rounds."""


@dataclass(frozen=True)
class Bones:
    """Where the bones of a right-handed body are; points in m, boot frame."""

    hip: Any
    torso: Any
    low: Any
    shoulder: Any
    elbow: Any
    wrist: Any
    hand: Any


def trunk(body: Any, suit: Any, q: Any) -> tuple[Any, Any, Any]:
    """Return hip centre, torso rotation and hanging right shoulder of five trunk angles."""
    k = body.links
    leg = turned(X, q[0]) @ turned(Y, q[1])
    hip = np.array([0.0, 0.0, k.ankle + suit.sole]) + leg @ np.array([0.0, 0.0, k.hip - k.ankle])
    torso = leg @ turned(Y, q[2]) @ turned(X, q[3]) @ turned(Z, q[4])
    return hip, torso, hip + torso @ np.array([suit.shoulder_ahead, -k.half, k.shoulder - k.hip])


def cone_axis(suit: Any) -> Any:
    """Return the middle of the upper arm's cone, torso frame."""
    outward, above = suit.arm_cone_axis
    return turned(Z, -outward) @ turned(Y, -above) @ X


def hinge_at(suit: Any, upper: Any) -> Any:
    """Return the elbow hinge of the untwisted arm along a direction, torso frame."""
    c = cone_axis(suit)
    up_and_in = np.array([0.0, -1.0, 1.0])
    hinge = unit(up_and_in - (up_and_in @ c) * c)
    normal = np.cross(c, upper)
    size = float(np.linalg.norm(normal))
    return hinge if size < 1e-12 else turned(normal, math.atan2(size, c @ upper)) @ hinge


def excess(suit: Any, bones: Bones) -> dict[str, float]:
    """Return joint -> how far it is beyond its limit, rad, from where the bones are."""
    upper = unit(bones.torso.T @ (bones.elbow - bones.shoulder))
    fore = unit(bones.torso.T @ (bones.wrist - bones.elbow))
    hand = bones.torso.T @ bones.hand
    bend = math.acos(float(np.clip(upper @ fore, -1, 1)))
    hinge = np.cross(upper, fore)
    hinge = unit(hinge) if np.linalg.norm(hinge) > 1e-9 else hinge_at(suit, upper)
    rest = hinge_at(suit, upper)
    twist = math.atan2(upper @ np.cross(rest, hinge), rest @ hinge)
    flexes_to = np.cross(hinge, fore)
    local = np.stack([fore, flexes_to, hinge], axis=1).T @ hand
    # local = Rx(about) Rz(deviation) Ry(flexion)
    deviation = math.asin(float(np.clip(-local[0, 1], -1, 1)))
    flexion = math.atan2(local[0, 2], local[0, 0])
    about = math.atan2(local[2, 1], local[1, 1])
    thumb = np.stack([fore, flexes_to, hinge], axis=1) @ turned(X, about) @ Z
    pronation = math.atan2(fore @ np.cross(flexes_to, thumb), flexes_to @ thumb)
    oval = math.hypot(flexion / suit.wrist_flexion, deviation / suit.wrist_deviation)
    return {
        "cone": math.acos(float(np.clip(upper @ cone_axis(suit), -1, 1))) - suit.arm_cone,
        "twist": abs(twist) - suit.arm_twist,
        "elbow": max(bend - suit.elbow[1], suit.elbow[0] - bend),
        "pronation": abs(pronation) - suit.pronation,
        "wrist": (oval - 1.0) * min(suit.wrist_deviation, suit.wrist_flexion),
    }


def flaws(body: Any, suit: Any, bones: Bones, q: Any) -> Iterator[str]:
    """Yield what is wrong with an arm and its trunk, at five trunk angles, by itself."""
    k = body.links
    for name, angle in zip(TRUNK, q, strict=True):
        low, high = getattr(suit, name)
        if not low - NEAR <= angle <= high + NEAR:
            yield f"{name} at {angle:g} outside {low:g} to {high:g}"
    rise = (bones.shoulder - bones.low) @ bones.torso[:, 2]
    off = np.linalg.norm(bones.shoulder - bones.low - rise * bones.torso[:, 2])
    arm = unit(bones.wrist - bones.shoulder)
    wanted = k.rise * suit.shoulder_rise * max(0.0, float(arm @ bones.torso[:, 2]))
    if off > NEAR or abs(rise - wanted) > RISE:
        yield f"shoulder off by {off:g}, raised by {rise:g} where it should be {wanted:g}"
    for words, length, ends in (
        ("upper arm", k.upper_arm, (bones.shoulder, bones.elbow)),
        ("forearm", k.forearm, (bones.elbow, bones.wrist)),
    ):
        if abs(float(np.linalg.norm(ends[1] - ends[0])) - length) > NEAR:
            yield f"{words} is {np.linalg.norm(ends[1] - ends[0]):g} long"
    for name, beyond in excess(suit, bones).items():
        if beyond > 1e-5:
            yield f"{name} {beyond:g} rad beyond its limit"


def planted(body: Any, suit: Any, tip: Any, rng: random.Random, over: float) -> tuple[Bones, Any]:
    """Return the bones of a random legal posture, some joints at their limits, and its trunk."""
    q = []
    for name in TRUNK:
        low, high = getattr(suit, name)
        s = max(-1.0, min(1.0, over * rng.uniform(-1, 1)))
        q.append(s * high if s > 0 else -s * low)
    return limb(body, suit, q, rng, over), q


def other_side(q: Any) -> list[float]:
    """Return the trunk as the mirrored body has it, whose right arm is the left one."""
    return [-q[0], q[1], q[2], -q[3], -q[4]]


def limb(body: Any, suit: Any, q: Any, rng: random.Random, over: float) -> Bones:
    """Return the bones of a trunk with a random legal right arm, some joints at their limits."""
    k, c = body.links, cone_axis(suit)

    def share() -> float:
        return max(-1.0, min(1.0, over * rng.uniform(-1, 1)))

    def radius() -> float:
        return min(1.0, over * math.sqrt(rng.random())) * 0.999

    hip, torso, low_shoulder = trunk(body, suit, q)
    side = unit(np.cross(c, Z))
    u = turned(turned(c, rng.uniform(0, 2 * math.pi)) @ side, radius() * suit.arm_cone) @ c
    hinge = turned(u, 0.999 * share() * suit.arm_twist) @ hinge_at(suit, u)
    low, high = suit.elbow
    bend = low + (high - low) * min(0.999, max(0.001, 1.6 * rng.random() - 0.3))
    v = turned(hinge, bend) @ u
    thumb = turned(v, 0.999 * share() * suit.pronation) @ np.cross(hinge, v)
    straight = np.stack([v, np.cross(thumb, v), thumb], axis=1)
    b, around = radius(), rng.uniform(0, 2 * math.pi)
    hand = (
        straight
        @ turned(Z, b * math.sin(around) * suit.wrist_deviation)
        @ turned(Y, b * math.cos(around) * suit.wrist_flexion)
    )
    shoulder = low_shoulder
    rise = k.rise * suit.shoulder_rise
    arm = torso @ (k.upper_arm * u + k.forearm * v)
    shoulder = low_shoulder + rise * max(0.0, float(unit(arm) @ torso[:, 2])) * torso[:, 2]
    elbow = shoulder + torso @ (k.upper_arm * u)
    wrist = elbow + torso @ (k.forearm * v)
    return Bones(hip, torso, low_shoulder, shoulder, elbow, wrist, torso @ hand)


def capsules(
    body: Any, suit: Any, parts: Any, bones: Bones
) -> list[tuple[str, str, Any, Any, float]]:
    """Return (part, kind of clearance, end, end, radius) of suited body and tool, boot frame.

    ``parts`` are the tool's capsules in the hand frame: two ends and a radius.
    """
    k = body.links
    up = k.shoulder - k.hip
    found = []
    for side in (1.0, -1.0):
        foot = side * suit.stance / 2
        below = np.array([0.0, foot, suit.boot_height + suit.leg_radius])
        found.append(("leg", "body", below, bones.hip + bones.torso[:, 1] * foot, suit.leg_radius))
    for name, shell in suit.torso.items():
        lift = np.array([0.0, 0.0, up if shell.above == "shoulders" else 0.0])
        ends = [bones.hip + bones.torso @ (np.array(e) + lift) for e in (shell.start, shell.end)]
        found.append((name, "body", *ends, shell.radius))
    idle = bones.hip + bones.torso @ np.array([suit.shoulder_ahead, k.half, up])
    elbow = idle + k.upper_arm * bones.torso @ unit(body.centres.idle_upper_arm)
    fist = elbow + (k.forearm + k.grip) * bones.torso @ unit(body.centres.idle_forearm)
    found.append(("idle upper arm", "arm", idle, elbow, suit.upper_arm_radius))
    found.append(("idle forearm", "arm", elbow, fist, suit.forearm_radius))
    grip = bones.wrist + k.grip * bones.hand[:, 0]
    found.append(("upper arm", "arm", bones.shoulder, bones.elbow, suit.upper_arm_radius))
    found.append(("forearm", "arm", bones.elbow, bones.wrist, suit.forearm_radius))
    found.append(("hand", "hand", bones.wrist, grip, suit.hand_radius))
    for start, end, radius in parts:
        ends = [grip + bones.hand @ np.asarray(e, float) for e in (start, end)]
        found.append(("tool", "arm", *ends, radius))
    return found


def eye_of(body: Any, suit: Any, bones: Bones) -> Any:
    """Return the eye, boot frame."""
    k = body.links
    up = suit.eye_above_shoulders
    up = k.eye - k.shoulder if up is None else up
    return bones.hip + bones.torso @ np.array([suit.eye_ahead, 0.0, k.shoulder - k.hip + up])


def outside_view(suit: Any, bones: Bones, eye: Any, spot: Any) -> float:
    """Return by how much a line of sight leaves the field of view, rad."""
    way = bones.torso.T @ (spot - eye)
    side = abs(math.atan2(way[1], way[0])) if math.hypot(way[0], way[1]) > 1e-9 else 0.0
    lift = math.atan2(way[2], math.hypot(way[0], way[1]))
    return max(
        side - min(suit.view_side, suit.neck_turn + suit.eye_turn),
        -lift - min(suit.view_down, suit.neck_down + suit.eye_turn),
        lift - min(suit.view_up, suit.neck_up + suit.eye_turn),
    )
