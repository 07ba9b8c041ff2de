"""How a crane holds its tip at one pose: every branch found, what limits each, the best one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import Posture, solutions
from reach.arm.solving import APART
from reach.crane.nearest import Nearest, Neighbours, Rider, rider_on
from reach.crane.rig import Rig, rig_of
from reach.site import Place, Site, Situation, Surroundings

Array = NDArray[np.float64]

TIP = " tip"
"""What the place on a crane's tip is called that a payload's path has taken along."""

RAD, METRES, SINGULAR = math.radians(10.0), 0.2, 0.1
"""Margins of joints, links and singular value that weigh the same when branches are ordered."""


@dataclass(frozen=True, eq=False, slots=True)
class Branch:
    """One way to hold the tip, with all that limits it.

    Attributes
    ----------
    posture : Posture
        Joint values, each one's distance from its limit, distance from singular poses.
    nearest : tuple of Nearest
        The nearest of each kind, least margin first; empty where nothing is near the crane.
    joint_margin : float, rad (or m)
        Least distance of a joint from its limit, less ``joint_reserve``.
    singular_margin : float
        Smallest singular value less ``singular_reserve``.
    """

    posture: Posture
    nearest: tuple[Nearest, ...]
    joint_margin: float
    singular_margin: float

    @property
    def link_margin(self) -> float:
        """Least clearance of a link beyond what is asked, m; infinite with nothing near."""
        return self.nearest[0].margin if self.nearest else math.inf

    @property
    def tightest(self) -> int:
        """Number of the joint that is nearest to its limit."""
        return int(self.posture.from_limits.argmin())

    @property
    def worst(self) -> float:
        """The worst of the margins, each as a share of what weighs the same; below 0 one fails."""
        return worst_of(self.joint_margin, self.singular_margin, self.link_margin)


@dataclass(frozen=True, eq=False, slots=True)
class CraneAt:
    """What is known of a crane with its tip at one pose.

    Attributes
    ----------
    rig : Rig
    world_from_boots : ndarray, shape (4, 4)
    distance : float, m
        From the origin of the base to the tip.
    shortage : float, m
        Above 0: proved out of reach, by at least so much.
    branches : tuple of Branch
        Those found, best worst margin first; no more than one of each branch.  None found is no
        proof.
    rider : Rider or None
        Who stands on the plate.
    """

    rig: Rig
    world_from_boots: Array
    distance: float
    shortage: float
    branches: tuple[Branch, ...]
    rider: Rider | None

    @property
    def best(self) -> Branch | None:
        """The branch with the best worst margin; None where none was found."""
        return self.branches[0] if self.branches else None

    @property
    def reach_used(self) -> float:
        """Distance from base to tip as a share of the full reach."""
        return self.distance / self.rig.full_reach


def worst_of(joint: float, singular: float, link: float) -> float:
    """Return the worst of three margins (rad, a share, m), each over what weighs the same."""
    return min(joint / RAD, singular / SINGULAR, link / METRES)


def crane_of_place(site: Site, place: Place | None) -> str:
    """Return the crane on whose tip a place is; empty where it is on none."""
    if place is None:
        return ""
    return crane_named(site, place.name)


def crane_named(site: Site, place: str) -> str:
    """Return the crane on whose tip a place of this name is; empty where it is on none."""
    scene = site.scene
    if place in scene.stations:
        return scene.stations[place].on or ""
    crane = place.removesuffix(TIP)
    return crane if place.endswith(TIP) and crane in scene.cranes else ""


def crane_at(
    site: Site,
    crane: str,
    world_from_boots: Array,
    surroundings: Surroundings,
    rider: Situation | None = None,
) -> CraneAt | None:
    """Return how a crane holds its boot plate at a pose; None where its arm is not known.

    Parameters
    ----------
    site : Site
    crane : str
        Its name in the scene.
    world_from_boots : ndarray, shape (4, 4)
        z the sole normal, x the toes.
    surroundings : Surroundings
        What links keep off.
    rider : Situation, optional
        Whose body stands on the plate, at rest; boots must be at ``world_from_boots``.
    """
    rig = rig_of(site, crane, surroundings)
    if rig is None:
        return None
    who: tuple[object, ...] | None = None
    if rider is not None and rider.place is not None:
        boots = rider.place.world_from_boots
        assert boots is not None
        who = (rider.worker, rider.case, boots.tobytes())
    # What is nearly the same pose is the same question: the answer is that of the round one.
    pose = np.round(world_from_boots, 12) + 0.0
    key = ("crane at", crane, pose.tobytes(), id(surroundings), who)
    if key not in site.memo:
        site.memo[key] = _crane_at(site, rig, pose, surroundings, rider)
    found: CraneAt = site.memo[key]
    return found


def _crane_at(
    site: Site, rig: Rig, world_from_boots: Array, around: Surroundings, rider: Situation | None
) -> CraneAt:
    target = rig.base_from_tip(world_from_boots)
    centred = solutions(rig.chain, target, rig.starts)
    postures = list(centred.postures)
    # Of a branch with a joint to spare the middle of its limits need not be the clear posture.
    if postures and rig.chain.n > 6:
        postures += solutions(rig.chain, target, rig.starts, centred=False).postures
    body = None if rider is None else rider_on(site, rig, rider)
    near = Neighbours(rig, around, site.limit("link_clearance").value, body)
    branches = _branches(site, near, postures, len(centred.postures))
    distance = float(np.linalg.norm(target[:3, 3]))
    return CraneAt(rig, world_from_boots, distance, centred.shortage, branches, body)


def _branches(
    site: Site, near: Neighbours, postures: list[Posture], n_branches: int
) -> tuple[Branch, ...]:
    """Return the branches, each in the posture with the best worst margin, best first."""
    if not postures:
        return ()
    limits = site.limit("joint_reserve").value, site.limit("singular_reserve").value
    rows = np.array([one.q for one in postures])
    room = near.gaps(rows)
    joints = [float(one.from_limits.min()) - limits[0] for one in postures]
    singular = [one.singular - limits[1] for one in postures]
    scores = [worst_of(*each) for each in zip(joints, singular, room, strict=True)]
    ways = np.array([one.q for one in postures[:n_branches]])
    best: dict[int, int] = {}
    for i, row in enumerate(rows):
        # A posture belongs to the centred one that it is nearest to.
        branch = i if i < n_branches else int(np.abs(ways - row).max(axis=1).argmin())
        if branch not in best or scores[i] > scores[best[branch]]:
            best[branch] = i
    order = sorted(best.values(), key=lambda i: (-round(scores[i], 9), *rows[i]))
    kept: list[int] = []
    for i in order:
        if all(np.abs(rows[i] - rows[k]).max() > APART for k in kept):
            kept.append(i)
    return tuple(Branch(postures[i], near.nearest(rows[i]), joints[i], singular[i]) for i in kept)
