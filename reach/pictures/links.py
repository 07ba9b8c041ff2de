"""The links of cranes as surfaces: the capsules that cover them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.arm import link_capsules
from reach.crane import Rig, crane_at, crane_of_place
from reach.pictures.palette import CRANE, INK, mixed
from reach.pictures.surface import Surface, capsule, joined
from reach.site import Site, Situation

Array = NDArray[np.float64]


def crane_surface(rig: Rig, q: Array, colour: str = CRANE) -> Surface:
    """Return the links of a crane in one posture as the capsules that cover them."""
    there = link_capsules(rig.chain, q, rig.covers, rig.world_from_base)
    dark = mixed(colour, INK, 0.25)
    parts = [
        capsule(there.p[0, i], there.q[0, i], float(there.radius[i]), dark if k % 2 else colour)
        for i, k in enumerate(there.link)
    ]
    return joined(parts)


def crane_under(site: Site, situation: Situation) -> Surface | None:
    """Return the crane that a worker stands on, in the best posture; None where there is none."""
    crane, place = crane_of_place(site, situation.place), situation.place
    if not crane or place is None or place.world_from_boots is None:
        return None
    there = crane_at(site, crane, place.world_from_boots, situation.surroundings, situation)
    if there is None or there.best is None:
        return None
    return crane_surface(there.rig, there.best.posture.q)


def capsule_rows(rig: Rig, q: Array) -> Array:
    """Return the capsules of a crane, shape (n, 7), m, world."""
    there = link_capsules(rig.chain, q, rig.covers, rig.world_from_base)
    return np.hstack([there.p[0], there.q[0], there.radius[:, None]])
