"""Cover: every target up to so far from a nominal one has a posture, by proof.

A ball of targets is covered by small balls, each served by one posture of its own with trunk and
hand held still (`reach.worker.carry`): one about the middle, as large as it proves, and round
it cubes of a fixed lattice by their circumscribed balls, nearest first.  A cube whose ball is not
proved is cut into eight; the smallest that is not ends the ball that is proved.

What is asked for only ends the work early: the radius told is the lesser of it and of one number
that does not depend on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.worker.carry import SPARE, desk, ease
from reach.worker.chain import N_FREEDOMS
from reach.worker.figure import Figure
from reach.worker.question import questions
from reach.worker.search import gather, room_for
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

FIRST, GROWTH, MOST = 0.001, 1.1, 0.3
"""Rungs of the radius tried about the middle, m: first, ratio, and no more than."""

HALF, N_HALVINGS = 0.02, 3
"""Half the side of the largest cubes, m, and how often one may be cut."""

N_CELLS = 1500
"""Cubes looked at before the ball is told as it stands."""

ROUNDING = 2e-9
"""Added to every radius, m."""

_N_TRUNKS, _N_SEEDS, _NEAR = 128, 16, 0.6
_N_STEPS, _BATCH, _CHUNK = 20, 32, 8
_CORNERS = np.array([[i, j, k] for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)], np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """How large a ball of targets is proved.

    Attributes
    ----------
    radius : float, m
        Every target up to so far off has a posture within joint limits.
    n_cells : int
        Cubes looked at.
    blocked : ndarray, shape (3,), m, boot frame
        Middle of the nearest cube that is not proved, from the nominal target: 0 where nothing
        is proved even there, nan where what was asked for was reached.
    """

    radius: float
    n_cells: int
    blocked: Array


def prove_ball(
    figure: Figure, tip: ArrayLike, direction: ArrayLike, x: ArrayLike, wanted: float
) -> Cover:
    """Return how large a ball of targets round one is proved, ``wanted`` (m) at most.

    Parameters
    ----------
    figure : Figure
        Its grip's tolerance is what the tool's axis may be off ``direction``.
    tip, direction : array_like, shape (3,), m and any length, boot frame
    x : array_like, shape (9,)
        A posture to start from; it need not reach.

    Examples
    --------
    >>> from reach.files.people import load_population, load_suits
    >>> from reach.worker.body import percentile_body
    >>> from reach.worker.figure import Grip, figure_of
    >>> body = percentile_body(load_population("male"), 50)
    >>> figure = figure_of(body, load_suits()["halden"], Grip(tip=(0.25, 0, 0.05)))
    >>> prove_ball(figure, [0.7, -0.2, 1.4], [1, 0, 0], [0.0] * 9, 0.03).radius
    0.03
    """
    t, d = questions(tip, direction)
    wanted = min(wanted, MOST)
    radius, posture = _middle(figure, t[0], d[0], np.asarray(x, np.float64))
    if radius <= 0.0:
        return Cover(0.0, 0, np.zeros(3))
    if radius >= wanted:
        return Cover(wanted, 0, np.full(3, np.nan))
    return _spread(figure, t[0], d[0], posture, radius, wanted)


def _middle(figure: Figure, t: Array, d: Array, x: Array) -> tuple[float, Array]:
    """Return the largest radius that one posture proves round the middle, and the posture."""
    trunks, room = trunks_of(figure, _N_TRUNKS), room_for(_N_SEEDS)
    n = gather(figure.p, trunks.q, trunks.rotation, trunks.shoulder, t, d, _NEAR, -1.0, room)
    starts = np.ascontiguousarray(np.vstack((x[None], room[0][:n])))
    radii = np.zeros(len(starts))
    in_chunks(_grow, len(starts), figure.p, t, d, starts, radii, chunk=_CHUNK)
    best = int(np.argmax(radii))
    return float(radii[best]), starts[best]


def _spread(
    figure: Figure, t: Array, d: Array, posture: Array, proved: float, wanted: float
) -> Cover:
    """Go on from the ball about the middle, cube by cube, nearest first."""
    middles = _lattice()
    halves = np.full(len(middles), HALF)
    least = HALF * 0.5**N_HALVINGS
    known, postures = np.zeros((1, 3)), posture[None]
    end, n_cells, blocked = MOST, 0, np.full(3, np.nan)
    while True:
        nearest, farthest = _ends(middles, halves)
        left = np.flatnonzero((farthest > proved) & (nearest < end))
        left = left[np.argsort(nearest[left], kind="stable")]
        middles, halves, nearest = middles[left], halves[left], nearest[left]
        reached = float(min(end, nearest[0])) if len(left) else end
        if reached >= min(end, wanted) or n_cells >= N_CELLS:
            break
        n = min(_BATCH, len(left))
        at, half = middles[:n], halves[:n]
        like = np.argmin(((at[:, None] - known) ** 2).sum(axis=2), axis=1)
        found, excess = np.ascontiguousarray(postures[like]), np.empty(n)
        balls = math.sqrt(3.0) * half + ROUNDING
        in_chunks(_settle, n, figure.p, t + at, d, balls, found, excess, chunk=_CHUNK)
        n_cells += n
        good = excess <= -SPARE
        known, postures = np.vstack((known, at[good])), np.vstack((postures, found[good]))
        stuck = np.flatnonzero(~good & (half <= 1.5 * least))
        if len(stuck) and nearest[stuck[0]] < end:
            end, blocked = float(nearest[stuck[0]]), at[stuck[0]]
        cut = ~good & (half > 1.5 * least)
        parts = at[cut][:, None] + 0.5 * half[cut][:, None, None] * _CORNERS
        middles = np.vstack((middles[n:], parts.reshape(-1, 3)))
        halves = np.append(halves[n:], np.repeat(0.5 * half[cut], 8))
    radius = max(proved, reached)
    if radius >= wanted:
        blocked = np.full(3, np.nan)
    elif radius < end:
        blocked = middles[0]
    return Cover(min(radius, wanted), n_cells, blocked)


def _lattice() -> Array:
    """Middles of all largest cubes that a ball of `MOST` may touch, the nominal target a corner."""
    n = math.ceil(MOST / (2.0 * HALF))
    at = HALF * (2.0 * np.arange(-n, n) + 1.0)
    return np.stack(np.meshgrid(at, at, at, indexing="ij"), axis=-1).reshape(-1, 3)


def _ends(middles: Array, halves: Array) -> tuple[Array, Array]:
    """Return the distances of the nearest and the farthest point of each cube, m."""
    a, h = np.abs(middles), halves[:, None]
    return np.linalg.norm(np.maximum(a - h, 0.0), axis=1), np.linalg.norm(a + h, axis=1)


@compiled
def _grow(start: int, stop: int, p: Array, t: Array, d: Array, x: Array, radii: Array) -> None:
    """Raise the radius rung by rung; ``x`` is left where the last rung was proved."""
    room, y = desk(), np.empty(N_FREEDOMS)
    for i in range(start, stop):
        y[:] = x[i]
        radius = FIRST
        while radius <= MOST:
            if not ease(p, t, d, y, radius + ROUNDING, _N_STEPS, room) <= -SPARE:
                break
            radii[i] = radius
            x[i] = y
            radius *= GROWTH


@compiled
def _settle(
    start: int, stop: int, p: Array, tips: Array, d: Array, balls: Array, x: Array, excess: Array
) -> None:
    """Ease one posture for each cube."""
    room = desk()
    for i in range(start, stop):
        excess[i] = ease(p, tips[i], d, x[i], balls[i], _N_STEPS, room)
