"""Whether a shell of one mesh lies inside the other, which no distance of surfaces tells."""

from __future__ import annotations

import numpy as np

from reach.geometry.pose import inverse, transform_points
from reach.geometry.tree import Floats, Tree
from reach.geometry.winding import inside


def buried_point(scene: Tree, payload: Tree, pose: Floats) -> Floats | None:
    """Return a point of one mesh that lies inside the other, or None.

    While the surfaces stay apart nothing gets in or out, so one corner of each
    shell at one pose decides for a whole motion.

    Parameters
    ----------
    scene, payload : Tree
        In the world, and in the payload's own frame.
    pose : ndarray, shape (4, 4), world_from_payload

    Returns
    -------
    point : ndarray, shape (3,), m, world, or None

    Notes
    -----
    Inside is what :func:`reach.geometry.winding.inside` says: in a deep bowl
    that is open on one side, too.
    """
    corners = transform_points(pose, payload.shells)
    deep = inside(scene, corners)
    if deep.any():
        return np.array(corners[deep][0])
    middle, half = payload.bounds.mean(axis=0), 0.5 * np.diff(payload.bounds, axis=0)[0]
    centre, reach = transform_points(pose, middle), np.abs(pose[:3, :3]) @ half
    near = scene.shells[np.all(np.abs(scene.shells - centre) <= reach, axis=1)]
    deep = inside(payload, transform_points(inverse(pose), near))
    return np.array(near[deep][0]) if deep.any() else None
