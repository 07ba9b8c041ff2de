"""Whether two lines cross for certain, or lie beside each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.lines import Crossings, seen_crossings
from reach.site import Site, Situation
from reach.travel.ground import rails_in

Array = NDArray[np.float64]

ASIDE = (1e-4, 0.05, 0.10)
"""Lines are taken to lie up to so far (m) aside of where they are drawn."""

N_SIDES = 8

HAIR = 1e-6
"""Whether lines that lie nearer than this (m) to just so far aside cross is not known."""

_HAIRS = 1e-6 * np.array([[0.0, 0.0], [1.0, 0.3], [-0.3, 1.0], [-1.0, -0.3], [0.3, -1.0]])
"""Where else a line may lie by rounding, along `first` and `second` (m)."""


def must_cross(site: Site, situation: Situation, one: Array, other: Array) -> tuple[int, int]:
    """Return how often two lines cross as seen from outside, wherever they lie within a decimetre.

    At least and at most: they differ where two lie a decimetre beside each other to a hair, and
    where one goes out over the other and comes back within a decimetre under it: it may as well
    come back over it.  Lines that share a rail lie beside each other there; what a line does not do
    when it is led a little aside is no crossing.

    Parameters
    ----------
    one, other : ndarray, shape (k, 3), m, world
        From anchor to worker.
    """
    view = outward(site, situation, one)
    first = _along(view, one, other)
    second = np.cross(view, first)
    turns = 2.0 * np.pi * (np.arange(N_SIDES) + 0.5) / N_SIDES
    sides = np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second
    hairs = _HAIRS @ np.array([first, second])
    least, most = [], []
    for aside in ASIDE:
        for side in sides:
            seen = [seen_crossings(one, other + aside * side + hair, view) for hair in hairs]
            least.append(min(_at_least(found, view) for found in seen))
            most.append(max(abs(found.count) for found in seen))
            if not most[-1]:
                return 0, 0
    return min(least), min(most)


def _at_least(seen: Crossings, view: Array) -> int:
    """Return how often lines cross, whichever is outside where they lie within a decimetre."""
    is_free = np.abs((seen.on_a - seen.on_b) @ view) <= ASIDE[-1] + HAIR
    fixed, free = abs(int(seen.sign[~is_free].sum())), int(is_free.sum())
    return fixed - free if fixed > free else (free - fixed) % 2


def _along(view: Array, one: Array, other: Array) -> Array:
    """Return a direction square to the view that the lines themselves give, a unit vector."""
    for along in (one[-1] - one[0], other[-1] - other[0], *np.diff(one, axis=0)):
        first = along - (along @ view) * view
        length = float(np.linalg.norm(first))
        if length > HAIR:
            return np.asarray(first / length)
    first = np.cross(view, np.eye(3)[int(np.argmin(np.abs(view)))])
    return np.asarray(first / np.linalg.norm(first))


def outward(site: Site, situation: Situation, line: Array) -> Array:
    """Return the mean side on which the rails near a line are held, a unit vector.

    Of rails that are just as near a point of the line each counts as much.
    """
    rails = rails_in(site, situation.surroundings)
    middles = np.array([(np.asarray(r.start) + np.asarray(r.stop)) / 2.0 for r in rails])
    total = np.zeros(3)
    for x in line:
        away = np.linalg.norm(middles - x, axis=1)
        near = np.flatnonzero(away <= away.min() + HAIR)
        total += np.mean([np.asarray(rails[int(i)].out) for i in near], axis=0)
    length = float(np.linalg.norm(total))
    return total / length if length > 1e-6 else np.asarray(rails[0].out, float)
