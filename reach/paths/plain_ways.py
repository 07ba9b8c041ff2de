"""The few ways that are tried before any are drawn: straight, and out, over and in again."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reach.geometry.tree import Floats
from reach.paths.shortening import Kept
from reach.paths.states import between, length_of
from reach.paths.world import FLAT

_OUTWARD = np.concatenate([np.eye(3), -np.eye(3)])
_LIFTS = (0.25, 1.0, 2.0, 4.0)
"""How far out (times the cargo's reach) the ways along an axis go, and then clear of everything."""

_SPIN = 2.0
"""A turn of more than this (rad) is made in two legs."""


def plain_way(
    start: Floats, goal: Floats, kept: Kept, radius: float, span: float, arm: float
) -> list[Floats] | None:
    """Return states of a certified plain way from start to goal, or None.

    Parameters
    ----------
    start, goal : ndarray, shape (7,)
    kept : callable
        Whether the motion between two states is certified.
    radius : float, m
        How far the cargo reaches.
    span : float, m
        A way out that is clear of everything.
    arm : float, m
        What a radian of turn counts as.
    """
    if way := _kept_way(_turned([start, goal]), kept):
        return way
    lifts = [0.0, *(x * radius for x in _LIFTS if x * radius < span), span]
    exits = [list(_exits(end, kept, lifts)) for end in (start, goal)]
    pairs = [(a, b) for a in exits[0] for b in exits[1]]
    pairs.sort(key=lambda p: _long(start, p[0], p[1], goal, arm))
    for out, into in pairs:
        for corners in _overs(start, out, into, goal):
            if way := _kept_way(corners, kept):
                return way
    return None


def _long(start: Floats, out: Floats, into: Floats, goal: Floats, arm: float) -> float:
    return length_of(start, out, arm) + length_of(out, into, arm) + length_of(into, goal, arm)


def _exits(end: Floats, kept: Kept, lifts: list[float]) -> Iterator[Floats]:
    """Yield states straight out of an end along the axes, as far as legs are kept."""
    yield end
    for axis in _OUTWARD:
        for lift in lifts[1:]:
            out = end.copy()
            out[:3] += lift * axis
            if not kept(end, out):
                break
            yield out


def _overs(start: Floats, out: Floats, into: Floats, goal: Floats) -> Iterator[list[Floats]]:
    """Yield ways from one exit to the other: turning on the way, before it, after it."""
    yield _turned([start, out, into, goal])
    early, late = out.copy(), into.copy()
    early[3:], late[3:] = into[3:], out[3:]
    yield _turned([start, out, early, into, goal])
    yield _turned([start, out, late, into, goal])


def _turned(states: list[Floats]) -> list[Floats]:
    """Return the way with large turns made in two legs, without legs that do nothing."""
    out = [states[0]]
    for state in states[1:]:
        if np.array_equal(state, out[-1]):
            continue
        if _angle(out[-1], state) > min(_SPIN, FLAT):
            middle = np.empty(7)
            between(out[-1], state, 0.5, middle)
            out.append(middle)
        out.append(state)
    return out


def _angle(a: Floats, b: Floats) -> float:
    return length_of(a, b, 1.0) - length_of(a, b, 0.0)


def _kept_way(states: list[Floats], kept: Kept) -> list[Floats] | None:
    # Long free legs are the rule: what fails is looked for where it is likely, from either end.
    inner = sorted(range(len(states) - 1), key=lambda k: abs(k - 0.5 * (len(states) - 2)))
    return states if all(kept(states[k], states[k + 1]) for k in inner) else None
