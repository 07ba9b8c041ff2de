"""What boots on a crane's tip slow down when it stops, and what their place bears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.crane.at_rest import crane_named
from reach.finding import Limit
from reach.geometry import inverse
from reach.grasping import riding
from reach.model.provenance import Provenance
from reach.site import Carriage, Site

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Weight:
    """What the boots slow down: mass (kg) and how far its middle is from them (m, their frame).

    ``is_sure`` where it is certain that they do.
    """

    name: str
    mass: float
    middle: Array
    is_sure: bool = True


def weights_of(site: Site, carriage: Carriage) -> tuple[list[Weight], str]:
    """Return what the boots of a rider slow down, and what has no known mass.

    Beside the rider that is the payload which is moved, else all that the rider holds, though
    the step does not name it: the hands may take it along. What the crane may hold by a grapple,
    or is not named, it is not certain that the boots slow down.
    """
    rider = carriage.rider
    assert rider is not None
    links = rider.body.links
    height = 0.5 * (links.hip + links.shoulder) + rider.suit.sole
    found = [Weight(rider.worker, site.limit("rider_mass").value, np.array([0.0, 0.0, height]))]
    grasp = carriage.holds.get(rider.worker)
    held = () if grasp is None else grasp.payloads
    payloads = (carriage.payload,) if carriage.payload else held
    if not payloads:
        return found, ""
    assert carriage.payload_from_boots is not None
    to_boots = inverse(carriage.poses[0] @ carriage.payload_from_boots)
    for payload in payloads:
        mass = site.scene.payloads[payload].mass
        if mass is None:
            return [], payload
        world_from_payload = carriage.surroundings.world_from[payload]
        if carriage.payload:
            world_from_payload = carriage.poses[0]
        middle = _middle(site, carriage, payload, world_from_payload)
        is_sure = bool(carriage.payload) and site.scene.payloads[payload].grapple is None
        found.append(Weight(payload, mass, to_boots[:3, :3] @ middle + to_boots[:3, 3], is_sure))
    return found, ""


def middle_of(weights: Sequence[Weight]) -> Array:
    """Return the common middle of some masses, m, in the frame of the boots."""
    return np.average([one.middle for one in weights], axis=0, weights=[w.mass for w in weights])


def _middle(site: Site, carriage: Carriage, payload: str, world_from_payload: Array) -> Array:
    """Return the middle of the box round a payload as the motion begins, m, world."""
    around = carriage.surroundings
    mine = riding(site.scene, around, payload)[around.tree.face]
    if not mine.any():
        return np.asarray(world_from_payload[:3, 3])
    # In the payload's own directions, so that it is the same box wherever the payload is.
    own = inverse(world_from_payload)
    corners = around.tree.tri.reshape(-1, 3, 3)[mine].reshape(-1, 3) @ own[:3, :3].T + own[:3, 3]
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    return np.asarray(world_from_payload[:3, :3] @ middle + world_from_payload[:3, 3])


def rating_of(site: Site, place: str) -> tuple[Limit, Limit]:
    """Return what boots may put on a place, force and moment.

    On a tip that a path has taken along they stand on the plate of all of the crane's stations:
    the least that any of them bears counts.
    """
    scene, known = site.scene, (site.limit("socket_force"), site.limit("socket_moment"))
    crane = crane_named(site, place)
    here = [scene.stations[place]] if place in scene.stations else [
        one for one in scene.stations.values() if crane and one.on == crane
    ]  # fmt: skip
    rated = [
        known if one.rating is None else (
            Limit("rating.force", one.rating.force, "N", Provenance()),
            Limit("rating.moment", one.rating.moment, "N m", Provenance()),
        )
        for one in here
    ] or [known]  # fmt: skip
    force, moment = (min((one[i] for one in rated), key=lambda x: x.value) for i in (0, 1))
    return force, moment
