"""An easier posture for a load, looked for near one that is known to do."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from reach.work import Attempt
from reach.worker.chain import N_FREEDOMS, evaluate, work_arrays
from reach.worker.figure import GRIP, UPPER_ARM
from reach.worker.search import SEED, nudge

Array = NDArray[np.float64]
Points = dict[str, Array]

N_STEPS = 400
FIRST_STEP, LAST_STEP = 0.4, 0.05
"""Size of the steps at the start and at the end, as a share of each freedom's range."""


def arm_points(attempt: Attempt, x: Array) -> Points:
    """Return shoulder, elbow, wrist and grip (m, boot frame) of a posture of an attempt."""
    p, target = attempt.figure.p, attempt.target
    work, out = work_arrays()
    evaluate(p, target.tip, target.direction, x, work, out)
    shoulder, wrist = work[9].copy(), work[10].copy()
    return {
        "shoulder": shoulder,
        "elbow": shoulder + p[UPPER_ARM] * (work[0:3] @ out[0:3]),
        "wrist": wrist,
        "grip": wrist + p[GRIP] * work[3:6, 0],
    }


def easier_posture(
    attempt: Attempt, x: Array, wanted: int, left: Callable[[Points], float]
) -> Array:
    """Return a posture with more left than ``x``, walked to from it by random steps.

    Parameters
    ----------
    x : ndarray, shape (9,)
        A posture that has all that is wanted; so has the one returned.
    wanted : int
        As for `reach.work.Attempt.allows`.
    left : callable
        Given the points of an arm, what its strength leaves; the walk ends at 0.
    """
    best, y, state = np.array(x, np.float64), np.empty(N_FREEDOMS), np.array([SEED], np.uint64)
    most = left(arm_points(attempt, best))
    for k in range(N_STEPS):
        if most >= 0.0:
            break
        step = FIRST_STEP * (LAST_STEP / FIRST_STEP) ** (k / N_STEPS)
        nudge(attempt.figure.p, best, step, state, y)
        found = left(arm_points(attempt, y))
        if found > most and attempt.allows(y, wanted):
            best, most = y.copy(), found
    return best
