"""Whether a line comes to cross another for certain, or lies beside it."""

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


def comes_to_cross(before: Array, after: Array, other: Array, view: Array) -> tuple[int, int]:
    """Return how much more often a line has to cross another after a move, at least and at most.

    As seen from one side.  How often lines have to cross is the least over all that they may do
    while each lies within a decimetre of where it is drawn: lines that share a rail lie beside each
    other there, and where they pass within a decimetre of each other either may be outside, so that
    one which goes out over another may come back over it.  At least and at most differ where two
    lie a decimetre beside each other to a hair.

    Parameters
    ----------
    before, after, other : ndarray, shape (k, 3), m, world
        From anchor to worker.
    view : ndarray, shape (3,)
        Towards who looks, a unit vector.
    """
    first = _along(view, after, other)
    second = np.cross(view, first)
    turns = 2.0 * np.pi * (np.arange(N_SIDES) + 0.5) / N_SIDES
    sides = np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second
    hairs = _HAIRS @ np.array([first, second])
    was, then, more = [], [], []
    for aside in ASIDE:
        for side in sides:
            led = [other + aside * side + hair for hair in hairs]
            seen = [seen_crossings(after, one, view) for one in led]
            then.append([_least(new, view) for new in seen])
            if not any(then[-1]):
                # Lines that need not cross at all have not come to.
                return 0, 0
            old = [seen_crossings(before, one, view) for one in led]
            was.append([_least(one, view) for one in old])
            more.append(max(_more(one, new, view) for one, new in zip(old, seen, strict=True)))
    least_was, least_then = (np.array(one).min() for one in (was, then))
    most_was, most_then = (np.array(one).max(axis=1).min() for one in (was, then))
    least = max(0, int(least_then - most_was))
    # What is drawn alike before and after changes nothing, wherever the other lies.
    most = int(most_then - least_was) if min(more) > 0 else 0
    return least, max(least, most)


def _least(seen: Crossings, view: Array) -> int:
    """Return how often lines have to cross that cross as seen."""
    return min(abs(one) for one in _sums(seen, np.ones(len(seen.sign), bool), view))


def _more(was: Crossings, then: Crossings, view: Array) -> int:
    """Return how much more often lines have to cross then.

    Where they crossed already, and still do, they cross as they did.
    """
    gone, new = np.ones(len(was.sign), bool), np.ones(len(then.sign), bool)
    for i, (sign, a, b) in enumerate(zip(was.sign, was.on_a, was.on_b, strict=True)):
        same = new & (then.sign == sign)
        for at, points in ((a, then.on_a), (b, then.on_b)):
            same &= np.linalg.norm(points - at, axis=1) <= HAIR
        if same.any():
            gone[i] = new[int(np.argmax(same))] = False
    kept, left, come = _sums(then, ~new, view), _sums(was, gone, view), _sums(then, new, view)
    return max(min(abs(k + c) for c in come) - min(abs(k + g) for g in left) for k in kept)


def _sums(seen: Crossings, some: NDArray[np.bool_], view: Array) -> range:
    """Return what signs of some crossings may add up to: within a decimetre either is outside."""
    depth = np.abs((seen.on_a - seen.on_b) @ view)
    free = some & (depth <= ASIDE[-1] + HAIR)
    fixed, n = int(seen.sign[some & ~free].sum()), int(free.sum())
    return range(fixed - n, fixed + n + 1, 2)


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
