"""The body of a worker who holds something, or who stands at rest, as capsules."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.grasp import Grasp
from reach.grasping.bars import without_direction
from reach.grasping.grasped import grasped_of
from reach.grasping.shapes import ACROSS
from reach.resting import Resting, resting_of
from reach.site import Site, Situation

Array = NDArray[np.float64]


def body_of(
    site: Site, situation: Situation, grasp: Grasp | None
) -> tuple[Array, tuple[str, ...], bool]:
    """Return the body in the posture in which it holds something, else at rest.

    Always the same for the same question, and kept in the site's memo.

    Parameters
    ----------
    site : Site
    situation : Situation
        With a place whose boots are placed.
    grasp : Grasp or None
        What is held, where the surroundings have it.

    Returns
    -------
    capsules : ndarray, shape (n, 7), m, boot frame
        Two ends and a radius each.  The boot frame is the true one, of
        ``situation.place.world_from_boots``: nothing is mirrored for a left-handed worker.
    names : tuple of str
        What each is, left and right as the worker has them.
    held : bool
        Whether a posture that holds ``grasp`` was found; False is the body at rest.
    """
    if grasp is not None and grasp.is_sure and not without_direction(site.scene, grasp):
        grasped = grasped_of(site, situation, grasp)
        if grasped.found:
            return grasped.capsules, grasped.names, True
    return rest_body(site, situation)


def rest_body(site: Site, situation: Situation) -> tuple[Array, tuple[str, ...], bool]:
    """Return the body at rest, as `body_of` does."""
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    key = (
        "body at rest",
        situation.worker,
        situation.case,
        situation.place.world_from_boots.tobytes(),
        id(situation.surroundings),
    )
    if key not in site.memo:
        site.memo[key] = (resting_of(site, situation), situation.surroundings)
    resting: Resting = site.memo[key][0]
    capsules = resting.capsules
    if situation.own_hand == "left":
        capsules = capsules * ACROSS
    return capsules, resting.names, False
