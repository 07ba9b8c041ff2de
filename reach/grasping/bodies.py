"""The body of a worker who holds something, or who stands at rest, as capsules."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.resting import resting_of
from reach.site import Grasp, Site, Situation

Array = NDArray[np.float64]

ACROSS = np.array([1.0, -1.0, 1.0, 1.0, -1.0, 1.0, 1.0])
"""Capsules mirrored left to right: two ends and a radius."""


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
    return rest_body(site, situation)


def rest_body(site: Site, situation: Situation) -> tuple[Array, tuple[str, ...], bool]:
    """Return the body at rest, as `body_of` does."""
    resting = resting_of(site, situation)
    capsules = resting.capsules
    if situation.own_hand == "left":
        capsules = capsules * ACROSS
    return capsules, resting.names, False
