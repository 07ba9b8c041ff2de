"""The points of a fastener head that are to be seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry import transform_points
from reach.site import Head

Array = NDArray[np.float64]

LIFT = 0.005
"""Sight is taken to points this far (m) in front of the head, off the surface it sits on."""

N_SPOTS = 19


def spots_of(head: Head, pose: Array, tip: Array, direction: Array) -> Array:
    """Return points (19, 3), m, world, over the face of a fastener head: centre and two rings.

    The rings are laid out in the boot frame, so that they turn with a world that is turned.

    Parameters
    ----------
    pose : ndarray, shape (4, 4)
        World from boots.
    tip, direction : ndarray, shape (3,), m and unit vector, boot frame
        The head and the way into it.
    """
    axis = -direction
    u = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    u /= np.linalg.norm(u)
    v = np.cross(axis, u)
    spots = [np.zeros(3)]
    for n, share in ((6, 0.5), (12, 0.95)):
        turn = 2.0 * np.pi * np.arange(n) / n
        ring = np.outer(np.cos(turn), u) + np.outer(np.sin(turn), v)
        spots.extend(share * head.radius * ring)
    return np.ascontiguousarray(transform_points(pose, tip + LIFT * axis + np.array(spots)))
