"""How much room a posture has: to the structure, to the worker's own body, and for sight.

Kernels for the posture search.  ``room`` stands for the arrays of a search tree (tri, box,
link) in the world, ``pose`` for (rotation, origin) that take the boot frame to the world,
``scratch`` for (two world points (2, 3), stack, depth).
"""

from __future__ import annotations

import math

import numpy as np

from reach.geometry.compiled import compiled
from reach.geometry.distance import segment_tree_distance2
from reach.geometry.rays import any_hit_one
from reach.geometry.segments import segment_segment_distance
from reach.geometry.tree import STACK
from reach.worker.volume import N_IDLE, view_excess

FAR = 0.4
"""Room beyond this (m) is as good as any: queries stop there."""

PER_METRE = 1e9
"""Room is told to 1e-9 m, so that the last bits of a moved world do not choose the posture."""


def scratch_arrays() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return room to work in for the kernels of this module."""
    return np.empty((4, 3)), np.empty(STACK, np.int32), np.empty(STACK)


@compiled
def to_world(pose, x, y, z, out):
    """Write a boot-frame point into ``out`` (3,), world."""
    R, o = pose
    for a in range(3):
        out[a] = o[a] + R[a, 0] * x + R[a, 1] * y + R[a, 2] * z


@compiled
def least_room(room, pose, capsules, need, start, stop, floor, scratch):
    """Return the least of (distance - radius - need) over some capsules, m, at most `FAR`.

    Stops as soon as it is below ``floor``.
    """
    points, stack, depth = scratch
    tri, box, link = room
    least = FAR
    for i in range(start, stop):
        to_world(pose, capsules[i, 0], capsules[i, 1], capsules[i, 2], points[0])
        to_world(pose, capsules[i, 3], capsules[i, 4], capsules[i, 5], points[1])
        bound = capsules[i, 6] + need[i] + least
        if bound <= 0.0:
            return least
        d2, _ = segment_tree_distance2(
            tri, box, link, points[0], points[1], bound * bound, stack, depth
        )
        slack = math.sqrt(d2) - capsules[i, 6] - need[i]
        slack = math.floor(slack * PER_METRE + 0.5) / PER_METRE
        if slack < least:
            least = slack
            if least < floor:
                return least
    return least


@compiled
def own_room(body, n_body, arm, scratch):
    """Return the least distance of forearm line, hand and tool to trunk, legs and idle arm, m.

    Cloth may touch cloth: the forearm counts without its thickness, the upper arm not at all.
    """
    points = scratch[0]
    least = FAR
    for j in range(1, arm.shape[0]):
        thick = 0.0 if j == 1 else arm[j, 6]
        for a in range(3):
            points[0, a] = arm[j, a]
            points[1, a] = arm[j, 3 + a]
        for i in range(n_body + N_IDLE):
            for a in range(3):
                points[2, a] = body[i, a]
                points[3, a] = body[i, 3 + a]
            d = segment_segment_distance(points[0], points[1], points[2], points[3])
            least = min(least, d - body[i, 6] - thick)
    return least


@compiled
def seen_share(room, pose, eye, spots, scratch):
    """Return the share of the head's ``spots`` (n, 3), world, to which a clear line leads."""
    points, stack, _ = scratch
    tri, box, link = room
    to_world(pose, eye[0], eye[1], eye[2], points[0])
    seen = 0
    for i in range(spots.shape[0]):
        for a in range(3):
            points[1, a] = spots[i, a] - points[0, a]
        if not any_hit_one(tri, box, link, points[0], points[1], 1.0, stack):
            seen += 1
    return seen / spots.shape[0]


@compiled
def sight_angles(pose, torso, eye, target, axis, view, scratch):
    """Return (angle off the fastener axis, excess over the field of view), rad.

    ``target`` and ``axis`` in the boot frame.
    """
    x = eye[0] - target[0]
    y = eye[1] - target[1]
    z = eye[2] - target[2]
    n = math.sqrt(x * x + y * y + z * z)
    c = (x * axis[0] + y * axis[1] + z * axis[2]) / max(n, 1e-12)
    off = math.acos(min(1.0, max(-1.0, c)))
    return off, view_excess(torso, eye, target, view)
