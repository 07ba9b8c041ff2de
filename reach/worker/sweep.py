"""Branch and bound over the trunk: how near to a given wrist any posture brings the shoulder.

The five trunk freedoms make a box.  The distance at the middle of a box, less what the box
can move the shoulder, is a bound for all its postures; boxes are halved, the least bound
first, until the bound is sharp or decides the question.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.worker.chain import trunk_fk
from reach.worker.figure import AHEAD, ANKLE, HALF, HIGH, HIP, LOW, RISE, SHOULDER

SHARP = 2e-3
"""How near the bound of a distance comes to the least distance found, m."""


@njit(cache=True, error_model="numpy")
def _distance(centre, d, across, sx, sy, sz, ux, uy, uz, rise):
    """Least distance from the circle of wrists to the segment of shoulders, or a bound below it.

    The circle has radius ``across`` about the axis d through ``centre``; the segment runs from
    s to s + rise u.
    """
    x, y, z = centre[0] - sx, centre[1] - sy, centre[2] - sz
    k = min(rise, max(0.0, x * ux + y * uy + z * uz))
    mx, my, mz = x - k * ux, y - k * uy, z - k * uz
    bound = math.sqrt(mx * mx + my * my + mz * mz) - across
    h = 0.5 * rise
    x, y, z = x - h * ux, y - h * uy, z - h * uz
    along = x * d[0] + y * d[1] + z * d[2]
    off = math.sqrt(max(0.0, x * x + y * y + z * z - along * along))
    return max(bound, math.sqrt((off - across) ** 2 + along * along) - h)


@njit(cache=True, error_model="numpy")
def sweep(p, centre, d, across, enough, n_boxes, near, node_q, node_h, node_b, rotation, shoulder):
    """Return (bound, found) of the least distance from a wrist to a shoulder, m.

    No trunk posture brings the shoulder nearer than ``bound``; some brings it as near as
    ``found``.

    Parameters
    ----------
    centre, d, across
        Circle on which the wrist lies: centre (3,), axis (3,), boot frame, and radius, m.
    enough, near : float, m
        Stop as soon as bound > enough, found <= near, or found - bound <= SHARP.
    n_boxes : int
    node_q, node_h, node_b : ndarray, shapes (n_boxes + 4, 5), (n_boxes + 4, 5), (n_boxes + 4,)
        Scratch: a binary heap of boxes, least bound first.
    rotation, shoulder : ndarray, shapes (3, 3), (3,)
        Scratch.
    """
    torso = p[SHOULDER] - p[HIP]
    torso_top = max(abs(torso), abs(torso + p[RISE]))
    lever_twist = math.hypot(p[HALF], p[AHEAD])
    lever_hip = math.hypot(lever_twist, torso_top)
    lever_ankle = p[HIP] - p[ANKLE] + lever_hip
    q, half = np.empty(5), np.empty(5)
    for i in range(5):
        node_q[0, i] = 0.5 * (p[LOW + i] + p[HIGH + i])
        node_h[0, i] = 0.5 * (p[HIGH + i] - p[LOW + i])
    node_b[0] = 0.0
    n_heap, n_seen, found = 1, 0, 1e9
    while n_heap > 0 and n_seen < n_boxes:
        bound = node_b[0]
        if bound >= found - SHARP or bound > enough or found <= near:
            break
        for i in range(5):
            q[i], half[i] = node_q[0, i], node_h[0, i]
        n_heap -= 1
        _sift_down(node_q, node_h, node_b, n_heap)
        split, most = 0, -1.0
        for i in range(5):
            lever = lever_ankle if i < 2 else (lever_hip if i < 4 else lever_twist)
            if half[i] * lever > most:
                split, most = i, half[i] * lever
        half[split] *= 0.5
        middle = q[split]
        for side in range(2):
            q[split] = middle + (half[split] if side == 0 else -half[split])
            n_seen += 1
            trunk_fk(p, q, rotation, shoulder)
            f = _distance(
                centre, d, across, shoulder[0], shoulder[1], shoulder[2],
                rotation[0, 2], rotation[1, 2], rotation[2, 2], p[RISE],
            )  # fmt: skip
            found = min(found, f)
            # Hip freedoms turn the shoulder about the hip, ankle freedoms about the ankle,
            # where the hip freedoms may have carried it farther out.
            moved = (half[2] + half[3]) * lever_hip + half[4] * lever_twist
            reach = _ankle_distance(p, rotation, shoulder) + moved
            b = max(bound, f - moved - (half[0] + half[1]) * reach)
            if b < found:
                _push(node_q, node_h, node_b, n_heap, q, half, b)
                n_heap += 1
    if n_heap > 0:
        return min(node_b[0], found), found
    return found, found


@njit(cache=True, error_model="numpy")
def _ankle_distance(p, rotation, shoulder):
    """Largest distance from the ankle to the segment of shoulders."""
    x, y, z = shoulder[0], shoulder[1], shoulder[2] - p[ANKLE]
    low = x * x + y * y + z * z
    x, y, z = x + p[RISE] * rotation[0, 2], y + p[RISE] * rotation[1, 2], z + p[RISE] * rotation[2, 2]
    return math.sqrt(max(low, x * x + y * y + z * z))


@njit(cache=True, error_model="numpy")
def _sift_down(node_q, node_h, node_b, n):
    """Drop the root of a heap of n + 1 nodes: its last node goes to the root and sinks."""
    b, c = node_b[n], 0
    while True:
        child = 2 * c + 1
        if child >= n:
            break
        if child + 1 < n and node_b[child + 1] < node_b[child]:
            child += 1
        if node_b[child] >= b:
            break
        _copy(node_q, node_h, node_b, child, c)
        c = child
    _copy(node_q, node_h, node_b, n, c)


@njit(cache=True, error_model="numpy")
def _push(node_q, node_h, node_b, n, q, half, b):
    c = n
    while c > 0 and node_b[(c - 1) // 2] > b:
        _copy(node_q, node_h, node_b, (c - 1) // 2, c)
        c = (c - 1) // 2
    node_b[c] = b
    for i in range(5):
        node_q[c, i], node_h[c, i] = q[i], half[i]


@njit(cache=True, error_model="numpy")
def _copy(node_q, node_h, node_b, source, target):
    node_b[target] = node_b[source]
    for i in range(5):
        node_q[target, i], node_h[target, i] = node_q[source, i], node_h[source, i]
