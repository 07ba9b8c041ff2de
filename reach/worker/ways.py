"""Ways: whether a posture can be carried along a row of nearby targets, each reached in turn.

A way is walked from its first target on, and what is answered about a target depends on the
targets before it alone: a way that is cut short is never answered worse.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.chain import N_FREEDOMS
from reach.worker.figure import Figure
from reach.worker.margin import follow
from reach.worker.question import DIRECTION_DIGITS, TIP_DIGITS
from reach.worker.search import SEED, room_for, solve
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

N_SOLVES = 48
"""Searches from scratch that one call may spend where carrying on does not do."""

_N_TRUNKS, _N_SEEDS, _N_STEPS, _NEAR = 128, 8, 150, 0.4


def walk_ways(
    figure: Figure, tips: Array, directions: Array, counts: NDArray[np.int64], x: Array
) -> NDArray[np.bool_]:
    """Return which ways are reached all along, by joint limits alone.

    Parameters
    ----------
    tips, directions : ndarray, shape (n, m, 3), m and unit vectors, boot frame
        Targets of each way, in the order in which they are walked.
    counts : ndarray of int, shape (n,)
        How many targets each way has, at most m.
    x : ndarray, shape (9,)
        The posture from which every way starts.

    Returns
    -------
    reached : ndarray of bool, shape (n,)
        False where some target was not reached, which proves nothing.

    Notes
    -----
    Ways are walked in order and share `N_SOLVES` searches; cutting ways short leaves more of
    them to the later ones, so that no answer gets worse.
    """
    trunks = trunks_of(figure, _N_TRUNKS)
    reached = np.zeros(len(tips), np.bool_)
    _walk(
        figure.p, trunks.q, trunks.rotation, trunks.shoulder,
        np.ascontiguousarray(np.round(tips, TIP_DIGITS)),
        np.ascontiguousarray(np.round(directions, DIRECTION_DIGITS)),
        np.asarray(counts, np.int64), np.array(x, np.float64), N_SOLVES, reached,
    )  # fmt: skip
    return reached


@compiled
def _walk(
    p: Array, q: Array, rotation: Array, shoulder: Array, tips: Array, directions: Array,
    counts: NDArray[np.int64], x: Array, n_solves: int, reached: NDArray[np.bool_],
) -> None:  # fmt: skip
    room = room_for(_N_SEEDS)
    work, out, state = room[4], room[5], room[6]
    y = np.empty(N_FREEDOMS)
    for i in range(len(tips)):
        y[:] = x
        state[0] = SEED
        reached[i] = True
        for j in range(counts[i]):
            t, d = tips[i, j], directions[i, j]
            f = follow(p, t, d, y, work, out, state)
            if f > 0.0 and n_solves > 0:
                n_solves -= 1
                f = solve(p, q, rotation, shoulder, t, d, _N_STEPS, _NEAR, 0.0, y, room)
            if f > 0.0:
                reached[i] = False
                break
