"""Flood: which cells of a grid of tool tips are reached, for each of many tool directions.

Joint ranges are connected, so places and directions that are reached are too: from a few found
postures the flood walks on, each cell started from the posture of a neighbour in place or in
direction.  Most starts fail, so they are short, and only one that comes nearer than those before
it goes on.  Directions are flooded side by side in rounds and look at what their neighbours had
found in earlier rounds, so the answer does not depend on the number of threads.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.table.climb import Ground, climb, ground
from reach.worker.chance import State
from reach.worker.search import SEED

Array = NDArray[np.float64]
Counts = NDArray[np.uint8]
Floats = NDArray[np.float32]
Shape = NDArray[np.int64]

N_NEAR = 6
"""Neighbouring directions whose postures a cell may start from."""

N_STARTS = 8
"""Starts of a cell from different neighbours before it is given up."""

_STEP, _EASE = 0.12, -0.03
"""First step, share of a freedom's range; violation (rad) good enough to start neighbours from."""

_SHORT, _LONG = 30, 150
"""Steps of every start, and further ones of a start that is the best one of its cell so far."""

_NEARLY = 0.12
"""Violation (rad) below which the further steps are worth it."""


@compiled
def flood(
    start: int,
    stop: int,
    p: Array,
    directions: Array,
    near: Shape,
    low: Array,
    step: float,
    shape: Shape,
    turn: int,
    found: Counts,
    starts: Counts,
    lacks: Floats,
    postures: Floats,
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
    found, starts : ndarray of uint8, shape (n, cells)
        Round in which a cell was found, 0 if it was not; starts so far.
    lacks : ndarray of float32, shape (n, cells), rad
        Least violation after the short steps, of cells with a start.
    postures : ndarray of float32, shape (n, cells, 9)
        Posture of each found cell.
    """
    scratch, state, t = ground(), np.empty(1, np.uint64), np.empty(3)
    queue = np.empty(found.shape[1], np.int64)
    for k in range(start, stop):
        state[0] = SEED ^ np.uint64(4096 * turn + k)
        d, mine, head, tail = directions[k], found[k], 0, 0
        for c in range(len(mine)):
            if mine[c] == turn - 1:
                queue[tail] = c
                tail += 1
            elif mine[c] == 0 and _borders(shape, c, mine):
                _middle(low, step, shape, c, t)
                for j in near[k]:
                    fresh = found[j, c] == turn - 1 or (turn == 2 and found[j, c] == 1)
                    if fresh and mine[c] == 0 and starts[k, c] < N_STARTS:
                        _start(
                            p, t, d, postures[j, c], turn, c, mine, starts[k], lacks[k],
                            postures[k], scratch, state,
                        )  # fmt: skip
                if mine[c] == turn:
                    queue[tail] = c
                    tail += 1
        while head < tail:
            c = queue[head]
            head += 1
            for side in range(6):
                other = _beside(shape, c, side)
                if other < 0 or mine[other] > 0 or starts[k, other] >= N_STARTS:
                    continue
                _middle(low, step, shape, other, t)
                if _start(
                    p, t, d, postures[k, c], turn, other, mine, starts[k], lacks[k],
                    postures[k], scratch, state,
                ):  # fmt: skip
                    queue[tail] = other
                    tail += 1


@compiled
def _start(
    p: Array, t: Array, d: Array, given: Floats, turn: int, c: int, found: Counts,
    starts: Counts, lacks: Floats, postures: Floats, scratch: Ground, state: State,
) -> bool:  # fmt: skip
    """Carry a ``given`` posture to cell ``c`` and mark it if reached; return whether it is."""
    x = scratch[0][0]
    x[:] = given
    f = climb(p, t, d, np.inf, _SHORT, _EASE, _STEP, state, scratch)
    best = starts[c] == 0 or f < lacks[c]
    starts[c] += 1
    if best:
        lacks[c] = f
    if 0.0 < f < _NEARLY and best:
        f = climb(p, t, d, f, _LONG, 0.0, _STEP, state, scratch)
    if f <= 0.0:
        found[c] = turn
        postures[c] = x
        return True
    return False


@compiled
def _borders(shape: Shape, c: int, found: Counts) -> bool:
    """Return whether a cell beside ``c`` is found."""
    for side in range(6):
        other = _beside(shape, c, side)
        if other >= 0 and found[other] > 0:
            return True
    return False


@compiled
def _middle(low: Array, step: float, shape: Shape, c: int, t: Array) -> None:
    """Write the middle of cell ``c`` to ``t``, m."""
    t[0] = low[0] + step * (c // (shape[1] * shape[2]) + 0.5)
    t[1] = low[1] + step * ((c // shape[2]) % shape[1] + 0.5)
    t[2] = low[2] + step * (c % shape[2] + 0.5)


@compiled
def _beside(shape: Shape, c: int, side: int) -> int:
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
