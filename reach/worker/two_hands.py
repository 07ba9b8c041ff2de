"""Two hands at once: one trunk posture from which both arms reach, each with its own grip.

The left arm is the mirrored right arm on the mirrored trunk, so the same kernels serve both.
Samples and random steps as in `reach.worker.search`; what is driven to zero is the sum of both
arms' excess.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.worker.bound import N_BOXES, proved, proved_any_way
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
    trunk_fk,
    wrist_of,
)
from reach.worker.chance import State, bell, uniform
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
from reach.worker.search import N_ROLLS, SEED, best_swivel, nudge
from reach.worker.sweep import boxes_for
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

_N_TRUNKS, _N_SEEDS, _N_STEPS, _NEAR = 256, 24, 2500, 1.0
_N_WAYS = 20
_FIRST_STEP = 0.25
_N_PAIR = 2 * N_FREEDOMS + 3
"""A pair of postures: right (9), left (9), direction of the left tool (3)."""


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
    right_t, right_d = questions(tips_right, directions_right)
    asked = [1.0, 0.0, 0.0] if directions_left is None else mirrored(directions_left)
    left_t, left_d = questions(mirrored(tips_left), asked)
    if len(left_t) != len(right_t):
        raise ValueError(f"{len(right_t)} right tips need as many left ones, not {len(left_t)}")
    ways = sphere_points(_N_WAYS if directions_left is None else 0)
    violation, pairs = np.empty(len(right_t)), np.zeros((len(right_t), _N_PAIR))
    in_chunks(
        _solve_pairs, len(right_t), figure.p, other.p, trunks_of(figure, _N_TRUNKS).q,
        right_t, right_d, left_t, left_d, ways, violation, pairs, chunk=2,
    )  # fmt: skip
    right, left, ways_found = np.split(pairs, [N_FREEDOMS, 2 * N_FREEDOMS], axis=1)
    return TwoHanded(violation, right.copy(), left.copy(), mirrored(ways_found))


@compiled
def _solve_pairs(
    start: int, stop: int, p: Array, p_left: Array, q: Array, t: Array, d: Array, t_left: Array,
    d_left: Array, ways: Array, violation: Array, pairs: Array,
) -> None:  # fmt: skip
    seeds, scores = np.empty((_N_SEEDS, _N_PAIR)), np.empty(_N_SEEDS)
    hands = np.empty((N_ROLLS, 3, 3))
    work, out, state = np.empty((N_WORK, 3)), np.empty(N_OUT), np.empty(1, np.uint64)
    boxes, frame = boxes_for(N_BOXES), np.empty((4, 3))
    free = len(ways) > 0
    for i in range(start, stop):
        pairs[i, 2 * N_FREEDOMS :] = d_left[i]
        short = proved(p, t[i] - p[ALONG] * d[i], d[i], 0.0, N_BOXES, boxes, frame)
        if free:
            other = proved_any_way(p_left, t_left[i], 0.0, N_BOXES, boxes, frame)
        else:
            centre = t_left[i] - p_left[ALONG] * d_left[i]
            other = proved(p_left, centre, d_left[i], 0.0, N_BOXES, boxes, frame)
        if max(short, other) > 0.0:
            violation[i] = np.inf
            continue
        state[0] = SEED
        n = _gather(
            p, p_left, q, t[i], d[i], t_left[i], d_left[i], ways, seeds, scores, hands, work, out
        )
        best = IMPOSSIBLE
        for k in range(n):
            f = _refine(
                p, p_left, t[i], d[i], t_left[i], seeds[k], scores[k], free, work, out, state
            )
            if f < best:
                best = f
                pairs[i] = seeds[k]
            if best <= 0.0:
                break
        violation[i] = best
        if n > 0:
            left = pairs[i, N_FREEDOMS:]
            violation[i] = max(
                evaluate(p, t[i], d[i], pairs[i], work, out),
                evaluate(p_left, t_left[i], left[N_FREEDOMS:], left, work, out),
            )


@compiled
def mirror_trunk(x: Array, y: Array) -> None:
    """Write the trunk freedoms of ``x``, mirrored left to right, to ``y``."""
    y[0], y[1], y[2], y[3], y[4] = -x[0], x[1], x[2], -x[3], -x[4]


@compiled
def _gather(
    p: Array, p_left: Array, q: Array, t: Array, d: Array, t_left: Array, d_left: Array,
    ways: Array, seeds: Array, scores: Array, hands: Array, work: Array, out: Array,
) -> int:  # fmt: skip
    """Write the best sampled pairs to ``seeds``, best first; return their number."""
    n = 0
    pair = np.empty(_N_PAIR)
    left = pair[N_FREEDOMS:]
    for k in range(len(q)):
        worst = _NEAR if n < len(scores) else min(_NEAR, scores[n - 1])
        for a in range(5):
            pair[a] = q[k, a]
        f = _best_arm(p, t, d, pair, worst, hands, work, out)
        if f >= worst:
            continue
        mirror_trunk(pair, left)
        rest = worst - max(0.0, f)
        g = rest
        if len(ways) == 0:
            left[N_FREEDOMS:] = d_left
            g = _best_arm(p_left, t_left, d_left, left, rest, hands, work, out)
        else:
            for way in range(len(ways)):
                found = _best_arm(p_left, t_left, ways[way], left, g, hands, work, out)
                if found < g:
                    g = found
                    left[N_FREEDOMS:] = ways[way]
                if g <= 0.0:
                    break
        if g >= rest:
            continue
        total = max(0.0, f) + max(0.0, g)
        n = min(n + 1, len(scores))
        m = n - 1
        while m > 0 and scores[m - 1] > total:
            scores[m] = scores[m - 1]
            seeds[m] = seeds[m - 1]
            m -= 1
        scores[m] = total
        seeds[m] = pair
        if total <= 0.0:
            break
    return n


@compiled
def _best_arm(
    p: Array, t: Array, d: Array, x: Array, stop: float, hands: Array, work: Array, out: Array
) -> float:
    """Sample the arm on the trunk of ``x``; write its freedoms and return its violation, rad.

    Nothing is written unless the violation is below ``stop``.
    """
    rotation, shoulder = work[0:3], np.empty(3)
    trunk_fk(p, x, rotation, shoulder)
    r2 = 0.0
    for a in range(3):
        r2 += (t[a] - d[a] * p[ALONG] - shoulder[a]) ** 2
    if math.sqrt(r2) > p[R_MAX] + p[ACROSS] + p[RISE] + METRES_PER_RADIAN * stop:
        return stop
    for i in range(N_ROLLS):
        roll = 2.0 * math.pi * i / N_ROLLS
        hand_frame(p, d, 0.0, 0.0, roll, hands[i])
        wrist_of(p, t, hands[i], work[10])
        for a in range(3):
            work[9, a] = shoulder[a]
        if p[RISE] > 0.0:
            lift(p, rotation, work[9], work[10])
        to_torso(rotation, work[9], work[10], hands[i], work[11], work[6:9])
        f, swivel = best_swivel(p, work[11], work[6:9], stop, out)
        if swivel >= 0.0:
            stop = f
            x[TILT], x[TILT + 1], x[ROLL], x[SWIVEL] = 0.0, 0.0, roll, swivel
        if stop <= 0.0:
            break
    return stop


@compiled
def _refine(
    p: Array, p_left: Array, t: Array, d: Array, t_left: Array, pair: Array, score: float,
    free: bool, work: Array, out: Array, state: State,
) -> float:  # fmt: skip
    """Improve a ``pair`` in place by random steps; return the sum of both arms' excess, rad."""
    new, moved = np.empty(_N_PAIR), np.empty(N_FREEDOMS)
    step, failures = _FIRST_STEP, 0
    for _ in range(_N_STEPS):
        if score <= 0.0:
            break
        new[:] = pair
        if uniform(state) < 0.7:
            nudge(p, pair, step, state, moved)
            new[:N_FREEDOMS] = moved
        if uniform(state) < 0.7:
            nudge(p_left, pair[N_FREEDOMS:], step, state, moved)
            new[N_FREEDOMS : 2 * N_FREEDOMS] = moved
            if free:
                _sway(new[2 * N_FREEDOMS :], step, state)
        mirror_trunk(new, new[N_FREEDOMS:])
        f = max(0.0, evaluate(p, t, d, new, work, out))
        if f < score:
            left = new[N_FREEDOMS:]
            f += max(0.0, evaluate(p_left, t_left, left[N_FREEDOMS:], left, work, out))
        if f < score:
            score, failures = f, 0
            pair[:] = new
            step = min(0.6, 1.3 * step)
        else:
            failures += 1
            if failures % 4 == 0:
                step = max(0.01, 0.8 * step)
    return score


@compiled
def _sway(d: Array, step: float, state: State) -> None:
    """Turn the unit vector ``d`` a random way."""
    x, y, z = d[0] + step * bell(state), d[1] + step * bell(state), d[2] + step * bell(state)
    n = math.sqrt(x * x + y * y + z * z)
    if n > 1e-3:
        d[0], d[1], d[2] = x / n, y / n, z / n
