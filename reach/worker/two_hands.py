"""Two hands at once: one trunk posture from which both arms reach, each with its own grip.

The left arm is the mirrored right arm on the mirrored trunk, so the same kernels serve both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit, prange
from numpy.typing import ArrayLike, NDArray

from reach.worker.bound import N_BOXES, proved
from reach.worker.chain import (
    IMPOSSIBLE,
    METRES_PER_RADIAN,
    N_FREEDOMS,
    N_OUT,
    N_WORK,
    ROLL,
    SWIVEL,
    TILT,
    evaluate,
    hand_frame,
    lift,
    to_torso,
    wrist_of,
)
from reach.worker.figure import (
    ACROSS,
    ALONG,
    R_MAX,
    RISE,
    Figure,
    Grip,
    figure_of,
    mirrored,
)
from reach.worker.margin import sphere_points
from reach.worker.question import questions
from reach.worker.search import SEED, bell, best_swivel, nudge, uniform
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

_N_TRUNKS, _N_SEEDS, _N_STEPS, _NEAR = 256, 16, 1200, 0.8
_N_ROLLS, _N_DIRECTIONS = 12, 20
_FIRST_STEP = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class TwoHanded:
    """Best posture found for each pair of targets.

    Attributes
    ----------
    violation : ndarray, shape (n,), rad
        Worst excess over a limit of either arm: at most 0 is reached, above 0 not found,
        infinite proved out of reach of one of the hands.
    right : ndarray, shape (n, 9)
        Posture vectors of the right hand.
    left : ndarray, shape (n, 9)
        Posture vectors of the left hand: answers to the mirrored question, trunk mirrored.
    left_directions : ndarray, shape (n, 3), boot frame
        Direction of the left hand's tool; what was found where any would do.
    """

    violation: Array
    right: Array
    left: Array
    left_directions: Array


def find_two_handed(
    figure: Figure,
    other_grip: Grip,
    tips_right: ArrayLike,
    directions_right: ArrayLike,
    tips_left: ArrayLike,
    directions_left: ArrayLike | None = None,
) -> TwoHanded:
    """Return postures that put both hands' tool tips on their targets, by joint limits alone.

    Parameters
    ----------
    figure : Figure
        Holds the right hand's grip.
    other_grip : Grip
        The left hand's, given as if for the right hand.
    tips_right, directions_right : array_like, shape (n, 3), m and any length, boot frame
    tips_left : array_like, shape (n, 3), m, boot frame
    directions_left : array_like, shape (n, 3), or None
        None when the left hand may hold on any way round.

    Raises
    ------
    ValueError
        If a target is not finite, a direction has no length, or the numbers differ.
    """
    other = figure_of(figure.body, figure.suit, other_grip)
    free = directions_left is None
    right_t, right_d = questions(tips_right, directions_right)
    asked = [1.0, 0.0, 0.0] if directions_left is None else mirrored(directions_left)
    left_t, left_d = questions(mirrored(tips_left), asked)
    if len(left_t) != len(right_t):
        raise ValueError(f"{len(right_t)} right tips need as many left ones, not {len(left_t)}")
    trunks = trunks_of(figure, _N_TRUNKS)
    opposite = trunks_of(other, _N_TRUNKS)
    violation, x_right, x_left, d_left = _solve_pairs(
        figure.p, other.p, trunks.q, trunks.rotation, trunks.shoulder,
        mirrored_rotations(trunks.rotation), mirrored(trunks.shoulder) * 0.0 + opposite.shoulder,
        right_t, right_d, left_t, left_d, free, sphere_points(_N_DIRECTIONS),
    )  # fmt: skip
    return TwoHanded(violation, x_right, x_left, mirrored(d_left))
