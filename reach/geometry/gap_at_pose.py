"""Least gap of a mesh at one pose to the triangles of a tree."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry.burial import buried_point
from reach.geometry.compiled import compiled
from reach.geometry.gap_found import ROUGH, SweptGap, arrays_of, contact, goal_of, shown
from reach.geometry.motion_chain import one_pose
from reach.geometry.payload_gap import least_payload_gap, new_room
from reach.geometry.pose import transform_points
from reach.geometry.sweeping import ROUNDING
from reach.geometry.tree import Tree
from reach.geometry.triangle import INF
from reach.geometry.vector import least


def pose_gap(
    tree_scene: Tree,
    tree_payload: Tree,
    pose: ArrayLike,
    within: float = 1e-3,
    beyond: float = INF,
) -> SweptGap:
    """Return a guaranteed bracket of the gap of a mesh at one pose.

    What :func:`reach.geometry.payload_sweep.swept_gap` finds for a motion that stays where it
    is, several times as quick.

    Parameters
    ----------
    tree_scene : Tree
        In the world.
    tree_payload : Tree
        In the payload's own frame.
    pose : array_like, shape (4, 4), world_from_payload
    within, beyond : float, m
        As for :func:`reach.geometry.payload_sweep.swept_gap`.

    Returns
    -------
    gap : SweptGap
        At time 0.

    Raises
    ------
    ValueError
        If a shape does not fit, `beyond` is negative or ``nan``, `within` is too small, or the
        pose is not finite or not rigid to 1e-6.

    Examples
    --------
    >>> from reach.geometry import build, pose_of
    >>> floor = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> pose_gap(floor, floor, pose_of(np.eye(3), [0.0, 0.0, 0.5])).high
    0.5
    """
    world_from_payload = one_pose("pose", pose)[0]
    if not np.isfinite(world_from_payload).all():
        raise ValueError(f"the pose is not finite: {world_from_payload.tolist()}")
    *goal, cap = goal_of(within, beyond, None)
    buried = buried_point(tree_scene, tree_payload, world_from_payload)
    if buried is not None:
        return contact(tree_scene, tree_payload, world_from_payload, buried)
    found = np.array([cap, 0.0, -1.0, -1.0])
    turn = np.ascontiguousarray(world_from_payload[:3, :3])
    place = world_from_payload[:3, 3].copy()
    low = _search_pose(
        arrays_of(tree_scene), arrays_of(tree_payload), turn, place, (*goal, 1.0), found
    )
    rows = int(found[2]), int(found[3])
    if rows[0] < 0:
        return shown(tree_scene, tree_payload, None, rows, found, low)
    placed = transform_points(world_from_payload, tree_payload.tri[rows[0]].reshape(3, 3))
    return shown(tree_scene, tree_payload, placed, rows, found, low)


@compiled
def _search_pose(scene: Any, payload: Any, turn: Any, place: Any, goal: Any, found: Any) -> float:
    """Fill `found` for one pose, and return a bound of the gap (m)."""
    room, about = new_room(), np.zeros(3)
    motion = (turn, place, np.zeros(3), np.array([0.0, 0.0, 1.0]), 0.0)
    here = (0.0, 0.0)
    rough = (goal[0], goal[1], goal[2], ROUGH)
    least_payload_gap(scene, payload, motion, about, here, rough, found, room)
    if found[0] <= 0.0:
        return 0.0
    low = least_payload_gap(scene, payload, motion, about, here, goal, found, room)
    low = least(low, found[0])
    if found[2] >= 0.0:
        # The pair that gave the gap away need not be the nearest one.
        nearest = (ROUNDING, goal[1], goal[2], 1.0)
        least_payload_gap(scene, payload, motion, about, here, nearest, found, room)
    return low
