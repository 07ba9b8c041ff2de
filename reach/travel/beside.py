"""Whether two lines cross for certain, or lie beside each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.lines import seen_crossings
from reach.site import Site, Situation
from reach.travel.ground import rails_in

Array = NDArray[np.float64]

ASIDE = (1e-4, 0.05, 0.10)
"""Lines are taken to lie up to so far (m) aside of where they are drawn."""

N_SIDES = 8


def must_cross(site: Site, situation: Situation, one: Array, other: Array) -> int:
    """Return how often two lines cross as seen from outside, wherever they lie within decimetres.

    Lines that share a rail lie beside each other there; what a line does without that is led a
    little aside is no crossing.

    Parameters
    ----------
    one, other : ndarray, shape (k, 3), m, world
        From anchor to worker.
    """
    view = _outward(site, situation, one)
    along = one[-1] - one[0]
    first = along - (along @ view) * view
    if float(np.linalg.norm(first)) < 1e-6:
        first = np.cross(view, np.eye(3)[int(np.argmin(np.abs(view)))])
    first /= np.linalg.norm(first)
    second = np.cross(view, first)
    turns = 2.0 * np.pi * (np.arange(N_SIDES) + 0.5) / N_SIDES
    sides = np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second
    counts = (
        abs(seen_crossings(one, other + aside * side, view).count)
        for aside in ASIDE
        for side in sides
    )
    return min(counts)


def _outward(site: Site, situation: Situation, line: Array) -> Array:
    """Return the mean side on which the rails near a line are held, a unit vector."""
    rails = rails_in(site, situation.surroundings)
    middles = np.array([(np.asarray(r.start) + np.asarray(r.stop)) / 2.0 for r in rails])
    total = np.zeros(3)
    for x in line:
        total += np.asarray(rails[int(np.argmin(np.linalg.norm(middles - x, axis=1)))].out)
    length = float(np.linalg.norm(total))
    return total / length if length > 1e-6 else np.asarray(rails[0].out, float)
