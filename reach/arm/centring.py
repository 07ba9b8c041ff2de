"""Move a redundant arm away from its joint limits while the tip stays where it is."""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.arm.forward import forward, tip_columns
from reach.arm.inverse import damped_step, descend
from reach.geometry import compiled

N_MOVES = 60
FIRST_MOVE = 0.3
"""rad (or m): the largest joint's way in the first move; halved where a move gains nothing."""
LEAST_MOVE = 1e-3
MEND_STEPS = 12
"""Steps of a descent from near by; every other number compiles the descent once more."""
_DAMPING = 1e-9


@compiled
def pull(q: Any, lower: Any, upper: Any, towards: Any) -> float:
    """Write the direction to the middle of the limits; return what it lowers.

    The sum of the fourth powers of the distances from the middle, as shares of half the
    range: the joint nearest to its limit counts most.
    """
    total = 0.0
    for k in range(len(q)):
        towards[k] = 0.0
        half = 0.5 * (upper[k] - lower[k])
        if np.isfinite(half) and half > 0.0:
            share = (q[k] - lower[k]) / half - 1.0
            total += share**4
            towards[k] = -(share**3) / half
    return total


@compiled
def centre(
    target: Any, q: Any, fixed: Any, slides: Any, end: Any, lower: Any, upper: Any, unit: float
) -> None:
    """Move `q`, which holds the tip at `target`, towards the middle of its limits.

    Each move is along the null space of the tip's Jacobian and mended by a short descent;
    one that does not lower the sum, or cannot be mended, is taken back.
    """
    n = len(q)
    pieces, tip = np.empty((n, 12)), np.empty(12)
    jacobian, matrix = np.empty((6, n)), np.empty((6, 6))
    along, vector, step = np.empty(6), np.empty(6), np.empty(n)
    towards, other, trial = np.empty(n), np.empty(n), np.empty(n)
    free = np.ones(n, np.bool_)
    size = FIRST_MOVE
    now = pull(q, lower, upper, towards)
    for _ in range(N_MOVES):
        forward(q, fixed, slides, end, pieces, tip)
        tip_columns(pieces, slides, tip, jacobian)
        for i in range(6):
            along[i] = 0.0
            for k in range(n):
                if i < 3:
                    jacobian[i, k] /= unit
                along[i] += jacobian[i, k] * towards[k]
        damped_step(jacobian, along, free, _DAMPING, matrix, vector, step)
        most = 0.0
        for k in range(n):
            step[k] = towards[k] - step[k]
            most = max(most, abs(step[k]))
        if most < 1e-12:
            return
        while size >= LEAST_MOVE:
            for k in range(n):
                trial[k] = min(max(q[k] + size / most * step[k], lower[k]), upper[k])
            there = descend(target, trial, fixed, slides, end, lower, upper, unit, MEND_STEPS)
            if there and pull(trial, lower, upper, other) < now:
                break
            size *= 0.5
        if size < LEAST_MOVE:
            return
        for k in range(n):
            q[k] = trial[k]
        now = pull(q, lower, upper, towards)
        size = min(2.0 * size, FIRST_MOVE)
