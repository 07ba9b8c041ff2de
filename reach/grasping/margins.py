"""How far what is held may move, any way, and still be held; how far off it is for sure."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from reach.grasping.bars import Bar
from reach.grasping.clearing import pulled
from reach.grasping.holds import OTHER, OWN, Hold
from reach.worker.bound import shortage, tip_sphere
from reach.worker.figure import Figure, mirrored

Array = NDArray[np.float64]

MOST = 0.30
"""No margin is looked for beyond this, m."""

STEP, FINEST = 0.10, 0.0125
"""First and last step from one distance to the next, m."""

N_AGAIN = 6
"""Other ways of holding that are pulled along where the posture does not follow."""

SPAN = 0.10
"""A bar is bounded in pieces of at most this length, m."""

_PROBES = (0.4, 0.8, 1.6, 3.2)
_N_HALVINGS = 5


def _directions() -> Array:
    some = [np.array(v, float) for v in product((-1, 0, 1), repeat=3)]
    kept = [v / np.linalg.norm(v) for v in some if np.count_nonzero(v) in (1, 3)]
    return np.array(kept)


DIRECTIONS = _directions()
"""The 6 axes and 8 diagonals of the boot frame, unit vectors, shape (14, 3)."""


@dataclass(frozen=True, slots=True, eq=False)
class Margin:
    """How far all grips may move together and still be held.

    Attributes
    ----------
    radius : float, m
        A posture was found this far off in each of `DIRECTIONS`, and at the steps before.
    is_capped : bool
        Whether the search ended at `MOST`: then the margin is at least that.
    ceiling : float, m
        This far off some way they are proved out of reach; infinite without proof.
    worst : ndarray, shape (3,), boot frame of the own hand
        Direction in which a posture was not found first; nan when none failed.
    """

    radius: float
    is_capped: bool
    ceiling: float
    worst: Array


def margin_of(figure: Figure, bars: tuple[Bar, ...], hold: Hold, others: list[Hold]) -> Margin:
    """Return how far the bars may move together, by joint limits, from a posture that holds them.

    Parameters
    ----------
    hold : Hold
        At the bars as they are.
    others : list of Hold
        Further ways of holding them, tried where the posture does not follow.
    """
    again = _spread(others)
    now = [hold] * len(DIRECTIONS)
    radius, step, worst = 0.0, STEP, -1
    order = list(range(len(DIRECTIONS)))
    while radius < MOST - 1e-9 and step > 0.75 * FINEST:
        ahead = list(now)
        if worst in order:  # what failed last is the likeliest to fail
            order.remove(worst)
            order.insert(0, worst)
        for k in order:
            moved = shifted(bars, (radius + step) * DIRECTIONS[k])
            found = _held(figure, moved, now[k], again)
            if found is None:
                worst = k
                break
            ahead[k] = found
        else:
            radius, now = radius + step, ahead
            continue
        step *= 0.5
    nowhere = np.full(3, np.nan)
    return Margin(
        radius,
        radius >= MOST - 1e-9,
        _ceiling(figure, bars, radius),
        DIRECTIONS[worst] if worst >= 0 else nowhere,
    )


def shifted(bars: tuple[Bar, ...], by: Array) -> tuple[Bar, ...]:
    """Return the bars moved by a vector, m."""
    return tuple(Bar(bar.name, bar.start + by, bar.end + by) for bar in bars)


def _spread(others: list[Hold]) -> list[Hold]:
    step = max(1, len(others) // N_AGAIN)
    return others[::step][:N_AGAIN]


def _held(figure: Figure, bars: tuple[Bar, ...], hold: Hold, again: list[Hold]) -> Hold | None:
    for start in (hold, *again):
        found = pulled(figure, bars, start)
        if found is not None:
            return found
    return None


def short_of(figure: Figure, bars: tuple[Bar, ...]) -> float:
    """Return how far the bars are proved out of reach, m, for any hands; 0 or less is no proof.

    Two bars want a hand each: of the two ways to share them out the one that falls short less
    counts.
    """
    if len(bars) == 1:
        return min(_short(figure, bars[0], side) for side in (OWN, OTHER))
    one, two = bars
    return min(
        max(_short(figure, one, OWN), _short(figure, two, OTHER)),
        max(_short(figure, one, OTHER), _short(figure, two, OWN)),
    )


def _short(figure: Figure, bar: Bar, side: int) -> float:
    """Return how far a whole bar is proved out of reach of one hand, m.

    A bound at the middle of a piece holds all along it less half its length: no point of it
    is farther from any wrist that holds there.
    """
    way = bar.end - bar.start
    length = float(np.linalg.norm(way))
    nearest, farthest = _range(bar)
    inner, outer = tip_sphere(figure)
    far = max(nearest - outer, inner - farthest)
    n = max(1, int(np.ceil(length / SPAN)))
    tips = np.array([bar.at((i + 0.5) / n) for i in range(n) for _ in (0, 1)])
    ways = np.array([sign * way for _ in range(n) for sign in (1.0, -1.0)])
    if side == OTHER:
        tips, ways = mirrored(tips), mirrored(ways)
    swept = float(shortage(figure, tips, ways).min()) - 0.5 * length / n
    return max(far, swept)


def _range(bar: Bar) -> tuple[float, float]:
    """Return the least and largest distance of a bar's points from the boot plate, m."""
    along = bar.end - bar.start
    share = min(1.0, max(0.0, float(-(bar.start @ along) / (along @ along))))
    ends = np.linalg.norm(np.array([bar.start, bar.end]), axis=1)
    return float(np.linalg.norm(bar.at(share))), float(ends.max())


def _ceiling(figure: Figure, bars: tuple[Bar, ...], radius: float) -> float:
    """Return a distance at which the bars are proved out of reach some way, m."""
    middle = np.mean([0.5 * (bar.start + bar.end) for bar in bars], axis=0)
    away = max(DIRECTIONS, key=lambda v: round(float(v @ middle), 9))
    best = np.inf
    for probe in _PROBES:
        if short_of(figure, shifted(bars, (radius + probe) * away)) > 0.0:
            best = radius + probe
            break
    if not np.isfinite(best):
        return best
    low, high = radius, best
    for _ in range(_N_HALVINGS):
        half = 0.5 * (low + high)
        if short_of(figure, shifted(bars, half * away)) > 0.0:
            high = half
        else:
            low = half
    return float(high)
