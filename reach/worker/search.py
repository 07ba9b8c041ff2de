"""Search: a posture that puts the tool tip there, pointing that way, inside all joint limits.

Sampled trunks, hand rolls and elbow swivels only choose seeds; random local steps from the
best seeds find the posture.  Random numbers start from one constant for every target, so that
neither order nor number of targets or threads changes an answer.  Not found is not a proof:
that is what `reach.worker.bound` is for, asked first here to save the search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.worker.bound import proved, shortage
from reach.worker.chain import (
    IMPOSSIBLE,
    METRES_PER_RADIAN,
    N_FREEDOMS,
    N_OUT,
    N_WORK,
    ROLL,
    SWIVEL,
    TILT,
    arm,
    cannot_bend,
    evaluate,
    hand_frame,
    lift,
    to_torso,
    wrist_of,
)
from reach.worker.chance import State, bell, uniform
from reach.worker.figure import (
    ACROSS,
    ALONG,
    CONE_X,
    CONE_Y,
    CONE_Z,
    HIGH,
    LOW,
    R_MAX,
    RISE,
    TOLERANCE,
    Figure,
)
from reach.worker.question import questions
from reach.worker.sweep import boxes_for
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

Room = tuple[Array, Array, Array, Array, Array, Array, State]
"""Scratch of a search: seeds (k, 9), scores (k,), hands, wrists, work, out, random state."""

N_ROLLS, N_SWIVELS = 12, 16
SEED = np.uint64(0x9E3779B97F4A7C15)
"""Where the random numbers of every target start."""

_FIRST_STEP, _LATER_STEP = 0.25, 0.1
_N_BOXES_FIRST = 300
_CHUNK = 8


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to search.

    Attributes
    ----------
    n_trunks, n_seeds, n_steps : int
        Sampled trunks, best samples that are refined, and local steps from each.  The better
        quarter of the samples then gets four times the steps, and so on down to one.
    near : float, rad
        Only samples with a violation below this are refined.
    """

    n_trunks: int
    n_seeds: int
    n_steps: int
    near: float = 0.6


EFFORTS = {"quick": Effort(128, 8, 150), "full": Effort(512, 96, 250, near=0.7)}
"""A first look, and a hard one for what is about to stay open."""


@dataclass(frozen=True, slots=True, eq=False)
class Postures:
    """Best posture found for each target.

    Attributes
    ----------
    violation : ndarray, shape (n,), rad
        Worst excess over a joint limit.  At most 0: reached by ``x``.  Above 0: not found,
        which proves nothing.  Infinite: proved out of reach, not searched.
    x : ndarray, shape (n, 9)
        Posture vectors, see `reach.worker.chain`.
    """

    violation: Array
    x: Array


def find_postures(
    figure: Figure,
    tips: ArrayLike,
    directions: ArrayLike,
    effort: str | Effort = "full",
    ask_bound: bool = True,
) -> Postures:
    """Return postures that put the right hand's tool tip on each target, by joint limits alone.

    Parameters
    ----------
    figure : Figure
    tips, directions : array_like, shape (n, 3), m and any length, boot frame
        Where the tip is to be and the way the tool is to point.
    effort : str or Effort
        ``"quick"`` is one short look; ``"full"`` looks hard at what the short look left open.
    ask_bound : bool
        False searches even for what is proved out of reach, so that proofs can be tested.

    Raises
    ------
    ValueError
        If a target is not finite, a direction has no length, or the effort is unknown.

    Examples
    --------
    >>> from reach.files.people import load_population, load_suits
    >>> from reach.worker.body import percentile_body
    >>> from reach.worker.figure import Grip, figure_of
    >>> body = percentile_body(load_population("male"), 50)
    >>> figure = figure_of(body, load_suits()["halden"], Grip(tip=(0.25, 0, 0.05)))
    >>> found = find_postures(figure, [[0.7, -0.2, 1.3], [2.9, 0, 1.3]], [1, 0, 0])
    >>> found.violation <= 0
    array([ True, False])
    """
    t, d = questions(tips, directions)
    last = effort if isinstance(effort, Effort) else _effort(effort)
    first = min(last, EFFORTS["quick"], key=lambda e: e.n_steps)
    violation, x = np.empty(len(t)), np.zeros((len(t), N_FREEDOMS))
    n_boxes = _N_BOXES_FIRST if ask_bound else 0
    _run(figure, t, d, first, n_boxes, np.arange(len(t)), violation, x)
    # Most proofs are cheap and most postures are quickly found; the rest is worth a hard look.
    left = np.flatnonzero((violation > 0.0) & np.isfinite(violation))
    if ask_bound:
        far = shortage(figure, t[left], d[left], sharp=False) > 0.0
        violation[left[far]] = np.inf
        left = left[~far]
    if last is not first:
        _run(figure, t, d, last, 0, left, violation, x)
    return Postures(violation, x)


def _effort(name: str) -> Effort:
    if name not in EFFORTS:
        raise ValueError(f"no effort {name!r}; there are {', '.join(EFFORTS)}")
    return EFFORTS[name]


def _run(
    figure: Figure,
    t: Array,
    d: Array,
    effort: Effort,
    n_boxes: int,
    which: NDArray[np.int64],
    violation: Array,
    x: Array,
) -> None:
    """Search for the targets ``which`` and write what is found, after a proof by few boxes."""
    trunks = trunks_of(figure, effort.n_trunks)
    found, best = np.empty(len(which)), np.zeros((len(which), N_FREEDOMS))
    in_chunks(
        _solve_many, len(which), figure.p, trunks.q, trunks.rotation, trunks.shoulder, t[which],
        d[which], effort.n_seeds, effort.n_steps, effort.near, n_boxes, found, best, chunk=_CHUNK,
    )  # fmt: skip
    violation[which], x[which] = found, best


@compiled
def room_for(n_seeds: int) -> Room:
    """Return room for a search that refines ``n_seeds`` samples."""
    return (
        np.empty((n_seeds, N_FREEDOMS)), np.empty(n_seeds), np.empty((N_ROLLS, 3, 3)),
        np.empty((N_ROLLS, 3)), np.empty((N_WORK, 3)), np.empty(N_OUT), np.empty(1, np.uint64),
    )  # fmt: skip


@compiled
def nudge(p: Array, x: Array, step: float, state: State, y: Array) -> None:
    """Write to ``y`` posture ``x`` with one to three freedoms moved, inside trunk and tilt."""
    for i in range(N_FREEDOMS):
        y[i] = x[i]
    for _ in range(1 + int(3.0 * uniform(state))):
        i = int(N_FREEDOMS * uniform(state))
        move = bell(state) * step
        if i < TILT:
            low, high = p[LOW + i], p[HIGH + i]
            y[i] = min(high, max(low, y[i] + 0.5 * move * (high - low)))
        elif i < ROLL:
            y[i] += move * p[TOLERANCE]
        else:
            y[i] += 1.5 * move
    tilt = math.sqrt(y[TILT] * y[TILT] + y[TILT + 1] * y[TILT + 1])
    most = math.tan(p[TOLERANCE])
    if tilt > most:
        y[TILT], y[TILT + 1] = y[TILT] * most / tilt, y[TILT + 1] * most / tilt


@compiled
def refine(
    p: Array, t: Array, d: Array, x: Array, violation: float, n_steps: int, goal: float,
    step: float, work: Array, out: Array, state: State,
) -> float:  # fmt: skip
    """Improve posture ``x`` in place by random steps; return its violation, rad.

    Parameters
    ----------
    t, d : ndarray, shape (3,), m and unit vector, boot frame
    violation : float, rad
        That of ``x`` at the start.
    n_steps : int
    goal : float, rad
        Stop once the violation is at most this.
    step : float
        Size of the first steps, as a share of each freedom's range.
    work, out : ndarray
        Scratch of `reach.worker.chain.evaluate`.
    state : ndarray of uint64, shape (1,)
        Random state.
    """
    y = np.empty(N_FREEDOMS)
    failures = 0
    for _ in range(n_steps):
        nudge(p, x, step, state, y)
        f = evaluate(p, t, d, y, work, out)
        if f < violation:
            violation, failures = f, 0
            for i in range(N_FREEDOMS):
                x[i] = y[i]
            step = min(0.6, 1.3 * step)
            if violation <= goal:
                break
        else:
            failures += 1
            if failures % 4 == 0:
                step = max(0.01, 0.8 * step)
    return violation


@compiled
def best_swivel(p: Array, w: Array, h: Array, slack: float, out: Array) -> tuple[float, float]:
    """Return (violation, swivel) of the best sampled swivel, if below ``slack`` rad."""
    best, at = slack, -1.0
    r = math.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
    if not r >= 1e-6 or (r - p[R_MAX]) / METRES_PER_RADIAN > slack:
        return best, at
    in_cone = (w[0] * p[CONE_X] + w[1] * p[CONE_Y] + w[2] * p[CONE_Z]) / r
    in_hand = (w[0] * h[0, 0] + w[1] * h[1, 0] + w[2] * h[2, 0]) / r
    if cannot_bend(p, r, in_cone, in_hand, max(0.0, slack)):
        return best, at
    for j in range(N_SWIVELS):
        swivel = 2.0 * math.pi * j / N_SWIVELS
        f = arm(p, w, h, swivel, best, out)
        if f < best:
            best, at = f, swivel
    return best, at


@compiled
def gather(
    p: Array, q: Array, rotation: Array, shoulder: Array, t: Array, d: Array, near: float,
    goal: float, room: Room,
) -> int:  # fmt: skip
    """Write the best samples to the seeds of ``room``, best first; return their number.

    One sample a trunk is kept.  Stops as soon as a sample is within ``goal``.

    Parameters
    ----------
    q, rotation, shoulder : ndarray
        Sampled trunks, see `reach.worker.trunks.Trunks`.
    near, goal : float, rad
        Samples with a violation of ``near`` or more are not kept.
    room : tuple
        By `room_for`; its size says how many seeds are kept.
    """
    seeds, scores, hands, wrists, work, out, _ = room
    n_seeds, n = len(scores), 0
    for i in range(N_ROLLS):
        hand_frame(p, d, 0.0, 0.0, 2.0 * math.pi * i / N_ROLLS, hands[i])
        wrist_of(p, t, hands[i], wrists[i])
    farthest = p[R_MAX] + p[ACROSS] + p[RISE] + METRES_PER_RADIAN * near
    h, s, w = work[6:9], work[9], work[11]
    for k in range(len(q)):
        r2 = 0.0
        for a in range(3):
            r2 += (t[a] - d[a] * p[ALONG] - shoulder[k, a]) ** 2
        if r2 > farthest * farthest:
            continue
        worst = near if n < n_seeds else min(near, scores[n - 1])
        best, roll, swivel = worst, 0.0, 0.0
        for i in range(N_ROLLS):
            for a in range(3):
                s[a] = shoulder[k, a]
            if p[RISE] > 0.0:
                lift(p, rotation[k], s, wrists[i])
            to_torso(rotation[k], s, wrists[i], hands[i], w, h)
            f, at = best_swivel(p, w, h, best, out)
            if at >= 0.0:
                best, roll, swivel = f, 2.0 * math.pi * i / N_ROLLS, at
            if best <= goal:
                break
        if best < worst:
            n = min(n + 1, n_seeds)
            m = n - 1
            while m > 0 and scores[m - 1] > best:
                scores[m] = scores[m - 1]
                seeds[m] = seeds[m - 1]
                m -= 1
            scores[m] = best
            for a in range(5):
                seeds[m, a] = q[k, a]
            seeds[m, TILT], seeds[m, TILT + 1] = 0.0, 0.0
            seeds[m, ROLL], seeds[m, SWIVEL] = roll, swivel
            if best <= goal:
                break
    return n


@compiled
def solve(
    p: Array, q: Array, rotation: Array, shoulder: Array, t: Array, d: Array, n_steps: int,
    near: float, goal: float, x: Array, room: Room,
) -> float:  # fmt: skip
    """Write the best posture found to ``x`` (9,) and return its violation, rad.

    Parameters as in `gather` and `refine`; the random state is set to `SEED` first.
    """
    seeds, scores, _, _, work, out, state = room
    state[0] = SEED
    n = gather(p, q, rotation, shoulder, t, d, near, goal, room)
    if n == 0:
        x[:] = 0.0
        return IMPOSSIBLE
    step = _FIRST_STEP
    while scores[0] > goal:
        for k in range(n):
            scores[k] = refine(p, t, d, seeds[k], scores[k], n_steps, goal, step, work, out, state)
            if scores[k] <= goal:
                break
        # The better quarter goes on, with four times the steps; the best comes first.
        keep = max(1, n // 4)
        _best_first(seeds, scores, n, keep)
        if n == 1:
            break
        n, n_steps, step = keep, 4 * n_steps, _LATER_STEP
    x[:] = seeds[0]
    return float(scores[0])


@compiled
def _best_first(seeds: Array, scores: Array, n: int, keep: int) -> None:
    """Bring the best ``keep`` of ``n`` seeds to the front, in order."""
    for i in range(keep):
        best = i
        for k in range(i + 1, n):
            if scores[k] < scores[best]:
                best = k
        scores[i], scores[best] = scores[best], scores[i]
        for a in range(N_FREEDOMS):
            seeds[i, a], seeds[best, a] = seeds[best, a], seeds[i, a]


@compiled
def _solve_many(
    start: int, stop: int, p: Array, q: Array, rotation: Array, shoulder: Array, t: Array,
    d: Array, n_seeds: int, n_steps: int, near: float, n_boxes: int, violation: Array,
    x: Array,
) -> None:  # fmt: skip
    room = room_for(n_seeds)
    boxes, frame = boxes_for(n_boxes), np.empty((4, 3))
    for i in range(start, stop):
        if n_boxes > 0:
            centre = t[i] - p[ALONG] * d[i]
            if proved(p, centre, d[i], 0.0, n_boxes, boxes, frame) > 0.0:
                violation[i] = np.inf
                continue
        violation[i] = solve(
            p, q, rotation, shoulder, t[i], d[i], n_steps, near, 0.0, x[i], room
        )  # fmt: skip
