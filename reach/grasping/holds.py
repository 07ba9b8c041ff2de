"""Postures that hold one or two bars: which hand on which, where along it, which way round.

Everything is in the boot frame of the worker's own hand: mirrored for a left-handed worker, so
that a mirrored world with hands swapped asks the very same question.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from reach.grasping.bars import Bar
from reach.worker.bars import bar_target, excess_of
from reach.worker.chain import N_FREEDOMS
from reach.worker.figure import Figure
from reach.worker.search import find_postures
from reach.worker.two_hands import find_two_handed

Array = NDArray[np.float64]

SPACING = 0.10
"""Points tried along a bar are so far apart at most (m), but see `MOST`."""

MOST = 5
"""Points of one bar that are tried, those nearest to the chest."""

CHEST = np.array([0.35, 0.0, 1.2])
"""What is near this point (m, boot frame) is the likeliest to be held."""

BATCH, ENOUGH = 12, 8
"""Pairs that are searched at a time, and how many found are enough to choose from."""

OWN, OTHER = 0, 1
"""The worker's own hand, and the other one, whose questions are mirrored."""

_FLIP = {OWN: 1.0, OTHER: -1.0}


@dataclass(frozen=True, slots=True, eq=False)
class Hold:
    """How bars are held.

    Attributes
    ----------
    sides : tuple of int
        `OWN` or `OTHER` for each bar.
    shares : tuple of float
        Where along each bar, 0 to 1.
    signs : tuple of float
        1 with the thumb towards the bar's end, -1 towards its start.
    postures : ndarray, shape (n, 9)
        One for each bar; those of the other hand answer the mirrored question.
    """

    sides: tuple[int, ...]
    shares: tuple[float, ...]
    signs: tuple[float, ...]
    postures: Array

    @property
    def arrays(self) -> tuple[Array, Array, Array, Array]:
        """Shares, signs, flips and postures as the kernels take them; new but for the last."""
        flips = np.array([_FLIP[side] for side in self.sides])
        return np.array(self.shares), np.array(self.signs), flips, self.postures

    @property
    def trunk(self) -> Array:
        """Trunk angles of the own hand's frame, shape (5,), rad."""
        trunk = self.postures[0, :5].copy()
        if self.sides[0] == OTHER:
            trunk[[0, 3, 4]] *= -1.0
        return trunk


def target_of(bar: Bar, share: float, sign: float, side: int) -> tuple[Array, Array]:
    """Return where a hand is to be and where its thumb points, as the kernels ask."""
    tip, way = np.empty(3), np.empty(3)
    bar_target(ends_of((bar,))[0], share, sign, _FLIP[side], tip, way)
    return tip, way


def ends_of(bars: tuple[Bar, ...]) -> Array:
    """Return the ends of bars as the kernels take them, shape (n, 2, 3), m."""
    return np.array([(bar.start, bar.end) for bar in bars])


def excess(figure: Figure, bars: tuple[Bar, ...], hold: Hold) -> float:
    """Return the worst excess over a limit of any arm, rad; at most 0 is held."""
    return float(excess_of(figure.p, ends_of(bars), *hold.arrays))


def find_holds(figure: Figure, bars: tuple[Bar, ...]) -> list[Hold]:
    """Return ways of holding the bars for which a posture was found, joint limits alone.

    Ways that one of the hands alone does not find are left out; the others are tried, the
    likeliest first, until `ENOUGH` are found.
    """
    singly = {
        (i, hold.sides[0], hold.shares[0], hold.signs[0]): hold
        for i, bar in enumerate(bars)
        for hold in solved(figure, (bar,), _ways((bar,)))
    }
    if len(bars) == 1:
        return list(singly.values())
    ways = [
        way
        for way in _ways(bars)
        if all((i, way.sides[i], way.shares[i], way.signs[i]) in singly for i in (0, 1))
    ]
    holds: list[Hold] = []
    for k in range(0, len(ways), BATCH):
        holds += solved(figure, bars, ways[k : k + BATCH])
        if len(holds) >= ENOUGH:
            break
    return holds


def _ways(bars: tuple[Bar, ...]) -> list[Hold]:
    """Return all ways that are tried, without postures; the likeliest points first."""
    n = len(bars)
    sides = [(OWN,), (OTHER,)] if n == 1 else [(OWN, OTHER), (OTHER, OWN)]
    shares = sorted(
        product(*(_shares(bar) for bar in bars)),
        key=lambda some: round(sum(_far(bar, s) for bar, s in zip(bars, some, strict=True)), 6),
    )
    nothing = np.zeros((n, N_FREEDOMS))
    return [
        Hold(side, some, signs, nothing)
        for some in shares
        for side in sides
        for signs in product((1.0, -1.0), repeat=n)
    ]


def _shares(bar: Bar) -> list[float]:
    n = max(2, int(np.ceil(np.linalg.norm(bar.end - bar.start) / SPACING - 1e-9)) + 1)
    shares = [float(share) for share in np.linspace(0.0, 1.0, n)]
    return sorted(shares, key=lambda share: round(_far(bar, share), 6))[:MOST]


def _far(bar: Bar, share: float) -> float:
    return float(np.linalg.norm(bar.at(share) - CHEST))


def solved(figure: Figure, bars: tuple[Bar, ...], ways: list[Hold]) -> list[Hold]:
    """Return those of the ways for which a posture is found, with it."""
    if not ways:
        return []
    if len(bars) == 1:
        return _one_handed(figure, bars[0], ways)
    asked = [[_plain(bars[i], way, i) for i in _by_side(way)] for way in ways]
    own = np.array([one[0] for one in asked])
    other = np.array([one[1] for one in asked])
    found = find_two_handed(figure, figure.grip, own[:, 0], own[:, 1], other[:, 0], other[:, 1])
    holds = []
    for k in np.flatnonzero(found.violation <= 0.0):
        postures = np.empty((2, N_FREEDOMS))
        first, second = _by_side(ways[k])
        postures[first], postures[second] = found.right[k], found.left[k]
        hold = replace(ways[k], postures=postures)
        if excess(figure, bars, hold) <= 0.0:
            holds.append(hold)
    return holds


def _by_side(way: Hold) -> tuple[int, int]:
    """Return which bar the own hand holds, and which the other."""
    return (0, 1) if way.sides[0] == OWN else (1, 0)


def _plain(bar: Bar, way: Hold, i: int) -> tuple[Array, Array]:
    return bar.at(way.shares[i]), way.signs[i] * (bar.end - bar.start)


def _one_handed(figure: Figure, bar: Bar, ways: list[Hold]) -> list[Hold]:
    asked = [target_of(bar, way.shares[0], way.signs[0], way.sides[0]) for way in ways]
    tips, directions = np.array([one[0] for one in asked]), np.array([one[1] for one in asked])
    found = find_postures(figure, tips, directions, "full")
    return [
        replace(ways[k], postures=found.x[k][None].copy())
        for k in np.flatnonzero(found.violation <= 0.0)
    ]
