"""Walk along a way from a posture: each next one is the nearest, eased away from limits."""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.arm.asked import target_at
from reach.arm.centring import MEND_STEPS, pull
from reach.arm.forward import forward, tip_columns
from reach.arm.inverse import damped_step, descend
from reach.geometry import compiled

JUMP = 0.3
"""rad (or m): from sample to sample no joint goes farther, else the step is halved."""
LEAST_STEP = 1.0 / 256.0
"""The smallest step, as a share of a first sample; where it fails there is no going on."""
EASE = 0.03
"""rad (or m): how far the joint that moves most is eased a whole sample."""
_EASES = 3
_DAMPING = 1e-9


@compiled
def step_to(
    target: Any, before: Any, q: Any, fixed: Any, slides: Any, end: Any, lower: Any, upper: Any,
    unit: float,
) -> bool:  # fmt: skip
    """Move `q` to the target; return whether it came there without a jump from `before`."""
    if not descend(target, q, fixed, slides, end, lower, upper, unit, MEND_STEPS):
        return False
    most = 0.0
    for k in range(len(q)):
        most = max(most, abs(q[k] - before[k]))
    return most <= JUMP


@compiled
def _ease(
    target: Any, before: Any, q: Any, fixed: Any, slides: Any, end: Any, lower: Any, upper: Any,
    unit: float, most: float,
) -> None:  # fmt: skip
    """Move `q`, tip held, away from its limits by a little; no more than ``most`` a joint."""
    n = len(q)
    pieces, tip = np.empty((n, 12)), np.empty(12)
    jacobian, matrix = np.empty((6, n)), np.empty((6, 6))
    along, vector, step = np.zeros(6), np.empty(6), np.empty(n)
    towards, other, trial = np.empty(n), np.empty(n), np.empty(n)
    free = np.ones(n, np.bool_)
    now = pull(q, lower, upper, towards)
    forward(q, fixed, slides, end, pieces, tip)
    tip_columns(pieces, slides, tip, jacobian)
    for i in range(6):
        for k in range(n):
            if i < 3:
                jacobian[i, k] /= unit
            along[i] += jacobian[i, k] * towards[k]
    damped_step(jacobian, along, free, _DAMPING, matrix, vector, step)
    largest = 0.0
    for k in range(n):
        step[k] = towards[k] - step[k]
        largest = max(largest, abs(step[k]))
    if largest < 1e-6:
        return
    # Weak where the pull is: all the way at the limits only.
    size = most * min(1.0, largest)
    for _ in range(_EASES):
        for k in range(n):
            trial[k] = min(max(q[k] + size / largest * step[k], lower[k]), upper[k])
        there = step_to(target, before, trial, fixed, slides, end, lower, upper, unit)
        if there and pull(trial, lower, upper, other) < now:
            for k in range(n):
                q[k] = trial[k]
            return
        size *= 0.5


@compiled
def _walk(
    u: float, forwards: bool, legs: Any, counts: Any, fixed: Any, slides: Any, end: Any,
    lower: Any, upper: Any, unit: float, at: Any, q: Any,
) -> int:  # fmt: skip
    """Write moments and postures from ``q[0]``, which stands at ``u``, on; return how many."""
    n_legs, n = len(legs), q.shape[1]
    target, trial = np.empty(12), np.empty(n)
    at[0], count, share = u, 1, 1.0
    while count < len(at):
        if forwards:
            if u >= n_legs:
                break
            leg = int(u)
            step = share / counts[leg]
            there = min(u + step, leg + 1.0)
            if leg + 1.0 - there < 1e-6 * step:
                there = leg + 1.0
        else:
            if u <= 0.0:
                break
            leg = int(np.ceil(u)) - 1
            step = share / counts[leg]
            there = max(u - step, float(leg))
            if there - leg < 1e-6 * step:
                there = float(leg)
        target_at(there, legs, target)
        for k in range(n):
            trial[k] = q[count - 1, k]
        if not step_to(target, q[count - 1], trial, fixed, slides, end, lower, upper, unit):
            share *= 0.5
            if share < LEAST_STEP:
                break
            continue
        if n > 6:
            most = EASE * share
            _ease(
                target, q[count - 1], trial, fixed, slides, end, lower, upper, unit, most
            )  # fmt: skip
        for k in range(n):
            q[count, k] = trial[k]
        at[count] = u = there
        count += 1
        share = min(1.0, 2.0 * share)
    return count


@compiled
def walks(
    start: int, stop: int, seeds: Any, moments: Any, legs: Any, counts: Any, fixed: Any,
    slides: Any, end: Any, lower: Any, upper: Any, unit: float, at: Any, q: Any, found: Any,
) -> None:  # fmt: skip
    """Walk from each seed backwards to the start of the way and forwards to its end.

    ``at``, shape (m, 2, most), ``q``, (m, 2, most, n), and ``found``, (m, 2), are written:
    moments, postures, and how many of them, backwards first.
    """
    for r in range(start, stop):
        for way in range(2):
            for k in range(seeds.shape[1]):
                q[r, way, 0, k] = seeds[r, k]
            found[r, way] = _walk(
                moments[r], way == 1, legs, counts, fixed, slides, end, lower, upper, unit,
                at[r, way], q[r, way],
            )  # fmt: skip


@compiled
def between(
    start: int, stop: int, at: Any, before: Any, after: Any, legs: Any, fixed: Any, slides: Any,
    end: Any, lower: Any, upper: Any, unit: float, q: Any, found: Any,
) -> None:  # fmt: skip
    """Write a posture at each moment that stands between two others."""
    target = np.empty(12)
    for r in range(start, stop):
        target_at(at[r], legs, target)
        for k in range(q.shape[1]):
            q[r, k] = 0.5 * (before[r, k] + after[r, k])
        found[r] = step_to(
            target, before[r], q[r], fixed, slides, end, lower, upper, unit
        ) and step_to(target, after[r], q[r], fixed, slides, end, lower, upper, unit)
