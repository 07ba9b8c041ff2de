"""A crane where it stands: its arm as flat arrays, its base in the world, the plate on its tip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain, Covers, Starts, chain_of, covers_of, full_reach, starts_of
from reach.geometry import inverse
from reach.legs import placed_pose
from reach.site import Site, Surroundings

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Rig:
    """One crane of a scene.

    Attributes
    ----------
    name : str
    chain : Chain
    covers : Covers
        Capsules round its links.
    starts : Starts
        Where searches for postures begin.
    world_from_base : ndarray, shape (4, 4)
    tip_from_boots : ndarray, shape (4, 4)
        Where boots stand on the plate: z the sole normal, x the toes.
    full_reach : float, m
        The sum of the link lengths.
    """

    name: str
    chain: Chain
    covers: Covers
    starts: Starts
    world_from_base: Array
    tip_from_boots: Array
    full_reach: float

    @property
    def joints(self) -> tuple[str, ...]:
        """Names of the joints that move, from the base on."""
        return tuple(joint.name for joint in self.chain.arm.moving)

    def base_from_tip(self, world_from_boots: Array) -> Array:
        """Return the pose of the tip in the base for boots in the world, shape (4, 4)."""
        tip = world_from_boots @ inverse(self.tip_from_boots)
        return np.asarray(inverse(self.world_from_base) @ tip)


def rig_of(site: Site, crane: str, surroundings: Surroundings) -> Rig | None:
    """Return a crane as it stands in these surroundings; None where its arm is not known."""
    if crane not in site.arms:
        return None
    record = site.scene.cranes[crane]
    base = surroundings.world_from[record.frame] @ placed_pose(record)
    key = ("rig", crane, base.tobytes())
    if key not in site.memo:
        parts = ("rig", crane)
        if parts not in site.memo:
            chain = chain_of(site.arms[crane])
            site.memo[parts] = chain, covers_of(chain), starts_of(chain), full_reach(chain)
        chain, covers, starts, reach = site.memo[parts]
        plate = placed_pose(record.plate)
        site.memo[key] = Rig(crane, chain, covers, starts, base, plate, reach)
    found: Rig = site.memo[key]
    return found
