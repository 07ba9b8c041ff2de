"""Postures that bring the tip to a pose: damped least squares inside the joint limits.

One descent is Levenberg and Marquardt's, the damping following the square of the error
(T. Sugihara, Solvability-unconcerned inverse kinematics by the Levenberg-Marquardt method,
IEEE Transactions on Robotics 27, 2011; from memory): robust far away and at singular poses,
quadratic at the end.  A joint that would leave its limits is held there and the others
are asked again.  Descents start from the stored postures whose tips come nearest.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.arm.forward import forward, tip_columns
from reach.geometry import compiled

MOST_STEPS = 60
"""Steps of a descent; those that end well have mostly ended before the twentieth."""
LOOK_BACK = 10
"""After so many steps the squared error must be below the share `LEFT` of what it was."""
LEFT = 0.5
LARGEST_STEP = 0.8
"""rad (or m): no joint goes farther in one step, for the tip's path is curved."""
CLOSE = 1e-10
"""A descent has arrived when the tip is as near as this (m and rad together)."""
_DAMPING = 1e-2
_LEAST_DAMPING = 1e-12


@compiled
def error_of(target: Any, tip: Any, error: Any) -> float:
    """Write how the tip must move (m) and turn (rad), base frame; return the squared size."""
    total = 0.0
    for i in range(3):
        error[i] = target[9 + i] - tip[9 + i]
    # The turn target tip^T as a rotation vector, from its skew part and trace.
    u = v = w = trace = 0.0
    for k in range(3):
        u += target[6 + k] * tip[3 + k] - target[3 + k] * tip[6 + k]
        v += target[k] * tip[6 + k] - target[6 + k] * tip[k]
        w += target[3 + k] * tip[k] - target[k] * tip[3 + k]
        trace += target[k] * tip[k] + target[3 + k] * tip[3 + k] + target[6 + k] * tip[6 + k]
    sine = 0.5 * math.sqrt(u * u + v * v + w * w)
    angle = math.atan2(sine, 0.5 * (trace - 1.0))
    scale = 0.5 if sine < 1e-12 else 0.5 * angle / sine
    error[3], error[4], error[5] = scale * u, scale * v, scale * w
    for i in range(6):
        total += error[i] * error[i]
    return total


@compiled
def _solve(matrix: Any, vector: Any) -> None:
    """Overwrite `vector` with the solution of a positive definite 6 x 6 system (Cholesky)."""
    for i in range(6):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            if i == j:
                matrix[i, i] = math.sqrt(max(total, 1e-300))
            else:
                matrix[i, j] = total / matrix[j, j]
    for i in range(6):
        total = vector[i]
        for k in range(i):
            total -= matrix[i, k] * vector[k]
        vector[i] = total / matrix[i, i]
    for i in range(5, -1, -1):
        total = vector[i]
        for k in range(i + 1, 6):
            total -= matrix[k, i] * vector[k]
        vector[i] = total / matrix[i, i]


@compiled
def damped_step(
    jacobian: Any, error: Any, free: Any, damping: float, matrix: Any, vector: Any, step: Any
) -> None:
    """Write ``J^T (J J^T + damping)^-1 error`` with the columns of joints not free left out."""
    n = jacobian.shape[1]
    for i in range(6):
        for j in range(i + 1):
            total = 0.0
            for k in range(n):
                if free[k]:
                    total += jacobian[i, k] * jacobian[j, k]
            matrix[i, j] = total
        matrix[i, i] += damping
        vector[i] = error[i]
    _solve(matrix, vector)
    for k in range(n):
        step[k] = 0.0
        if free[k]:
            for i in range(6):
                step[k] += jacobian[i, k] * vector[i]


@compiled
def descend(
    target: Any, q: Any, fixed: Any, slides: Any, end: Any, lower: Any, upper: Any, unit: float,
    most: int,
) -> bool:  # fmt: skip
    """Move `q` until the tip is at `target`; return whether it came there.

    Parameters
    ----------
    target : ndarray, shape (12,)
        Pose in the base frame: rotation row by row, then place (m).
    q : ndarray, shape (n,), rad or m
        Inside the limits; overwritten.
    fixed, slides, end, lower, upper
        Of a `Chain`.
    unit : float, m
        The length that counts like one radian while descending.
    most : int
        Steps.
    """
    n = len(q)
    pieces, tip = np.empty((n, 12)), np.empty(12)
    jacobian, matrix = np.empty((6, n)), np.empty((6, 6))
    error, vector, step = np.empty(6), np.empty(6), np.empty(n)
    free = np.empty(n, np.bool_)
    before = np.inf
    for turn in range(most):
        forward(q, fixed, slides, end, pieces, tip)
        if error_of(target, tip, error) <= CLOSE * CLOSE:
            return True
        tip_columns(pieces, slides, tip, jacobian)
        for i in range(3):
            error[i] /= unit
            for k in range(n):
                jacobian[i, k] /= unit
        total = 0.0
        for i in range(6):
            total += error[i] * error[i]
        if turn % LOOK_BACK == 0:
            if total > LEFT * before:
                return False
            before = total
        free[:] = True
        damping = _DAMPING * total + _LEAST_DAMPING
        for _ in range(n):
            damped_step(jacobian, error, free, damping, matrix, vector, step)
            held = False
            for k in range(n):
                if free[k] and (
                    (step[k] > 0.0 and q[k] >= upper[k]) or (step[k] < 0.0 and q[k] <= lower[k])
                ):
                    free[k] = False
                    held = True
            if not held:
                break
        most_ = 0.0
        for k in range(n):
            most_ = max(most_, abs(step[k]))
        share = min(1.0, LARGEST_STEP / most_) if most_ > 0.0 else 0.0
        for k in range(n):
            q[k] = min(max(q[k] + share * step[k], lower[k]), upper[k])
    return False
