"""Flood: which cells of a grid of tool tips are reached, for each of many tool directions.

Joint ranges are connected, so places and directions that are reached are too: from a few found
postures the flood walks on, each cell started from the posture of a neighbour in place or in
direction.  Directions are flooded side by side in rounds and look at what their neighbours had
found in earlier rounds, so the answer does not depend on the number of threads.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.chain import N_FREEDOMS, N_OUT, N_WORK, evaluate
from reach.worker.chance import State
from reach.worker.search import SEED, refine

Array = NDArray[np.float64]
Counts = NDArray[np.uint8]

N_NEAR = 6
"""Neighbouring directions whose postures a cell may start from."""

_EASE = -0.03
"""Violation (rad) at which a posture is good enough to start neighbours from."""

_STEP = 0.12
_N_STEPS = (40, 160)
_HOPELESS = 0.25
"""Violation (rad) that is given up after the first steps."""


@compiled
def flood(
    start: int,
    stop: int,
    p: Array,
    directions: Array,
    near: NDArray[np.int64],
    low: Array,
    step: float,
    shape: NDArray[np.int64],
    turn: int,
    n_tries: int,
    found: Counts,
    tries: Counts,
    postures: NDArray[np.float32],
) -> None:
    """Extend what is ``found`` for directions ``start`` to ``stop`` by one round.

    Parameters
    ----------
    directions : ndarray, shape (n, 3)
    near : ndarray, shape (n, N_NEAR)
        The neighbours of each direction.
    low, step : m
        Corner of the grid, boot frame, and the edge of its cells.
    shape : ndarray, shape (3,)
    turn : int
        Number of this round, from 2; cells found now are marked with it.
    n_tries : int
        A cell is given up after this many failed starts.
    found, tries : ndarray of uint8, shape (n, cells)
        Round in which a cell was found, 0 if it was not; failed starts so far.
    postures : ndarray of float32, shape (n, cells, 9)
        Posture of each found cell.
    """
    work, out = np.empty((N_WORK, 3)), np.empty(N_OUT)
    state, x, t = np.empty(1, np.uint64), np.empty(N_FREEDOMS), np.empty(3)
    queue = np.empty(found.shape[1], np.int64)
    for k in range(start, stop):
        state[0] = SEED ^ np.uint64(4096 * turn + k)
        d, tail = directions[k], 0
        for c in range(found.shape[1]):
            if found[k, c] > 0:
                if found[k, c] == turn - 1:
                    queue[tail] = c
                    tail += 1
                continue
            _middle(low, step, shape, c, t)
            for j in near[k]:
                fresh = found[j, c] == turn - 1 or (turn == 2 and found[j, c] == 1)
                if fresh and tries[k, c] < n_tries:
                    if _start(p, t, d, postures[j, c], x, work, out, state):
                        _keep(k, c, turn, x, found, postures)
                        queue[tail] = c
                        tail += 1
                        break
                    tries[k, c] += 1
        head = 0
        while head < tail:
            c = queue[head]
            head += 1
            for side in range(6):
                other = _beside(shape, c, side)
                if other < 0 or found[k, other] > 0 or tries[k, other] >= n_tries:
                    continue
                _middle(low, step, shape, other, t)
                if _start(p, t, d, postures[k, c], x, work, out, state):
                    _keep(k, other, turn, x, found, postures)
                    queue[tail] = other
                    tail += 1
                else:
                    tries[k, other] += 1


@compiled
def _start(
    p: Array, t: Array, d: Array, given: NDArray[np.float32], x: Array, work: Array, out: Array,
    state: State,
) -> bool:  # fmt: skip
    """Carry a ``given`` posture to tip ``t`` and direction ``d``; return whether it got there."""
    for i in range(N_FREEDOMS):
        x[i] = given[i]
    f = evaluate(p, t, d, x, work, out)
    if f > _EASE:
        f = refine(p, t, d, x, f, _N_STEPS[0], _EASE, _STEP, work, out, state)
    if 0.0 < f < _HOPELESS:
        f = refine(p, t, d, x, f, _N_STEPS[1], 0.0, _STEP, work, out, state)
    return bool(f <= 0.0)


@compiled
def _keep(
    k: int, c: int, turn: int, x: Array, found: Counts, postures: NDArray[np.float32]
) -> None:
    for i in range(N_FREEDOMS):
        postures[k, c, i] = x[i]
    found[k, c] = turn


@compiled
def _middle(low: Array, step: float, shape: NDArray[np.int64], c: int, t: Array) -> None:
    """Write the middle of cell ``c`` to ``t``, m."""
    t[0] = low[0] + step * (c // (shape[1] * shape[2]) + 0.5)
    t[1] = low[1] + step * ((c // shape[2]) % shape[1] + 0.5)
    t[2] = low[2] + step * (c % shape[2] + 0.5)


@compiled
def _beside(shape: NDArray[np.int64], c: int, side: int) -> int:
    """Return the cell beside ``c``, or -1 beyond the grid."""
    i, j, k = c // (shape[1] * shape[2]), (c // shape[2]) % shape[1], c % shape[2]
    move = 1 if side % 2 == 0 else -1
    if side < 2:
        i += move
    elif side < 4:
        j += move
    else:
        k += move
    if i < 0 or j < 0 or k < 0 or i >= shape[0] or j >= shape[1] or k >= shape[2]:
        return -1
    return int((i * shape[1] + j) * shape[2] + k)
