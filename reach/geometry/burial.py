"""Whether a shell of one mesh lies inside the other, which no distance of surfaces tells."""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.geometry.compiled import compiled
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
    if not _may_be_buried(scene.box, scene.shells, payload.box, payload.shells, pose):
        return None
    corners = transform_points(pose, payload.shells)
    deep = inside(scene, corners)
    if deep.any():
        return np.array(corners[deep][0])
    middle, half = payload.bounds.mean(axis=0), 0.5 * np.diff(payload.bounds, axis=0)[0]
    centre, reach = transform_points(pose, middle), np.abs(pose[:3, :3]) @ half
    near = scene.shells[np.all(np.abs(scene.shells - centre) <= reach, axis=1)]
    deep = inside(payload, transform_points(inverse(pose), near))
    return np.array(near[deep][0]) if deep.any() else None


@compiled
def _may_be_buried(box: Any, shells: Any, payload_box: Any, payload_shells: Any, pose: Any) -> bool:
    """Return whether a corner of a shell of one lies in the box of the other: most do not."""
    for i in range(len(payload_shells)):
        n_in = 0
        for k in range(3):
            at = pose[k, 3]
            for j in range(3):
                at += pose[k, j] * payload_shells[i, j]
            n_in += box[0, k] <= at <= box[0, 3 + k]
        if n_in == 3:
            return True
    for i in range(len(shells)):
        n_in = 0
        for k in range(3):
            at = 0.0
            for j in range(3):
                at += pose[j, k] * (shells[i, j] - pose[j, 3])
            n_in += payload_box[0, k] <= at <= payload_box[0, 3 + k]
        if n_in == 3:
            return True
    return False
