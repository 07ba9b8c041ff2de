"""Scores: what tables say of many boot poses and many targets, by look-up.

The tip is looked up in the three tool directions nearest to the wanted one.  Their mean is an
estimate of the reach margin; their maximum plus `SLACK` is an optimistic one, by measurement,
not by proof.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.table.table import ReachTable
from reach.worker.question import questions

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

SLACK = 0.12
"""Best-of-three depth plus this was at least 0 for every reachable target seen, m.

Lowest seen: -0.071 m of 2,693 reached in 60,000 random settings and targets of the demo, and
-0.054 m of 60,000 planted postures, three sizes; the rest is allowance.  For tables of the
usual grid.
"""

_CHUNK = 256


def scores(
    tables: Sequence[ReachTable],
    world_from_boots: ArrayLike,
    tips: ArrayLike,
    directions: ArrayLike,
    mirrored: bool = False,
) -> tuple[Floats, Floats]:
    """Return what tables say of every pose and target.

    Parameters
    ----------
    tables : sequence of ReachTable
        One for each figure that is asked.
    world_from_boots : array_like, shape (m, 4, 4)
        Rigid poses of the boot plate.
    tips, directions : array_like, shape (k, 3), m and any length, world
        Where the tool tip is to be and the way the tool is to point.
    mirrored : bool
        The left hand: the question is mirrored in the boot frame (y to -y).

    Returns
    -------
    likely : ndarray of float32, shape (m, k, n_tables), m
        Mean of the depths in the three nearest directions: an estimate of the margin.
    best : ndarray of float32, shape (m, k, n_tables), m
        Largest of the three: below -`SLACK` the target may be left out.  Where the tip is
        farther than anything the figure reaches, both are the distance lacking, negative.

    Raises
    ------
    ValueError
        If the poses are not (m, 4, 4) or tips and directions do not go together.
    """
    poses = np.ascontiguousarray(world_from_boots, np.float64)
    if poses.ndim != 3 or poses.shape[1:] != (4, 4):
        raise ValueError(f"poses need the shape (m, 4, 4), found {poses.shape}")
    t, d = questions(tips, directions)
    likely = np.empty((len(poses), len(t), len(tables)), np.float32)
    best = np.empty_like(likely)
    for column, table in enumerate(tables):
        in_chunks(
            _look_up, len(poses), table.depth, table.directions, table.low, table.step,
            table.radius, poses, t, d, -1.0 if mirrored else 1.0, column, likely, best,
            chunk=_CHUNK,
        )  # fmt: skip
    return likely, best


@compiled
def _look_up(
    start: int, stop: int, depth: NDArray[np.float32], rays: Array, low: Array, step: float,
    radius: float, poses: Array, tips: Array, ways: Array, hand: float, column: int,
    likely: NDArray[np.float32], best: NDArray[np.float32],
) -> None:  # fmt: skip
    for i in range(start, stop):
        b = poses[i]
        for j in range(len(tips)):
            x, y, z = tips[j, 0] - b[0, 3], tips[j, 1] - b[1, 3], tips[j, 2] - b[2, 3]
            lacking = math.sqrt(x * x + y * y + z * z) - radius - 0.5 * step
            if lacking > SLACK:
                likely[i, j, column] = best[i, j, column] = -lacking
                continue
            u = b[0, 0] * x + b[1, 0] * y + b[2, 0] * z
            v = hand * (b[0, 1] * x + b[1, 1] * y + b[2, 1] * z)
            w = b[0, 2] * x + b[1, 2] * y + b[2, 2] * z
            x, y, z = ways[j, 0], ways[j, 1], ways[j, 2]
            k0, k1, k2 = _three(
                rays,
                b[0, 0] * x + b[1, 0] * y + b[2, 0] * z,
                hand * (b[0, 1] * x + b[1, 1] * y + b[2, 1] * z),
                b[0, 2] * x + b[1, 2] * y + b[2, 2] * z,
            )
            a0 = _at(depth[k0], low, step, u, v, w)
            a1 = _at(depth[k1], low, step, u, v, w)
            a2 = _at(depth[k2], low, step, u, v, w)
            likely[i, j, column] = (a0 + a1 + a2) / 3.0
            best[i, j, column] = max(a0, a1, a2)


@compiled
def _three(rays: Array, x: float, y: float, z: float) -> tuple[int, int, int]:
    """Return the three rays nearest to a direction, nearest first."""
    k0, k1, k2 = 0, 0, 0
    c0, c1, c2 = -2.0, -2.0, -2.0
    for k in range(len(rays)):
        c = x * rays[k, 0] + y * rays[k, 1] + z * rays[k, 2]
        if c > c2:
            if c > c1:
                c2, k2 = c1, k1
                if c > c0:
                    c1, k1, c0, k0 = c0, k0, c, k
                else:
                    c1, k1 = c, k
            else:
                c2, k2 = c, k
    return k0, k1, k2


@compiled
def _at(depth: NDArray[np.float32], low: Array, step: float, x: float, y: float, z: float) -> float:
    """Return the depth (m) at a place: between the middles of cells, or beyond the grid.

    Beyond the grid everything reached is at least as far as the way to the grid and the way
    on from there, at a right angle.
    """
    nx, ny, nz = depth.shape
    u, v, w = (x - low[0]) / step - 0.5, (y - low[1]) / step - 0.5, (z - low[2]) / step - 0.5
    cu, cv, cw = min(max(u, 0.0), nx - 1.0), min(max(v, 0.0), ny - 1.0), min(max(w, 0.0), nz - 1.0)
    i, j, k = min(int(cu), nx - 2), min(int(cv), ny - 2), min(int(cw), nz - 2)
    a, b, c = cu - i, cv - j, cw - k
    inner = (1.0 - b) * ((1.0 - c) * depth[i, j, k] + c * depth[i, j, k + 1])
    inner += b * ((1.0 - c) * depth[i, j + 1, k] + c * depth[i, j + 1, k + 1])
    outer = (1.0 - b) * ((1.0 - c) * depth[i + 1, j, k] + c * depth[i + 1, j, k + 1])
    outer += b * ((1.0 - c) * depth[i + 1, j + 1, k] + c * depth[i + 1, j + 1, k + 1])
    value = (1.0 - a) * inner + a * outer
    off = step * step * ((u - cu) ** 2 + (v - cv) ** 2 + (w - cw) ** 2)
    if off > 0.0 and value < 0.0:
        return -math.sqrt(value * value + off)
    return float(value)
