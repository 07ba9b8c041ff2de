"""How good postures of a crane are by all that is asked of them at once, looked at in samples.

What ranks ways here is proved afterwards (`link_gaps`): samples choose, they decide nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from reach.arm import (
    Chain,
    Covers,
    LinkCapsules,
    chain_of,
    covers_of,
    duration,
    full_reach,
    link_capsules,
    tip_poses,
    turned_round,
)
from reach.arm.clearance import asked_capsules, compared_pairs, pair_gaps
from reach.arm.margins import far_from_singular
from reach.crane.along import least_time
from reach.crane.at_rest import METRES, RAD, SINGULAR
from reach.geometry import Tree, build, capsule_clearance, inverse, transform_points
from reach.payload.bodies import body_of, boots_box
from reach.payload.clock import moments
from reach.payload.link_gaps import structure_of
from reach.payload.parts import farthest_of, parts_of
from reach.payload.things import stand_off_of, things_of
from reach.site import Carriage, Site, Situation

Array = NDArray[np.float64]

KINDS = ("solid", "hazard", "self", "carried", "swept", "joint", "singular", "reach")
"""What each column of `Scorer.margins` says; ``"swept"``: plate and rider to solids."""

WEIGHTS = np.array([METRES] * 5 + [RAD, SINGULAR, METRES])
"""Margins that weigh the same."""

FAR = 0.5
"""Gaps that leave more than so much beyond what is asked are not told apart (m)."""

ENOUGH = 1.0
"""Scaled margins beyond this do not make one way better than another."""

STEP = 0.03
"""rad (or m): between two samples of a way no joint moves farther."""

MOST_SAMPLES = 400


@dataclass(frozen=True, eq=False, slots=True)
class Near:
    """A tree that capsules keep off: by how much each, m, errors included.

    ``capsules`` are those asked; ``chain`` the arm that carries them, seen from its base or,
    ``turned``, from its tip, on which what rides stands still; ``frame`` is where that stands.
    """

    kind: str
    tree: Tree
    asked: Array
    chain: Chain
    capsules: Covers
    frame: Array
    turned: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Scorer:
    """All that is asked of one crane on one motion.

    Attributes
    ----------
    chain : Chain
    nears : tuple of Near
    covers : Covers
        Of the links alone, for what they keep off each other.
    joint_reserve, singular_reserve : float
    lasts : float or None, s
        The duration that is written.
    ends : ndarray, shape (k,)
        The share of it at each pose of a way that is written.
    farthest : float, m
        How far from the base the tip may be.
    """

    chain: Chain
    nears: tuple[Near, ...]
    covers: Covers
    joint_reserve: float
    singular_reserve: float
    lasts: float | None
    ends: Array
    farthest: float = math.inf

    def margins(self, q: Array) -> Array:
        """Return what is left of all that is asked, scaled, shape (n, len(KINDS))."""
        rows = np.atleast_2d(q)
        left = np.full((len(rows), len(KINDS)), np.inf)
        for k, found in self._rulers():
            left[:, k] = np.minimum(left[:, k], found(rows) / WEIGHTS[k])
        return left

    def keeps(self, q: Array, way: NDArray[np.intp], asked: Array) -> NDArray[np.bool_]:
        """Return which ways leave as much as is asked in every posture; a first fault ends a way.

        Parameters
        ----------
        q : ndarray, shape (n, n_joints)
        way : ndarray of int, shape (n,)
            Which way each posture is of, from 0 on, each with one at least.
        asked : ndarray, shape (len(KINDS),)
            As `margins`: scaled.

        Returns
        -------
        kept : ndarray of bool, shape (number of ways,)
        """
        kept = np.ones(int(way.max(initial=-1)) + 1, np.bool_)
        for k, found in self._rulers():
            still = kept[way]
            if not still.all():
                q, way = q[still], way[still]
            if not len(q):
                break
            kept[way[~(found(q) / WEIGHTS[k] >= asked[k])]] = False
        return kept

    def _rulers(self) -> Iterator[tuple[int, Callable[[Array], Array]]]:
        """Yield the column of a kind and what measures it in postures, the quick ones first."""
        chain = self.chain
        yield (
            5,
            lambda q: np.minimum(q - chain.lower, chain.upper - q).min(axis=1) - self.joint_reserve,
        )
        if math.isfinite(self.farthest):
            yield 7, lambda q: self.farthest - np.linalg.norm(tip_poses(chain, q)[:, :3, 3], axis=1)
        if chain.n >= 6:
            yield 6, lambda q: far_from_singular(chain, q) - self.singular_reserve
        pairs = compared_pairs(chain, self.covers)
        if len(pairs):
            yield 2, lambda q: pair_gaps(chain, q, self.covers, pairs).min(axis=1)
        placed: dict[tuple[int, int, int, bool], tuple[Array, LinkCapsules]] = {}
        for near in self.nears:
            yield KINDS.index(near.kind), partial(_gaps, near, placed)

    def of_way(self, q: Array, at: Array | None = None, most: int = MOST_SAMPLES) -> Score:
        """Return the score of a way on which all joints move evenly from row to row.

        Parameters
        ----------
        at : ndarray, shape (k,), optional
            Where on a way that is written each row stands; without it the joints share out the
            time.
        most : int
            Postures that are looked at, about.
        """
        return Score(self.margins(sampled(q, most)).min(axis=0), self._left(q, at))

    def _left(self, q: Array, at: Array | None) -> float:
        """Return the share of the time that is left; infinite where one of the two is not known."""
        if not self.lasts:
            return math.inf
        if len(q) < 2:
            return 1.0
        if at is None:
            needed = float(duration(self.chain, q).sum())
        else:
            needed = least_time(
                self.chain, q, np.diff(np.interp(at, np.arange(len(self.ends)), self.ends))
            )
        return math.inf if math.isnan(needed) else (self.lasts - needed) / self.lasts


@dataclass(frozen=True, eq=False, slots=True)
class Score:
    """The least of each kind on a way, scaled, and the share of the time that is left."""

    least: Array
    time: float = math.inf

    @property
    def worst(self) -> float:
        """The worst of all; below 0 something that is asked is not kept."""
        return min(float(self.least.min()), self.time)

    @property
    def rank(self) -> tuple[float, ...]:
        """Return what is better when it is larger: the worst first, then what is next."""
        return tuple(sorted(round(min(float(x), ENOUGH), 3) for x in (*self.least, self.time)))


def sampled(q: Array, most: int = MOST_SAMPLES) -> Array:
    """Return postures of a way, no more than about so many, none far from the next."""
    rows = np.atleast_2d(q)
    if len(rows) < 2:
        return rows
    way = np.abs(np.diff(rows, axis=0)).max(axis=1)
    total = max(float(way.sum()), 1e-12)
    fine = max(STEP, total / most)
    found = []
    gone = fine
    for k in range(len(rows) - 1):
        n = math.ceil(float(way[k]) / fine)
        # Of many short pieces not all ends are looked at.
        if n <= 1 and gone + way[k] < fine:
            gone += float(way[k])
            continue
        share = np.arange(max(n, 1))[:, None] / max(n, 1)
        found.append(rows[k] + share * (rows[k + 1] - rows[k]))
        gone = 0.0
    return np.vstack([*found, rows[-1:]])


def _gaps(
    near: Near, placed: dict[tuple[int, int, int, bool], tuple[Array, LinkCapsules]], q: Array
) -> Array:
    """Return what is left of one gap that is asked in each posture, m.

    ``placed`` keeps where capsules lie that several gaps are measured from.
    """
    key = id(near.chain), id(near.capsules), id(near.frame), near.turned
    if key not in placed or placed[key][0] is not q:
        turned = q[:, ::-1] if near.turned else q
        placed[key] = q, link_capsules(near.chain, turned, near.capsules, near.frame)
    there = placed[key][1]
    n, m = there.p.shape[:2]
    if not m:
        return np.full(n, np.inf)
    within = np.tile(near.capsules.radius + near.asked + FAR, n)
    gaps = capsule_clearance(
        near.tree, there.p.reshape(-1, 3), there.q.reshape(-1, 3), np.tile(there.radius, n), within
    )
    return np.asarray((gaps.reshape(n, m) - near.asked).min(axis=1))


def scorer_of(site: Site, carriage: Carriage, chain: Chain, world_from_base: Array) -> Scorer:
    """Return all that is asked of a crane on one motion."""
    return Scorer(
        chain,
        (*_around(site, carriage, chain, world_from_base), *_carried(site, carriage, chain)),
        covers_of(chain),
        site.limit("joint_reserve").value,
        site.limit("singular_reserve").value,
        carriage.duration,
        np.concatenate([[0.0], moments(carriage, farthest_of(site, carriage))]),
        (1.0 - site.limit("crane_reserve").value) * full_reach(chain),
    )


def _around(site: Site, carriage: Carriage, chain: Chain, base: Array) -> list[Near]:
    """Return structure and hazards, which links keep off and what rides on the tip."""
    kept = site.limit("link_clearance").value
    links = asked_capsules(chain, covers_of(chain), None)
    asked: list[tuple[str, Covers, float]] = [("solid", links, kept)]
    if not carriage.payload:
        # What is carried has its way written, whoever rides on it too; alone joints decide.
        riding = _riding(site, carriage, chain, links)
        asked.append(("swept", riding, stand_off_of(site, carriage)))
    found = []
    structure = structure_of(site, carriage)
    for kind, capsules, more in asked:
        if structure is not None:
            each = np.full(len(capsules.link), more + structure.error)
            found.append(Near(kind, structure.tree, each, chain, capsules, base))
        for thing in things_of(site, carriage):
            if thing.is_hazard:
                each = np.full(len(capsules.link), thing.stand_off + thing.error)
                found.append(Near("hazard", thing.tree, each, chain, capsules, base))
    return found


def _riding(site: Site, carriage: Carriage, chain: Chain, links: Covers) -> Covers:
    """Return capsules round the plate, and round whoever stands on it."""
    plate = Covers(*(each[links.link == len(chain.arm.links) - 1] for each in links))
    rider, held = carriage.rider, carriage.payload_from_tip
    if rider is None or held is None or carriage.payload_from_boots is None:
        return plate
    tip_from_boots = inverse(held) @ carriage.payload_from_boots
    rows = np.vstack([body_of(site, rider)[0], _boots(rider)])
    ends = transform_points(
        chain.piece_from_link[-1] @ tip_from_boots, rows[:, :6].reshape(-1, 3)
    ).reshape(-1, 2, 3)
    n = len(rows)
    return Covers(
        np.append(plate.link, np.full(n, len(chain.arm.links))),
        np.append(plate.piece, np.full(n, chain.piece_of_link[-1])),
        np.concatenate([plate.p, ends[:, 0]]),
        np.concatenate([plate.q, ends[:, 1]]),
        np.append(plate.radius, rows[:, 6]),
    )


def _boots(rider: Situation) -> Array:
    """Return capsules from heel to toes that fill the box round both boots, but for its edges."""
    low, high = boots_box(rider)
    radius = 0.5 * float(min(high - low))
    n = math.ceil(float(high[1] - low[1]) / (2.0 * radius) - 1e-9)
    side = np.linspace(low[1] + radius, high[1] - radius, n)
    height = 0.5 * (low[2] + high[2])
    return np.array(
        [[low[0] + radius, y, height, high[0] - radius, y, height, radius] for y in side]
    )


def _carried(site: Site, carriage: Carriage, chain: Chain) -> list[Near]:
    """Return payload and rider: seen from the tip they stand still."""
    held = carriage.payload_from_tip
    assert held is not None
    names = [link.name for link in chain.arm.links]
    fixed = {name for name, piece in zip(names, chain.piece_of_link, strict=True)
             if piece == chain.piece_of_link[-1]}  # fmt: skip
    seen = chain_of(turned_round(chain.arm))
    capsules = asked_capsules(seen, covers_of(seen), fixed)
    kept, found, here = site.limit("link_clearance").value, [], np.eye(4)
    for part in parts_of(site, carriage):
        if part.kind == "plate":
            continue
        rows = transform_points(inverse(held), part.tree.tri.reshape(-1, 3)).reshape(-1, 3, 3)
        asked = np.full(len(capsules.link), kept + part.error)
        found.append(Near("carried", build(rows), asked, seen, capsules, here, turned=True))
    return found
