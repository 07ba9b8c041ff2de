"""Postures whose hands hold one or two bars: how far over a limit, and pulled back inside.

A bar is held anywhere along it, with the thumb towards one of its ends.  Of two bars the own
hand holds one and the other hand the other, both from one trunk; questions of the other hand are
mirrored.  All is in the boot frame of the own hand.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.chain import N_FREEDOMS, N_OUT, N_WORK, evaluate
from reach.worker.chance import State, bell, uniform
from reach.worker.question import DIRECTION_DIGITS, TIP_DIGITS
from reach.worker.search import nudge
from reach.worker.two_hands import mirror_trunk

Array = NDArray[np.float64]

_TIP, _WAY = 10.0**TIP_DIGITS, 10.0**DIRECTION_DIGITS
"""Steps of the lattice on which all searches put their questions."""


@compiled
def bar_target(bar: Array, share: float, sign: float, flip: float, tip: Array, way: Array) -> None:
    """Write where a hand is to be and where its thumb points, as searches ask.

    Parameters
    ----------
    bar : ndarray, shape (2, 3), m
        Its ends.
    share : float
        Where along it, 0 to 1.
    sign : float
        1 with the thumb towards the bar's end, -1 towards its start.
    flip : float
        -1 for the other hand, whose question is mirrored, else 1.
    tip, way : ndarray, shape (3,), m and unit vector
        Written.
    """
    size = 0.0
    for i in range(3):
        size += (bar[1, i] - bar[0, i]) ** 2
    n = sign / math.sqrt(size)
    for i in range(3):
        along = bar[1, i] - bar[0, i]
        tip[i] = np.rint((bar[0, i] + share * along) * _TIP) / _TIP
        way[i] = np.rint(n * along * _WAY) / _WAY
    tip[1], way[1] = flip * tip[1], flip * way[1]


@compiled
def excess_of(
    p: Array, bars: Array, shares: Array, signs: Array, flips: Array, postures: Array
) -> float:
    """Return the worst excess over a limit of any arm, rad; at most 0 is held.

    Parameters
    ----------
    p : ndarray
        Of the figure.
    bars : ndarray, shape (n, 2, 3), m
    shares, signs, flips : ndarray, shape (n,)
        As `bar_target`, for each bar.
    postures : ndarray, shape (n, 9)
    """
    work, out = np.empty((N_WORK, 3)), np.empty(N_OUT)
    tip, way = np.empty(3), np.empty(3)
    worst = -math.inf
    for i in range(len(shares)):
        bar_target(bars[i], shares[i], signs[i], flips[i], tip, way)
        worst = max(worst, evaluate(p, tip, way, postures[i], work, out))
    return worst


@compiled
def nudge_hold(
    p: Array, shares: Array, postures: Array, step: float, state: State, new_shares: Array,
    new: Array,
) -> None:  # fmt: skip
    """Write a hold with some freedoms and places along the bars moved; trunks agree."""
    n = len(shares)
    new_shares[:] = shares
    new[:] = postures
    first = int(n * uniform(state))
    for k in range(n):
        i = first if k == 0 else 1 - first
        if k == 0 or uniform(state) < 0.5:
            nudge(p, postures[i], step, state, new[i])
        if uniform(state) < 0.3:
            new_shares[i] = min(1.0, max(0.0, shares[i] + 0.5 * step * bell(state)))
    if n == 2:
        trunk = np.empty(N_FREEDOMS)
        trunk[:] = new[first]
        mirror_trunk(trunk, new[1 - first])


@compiled
def pull_back(
    p: Array, bars: Array, shares: Array, signs: Array, flips: Array, postures: Array,
    n_steps: int, state: State,
) -> float:  # fmt: skip
    """Improve a hold in place by random steps until it holds; return its excess, rad.

    Parameters
    ----------
    p, bars, shares, signs, flips, postures
        As `excess_of`; ``shares`` and ``postures`` are written.
    n_steps : int
        Steps at most.
    state : ndarray of uint64, shape (1,)
        Random state.
    """
    new_shares, new = np.empty_like(shares), np.empty_like(postures)
    step, failures = 0.1, 0
    worst = excess_of(p, bars, shares, signs, flips, postures)
    for _ in range(n_steps):
        if worst <= 0.0:
            break
        nudge_hold(p, shares, postures, step, state, new_shares, new)
        reached = excess_of(p, bars, new_shares, signs, flips, new)
        if reached < worst:
            worst, failures = reached, 0
            shares[:] = new_shares
            postures[:] = new
            step = min(0.5, 1.3 * step)
        else:
            failures += 1
            if failures % 4 == 0:
                step = max(0.01, 0.8 * step)
    return worst
