"""The free tube along a route: where its axis runs, and how the body goes along it.

Straight out, the axis is ``corridor_radius`` off the rail on the side it is held from.  The body
may be held aside of that by some decimetres.  From rail to rail the axis goes round in an arc.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, capsule_clearance
from reach.rails.route import Route
from reach.site import Site, Situation
from reach.travel.hazards import met
from reach.travel.stance import Mover, stance_at
from reach.travel.turn import arc, turned

Array = NDArray[np.float64]

ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Stretch:
    """One part of the way: along a rail, or from one rail to the next.

    Attributes
    ----------
    rail, to_rail : str
        The same along a rail.
    start, stop : ndarray, shape (3,), m, world
        On the rails.
    """

    rail: str
    to_rail: str
    start: Array
    stop: Array

    @property
    def is_along(self) -> bool:
        """Whether it runs along a rail and has a direction."""
        return self.rail == self.to_rail and bool(np.linalg.norm(self.stop - self.start) > ROUNDING)


@dataclass(frozen=True, eq=False)
class Corridor:
    """A route, the side on which the body passes each rail, and which end goes first.

    Attributes
    ----------
    route : Route
    mover : Mover
    radius : float, m
        Of the tube.
    offsets : dict of str -> ndarray, shape (3,), m, world
        Rail -> from the rail straight out to the axis.
    asides : dict of str -> ndarray, shape (3,), m, world
        Rail -> how far and where the axis lies off straight out.
    stretches : tuple of Stretch
    feet_first : frozenset of str
        Rails along which the body goes feet first.
    """

    route: Route
    mover: Mover
    radius: float
    offsets: dict[str, Array]
    asides: dict[str, Array]
    stretches: tuple[Stretch, ...]
    feet_first: frozenset[str] = field(default=frozenset())

    def with_asides(self, asides: dict[str, Array]) -> Corridor:
        """Return the same way on other sides."""
        return replace(self, asides=asides)

    def facing(self, feet_first: frozenset[str]) -> Corridor:
        """Return the same way with the feet first along some rails."""
        return replace(self, feet_first=feet_first)

    def off(self, rail: str) -> Array:
        """Return how the axis lies off a rail, shape (3,), m, world."""
        return self.offsets[rail] + self.asides[rail]

    @cached_property
    def pieces(self) -> tuple[Array, NDArray[np.int64]]:
        """Straight pieces of the axis, (n, 2, 3), m, world, and the stretch each belongs to."""
        rows, owner = [], []
        for i, one in enumerate(self.stretches):
            points = arc(one.start, one.stop, self.off(one.rail), self.off(one.to_rail))
            rows += list(pairwise(points))
            owner += [i] * (len(points) - 1)
        return np.array(rows, float).reshape(-1, 2, 3), np.array(owner, np.int64)

    @property
    def axis(self) -> Array:
        """Straight pieces of the axis, shape (n, 2, 3), m, world."""
        return self.pieces[0]

    def stretch_of(self, piece: int) -> Stretch:
        """Return the stretch that a piece belongs to."""
        return self.stretches[int(self.pieces[1][piece])]

    @cached_property
    def poses(self) -> tuple[Array, Array]:
        """world_from_body at the start and the stop of every piece, each (n, 4, 4).

        Along a rail the body looks the way it goes, or back where it goes feet first; from rail
        to rail it turns at a constant rate.
        """
        axis, owner = self.pieces
        ahead = self._ahead()
        starts, stops = np.empty((len(axis), 4, 4)), np.empty((len(axis), 4, 4))
        for i, one in enumerate(self.stretches):
            mine = np.flatnonzero(owner == i)
            first = stance_at(axis[mine[0], 0], ahead[i][0], -self.off(one.rail))
            last = stance_at(axis[mine[-1], 1], ahead[i][1], -self.off(one.to_rail))
            turns = turned(first[:3, :3], last[:3, :3], len(mine))
            for k, piece in enumerate(mine):
                starts[piece], stops[piece] = np.eye(4), np.eye(4)
                starts[piece, :3, :3], stops[piece, :3, :3] = turns[k], turns[k + 1]
                starts[piece, :3, 3], stops[piece, :3, 3] = axis[piece]
        return starts, stops

    def _ahead(self) -> list[tuple[Array, Array]]:
        """Return for each stretch where the helmet points at its start and at its stop."""
        own = [
            (one.stop - one.start) * (-1.0 if one.rail in self.feet_first else 1.0)
            if one.is_along
            else None
            for one in self.stretches
        ]
        known = [way for way in own if way is not None]
        facing = known[0] if known else self.axis[-1, 1] - self.axis[0, 0]
        found = []
        for i, way in enumerate(own):
            if way is None:
                after = next((each for each in own[i:] if each is not None), facing)
                found.append((facing, after))
                facing = after
            else:
                found.append((way, way))
                facing = way
        return found


def room_at(site: Site, situation: Situation, axis: Array, radius: float) -> Array:
    """Return for each piece of axis (n, 2, 3) what is left beyond all that is asked, shape (n,).

    The tube keeps clear of the structure, and its stand-off from every hazard.
    """
    around = situation.surroundings
    room = tube_gap(around.tree, axis, radius) - around.error
    for one in met(site, situation):
        asked = one.record.stand_off + one.error
        room = np.minimum(room, tube_gap(one.tree, axis, radius + asked))
    return np.asarray(room - ROUNDING)


def tube_gap(tree: Tree, axis: Array, radius: float) -> Array:
    """Return the gap of the tube round each piece of axis, negative inside a solid, shape (n,).

    Gaps above a metre count as a metre.
    """
    if not len(axis):
        return np.empty(0)
    return np.asarray(capsule_clearance(tree, axis[:, 0], axis[:, 1], radius, radius + 1.0))
