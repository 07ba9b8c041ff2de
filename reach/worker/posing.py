"""The third tier of reach: a posture with the tool on the fastener, clear of everything, seen.

Sampled trunks with a grid of arm postures give candidates; the nearest misses are then
walked downhill on one number, the *fault*: the worst of joint excess (rad), missing room
(m, as rad of an arm's length) and missing sight.  A fault of at most 0 is a witness.  Not
finding one proves nothing; `reach.worker.cells` does that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree
from reach.geometry.compiled import compiled
from reach.worker import chain
from reach.worker.chain import METRES_PER_RADIAN, N_FREEDOMS
from reach.worker.figure import (
    ACROSS,
    ALONG,
    CONE_X,
    CONE_Y,
    CONE_Z,
    R_MAX,
    RISE,
    Figure,
)
from reach.worker.room import least_room, own_room, scratch_arrays, seen_share, sight_angles
from reach.worker.search import SEED, nudge
from reach.worker.trunks import Trunks
from reach.worker.volume import N_IDLE, Bulk, arm_capsules, body_capsules

CLEAR, SEEN = 1, 2
"""What a posture is asked for beyond reach; they add."""

_UNTESTED = 99.0


@dataclass(frozen=True, eq=False, slots=True)
class Target:
    """What is to be reached, in the boot frame of a right-handed question.

    Attributes
    ----------
    tip, direction : ndarray, shape (3,), m and unit vector, boot frame
        Where the tool tip goes and where it points.
    spots : ndarray, shape (n, 3), m, world
        Points of the fastener head that are to be seen.
    need : ndarray, shape (n_capsules,), m
        Distance each capsule keeps from the structure.
    share : float
        Least share of the spots to be seen.
    angle : float, rad
        Most that the line of sight may be off the fastener's outward axis.
    """

    tip: NDArray[np.float64]
    direction: NDArray[np.float64]
    spots: NDArray[np.float64]
    need: NDArray[np.float64]
    share: float
    angle: float


@dataclass(frozen=True, eq=False, slots=True)
class Held:
    """A posture found and what was measured in it.

    ``fault`` <= 0 means everything asked for holds.  ``room`` (body, arm and tool, own
    body) in m beyond what is needed, capped at `FAR`; ``share`` seen; ``off`` the angle of
    sight off the axis and ``outside`` the excess over the field of view, rad.
    """

    fault: float
    posture: NDArray[np.float64]
    violation: float
    body_room: float
    arm_room: float
    own_room: float
    share: float
    off: float
    outside: float


@compiled
def fault_of(p, tip, direction, x, wanted, stop, world, kit, ask, buffers, measured):
    """Return the fault of posture ``x``; ``measured`` (7,) receives what `Held` lists.

    ``world`` = (room, pose), ``kit`` = (shells, sizes, tool, view, n_body), ``ask`` =
    (spots, need, share, angle).  Once above ``stop`` the rest is not measured.
    """
    room, pose = world
    shells, sizes, tool, view, n_body = kit
    spots, need, share, angle = ask
    work, out, R, S, eye, body, arm, scratch = buffers
    fault = chain.evaluate(p, tip, direction, x, work, out)
    measured[0] = fault
    for i in range(1, 7):
        measured[i] = _UNTESTED
    if fault > stop:
        return fault
    body_capsules(p, x, shells, sizes, R, S, eye, body)
    arm_capsules(p, sizes, tool, work, out, arm)
    if wanted & CLEAR:
        n = n_body + N_IDLE
        measured[3] = own_room(body, n_body, arm, scratch)
        fault = max(fault, -measured[3] / METRES_PER_RADIAN)
        if fault > stop:
            return fault
        floor = -stop * METRES_PER_RADIAN
        measured[1] = least_room(room, pose, body, need, 0, n_body, floor, scratch)
        fault = max(fault, -measured[1] / METRES_PER_RADIAN)
        if fault > stop:
            return fault
        idle = least_room(room, pose, body, need, n_body, n, floor, scratch)
        measured[2] = min(
            idle, least_room(room, pose, arm, need[n:], 0, arm.shape[0], floor, scratch)
        )
        fault = max(fault, -measured[2] / METRES_PER_RADIAN)
        if fault > stop:
            return fault
    if wanted & SEEN:
        off, outside = sight_angles(pose, work[0:3], eye, tip, -direction, view, scratch)
        measured[5] = off
        measured[6] = outside
        fault = max(fault, max(off - angle, outside))
        if fault > stop:
            return fault
        measured[4] = seen_share(room, pose, eye, spots, scratch)
        if measured[4] < share:
            fault = max(fault, 0.1 + 0.5 * (share - measured[4]))
    return fault


@compiled
def comfort(measured):
    """Return how good a witness is: its least room, body room counting half."""
    return min(min(0.5 * measured[1], measured[2]), measured[3])


@compiled
def pose_search(
    p, trunks, torsos, shoulders, tip, direction, wanted, world, kit, ask, grid, buffers, x, best
):
    """Search for a witness; returns its fault, with the posture in ``x`` (9,).

    ``grid`` = (rolls, swivels, seeds, steps, gate, enough).  ``best`` (7,) receives what was
    measured.  Among the first ``enough`` witnesses the most comfortable one is kept.
    """
    n_roll, n_swivel, n_seed, n_step, gate, enough = grid
    work, out = buffers[0], buffers[1]
    h, w = work[6:9], work[11]
    seeds = np.empty((n_seed, N_FREEDOMS))
    faults = np.full(n_seed, _UNTESTED)
    owner = np.full(n_seed, -1)
    measured = np.empty(7)
    y = np.empty(N_FREEDOMS)
    hands = np.empty((n_roll, 3, 3))
    wrists = np.empty((n_roll, 3))
    found = 0
    top = -_UNTESTED
    for i in range(n_roll):
        chain.hand_frame(p, direction, 0.0, 0.0, 2.0 * math.pi * i / n_roll, hands[i])
        chain.wrist_of(p, tip, hands[i], wrists[i])
    limit = p[R_MAX] + p[RISE] + METRES_PER_RADIAN * gate
    for k in range(trunks.shape[0]):
        far = 0.0
        for a in range(3):
            far += (tip[a] - direction[a] * p[ALONG] - shoulders[k, a]) ** 2
        if math.sqrt(far) > limit + p[ACROSS]:
            continue
        done = False
        for i in range(n_roll):
            for a in range(3):
                work[9, a] = shoulders[k, a]
            if p[RISE] > 0.0:
                chain.lift(p, torsos[k], work[9], wrists[i])
            chain.to_torso(torsos[k], work[9], wrists[i], hands[i], w, h)
            r = math.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
            if r > limit or r < 1e-6:
                continue
            in_cone = (w[0] * p[CONE_X] + w[1] * p[CONE_Y] + w[2] * p[CONE_Z]) / r
            in_hand = (w[0] * h[0, 0] + w[1] * h[1, 0] + w[2] * h[2, 0]) / r
            stop = min(gate, faults[n_seed - 1])
            if chain.cannot_bend(p, r, in_cone, in_hand, max(0.0, stop)):
                continue
            for j in range(n_swivel):
                stop = min(gate, faults[n_seed - 1])
                swivel = 2.0 * math.pi * j / n_swivel
                # `w` and `h` are overwritten by the tests below: made again each time.
                for a in range(3):
                    work[9, a] = shoulders[k, a]
                if p[RISE] > 0.0:
                    chain.lift(p, torsos[k], work[9], wrists[i])
                chain.to_torso(torsos[k], work[9], wrists[i], hands[i], w, h)
                if chain.arm(p, w, h, swivel, stop, out) > stop:
                    continue
                for a in range(5):
                    y[a] = trunks[k, a]
                y[5] = 0.0
                y[6] = 0.0
                y[7] = 2.0 * math.pi * i / n_roll
                y[8] = swivel
                f = fault_of(p, tip, direction, y, wanted, stop, world, kit, ask, buffers, measured)
                if f <= 0.0:
                    found += 1
                    if comfort(measured) > top:
                        top = comfort(measured)
                        x[:] = y
                        best[:] = measured
                    done = True
                    break
                if f < stop:
                    keep(seeds, faults, owner, y, f, k)
            if done:
                break
        if found >= enough:
            return 0.0
    if found > 0:
        return 0.0
    return walk(
        p, tip, direction, wanted, world, kit, ask, buffers, seeds, faults, n_step, gate, x, best
    )


@compiled
def keep(seeds, faults, owner, y, f, k):
    """Insert a candidate into the list of best seeds, one a trunk sample."""
    m = faults.shape[0] - 1
    for z in range(faults.shape[0]):
        if owner[z] == k:
            m = z
            break
    if f >= faults[m]:
        return
    while m > 0 and faults[m - 1] > f:
        faults[m] = faults[m - 1]
        owner[m] = owner[m - 1]
        seeds[m] = seeds[m - 1]
        m -= 1
    faults[m] = f
    owner[m] = k
    seeds[m] = y


@compiled
def walk(p, tip, direction, wanted, world, kit, ask, buffers, seeds, faults, n_step, gate, x, best):
    """Walk the seeds downhill on the fault by random steps of one to three freedoms."""
    measured = np.empty(7)
    y = np.empty(N_FREEDOMS)
    least = _UNTESTED
    state = np.empty(1, np.uint64)
    state[0] = SEED
    for s in range(seeds.shape[0]):
        f = faults[s]
        if f > gate:
            break
        z = seeds[s].copy()
        step = 0.25
        bad = 0
        for _ in range(n_step):
            nudge(p, z, step, state, y)
            g = fault_of(p, tip, direction, y, wanted, f, world, kit, ask, buffers, measured)
            if g < f:
                f = g
                z[:] = y
                bad = 0
                step = min(0.6, step * 1.3)
                if f <= 0.0:
                    x[:] = z
                    best[:] = measured
                    return f
            else:
                bad += 1
                if bad % 4 == 0:
                    step = max(0.01, step * 0.8)
        if f < least:
            least = f
            x[:] = z
    if least < _UNTESTED:
        fault_of(p, tip, direction, x, wanted, _UNTESTED, world, kit, ask, buffers, best)
    return least


EFFORTS = {
    "quick": (12, 16, 8, 60, 0.25, 6),
    "full": (16, 24, 16, 300, 0.35, 1),
}
"""Rolls, swivels, seeds, steps, gate (rad) and number of witnesses to choose from."""


def find_held(
    figure: Figure,
    bulk: Bulk,
    tree: Tree,
    world_from_boots: NDArray[np.float64],
    target: Target,
    trunks: Trunks,
    wanted: int = CLEAR | SEEN,
    effort: str = "quick",
) -> Held:
    """Return the best posture found for a target; its ``fault`` says whether it is a witness.

    Parameters
    ----------
    figure, bulk : Figure, Bulk
    tree : Tree
        The structure, world.  For a left-hand question both it and the pose stay as they
        are: ``world_from_boots`` then takes the *mirrored* boot frame to the world.
    world_from_boots : ndarray, shape (4, 4)
    target : Target
    trunks : Trunks
    wanted : int
        `CLEAR`, `SEEN` or both; 0 asks for joint limits only.
    effort : str
        A key of `EFFORTS`.
    """
    buffers = buffers_of(bulk)
    x = np.zeros(N_FREEDOMS)
    best = np.full(7, _UNTESTED)
    fault = pose_search(
        figure.p,
        trunks.q,
        trunks.rotation,
        trunks.shoulder,
        target.tip,
        target.direction,
        wanted,
        world_of(tree, world_from_boots),
        kit_of(bulk),
        (target.spots, target.need, target.share, target.angle),
        EFFORTS[effort],
        buffers,
        x,
        best,
    )
    return Held(fault, x, *(float(v) for v in best))


def world_of(tree: Tree, world_from_boots: NDArray[np.float64]):
    """Return (room, pose) as the kernels want them."""
    rotation = np.ascontiguousarray(world_from_boots[:3, :3])
    origin = np.ascontiguousarray(world_from_boots[:3, 3])
    return (tree.tri, tree.box, tree.link), (rotation, origin)


def kit_of(bulk: Bulk):
    """Return (shells, sizes, tool, view, n_body) as the kernels want them."""
    return bulk.shells, bulk.sizes, bulk.tool, bulk.view, bulk.n_body


def buffers_of(bulk: Bulk):
    """Return fresh work arrays for `fault_of`."""
    work, out = chain.work_arrays()
    n_body = bulk.n_body + N_IDLE
    n_arm = len(bulk.names) - n_body
    body, arm = np.empty((n_body, 7)), np.empty((n_arm, 7))
    R, S, eye = np.empty((3, 3)), np.empty(3), np.empty(3)
    return work, out, R, S, eye, body, arm, scratch_arrays()


def capsules_of(
    figure: Figure, bulk: Bulk, target: Target, posture: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the capsules of a posture, shape (n_capsules, 7), m, boot frame, as ``bulk.names``."""
    work, out, R, S, eye, body, arm, _ = buffers_of(bulk)
    chain.evaluate(figure.p, target.tip, target.direction, posture, work, out)
    arm_capsules(figure.p, bulk.sizes, bulk.tool, work, out, arm)
    body_capsules(figure.p, posture, bulk.shells, bulk.sizes, R, S, eye, body)
    return np.vstack((body, arm))


def eye_of(figure: Figure, bulk: Bulk, posture: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the eye point (3,), m, boot frame, of a posture."""
    _, _, R, S, eye, body, _, _ = buffers_of(bulk)
    body_capsules(figure.p, posture, bulk.shells, bulk.sizes, R, S, eye, body)
    return eye
