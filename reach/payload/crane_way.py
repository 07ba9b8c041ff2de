"""The way of a crane's joints while it moves, and how near its links come to anything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain, Covers, chain_of, covers_of, starts_of, with_rider
from reach.geometry import inverse
from reach.legs import placed_pose
from reach.payload.bodies import body_capsules_in
from reach.payload.joints import JointSearch
from reach.payload.link_gaps import LinkGap, link_gaps, structure_of
from reach.payload.things import things_of
from reach.site import Carriage, Site

__all__ = ["CraneWay", "LinkGap", "crane_way_of"]

Array = NDArray[np.float64]


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

    Kept on the site.  With a payload the joints follow its path; alone, they turn evenly from a
    posture at each station to one at the next.  Of the branches that were found the one that
    leaves most of what links keep off structure, hazards and each other is taken.
    """
    key = ("crane way", carriage)
    if key not in site.memo:
        site.memo[key] = _crane_way(site, carriage)
    found: CraneWay | None = site.memo[key]
    return found


def _crane_way(site: Site, carriage: Carriage) -> CraneWay | None:
    held, arm = carriage.payload_from_tip, site.arms.get(carriage.crane)
    if arm is None or held is None:
        return None
    record = site.scene.cranes[carriage.crane]
    base = carriage.surroundings.world_from[record.frame] @ placed_pose(record)
    kept = ("chain", carriage.crane)
    if kept not in site.memo:
        chain = chain_of(arm)
        site.memo[kept] = chain, starts_of(chain)
    chain, starts = site.memo[kept]
    structure, kept_off = structure_of(site, carriage), site.limit("link_clearance").value
    obstacles = [] if structure is None else [(structure.tree, kept_off)]
    obstacles += [
        (thing.tree, thing.stand_off) for thing in things_of(site, carriage) if thing.is_hazard
    ]
    joints = JointSearch(
        chain, starts, base, tuple(obstacles), kept_off, _covers(site, carriage, chain)
    )
    if carriage.payload:
        if len(carriage.poses) < 2:
            return None
        found = joints.carrying(carriage, held)
    else:
        found = joints.between(carriage.poses @ held)
    gaps = link_gaps(site, carriage, chain, base, found.q) if len(found.q) > 1 else ()
    return CraneWay(
        chain, base, found.q, found.at, found.off, gaps, found.stuck_at, found.shortage,
        found.why, found.off_turn,
    )  # fmt: skip


def _covers(site: Site, carriage: Carriage, chain: Chain) -> Covers:
    """Return capsules round the links and round whoever rides on the tip.

    What is asked of the rider beyond what links keep off is added to their radii.
    """
    covers, rider = covers_of(chain), carriage.rider
    held, from_boots = carriage.payload_from_tip, carriage.payload_from_boots
    if rider is None or held is None or from_boots is None:
        return covers
    rows = body_capsules_in(site, rider, inverse(held) @ from_boots)
    more = site.limit("payload_clearance").value - site.limit("link_clearance").value
    ends = np.stack([rows[:, :3], rows[:, 3:6]], axis=1)
    return with_rider(chain, covers, (ends, rows[:, 6] + max(more, 0.0)))
