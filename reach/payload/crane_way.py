"""The way of a crane's joints while it moves, and how near its links come to anything."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain, chain_of, duration, shortage, starts_of
from reach.crane.along import least_singular
from reach.crane.at_rest import METRES, SINGULAR, crane_at
from reach.geometry import inverse
from reach.kept.noting import altered, asked_whole
from reach.legs import placed_pose
from reach.payload.between import Ends, best_between
from reach.payload.joints import Joints, JointSearch
from reach.payload.link_gaps import LinkGap, link_gaps
from reach.payload.scoring import Scorer, scorer_of
from reach.site import Carriage, Site

__all__ = ["CraneWay", "LinkGap", "change_before", "crane_way_of"]

Array = NDArray[np.float64]

MEETS = 1e-6
"""Two poses of the tip are the same to this (m, and of its axes)."""


@dataclass(frozen=True, eq=False, slots=True)
class CraneWay:
    """How a crane takes its tip along a motion.

    Attributes
    ----------
    chain : Chain
        The arm as flat arrays.
    world_from_base : ndarray, shape (4, 4)
    q : ndarray, shape (k, n_joints), rad or m
        Postures; between two of them all joints move evenly.  Empty where none is known.
    at : ndarray, shape (k,)
        Where on the way each stands: leg number plus time 0 to 1.
    off : float, m
        How far the tip, taken along evenly moving joints, may be off the way that is asked.
    gaps : tuple of LinkGap
        The nearest link to structure, to each hazard, to what is carried and to another link.
    stuck_at : float
        Where on the way the joints cannot be followed further (leg number plus time);
        nan where they reach the end.
    shortage : float, m
        How far out of reach, for sure, the way is at its worst; 0 where that is not proved.
    why : str
        Why there is no way, or why it ends early; empty otherwise.
    off_turn : float, rad
        And by how much it may be turned off it.
    """

    chain: Chain
    world_from_base: Array
    q: Array
    at: Array
    off: float
    gaps: tuple[LinkGap, ...]
    stuck_at: float
    shortage: float
    why: str
    off_turn: float = 0.0


def crane_way_of(site: Site, carriage: Carriage) -> CraneWay | None:
    """Return how the crane moves; None where no crane does, or where its tip is not known.

    Kept on the site.  With a payload the joints follow its path; alone, they turn evenly from
    posture to posture, straight from one station to the next or round what is in the way.  Of
    all that is found the way is taken that leaves most of what is asked (`scoring`), and, where
    that keeps all of it, one that goes on in the posture in which the way before ended.
    """
    key = ("crane way", carriage)
    if key not in site.memo:
        site.memo[key] = _crane_way(site, carriage)
    found: CraneWay | None = site.memo[key]
    return found


def _crane_way(site: Site, carriage: Carriage) -> CraneWay | None:
    held, arm = carriage.payload_from_tip, site.arms.get(carriage.crane)
    if arm is None or held is None or (carriage.payload and len(carriage.poses) < 2):
        return None
    record = site.scene.cranes[carriage.crane]
    base = carriage.surroundings.world_from[record.frame] @ placed_pose(record)
    kept = ("chain", carriage.crane)
    if kept not in site.memo:
        chain = chain_of(arm)
        site.memo[kept] = chain, starts_of(chain)
    chain, starts = site.memo[kept]
    proofs = _Proofs(site, carriage, chain, base, {})
    scorer = scorer_of(site, carriage, chain, base)
    if carriage.payload:
        search = JointSearch(chain, starts, base, scorer)
        found = search.carrying(carriage, held, _carried_before(site, carriage))
    else:
        found = _alone(site, carriage, scorer, proofs, _posture_before(site, carriage))
    gaps = proofs.gaps(found.q) if len(found.q) > 1 else ()
    return CraneWay(
        chain, base, found.q, found.at, found.off, gaps, found.stuck_at, found.shortage,
        found.why, found.off_turn,
    )  # fmt: skip


def change_before(site: Site, carriage: Carriage) -> tuple[str, float] | None:
    """Return the step in which the crane came here, and by how much it has to change.

    The largest change of a joint (rad or m) from the posture in which that way ended to the one
    in which this begins; None where either is not known, or they do not meet.
    """
    way, before = crane_way_of(site, carriage), _posture_before(site, carriage)
    other = _neighbour(site, carriage, -1)
    if way is None or before is None or other is None or not len(way.q):
        return None
    return other.step, float(np.abs(way.q[0] - before).max())


@dataclass(frozen=True, eq=False, slots=True)
class _Proofs:
    """What is proved of ways of one crane on one motion; each is proved once."""

    site: Site
    carriage: Carriage
    chain: Chain
    base: Array
    known: dict[bytes, tuple[LinkGap, ...]]

    def gaps(self, q: Array) -> tuple[LinkGap, ...]:
        key = np.ascontiguousarray(q).tobytes()
        if key not in self.known:
            self.known[key] = link_gaps(self.site, self.carriage, self.chain, self.base, q)
        return self.known[key]

    def least(self, q: Array) -> float:
        """Return the least that is proved to be left of what is asked, scaled."""
        kept = self.site.limit("link_clearance").value
        asked = {"hazard": 0.0, "self": 0.0}
        left = [
            (gap.low - gap.stand_off - asked.get(gap.kind, kept)) / METRES for gap in self.gaps(q)
        ]
        if self.chain.n >= 6:
            reserve = self.site.limit("singular_reserve").value
            left.append((least_singular(self.chain, q).low - reserve) / SINGULAR)
        return min(left, default=math.inf)


# ---- alone -----------------------------------------------------------------------------


def _alone(
    site: Site, carriage: Carriage, scorer: Scorer, proofs: _Proofs, before: Array | None
) -> Joints:
    chain, held = scorer.chain, carriage.payload_from_tip
    assert held is not None
    nothing = np.empty((0, chain.n)), np.empty(0), math.nan, math.nan, 0.0
    poses = inverse(proofs.base) @ carriage.poses @ held
    short = float(shortage(chain, poses).max(initial=0.0))
    if short > 0.0:
        return Joints(*nothing, short, f"a station is out of reach by {short:.3f} m, proved")
    ends = [_branches(site, carriage, pose) for pose in carriage.poses]
    if any(len(one) == 0 for one in ends):
        return Joints(*nothing, 0.0, "no posture was found at a station")
    if len(ends) == 1:
        return Joints(ends[0][:1], np.zeros(1), 0.0, 0.0, math.nan, 0.0, "")
    first, last = ends
    after = _posture_after(site, carriage)
    trials = [Ends(first, last)]
    if after is not None:
        trials.insert(0, Ends(first, after[None]))
    if before is not None:
        trials[:0] = [replace(one, starts=before[None]) for one in trials]
    q = best_between(scorer, trials, proofs.least)
    return Joints(q, _shares(chain, q), 0.0, 0.0, math.nan, 0.0, "")


def _branches(site: Site, carriage: Carriage, world_from_boots: Array) -> Array:
    """Return a posture of each branch found at a station, the best first."""
    rider = carriage.rider
    if rider is not None and rider.place is not None:
        place = replace(rider.place, world_from_boots=world_from_boots)
        rider = altered(rider, place=place)
    there = crane_at(
        site, carriage.crane, world_from_boots, carriage.surroundings, rider
    )  # fmt: skip
    assert there is not None
    return np.array([one.posture.q for one in there.branches])


def _shares(chain: Chain, q: Array) -> Array:
    """Return when each posture is reached as a share of the time, shape (k,)."""
    needed = duration(chain, q)
    if np.isnan(needed).any():
        needed = np.abs(np.diff(q, axis=0)).max(axis=1)
    done = np.concatenate([[0.0], np.cumsum(needed)])
    return done / done[-1] if done[-1] > 0.0 else np.linspace(0.0, 1.0, len(q))


# ---- what goes before and after --------------------------------------------------------


@asked_whole
def _posture_before(site: Site, carriage: Carriage) -> Array | None:
    """Return the posture in which the way before left the crane, None where it is not known."""
    other = _neighbour(site, carriage, -1)
    if other is None or not _meet(other, carriage):
        return None
    way = crane_way_of(site, other)
    return None if way is None or len(way.q) < 2 else np.asarray(way.q[-1])


@asked_whole
def _carried_before(site: Site, carriage: Carriage) -> Array | None:
    """Return the posture in which what is carried was carried here; a crane alone adapts."""
    other = _neighbour(site, carriage, -1)
    return _posture_before(site, carriage) if other is not None and other.payload else None


@asked_whole
def _posture_after(site: Site, carriage: Carriage) -> Array | None:
    """Return the posture in which the crane takes up a payload next, None where it does not."""
    other = _neighbour(site, carriage, 1)
    if other is None or not other.payload or not _meet(carriage, other):
        return None
    way = crane_way_of(site, other)
    return None if way is None or len(way.q) < 2 else np.asarray(way.q[0])


@asked_whole
def _neighbour(site: Site, carriage: Carriage, way: int) -> Carriage | None:
    """Return the motion of the same crane and body before (-1) or after (1)."""
    mine = [
        one for one in site.carriages
        if one.crane == carriage.crane and one.case == carriage.case
    ]  # fmt: skip
    place = next((i for i, one in enumerate(mine) if one is carriage), None)
    if place is None or not 0 <= place + way < len(mine):
        return None
    return mine[place + way]


def _meet(one: Carriage, other: Carriage) -> bool:
    """Return whether the tip stands at the end of one motion where another begins."""
    if one.payload_from_tip is None or other.payload_from_tip is None:
        return False
    if len(one.poses) < 2 or len(other.poses) < 2:
        return False
    end, start = one.poses[-1] @ one.payload_from_tip, other.poses[0] @ other.payload_from_tip
    return bool(np.abs(end - start).max() < MEETS)
