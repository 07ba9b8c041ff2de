"""Of all postures that hold something, one that keeps clear: of structure, of it, of the body."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from reach.grasping.bars import Bar
from reach.grasping.holds import Hold, ends_of, excess
from reach.worker.bars import nudge_hold, pull_back
from reach.worker.figure import Figure
from reach.worker.search import SEED

Array = NDArray[np.float64]

Score = Callable[[Hold], float]
"""How clear a posture is, m: the larger the better, `COMFORT` or more is enough."""

COMFORT = 0.05
"""Room beyond what is asked (m) at which no clearer posture is looked for."""

N_WALKED, N_STEPS = 4, 120
"""Postures that are walked on to more room, and steps each."""

N_PULLED = 300
"""Steps by which a posture is pulled back inside its limits at most."""


def clearest(
    figure: Figure, bars: tuple[Bar, ...], holds: list[Hold], score: Score, walks: int = N_WALKED
) -> tuple[Hold, float]:
    """Return the clearest of some postures, the best ones walked on, and its score."""
    scored = sorted(((score(hold), -i) for i, hold in enumerate(holds)), reverse=True)
    best_hold, best = holds[-scored[0][1]], scored[0][0]
    for value, i in scored[:walks]:
        if best >= COMFORT:
            break
        hold, reached = _walked(figure, bars, holds[-i], value, score)
        if reached > best:
            best_hold, best = hold, reached
    return best_hold, best


def _walked(
    figure: Figure, bars: tuple[Bar, ...], hold: Hold, value: float, score: Score
) -> tuple[Hold, float]:
    """Walk a posture uphill on its score by random steps that keep the hold."""
    state, step, failures = np.array([SEED], np.uint64), 0.2, 0
    for _ in range(N_STEPS):
        if value >= COMFORT:
            break
        new = _nudged(figure, hold, step, state)
        if excess(figure, bars, new) <= 0.0 and (reached := score(new)) > value:
            hold, value, failures = new, reached, 0
            step = min(0.5, 1.3 * step)
        else:
            failures += 1
            if failures % 4 == 0:
                step = max(0.02, 0.8 * step)
    return hold, value


def pulled(figure: Figure, bars: tuple[Bar, ...], hold: Hold) -> Hold | None:
    """Return a nearby posture that holds the bars where they are now, or None if none was met."""
    shares, signs, flips, postures = hold.arrays
    postures, state = postures.copy(), np.array([SEED], np.uint64)
    worst = pull_back(
        figure.p, ends_of(bars), shares, signs, flips, postures, N_PULLED, state
    )  # fmt: skip
    if worst > 0.0:
        return None
    return Hold(hold.sides, tuple(shares.tolist()), hold.signs, postures)


def _nudged(figure: Figure, hold: Hold, step: float, state: NDArray[np.uint64]) -> Hold:
    """Return the hold with some freedoms and places along the bars moved; trunks agree."""
    shares, _, _, before = hold.arrays
    postures = np.empty_like(before)
    nudge_hold(figure.p, shares.copy(), before, step, state, shares, postures)
    return Hold(hold.sides, tuple(shares.tolist()), hold.signs, postures)
