"""Branch and bound over the trunk: how near to a given wrist any posture brings the shoulder.

The five trunk freedoms make a box.  The distance at the middle of a box, less what the box
can move the shoulder, is a bound for all its postures; boxes are halved, the least bound
first, until the bound is sharp or decides the question.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.chain import trunk_fk
from reach.worker.figure import (
    AHEAD,
    ANKLE,
    AXIS_X,
    DEVIATION,
    FLEXION,
    FOREARM,
    HALF,
    HIGH,
    HIP,
    LOW,
    R_MAX,
    RISE,
    SHOULDER,
    TOLERANCE,
    UPPER_ARM,
)

Array = NDArray[np.float64]
Boxes = tuple[Array, Array, Array]
"""A binary heap of boxes, least bound first: middles (n, 5), half widths (n, 5), bounds (n,)."""

SHARP = 2e-3
"""How near the bound of a distance comes to the least distance found, m."""


@compiled
def boxes_for(n: int) -> Boxes:
    """Return room for a sweep of ``n`` boxes."""
    return np.empty((n + 4, 5)), np.empty((n + 4, 5)), np.empty(n + 4)


@compiled
def sweep(
    p: Array,
    centre: Array,
    d: Array,
    across: float,
    enough: float,
    near: float,
    n_boxes: int,
    boxes: Boxes,
    frame: Array,
) -> tuple[float, float]:
    """Return (bound, found) of the least distance from a wrist to a shoulder, m.

    No trunk posture brings the shoulder nearer than ``bound``; ``found`` is the least
    distance looked at.  A posture whose elbow would have to be elsewhere than the wrist's bend
    allows counts as farther by what its upper arm lacks.

    Parameters
    ----------
    centre, d, across
        Circle on which the wrist lies: centre (3,), axis (3,), boot frame, and radius, m.
        With the axis zero, the sphere of that radius, and any bend.
    enough, near : float, m
        Stop as soon as bound > enough, found <= near, or found - bound <= SHARP.
    n_boxes : int
        Stop after this many boxes.
    boxes : tuple
        Room for them, by `boxes_for`.
    frame : ndarray, shape (4, 3)
        Scratch.
    """
    node_q, node_h, node_b = boxes
    rotation, shoulder = frame[0:3], frame[3]
    torso = p[SHOULDER] - p[HIP]
    lever_twist = math.hypot(p[HALF], p[AHEAD])
    lever_hip = math.hypot(lever_twist, max(abs(torso), abs(torso + p[RISE])))
    q, half, share, aim = np.empty(5), np.empty(5), np.empty(5), np.empty(3)
    for i in range(5):
        node_q[0, i] = 0.5 * (p[LOW + i] + p[HIGH + i])
        node_h[0, i] = 0.5 * (p[HIGH + i] - p[LOW + i])
    node_b[0] = 0.0
    n_heap, n_seen, found = 1, 0, np.inf
    while n_heap > 0 and n_seen < n_boxes:
        bound = node_b[0]
        if bound >= found - SHARP or bound > enough or found <= near:
            break
        for i in range(5):
            q[i], half[i] = node_q[0, i], node_h[0, i]
        n_heap -= 1
        _sift_down(boxes, n_heap)
        trunk_fk(p, q, rotation, shoulder)
        _toward(centre, d, across, shoulder, rotation, p[RISE], aim)
        _approach(p, q, half, lever_hip, lever_twist, frame, aim, share)
        split = int(np.argmax(share))
        half[split] *= 0.5
        middle = q[split]
        for side in range(2):
            q[split] = middle + (half[split] if side == 0 else -half[split])
            n_seen += 1
            trunk_fk(p, q, rotation, shoulder)
            f = _distance(p, centre, d, across, shoulder, rotation)
            found = min(found, f)
            b = max(bound, f - _motion(p, half, lever_hip, lever_twist, frame))
            g = _toward(centre, d, across, shoulder, rotation, p[RISE], aim)
            if g > 0.0:
                b = max(b, g - _approach(p, q, half, lever_hip, lever_twist, frame, aim, share))
            if b < found:
                _push(boxes, n_heap, q, half, b)
                n_heap += 1
    if n_heap > 0:
        return min(node_b[0], found), found
    return found, found


@compiled
def _distance(p: Array, centre: Array, d: Array, across: float, s: Array, rotation: Array) -> float:
    """Distance from wrist to shoulder, or a bound below the least one of a posture, m.

    Two bounds, the larger counts: from the circle of wrists to the segment of shoulders, and
    the way round by the elbow.
    """
    rise = p[RISE]
    ux, uy, uz = rotation[0, 2], rotation[1, 2], rotation[2, 2]
    x, y, z = centre[0] - s[0], centre[1] - s[1], centre[2] - s[2]
    k = min(rise, max(0.0, x * ux + y * uy + z * uz))
    mx, my, mz = x - k * ux, y - k * uy, z - k * uz
    bound = math.sqrt(mx * mx + my * my + mz * mz) - across
    h = 0.5 * rise
    x, y, z = x - h * ux, y - h * uy, z - h * uz
    along = x * d[0] + y * d[1] + z * d[2]
    r2 = x * x + y * y + z * z
    off = math.sqrt(max(0.0, r2 - along * along))
    bound = max(bound, math.sqrt((off - across) ** 2 + along * along) - h)
    if d[0] == 0.0 and d[1] == 0.0 and d[2] == 0.0:
        return bound
    return max(bound, _by_elbow(p, along, off, math.sqrt(r2)) - across - h)


@compiled
def _by_elbow(p: Array, along: float, off: float, r: float) -> float:
    """Length an arm would need to reach round by an elbow where the hand allows it, m.

    The wrist bends so far and the tool is tilted so far; so the forearm's angle to the tool
    direction is within a band, and the elbow at its other end on a zone of a sphere.  The
    upper arm must span from shoulder to zone: what it lacks is what the straight arm lacks.

    Parameters
    ----------
    along, off, r : float, m
        Wrist from the shoulder: along and off the tool direction, and distance.
    """
    fore = p[FOREARM]
    turn = math.acos(min(1.0, max(-1.0, p[AXIS_X])))
    bend = max(p[FLEXION], p[DEVIATION]) + p[TOLERANCE]
    low, high = max(0.0, turn - bend), min(math.pi, turn + bend)
    angle = math.atan2(off, along)
    beyond = max(0.0, max(low - angle, angle - high))
    gap = math.sqrt(max(0.0, r * r + fore * fore - 2.0 * r * fore * math.cos(beyond)))
    return gap - p[UPPER_ARM] + p[R_MAX]


@compiled
def _motion(p: Array, half: Array, lever_hip: float, lever_twist: float, frame: Array) -> float:
    """How far a box can move any shoulder from where its middle has it, m.

    Hip freedoms turn the shoulder about the hip, ankle freedoms about the ankle, where the hip
    freedoms may have carried it farther out.
    """
    at_hip = (half[2] + half[3]) * lever_hip + half[4] * lever_twist
    return at_hip + (half[0] + half[1]) * (_ankle_distance(p, frame) + at_hip)


@compiled
def _ankle_distance(p: Array, frame: Array) -> float:
    """Largest distance from the ankle to the segment of shoulders."""
    x, y, z = frame[3, 0], frame[3, 1], frame[3, 2] - p[ANKLE]
    low = x * x + y * y + z * z
    x += p[RISE] * frame[0, 2]
    y += p[RISE] * frame[1, 2]
    z += p[RISE] * frame[2, 2]
    return math.sqrt(max(low, x * x + y * y + z * z))


@compiled
def _toward(
    centre: Array, d: Array, across: float, s: Array, rotation: Array, rise: float, aim: Array
) -> float:
    """Least distance from the disk of wrists (ball, for a rising shoulder) to a shoulder.

    ``aim`` receives the unit vector from the nearest shoulder to the nearest wrist.
    """
    x, y, z = centre[0] - s[0], centre[1] - s[1], centre[2] - s[2]
    ux, uy, uz = rotation[0, 2], rotation[1, 2], rotation[2, 2]
    k = min(rise, max(0.0, x * ux + y * uy + z * uz))
    x, y, z = x - k * ux, y - k * uy, z - k * uz
    along = 0.0 if rise > 0.0 else x * d[0] + y * d[1] + z * d[2]
    rx, ry, rz = x - along * d[0], y - along * d[1], z - along * d[2]
    off = math.sqrt(rx * rx + ry * ry + rz * rz)
    shrink = max(0.0, off - across) / max(off, 1e-12)
    aim[0] = along * d[0] + shrink * rx
    aim[1] = along * d[1] + shrink * ry
    aim[2] = along * d[2] + shrink * rz
    distance = math.sqrt(aim[0] * aim[0] + aim[1] * aim[1] + aim[2] * aim[2])
    if distance > 1e-9:
        for i in range(3):
            aim[i] /= distance
        return distance
    return 0.0


@compiled
def _approach(
    p: Array, q: Array, half: Array, lever_hip: float, lever_twist: float, frame: Array,
    aim: Array, share: Array,
) -> float:  # fmt: skip
    """How much nearer a box can bring any shoulder to a convex set of wrists, m.

    The distance to a convex set is convex, so it shrinks by no more than the motion along
    ``aim``: first order by the turning speeds, plus what the curvature of the paths adds.
    ``share`` (5,) receives how much each freedom has a part in it.
    """
    theta = q[1] + q[2]
    c0, s0, ct, st = math.cos(q[0]), math.sin(q[0]), math.cos(theta), math.sin(theta)
    leg = p[HIP] - p[ANKLE]
    hip_x = math.sin(q[1]) * leg
    hip_y, hip_z = -s0 * math.cos(q[1]) * leg, p[ANKLE] + c0 * math.cos(q[1]) * leg
    first = 0.0
    for i in range(5):
        if i == 0:
            ax, ay, az = 1.0, 0.0, 0.0
        elif i < 3:
            ax, ay, az = 0.0, c0, s0
        elif i == 3:
            ax, ay, az = ct, s0 * st, -c0 * st
        else:
            ax, ay, az = frame[0, 2], frame[1, 2], frame[2, 2]
        # aim . (axis x lever) = lever . (aim x axis)
        nx = aim[1] * az - aim[2] * ay
        ny = aim[2] * ax - aim[0] * az
        nz = aim[0] * ay - aim[1] * ax
        if i < 2:
            x, y, z = frame[3, 0], frame[3, 1], frame[3, 2] - p[ANKLE]
        else:
            x, y, z = frame[3, 0] - hip_x, frame[3, 1] - hip_y, frame[3, 2] - hip_z
        low = nx * x + ny * y + nz * z
        high = low + p[RISE] * (nx * frame[0, 2] + ny * frame[1, 2] + nz * frame[2, 2])
        share[i] = half[i] * max(abs(low), abs(high))
        first += share[i]
    ankle, hip, twist = half[0] + half[1], half[2] + half[3], half[4]
    at_hip = hip * lever_hip + twist * lever_twist
    lever_ankle = _ankle_distance(p, frame) + at_hip
    for i in range(5):
        lever = lever_ankle if i < 2 else (lever_hip if i < 4 else lever_twist)
        share[i] += half[i] * half[i] * lever
    second = ankle * ankle * lever_ankle
    second += (2.0 * ankle + hip) * hip * lever_hip
    second += (2.0 * (ankle + hip) + twist) * twist * lever_twist
    return first + 0.5 * second


@compiled
def _sift_down(boxes: Boxes, n: int) -> None:
    """Drop the root of a heap of n + 1 boxes: its last one goes to the root and sinks."""
    node_b = boxes[2]
    b, c = node_b[n], 0
    while True:
        child = 2 * c + 1
        if child >= n:
            break
        if child + 1 < n and node_b[child + 1] < node_b[child]:
            child += 1
        if node_b[child] >= b:
            break
        _copy(boxes, child, c)
        c = child
    _copy(boxes, n, c)


@compiled
def _push(boxes: Boxes, n: int, q: Array, half: Array, bound: float) -> None:
    """Add a box to a heap of n boxes."""
    node_q, node_h, node_b = boxes
    c = n
    while c > 0 and node_b[(c - 1) // 2] > bound:
        _copy(boxes, (c - 1) // 2, c)
        c = (c - 1) // 2
    node_b[c] = bound
    for i in range(5):
        node_q[c, i], node_h[c, i] = q[i], half[i]


@compiled
def _copy(boxes: Boxes, source: int, target: int) -> None:
    node_q, node_h, node_b = boxes
    node_b[target] = node_b[source]
    for i in range(5):
        node_q[target, i], node_h[target, i] = node_q[source, i], node_h[source, i]
