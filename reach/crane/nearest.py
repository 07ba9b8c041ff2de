"""What comes nearest to a crane in one posture: structure, hazards, its rider, itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from reach.arm import Covers, LinkCapsules, link_capsules, nearest_at, with_rider
from reach.arm.clearance import compared_pairs, pair_gaps, structure_gaps
from reach.crane.rig import Rig
from reach.geometry import Tree, segment_pair_distance, transform_points
from reach.lines.edges import nearest_points
from reach.resting import Resting, resting_of
from reach.site import Site, Situation, Surroundings
from reach.work import MIRROR

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Kind = Literal["structure", "hazard", "rider", "self"]

NONE = (math.nan, math.nan, math.nan)


@dataclass(frozen=True, slots=True)
class Nearest:
    """How near a crane comes to one kind of thing in one posture.

    Attributes
    ----------
    kind : str
        ``"structure"``, ``"hazard"``, ``"rider"`` (a part of the body on its plate) or ``"self"``.
    link, thing : str
        A link of the crane, or a part of the rider; and what it comes near.
    gap : float, m
        At least so much is between them: links are held by capsules that cover them, facet
        errors are in it.  Negative where the covers meet, which links need not.
    asked : float, m
        The clearance asked.
    on_link, on_thing : (x, y, z), m, world
        Where; nan where that is not known.
    """

    kind: Kind
    link: str
    thing: str
    gap: float
    asked: float
    on_link: tuple[float, float, float] = NONE
    on_thing: tuple[float, float, float] = NONE

    @property
    def margin(self) -> float:
        """What is left of the clearance asked, m."""
        return self.gap - self.asked


@dataclass(frozen=True, eq=False, slots=True)
class Rider:
    """Who stands on the plate, as capsules in the frame of the tip.

    Attributes
    ----------
    ends : ndarray, shape (n, 2, 3), m
    radii : ndarray, shape (n,), m
    names : tuple of str
    resting : Resting
    """

    ends: Array
    radii: Array
    names: tuple[str, ...]
    resting: Resting


def rider_on(site: Site, rig: Rig, situation: Situation) -> Rider:
    """Return a worker at rest on the plate, in the frame of the tip.

    ``situation`` must have boots placed.
    """
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    key = (
        "resting", place.world_from_boots.tobytes(), situation.worker, situation.case,
        id(situation.surroundings),
    )  # fmt: skip
    if key not in site.memo:
        site.memo[key] = resting_of(site, situation)
    resting: Resting = site.memo[key]
    tip_from_body = rig.tip_from_boots
    if situation.own_hand == "left":
        tip_from_body = tip_from_body @ MIRROR
    ends = transform_points(tip_from_body, resting.capsules[:, :6].reshape(-1, 3))
    return Rider(ends.reshape(-1, 2, 3), resting.capsules[:, 6], resting.names, resting)


class Neighbours:
    """What a crane may come near at one placement of everything; asked posture by posture.

    Parameters
    ----------
    clearance : float, m
        Asked of structure, and between links and rider; links of the crane itself must not touch.
    """

    def __init__(
        self, rig: Rig, around: Surroundings, clearance: float, rider: Rider | None
    ) -> None:
        self.rig, self.around, self.clearance, self.rider = rig, around, clearance, rider
        own = rig.covers
        names = [link.name for link in rig.chain.arm.links]
        self.n_links = len(names)
        self.names = names
        self.bodies: tuple[str, ...] = ()
        self.covers = own
        if rider is not None:
            self.covers = with_rider(rig.chain, own, (rider.ends, rider.radii))
            self.bodies = rider.names
        pairs = compared_pairs(rig.chain, self.covers)
        riding = self.covers.link[pairs].max(axis=1) >= self.n_links
        self.pairs = {"self": pairs[~riding], "rider": pairs[riding]}
        is_moved = own.link != 0
        self.moved = Covers(*(each[is_moved] for each in own))

    def gaps(self, rows: Array) -> Array:
        """Return the least margin of each posture (m) over all kinds, shape (n,)."""
        least = np.full(len(rows), np.inf)
        for tree, error, asked in self._trees():
            near = structure_gaps(
                self.rig.chain, rows, tree, self.moved, self.rig.world_from_base
            ).min(axis=1, initial=np.inf)
            least = np.minimum(least, near - error - asked)
        for kind, pairs in self.pairs.items():
            if len(pairs):
                near = pair_gaps(self.rig.chain, rows, self.covers, pairs).min(axis=1)
                least = np.minimum(least, near - self._asked(kind))
        return least

    def nearest(self, q: Array) -> tuple[Nearest, ...]:
        """Return the nearest of each kind in one posture, least margin first."""
        found = [*self._to_trees(q), *self._to_itself(q)]
        return tuple(sorted(found, key=lambda one: one.margin))

    def _asked(self, kind: str) -> float:
        return self.clearance if kind == "rider" else 0.0

    def _trees(self) -> Iterator[tuple[Tree, float, float]]:
        if self.around.names:
            yield self.around.tree, self.around.error, self.clearance
        for _, _, tree, stand_off in self.around.hazards:
            yield tree, 0.0, stand_off

    def _to_trees(self, q: Array) -> Iterator[Nearest]:
        rig, around = self.rig, self.around
        base = rig.world_from_base
        if around.names:
            near = nearest_at(rig.chain, q, around.tree, rig.covers, base)
            if near.part >= 0:
                thing = around.names[int(around.solid_of[near.face])]
                yield Nearest(
                    "structure", near.name, thing, near.gap - around.error, self.clearance,
                    _vec(near.on_arm), _vec(near.on_structure),
                )  # fmt: skip
        for name, _, tree, stand_off in around.hazards:
            near = nearest_at(rig.chain, q, tree, rig.covers, base)
            if near.part >= 0:
                yield Nearest(
                    "hazard", near.name, name, near.gap, stand_off, _vec(near.on_arm),
                    _vec(near.on_structure),
                )  # fmt: skip

    def _to_itself(self, q: Array) -> Iterator[Nearest]:
        there = link_capsules(self.rig.chain, q, self.covers, self.rig.world_from_base)
        kinds: tuple[Kind, ...] = ("rider", "self")
        for kind in kinds:
            pairs = self.pairs[kind]
            if not len(pairs):
                continue
            gaps = pair_gaps(self.rig.chain, q, self.covers, pairs)[0]
            k = int(gaps.argmin())
            a, b = pairs[k]
            on_link, on_thing = spots_between(there, np.array([a]), np.array([b]))
            yield Nearest(
                kind, self._name(a), self._name(b), float(gaps[k]), self._asked(kind),
                _vec(on_link), _vec(on_thing),
            )  # fmt: skip

    def _name(self, capsule: int) -> str:
        part = int(self.covers.link[capsule])
        return self.names[part] if part < self.n_links else self.bodies[part - self.n_links]


def spots_between(at: LinkCapsules, some: Ints, others: Ints) -> tuple[Array, Array]:
    """Return where some capsules of a posture are nearest to others, m, world, shape (3,) each.

    On their surfaces; on their axes where the covers meet.
    """
    a, b = (each.ravel() for each in np.meshgrid(some, others, indexing="ij"))
    p, q, radius = at.p[0], at.q[0], at.radius
    k = int(np.argmin(segment_pair_distance(p[a], q[a], p[b], q[b]) - radius[a] - radius[b]))
    i, j = a[k], b[k]
    x, y = nearest_points(p[i], q[i], p[j], q[j])
    apart = float(np.linalg.norm(y - x))
    if apart <= radius[i] + radius[j]:
        return x, y
    way = (y - x) / apart
    return x + radius[i] * way, y - radius[j] * way


def _vec(p: Array) -> tuple[float, float, float]:
    return (float(p[0]), float(p[1]), float(p[2]))
