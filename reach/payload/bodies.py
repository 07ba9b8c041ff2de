"""The body of whoever rides or stands by, as facets round its capsules, boots included."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.grasping import body_of as holding_body
from reach.payload.facets import box_facets, capsule_facets, placed
from reach.site import Site, Situation

Array = NDArray[np.float64]

MIRRORED = np.array([1.0, -1.0, 1.0, 1.0, -1.0, 1.0, 1.0])
"""What mirrors the ends of a capsule, side to side."""

BEHIND = 0.25
"""How far the heel is behind the ankle, as a share of the length of the foot (from memory)."""


def body_of(site: Site, situation: Situation) -> tuple[Array, tuple[str, ...]]:
    """Return the capsules of the posture in which a payload is held, and their names.

    Shape (n, 7), m, in the true boot frame: nothing is mirrored for a left-handed worker.  Who
    holds nothing, or is not known to reach what they hold, is at rest with arms folded.
    """
    grasp = situation.holds.get(situation.worker)
    capsules, names, _ = holding_body(
        site, situation, grasp if grasp is not None and grasp.payloads else None
    )
    return capsules, names


def boots_box(situation: Situation) -> tuple[Array, Array]:
    """Return the lowest and highest corner of a box that holds both boots, m, boot frame.

    The boot is the foot with a wall as thick as the sole, and as wide as the leg at least; it is
    as high as the body's boots are left out of its capsules.
    """
    suit, dims = situation.suit, situation.body.dims
    length, breadth = dims["footlength"], dims["footbreadthhorizontal"]
    behind = max(BEHIND * length + suit.sole, suit.leg_radius)
    ahead = max((1.0 - BEHIND) * length + suit.sole, suit.leg_radius)
    aside = 0.5 * suit.stance + max(0.5 * breadth + suit.sole, suit.leg_radius)
    return np.array([-behind, -aside, 0.0]), np.array([ahead, aside, suit.boot_height])


def body_facets(
    site: Site, situation: Situation, frame_from_boots: Array
) -> tuple[list[Array], tuple[str, ...], float]:
    """Return facets of a body and its boots, a set for each name, and their excess (m).

    Parameters
    ----------
    frame_from_boots : ndarray, shape (4, 4)
        Where the boots stand in the frame asked for.
    """
    capsules, names = body_of(site, situation)
    sets, excess = [], 0.0
    for row in capsules:
        facets, more = capsule_facets(row)
        sets.append(placed(frame_from_boots, facets))
        excess = max(excess, more)
    low, high = boots_box(situation)
    if high[2] > low[2]:
        sets.append(placed(frame_from_boots, box_facets(low, high)))
        names = (*names, "boots")
    return sets, names, excess
