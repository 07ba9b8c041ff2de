"""Margin: how far a target may be off, any way, and still be reached with the same tool direction.

Shell probing: spheres of growing radius about the target, `N_DIRECTIONS` points on each, all
walked outward together; each point starts from the posture of the last one on its ray and gets
a full search before it counts as failed.  What is reached with a fixed tool direction is a
thin dented shell, so few directions flatter; `WITHIN` says by how much these do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.worker.bound import proved
from reach.worker.chain import N_FREEDOMS, evaluate
from reach.worker.chance import State
from reach.worker.figure import ALONG, Figure
from reach.worker.question import questions
from reach.worker.search import SEED, refine, room_for, solve
from reach.worker.sweep import boxes_for
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

N_DIRECTIONS = 60
STEP, FINEST = 0.04, 0.01
"""First and last step from shell to shell, m."""

FARTHEST = 0.6
"""No shell is larger, m."""

WITHIN = 0.015
"""95 % of margins by 60 directions are within this of those by 146 directions, m."""

_N_TRUNKS, _N_SEEDS, _N_STEPS, _NEAR = 128, 8, 150, 0.4
_EASE = -0.02
_N_BOXES, _N_BOXES_FIRST = 1000, 200
_PROBE, _PROBE_MAX = 0.2, 3.0
_N_RAYS, _N_HALVINGS = 3, 5


@dataclass(frozen=True, slots=True, eq=False)
class Margin:
    """How far a reached target may move, in the boot frame, and still be reached.

    Attributes
    ----------
    radius : float, m
        All probed points up to here are reached.
    within : float, m
        How far the radius can be off, by the probing.
    worst_direction : ndarray, shape (3,), boot frame
        Where the first probe failed; nan when none did.
    ceiling : float, m
        A point this far off is proved out of reach, so no margin is larger; inf without proof.
    """

    radius: float
    within: float
    worst_direction: Array
    ceiling: float


def reach_margin(figure: Figure, tip: ArrayLike, direction: ArrayLike, x: ArrayLike) -> Margin:
    """Return the margin of one target reached by posture ``x``.

    Parameters
    ----------
    tip, direction : array_like, shape (3,), m and any length, boot frame
    x : array_like, shape (9,)
        As found by `reach.worker.search.find_postures`.

    Raises
    ------
    ValueError
        If ``x`` does not reach the target.
    """
    return reach_margins(figure, tip, direction, np.atleast_2d(np.asarray(x, np.float64)))[0]


def reach_margins(
    figure: Figure, tips: ArrayLike, directions: ArrayLike, x: ArrayLike
) -> list[Margin]:
    """Return the margins of many reached targets, see `reach_margin`.

    Parameters
    ----------
    tips, directions : array_like, shape (n, 3), m and any length, boot frame
    x : array_like, shape (n, 9)
    """
    t, d = questions(tips, directions)
    start = np.array(x, np.float64)
    if start.shape != (len(t), N_FREEDOMS):
        raise ValueError(f"{len(t)} targets need postures ({len(t)}, 9), found {start.shape}")
    trunks, rays = trunks_of(figure, _N_TRUNKS), sphere_points(N_DIRECTIONS)
    radius, worst, ceiling = np.empty(len(t)), np.empty(len(t), np.int64), np.empty(len(t))
    in_chunks(
        _shells, len(t), figure.p, trunks.q, trunks.rotation, trunks.shoulder, t, d, start, rays,
        radius, worst, ceiling, chunk=1,
    )  # fmt: skip
    if (radius < 0.0).any():
        row = int(np.flatnonzero(radius < 0.0)[0])
        raise ValueError(f"posture {row} does not reach its target")
    nowhere = np.full(3, np.nan)
    return [
        Margin(float(r), WITHIN, rays[k] if k >= 0 else nowhere, float(c))
        for r, k, c in zip(radius, worst, ceiling, strict=True)
    ]


def sphere_points(n: int) -> Array:
    """Return ``n`` unit vectors spread evenly over the sphere, shape (n, 3): a golden spiral."""
    k = np.arange(n) + 0.5
    z, turn = 1.0 - 2.0 * k / n, k * np.pi * (1.0 + np.sqrt(5.0))
    r = np.sqrt(1.0 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


@compiled
def _shells(
    start: int, stop: int, p: Array, q: Array, rotation: Array, shoulder: Array, tips: Array,
    d: Array, postures: Array, rays: Array, radius: Array, worst: NDArray[np.int64],
    ceiling: Array,
) -> None:  # fmt: skip
    room = room_for(_N_SEEDS)
    work, out, state = room[4], room[5], room[6]
    m = len(rays)
    now, ahead, t = np.empty((m, N_FREEDOMS)), np.empty((m, N_FREEDOMS)), np.empty(3)
    for i in range(start, stop):
        for k in range(m):
            now[k] = postures[i]
        radius[i], worst[i], ceiling[i] = -1.0, -1, np.inf
        if not evaluate(p, tips[i], d[i], postures[i], work, out) <= 0.0:
            continue
        r, step, last, state[0] = 0.0, STEP, 0, SEED
        while r < FARTHEST and step > 0.75 * FINEST:
            good = True
            for j in range(m):
                k = (j + last) % m  # the direction that failed last is the likeliest to fail
                for a in range(3):
                    t[a] = tips[i, a] + (r + step) * rays[k, a]
                ahead[k] = now[k]
                f = follow(p, t, d[i], ahead[k], work, out, state)
                if f > 0.0:
                    f = solve(
                        p, q, rotation, shoulder, t, d[i], _N_STEPS, _NEAR, 0.0, ahead[k], room
                    )
                if f > 0.0:
                    good, last, worst[i] = False, k, k
                    break
            if good:
                r += step
                now[:] = ahead
            else:
                step *= 0.5
        radius[i] = r
        ceiling[i] = _ceiling(p, tips[i], d[i], rays, r, worst[i])


@compiled
def follow(p: Array, t: Array, d: Array, x: Array, work: Array, out: Array, state: State) -> float:
    """Carry posture ``x`` on to a nearby target; return its violation, rad."""
    f = evaluate(p, t, d, x, work, out)
    if f > _EASE:
        f = refine(p, t, d, x, f, 60, _EASE, 0.1, work, out, state)
    if f > 0.0:
        f = refine(p, t, d, x, f, 150, 0.0, 0.2, work, out, state)
    return f


@compiled
def _ceiling(p: Array, tip: Array, d: Array, rays: Array, radius: float, worst: int) -> float:
    """Least distance along some ray at which the wrist is proved out of reach, m.

    Only the rays that look best are followed: the bound is weaker for it, not wrong.
    """
    m = len(rays)
    boxes, frame, centre = boxes_for(_N_BOXES), np.empty((4, 3)), np.empty(3)
    short, probe = np.empty(m), 0.5 * _PROBE
    while probe < _PROBE_MAX:
        probe *= 2.0
        for k in range(m):
            for a in range(3):
                centre[a] = tip[a] - p[ALONG] * d[a] + (radius + probe) * rays[k, a]
            short[k] = proved(p, centre, d, np.inf, _N_BOXES_FIRST, boxes, frame)
        if short.max() > 0.0:
            break
    best = np.inf
    for j in range(_N_RAYS + 1):
        k = worst if j == _N_RAYS else int(np.argmax(short))
        if k < 0 or (j < _N_RAYS and not short[k] > 0.0):
            continue
        short[k] = -np.inf
        low, high = radius, min(best, radius + probe)
        for step in range(_N_HALVINGS + 1):
            middle = high if step == 0 else 0.5 * (low + high)
            for a in range(3):
                centre[a] = tip[a] - p[ALONG] * d[a] + middle * rays[k, a]
            if proved(p, centre, d, 0.0, _N_BOXES, boxes, frame) > 0.0:
                best, high = min(best, middle), middle
            elif step == 0:
                break
            else:
                low = middle
    return best
