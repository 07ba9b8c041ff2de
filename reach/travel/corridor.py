"""The free tube along a route: where its axis runs, and to which side of each rail it passes.

Straight out, the axis is ``corridor_radius`` off the rail on the side it is held from.  The body
may be held aside of that by some decimetres; which side passes is looked for rail by rail.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, capsule_clearance
from reach.model.procedure import Aside
from reach.model.scene import Scene
from reach.rails.route import Route
from reach.site import Site, Situation
from reach.travel.ground import rails_in
from reach.travel.path import moves_of, path_of
from reach.travel.stance import Mover, mover_of, stance_at

Array = NDArray[np.float64]

STEP = 0.05
"""The sides that are tried are multiples of this (m)."""

FARTHEST = 0.80
"""Farther aside than this (m) hands no longer hold the rail."""

ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Stretch:
    """One piece of the way: along a rail, or from one rail to the next.

    Attributes
    ----------
    rail, to_rail : str
        The same for a piece along a rail.
    start, stop : ndarray, shape (3,), m, world
        On the rails.
    """

    rail: str
    to_rail: str
    start: Array
    stop: Array


@dataclass(frozen=True, eq=False)
class Corridor:
    """A route with the side on which the body passes each rail.

    Attributes
    ----------
    route : Route
    mover : Mover
    radius : float, m
        Of the tube: the limit, or what the items need where that is more.
    asides : dict of str -> ndarray, shape (3,), m, world
        Rail -> how far and where the axis lies off straight out.
    chosen : dict of str -> str
        Rail -> the side in words, where it is not straight out.
    is_written : bool
        Whether the sides are those of the procedure.
    """

    route: Route
    mover: Mover
    radius: float
    offsets: dict[str, Array]
    asides: dict[str, Array]
    stretches: tuple[Stretch, ...]

    @cached_property
    def axis(self) -> Array:
        """Ends of every stretch on the axis of the tube, shape (n, 2, 3), m, world."""
        rows = [
            [s.start + self._off(s.rail), s.stop + self._off(s.to_rail)] for s in self.stretches
        ]
        return np.array(rows, float).reshape(-1, 2, 3)

    def _off(self, rail: str) -> Array:
        return self.offsets[rail] + self.asides[rail]

    @cached_property
    def poses(self) -> tuple[Array, Array]:
        """world_from_body at the start and the stop of every stretch, each (n, 4, 4).

        Along a rail the body looks the way it goes; from rail to rail it turns.
        """
        n = len(self.stretches)
        ahead: list[Array | None] = []
        for one in self.stretches:
            way = one.stop - one.start
            along = one.rail == one.to_rail and float(np.linalg.norm(way)) > ROUNDING
            ahead.append(way if along else None)
        known = [a for a in ahead if a is not None]
        first = known[0] if known else self.axis[0, 1] - self.axis[0, 0]
        starts, stops = np.empty((n, 4, 4)), np.empty((n, 4, 4))
        facing = first
        for i, one in enumerate(self.stretches):
            mine = ahead[i]
            after = (
                mine if mine is not None else next((a for a in ahead[i:] if a is not None), facing)
            )
            before = mine if mine is not None else facing
            starts[i] = stance_at(self.axis[i, 0], before, -self._off(one.rail))
            stops[i] = stance_at(self.axis[i, 1], after, -self._off(one.to_rail))
            facing = after
        return starts, stops


def corridor_of(site: Site, situation: Situation) -> Corridor | None:
    """Return the corridor of a move, None where there is no way.

    The sides are those that are written; along a written way others are straight out, along a
    planned one those with which the tube passes, as near to straight out as can be.
    """
    return _corridor(site, situation, path_of(site, situation).is_written, True)


def best_corridor(site: Site, situation: Situation) -> Corridor | None:
    """Return the corridor with the best sides, whatever is written."""
    return _corridor(site, situation, False, False)


def _corridor(
    site: Site, situation: Situation, others_straight: bool, keep_written: bool
) -> Corridor | None:
    passage = situation.passage
    assert passage is not None
    route = path_of(site, situation).route
    if route is None or not moves_of(route):
        return None
    key = (
        "corridor",
        others_straight,
        keep_written,
        id(route),
        id(situation.suit),
        situation.body,
        passage,
    )
    if key in site.memo:
        kept: Corridor = site.memo[key]
        return kept
    radius = site.limit("corridor_radius").value
    mover = mover_of(situation)
    stretches = tuple(
        Stretch(leg.rail, leg.to_rail or leg.rail, np.asarray(leg.start), np.asarray(leg.stop))
        for leg in moves_of(route)
    )
    offsets = {
        rail.name: radius * np.asarray(rail.out, float)
        for rail in rails_in(site, situation.surroundings)
        if rail.name in route.rails
    }
    written = {
        rail: aside_vector(site.scene, aside)
        for rail, aside in passage.body.items()
        if keep_written and rail in offsets
    }
    straight = {rail: written.get(rail, np.zeros(3)) for rail in offsets}
    found = Corridor(route, mover, max(radius, mover.wide), offsets, straight, stretches)
    if not others_straight:
        found = _passing(situation, found, set(written))
    site.memo[key] = found
    return found


def aside_vector(scene: Scene, aside: Aside) -> Array:
    """Return how far and where the body is held aside, shape (3,), m, world."""
    if not isinstance(aside.toward, str):
        return aside.by * np.asarray(aside.toward)
    for name, heading in scene.headings.items():
        if aside.toward == name:
            return aside.by * np.asarray(heading.to)
        if aside.toward == heading.opposite:
            return -aside.by * np.asarray(heading.to)
    raise KeyError(aside.toward)


def aside_words(scene: Scene, aside: Array) -> str:
    """Return a side in words: ``0.55 m nadir``, ``straight out``."""
    by = float(np.linalg.norm(aside))
    if by < ROUNDING:
        return "straight out"
    best, word = -2.0, ""
    for name, heading in scene.headings.items():
        cosine = float(aside @ np.asarray(heading.to)) / by
        for words, value in ((name, cosine), (heading.opposite, -cosine)):
            if words and value > best:
                best, word = value, words
    if best < 0.9:
        word = "towards [" + ", ".join(f"{v / by:.2f}" for v in aside) + "]"
    return f"{by:.2f} m {word}"


# ---- the side that passes --------------------------------------------------------------


def room_at(situation: Situation, axis: Array, radius: float) -> Array:
    """Return for each piece of axis (n, 2, 3) what is left beyond all that is asked, shape (n,).

    The tube keeps clear of the structure, and its stand-off from every hazard.
    """
    around = situation.surroundings
    room = tube_gap(around.tree, axis, radius) - around.error
    for _, _, tree, stand_off in around.hazards:
        room = np.minimum(room, tube_gap(tree, axis, radius) - stand_off)
    return np.asarray(room - ROUNDING)


def tube_gap(tree: Tree, axis: Array, radius: float) -> Array:
    """Return the gap of the tube round each piece of axis, negative inside a solid, shape (n,)."""
    if not len(axis):
        return np.empty(0)
    return np.asarray(capsule_clearance(tree, axis[:, 0], axis[:, 1], radius))


def _passing(situation: Situation, plain: Corridor, fixed: set[str]) -> Corridor:
    """Return the corridor whose sides keep the tube free, nearest to straight out.

    A search over the rails in order: one state a rail and side, the room of the piece along it
    and of the piece to the next rail.  Pieces without room cost more than any detour aside.
    """
    order = list(plain.route.rails)
    sides = {rail: _sides(plain, rail, rail in fixed) for rail in dict.fromkeys(order)}
    pieces: dict[tuple[str, str], Stretch] = {(s.rail, s.to_rail): s for s in plain.stretches}
    best = np.zeros(len(sides[order[0]])) if order else np.zeros(0)
    back: list[NDArray[np.int64]] = []
    for k, rail in enumerate(order):
        own = sides[rail]
        cost = np.array([np.linalg.norm(a) for a in own])
        along = pieces.get((rail, rail))
        if along is not None:
            off = plain.offsets[rail] + own
            axis = np.stack([along.start + off, along.stop + off], axis=1)
            cost = cost + _price(room_at(situation, axis, plain.radius))
        if k == 0:
            best = cost
            continue
        before = sides[order[k - 1]]
        joint = pieces[order[k - 1], rail]
        a = joint.start + plain.offsets[order[k - 1]] + before
        b = joint.stop + plain.offsets[rail] + own
        axis = np.stack([np.repeat(a, len(b), axis=0), np.tile(b, (len(a), 1))], axis=1)
        price = _price(room_at(situation, axis, plain.radius)).reshape(len(a), len(b))
        # Changing the side between rails is work too.
        shift = np.linalg.norm(before[:, None] - own[None], axis=2)
        total = best[:, None] + price + 0.01 * shift
        back.append(np.argmin(total, axis=0))
        best = total.min(axis=0) + cost
    chosen = [int(np.argmin(best))]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1]]))
    asides = {rail: sides[rail][i] for rail, i in zip(order, reversed(chosen), strict=True)}
    return Corridor(plain.route, plain.mover, plain.radius, plain.offsets, asides, plain.stretches)


MISSING = 100.0
"""Price of a metre of missing room, in metres aside."""


def _price(room: Array) -> Array:
    return np.where(room < 0.0, MISSING * (0.1 - room), 0.0)


def _sides(plain: Corridor, rail: str, is_fixed: bool) -> Array:
    """Return the sides that are tried, (n, 3), m: across the rail and its outward side."""
    if is_fixed:
        return plain.asides[rail][None]
    along = next((s.stop - s.start for s in plain.stretches if s.rail == s.to_rail == rail), None)
    if along is None or float(np.linalg.norm(along)) < ROUNDING:
        along = next(s.stop - s.start for s in plain.stretches if rail in (s.rail, s.to_rail))
    across = np.cross(along, plain.offsets[rail])
    length = float(np.linalg.norm(across))
    if length < ROUNDING:
        return np.zeros((1, 3))
    n = round(FARTHEST / STEP)
    steps = STEP * np.array(sorted(range(-n, n + 1), key=lambda i: (abs(i), i)))
    return np.asarray(steps[:, None] * (across / length))


def body_of(site: Site, corridor: Corridor) -> dict[str, Aside]:
    """Return the sides of a corridor as a procedure holds them; straight out is left out."""
    return {
        rail: Aside(by=float(np.linalg.norm(aside)), toward=_toward(site.scene, aside))
        for rail, aside in corridor.asides.items()
        if float(np.linalg.norm(aside)) > ROUNDING
    }


def _toward(scene: Scene, aside: Array) -> str | tuple[float, float, float]:
    """Return the heading that a side points along exactly, else its direction."""
    unit = aside / np.linalg.norm(aside)
    for name, heading in scene.headings.items():
        for word, sign in ((name, 1.0), (heading.opposite, -1.0)):
            if word and float(sign * unit @ np.asarray(heading.to)) > 1.0 - ROUNDING:
                return word
    return (float(unit[0]), float(unit[1]), float(unit[2]))
