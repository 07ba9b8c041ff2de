"""Making a certified path shorter; no leg is put in that is not certified."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from reach.geometry.tree import Floats
from reach.paths.states import between, length_of

Kept = Callable[[Floats, Floats], bool]

_LEAST = 1e-3
"""A change that saves less (m) is not worth a vertex."""


def shortened(
    states: list[Floats], kept: Kept, arm: float, rng: np.random.Generator, motions: int
) -> list[Floats]:
    """Return a path between the same ends that is no longer, every leg certified.

    Parameters
    ----------
    states : list of ndarray, shape (7,)
    kept : callable
        Whether the motion between two states is certified.
    arm : float, m
        What a radian of turn counts as.
    rng : Generator
    motions : int
        How many motions may be asked about.
    """
    left = [motions]

    def asked(a: Floats, b: Floats) -> bool:
        left[0] -= 1
        return left[0] >= 0 and kept(a, b)

    states = _dropped(list(states), asked)
    while left[0] > 0 and len(states) > 2:
        before = total(states, arm)
        for _ in range(4 * len(states)):
            _cut(states, asked, arm, rng)
        states = _dropped(states, asked)
        _pull(states, asked, arm)
        if left[0] < motions // 2 and total(states, arm) > before - _LEAST:
            break
    left[0] = max(left[0], 0) + 4 * len(states)
    return _dropped(states, asked)


def total(states: list[Floats], arm: float) -> float:
    """Return the length of a path (m)."""
    return sum(length_of(a, b, arm) for a, b in pairwise(states))


def _dropped(states: list[Floats], asked: Kept) -> list[Floats]:
    """Return the path without vertices that are not needed: on to the farthest in view."""
    out, i = [states[0]], 0
    while i < len(states) - 1:
        for j in range(len(states) - 1, i, -1):
            if j == i + 1 or asked(states[i], states[j]):
                out.append(states[j])
                i = j
                break
    return out


def _cut(states: list[Floats], asked: Kept, arm: float, rng: np.random.Generator) -> None:
    """Go straight between two points of the path, vertices or within legs, where that is kept."""
    ways = [length_of(a, b, arm) for a, b in pairwise(states)]
    edges = np.concatenate([[0.0], np.cumsum(ways)])
    s, t = np.sort(rng.uniform(0.0, edges[-1], 2))
    i, j = (int(np.clip(np.searchsorted(edges, x) - 1, 0, len(ways) - 1)) for x in (s, t))
    if i == j:
        return
    a, b = np.empty(7), np.empty(7)
    between(states[i], states[i + 1], (s - edges[i]) / ways[i], a)
    between(states[j], states[j + 1], (t - edges[j]) / ways[j], b)
    if length_of(a, b, arm) > t - s - _LEAST:
        return
    # A part of a certified leg is certified too, but for rounding: it is asked again.
    if asked(a, b) and asked(states[i], a) and asked(b, states[j + 1]):
        states[i + 1 : j + 1] = [a, b]


def _pull(states: list[Floats], asked: Kept, arm: float) -> None:
    """Draw each vertex towards the straight way between its neighbours."""
    for k in range(1, len(states) - 1):
        before, here, after = states[k - 1 : k + 2]
        middle, place = np.empty(7), np.empty(7)
        share = length_of(before, here, arm)
        share /= max(share + length_of(here, after, arm), 1e-12)
        between(before, after, share, middle)
        old = length_of(before, here, arm) + length_of(here, after, arm)
        for step in (1.0, 0.5, 0.25, 0.1):
            between(here, middle, step, place)
            new = length_of(before, place, arm) + length_of(place, after, arm)
            if new < old - _LEAST and asked(before, place) and asked(place, after):
                states[k] = place
                break
