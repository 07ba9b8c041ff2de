"""Proof that no posture works: every cell of trunk postures is refuted by a bound.

A cell is a box of the five trunk angles.  It is refuted when, for *every* posture in it, the
arm cannot bring the tool to the fastener (distance from shoulder to wrist), or part of trunk
or legs is too close to the structure (distance at the middle plus what the cell can move),
or too much of the head is hidden (the ball of eye points lies in the shadow of one convex
solid), or the line of sight is too far off.  All cells refuted is a certificate; a cell that
stays is only *not settled*.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree
from reach.geometry.compiled import compiled
from reach.geometry.distance import segment_tree_distance2
from reach.worker.figure import (
    ACROSS,
    AHEAD,
    ALONG,
    ANKLE,
    HALF,
    HIGH,
    HIP,
    LOW,
    R_MAX,
    R_MIN,
    RISE,
    SHOULDER,
    TOLERANCE,
    Figure,
)
from reach.worker.posing import Target, buffers_of, kit_of, world_of
from reach.worker.room import to_world
from reach.worker.shadow import Shadows
from reach.worker.volume import Bulk, body_capsules

ARM, ROOM, SIGHT = 1, 2, 4
"""What may refute a cell; they add."""

REASONS = {
    ARM: "the arm is too short or too long there",
    ROOM: "the body is too close to structure there",
    SIGHT: "the head is hidden or too far aside there",
}

N_CELLS = 20_000
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Refuted:
    """Outcome of the search over cells.

    ``proved`` is True when no cell is left; ``counts`` says how many cells fell to the arm,
    to missing room and to missing sight; ``n_cells`` how many were looked at.
    """

    proved: bool
    n_cells: int
    counts: tuple[int, int, int]

    @property
    def reason(self) -> str:
        """What refuted the most cells, in words."""
        names = (ARM, ROOM, SIGHT)
        return REASONS[names[int(np.argmax(self.counts))]]


@compiled
def _lever(leg, x, y, z, h):
    """Return how far a torso point (from the hip) can move within a cell of half-widths h."""
    r = math.sqrt(x * x + y * y + z * z)
    return (h[0] + h[1]) * (leg + r) + (h[2] + h[3]) * r + h[4] * math.hypot(x, y)


@compiled
def _capsule_lever(i, shells, sizes, leg, h):
    """Return how far any point of leg or shell ``i`` can move within a cell."""
    if i < 2:  # The foot stands still; the top of the leg turns with the torso.
        return _lever(leg, 0.0, sizes[4], 0.0, h)
    s = shells[i - 2]
    return max(_lever(leg, s[0], s[1], s[2], h), _lever(leg, s[3], s[4], s[5], h))


@compiled
def _arm_refutes(p, tip, direction, S, leg, h):
    along = p[ALONG]
    across = p[ACROSS]
    slack = across + 2.0 * math.sin(0.5 * p[TOLERANCE]) * math.hypot(along, across) + ROUNDING
    moved = _lever(leg, p[AHEAD], p[HALF], p[SHOULDER] - p[HIP], h)
    d2 = 0.0
    for a in range(3):
        d2 += (tip[a] - direction[a] * along - S[a]) ** 2
    d = math.sqrt(d2)
    far = d - p[R_MAX] - p[RISE] - slack - moved > 0.0
    near = d + slack + moved + p[RISE] - p[R_MIN] < 0.0
    return far or near


@compiled
def _room_refutes(p, world, kit, need, body, leg, h, scratch):
    room, pose = world
    shells, sizes, _, _, n_body = kit
    points, stack, depth = scratch
    for i in range(n_body):
        moved = _capsule_lever(i, shells, sizes, leg, h)
        bound = body[i, 6] + need[i] - moved - ROUNDING
        if bound <= 0.0:
            continue
        to_world(pose, body[i, 0], body[i, 1], body[i, 2], points[0])
        to_world(pose, body[i, 3], body[i, 4], body[i, 5], points[1])
        d2, _ = segment_tree_distance2(
            room[0], room[1], room[2], points[0], points[1], bound * bound, stack, depth
        )
        if d2 < bound * bound:
            return True
    return False


@compiled
def _sight_refutes(p, tip, direction, world, kit, ask, shadows, R, eye, leg, h, scratch):
    _, sizes, _, view, _ = kit
    n_spots, share, angle = ask
    planes, start, stop, spot = shadows
    moved = _lever(leg, sizes[5], 0.0, sizes[6], h) + sizes[7] + ROUNDING
    x, y, z = eye[0] - tip[0], eye[1] - tip[1], eye[2] - tip[2]
    d = math.sqrt(x * x + y * y + z * z)
    if d > moved:
        swing = math.asin(moved / d)
        c = -(x * direction[0] + y * direction[1] + z * direction[2]) / d
        if math.acos(min(1.0, max(-1.0, c))) - swing > angle + ROUNDING:
            return True
        turn = h[0] + h[1] + h[2] + h[3] + h[4]
        up = -(R[0, 2] * x + R[1, 2] * y + R[2, 2] * z) / d
        lift = math.asin(min(1.0, max(-1.0, up)))
        if -lift - swing - turn > min(view[1], view[4]) + ROUNDING:
            return True
        if lift - swing - turn > min(view[2], view[5]) + ROUNDING:
            return True
    points = scratch[0]
    to_world(world[1], eye[0], eye[1], eye[2], points[0])
    hidden = 0
    last = -1
    for k in range(start.shape[0]):
        if spot[k] == last:
            continue
        inside = True
        for j in range(start[k], stop[k]):
            s = planes[j, 3]
            for a in range(3):
                s -= planes[j, a] * points[0, a]
            if s < moved:
                inside = False
                break
        if inside:
            hidden += 1
            last = spot[k]
    return n_spots - hidden < share * n_spots - 1e-9


@compiled
def refute(p, tip, direction, world, kit, need, ask, shadows, wanted, n_max, buffers, counts):
    """Depth first over cells; returns (all refuted, cells looked at)."""
    _, _, R, S, eye, body, _, scratch = buffers
    shells, sizes = kit[0], kit[1]
    leg = p[HIP] - p[ANKLE]
    deep = 400
    middle = np.empty((deep, 5))
    half = np.empty((deep, 5))
    for i in range(5):
        middle[0, i] = 0.5 * (p[LOW + i] + p[HIGH + i])
        half[0, i] = 0.5 * (p[HIGH + i] - p[LOW + i])
    n_stack = 1
    seen = 0
    q = np.empty(5)
    h = np.empty(5)
    while n_stack > 0:
        n_stack -= 1
        q[:] = middle[n_stack]
        h[:] = half[n_stack]
        seen += 1
        body_capsules(p, q, shells, sizes, R, S, eye, body)
        if wanted & ARM and _arm_refutes(p, tip, direction, S, leg, h):
            counts[0] += 1
            continue
        if wanted & SIGHT and _sight_refutes(
            p, tip, direction, world, kit, ask, shadows, R, eye, leg, h, scratch
        ):
            counts[2] += 1
            continue
        if wanted & ROOM and _room_refutes(p, world, kit, need, body, leg, h, scratch):
            counts[1] += 1
            continue
        widest = 0
        most = -1.0
        for i in range(5):
            lever = h[i] * (2.0 * leg if i < 2 else (1.0 if i < 4 else 0.5) * leg)
            if lever > most:
                most = lever
                widest = i
        if seen >= n_max or n_stack + 2 > deep or most < 1e-3:
            return False, seen
        h[widest] *= 0.5
        for side in range(2):
            middle[n_stack] = q
            middle[n_stack, widest] += h[widest] if side == 0 else -h[widest]
            half[n_stack] = h
            n_stack += 1
    return True, seen


def refute_cells(
    figure: Figure,
    bulk: Bulk,
    tree: Tree,
    world_from_boots: NDArray[np.float64],
    target: Target,
    need: NDArray[np.float64],
    shadows: Shadows,
    wanted: int,
    n_max: int = N_CELLS,
) -> Refuted:
    """Try to refute every cell of trunk postures for the given reasons.

    Parameters
    ----------
    need : ndarray, shape (n_capsules,), m
        The limits themselves, without anything added for tessellation: what is refuted is
        truly below the limit.
    shadows : Shadows
        Of convex solids, for each spot of the fastener head.
    wanted : int
        Sum of `ARM`, `ROOM`, `SIGHT`.
    n_max : int
        Cells looked at before giving up.
    """
    counts = np.zeros(3, np.int64)
    proved, n_cells = refute(
        figure.p,
        target.tip,
        target.direction,
        world_of(tree, world_from_boots),
        kit_of(bulk),
        need,
        (len(target.spots), target.share, target.angle),
        (shadows.planes, shadows.start, shadows.stop, shadows.spot),
        wanted,
        n_max,
        buffers_of(bulk),
        counts,
    )
    return Refuted(bool(proved), int(n_cells), (int(counts[0]), int(counts[1]), int(counts[2])))
