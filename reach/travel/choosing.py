"""A search over the rails of a way for the sides and ends with which tube and body pass.

The side with which the tube keeps clear, nearest to straight out, then head or feet first with
which the turning body keeps clear.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product

import numpy as np
from numpy.typing import NDArray

from reach.site import Site, Situation
from reach.travel.corridor import ROUNDING, Corridor, room_at
from reach.travel.stance import stance_at
from reach.travel.sweep import room_of
from reach.travel.turn import arcs

Array = NDArray[np.float64]

STEP = 0.05
"""The sides that are tried are multiples of this (m)."""

FARTHEST = 0.65
"""Farther aside than this (m) hands no longer hold the rail."""

HEIGHTS = (0.0, 0.10, 0.20)
"""How much farther off the rail (m) the body is tried where no side passes."""

COARSE = 0.10
"""The sides that are tried together with heights are multiples of this (m)."""

DEEPEST = 10.0
"""Room is never counted as less than minus this (m)."""

MISSING = 100.0
"""Price of a metre of missing room, in metres aside."""

CHANGE = 0.01
"""Price of changing side by a metre from rail to rail, and of going feet first, in metres aside."""


def _cheapest(
    order: list[str], states: dict[str, int], own: Callable[[int], Array],
    joint: Callable[[int], Array],
) -> list[int]:  # fmt: skip
    """Return one state a rail such that the sum of the prices is least.

    ``own(k)`` are the prices of the states of rail k, ``joint(k)`` those of the pairs of states
    of rails k - 1 and k.
    """
    best, back = own(0), []
    for k in range(1, len(order)):
        total = best[:, None] + joint(k)
        back.append(np.argmin(total, axis=0))
        best = total.min(axis=0) + own(k)
    chosen = [int(np.argmin(best))]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1]]))
    assert len(states) <= len(order)
    return chosen[::-1]


def _price(room: Array) -> Array:
    return np.where(room < 0.0, MISSING * (0.1 - np.maximum(room, -DEEPEST)), 0.0)


def passing_sides(
    site: Site,
    situation: Situation,
    plain: Corridor,
    fixed: set[str],
    beside: dict[str, Array] | None = None,
    higher: bool = False,
) -> Corridor:
    """Return the corridor whose sides keep the tube free, nearest to straight out.

    ``beside`` holds for rails the room of the body itself on each side, m; ``higher`` tries
    farther off the rail too.
    """
    order = list(plain.route.rails)
    sides = {rail: _sides(plain, rail, rail in fixed, higher) for rail in order}
    parts = {(one.rail, one.to_rail): one for one in plain.stretches}

    def own(k: int) -> Array:
        rail = order[k]
        price = np.linalg.norm(sides[rail], axis=1)
        along = parts.get((rail, rail))
        if along is not None:
            off = plain.offsets[rail] + sides[rail]
            axis = np.stack([along.start + off, along.stop + off], axis=1)
            price = price + _price(room_at(site, situation, axis, plain.radius))
        if beside and rail in beside:
            price = price + _price(beside[rail])
        return np.asarray(price)

    def joint(k: int) -> Array:
        rails = order[k - 1], order[k]
        one, (before, after) = parts[rails], (sides[rail] for rail in rails)
        a = np.repeat(plain.offsets[rails[0]] + before, len(after), axis=0)
        b = np.tile(plain.offsets[rails[1]] + after, (len(before), 1))
        points = arcs(one.start, one.stop, a, b)
        axis = np.stack([points[:, :-1], points[:, 1:]], axis=2)
        room = room_at(site, situation, axis.reshape(-1, 2, 3), plain.radius)
        room = room.reshape(len(a), -1).min(axis=1)
        shift = np.linalg.norm(before[:, None] - after[None], axis=2)
        return np.asarray(_price(room).reshape(shift.shape) + CHANGE * shift)

    states = {rail: len(sides[rail]) for rail in order}
    chosen = _cheapest(order, states, own, joint)
    asides: dict[str, Array] = {}
    for rail, i in zip(order, chosen, strict=True):
        asides.setdefault(rail, sides[rail][i])
    return plain.with_asides(asides)


def rooms_beside(
    site: Site, situation: Situation, plain: Corridor, fixed: set[str]
) -> dict[str, Array]:
    """Return the body's room along each rail on each side, head or feet first, the better, m."""
    rooms = {}
    for one in (part for part in plain.stretches if part.is_along):
        offs = plain.offsets[one.rail] + _sides(plain, one.rail, one.rail in fixed)
        found = []
        for way in (one.stop - one.start, one.start - one.stop):
            ends = [
                np.array([stance_at(at + off, way, -off) for off in offs])
                for at in (one.start, one.stop)
            ]
            found.append(room_of(site, situation, plain.mover, ends[0], ends[1]).low)
        rooms[one.rail] = np.maximum(*found)
    return rooms


def _sides(plain: Corridor, rail: str, is_fixed: bool, higher: bool = False) -> Array:
    """Return the sides that are tried, (n, 3), m: across the rail and its outward side."""
    if is_fixed:
        return plain.asides[rail][None]
    along = next((s for s in plain.stretches if s.rail == rail and s.is_along), None)
    if along is None:
        along = next(s for s in plain.stretches if rail in (s.rail, s.to_rail))
    across = np.cross(along.stop - along.start, plain.offsets[rail])
    length = float(np.linalg.norm(across))
    if length < ROUNDING:
        return np.zeros((1, 3))
    step = COARSE if higher else STEP
    n = math.floor(FARTHEST / step + ROUNDING)
    steps = step * np.array(sorted(range(-n, n + 1), key=lambda i: (abs(i), i)))
    flat = steps[:, None] * (across / length)
    out = plain.offsets[rail] / np.linalg.norm(plain.offsets[rail])
    heights = HEIGHTS if higher else HEIGHTS[:1]
    return np.concatenate([flat + height * out for height in heights])


def facing_of(site: Site, situation: Situation, plain: Corridor) -> Corridor:
    """Return the corridor with head or feet first along each rail, so that turns keep clear."""
    if body_room(site, situation, plain).min() >= 0.0:
        return plain
    order = [one.rail for one in plain.stretches if one.is_along]
    if not order or len(set(order)) < len(order):
        return plain
    # One corridor for each pair of ends first; a stretch between two rails depends on both.
    ways = {
        pair: plain.facing(frozenset(rail for i, rail in enumerate(order) if pair[i % 2]))
        for pair in product((0, 1), repeat=2)
    }
    rooms = {pair: _by_stretch(site, situation, way) for pair, way in ways.items()}
    at = [i for i, one in enumerate(plain.stretches) if one.is_along]

    def own(k: int) -> Array:
        # What comes before the first rail and after the last one depends on these alone.
        first = 0 if k == 0 else at[k]
        last = len(plain.stretches) if k == len(at) - 1 else at[k] + 1
        found = [_price(rooms[state, state][first:last]).sum() for state in (0, 1)]
        return np.asarray(np.array(found) + np.array([0.0, CHANGE]))

    def joint(k: int) -> Array:
        price = np.zeros((2, 2))
        for a, b in product((0, 1), repeat=2):
            pair = (a, b) if (k - 1) % 2 == 0 else (b, a)
            room = rooms[pair][at[k - 1] + 1 : at[k]]
            price[a, b] = _price(room).sum()
        return price

    chosen = _cheapest(order, dict.fromkeys(order, 2), own, joint)
    return plain.facing(frozenset(rail for rail, i in zip(order, chosen, strict=True) if i))


def body_room(site: Site, situation: Situation, corridor: Corridor) -> Array:
    """Return the least room of the body on each piece of the way, a bound, shape (n,), m."""
    return room_of(site, situation, corridor.mover, *corridor.poses).low


def _by_stretch(site: Site, situation: Situation, corridor: Corridor) -> Array:
    low = body_room(site, situation, corridor)
    owner = corridor.pieces[1]
    return np.array([low[owner == i].min() for i in range(len(corridor.stretches))])
