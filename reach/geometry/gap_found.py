"""What a search for the least gap of a carried mesh asks, and how what it found is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.geometry.distance import corners_of, point_distance
from reach.geometry.pose import inverse, transform_points
from reach.geometry.sweeping import ROUNDING, TIE
from reach.geometry.tree import Floats, Tree
from reach.geometry.triangle import INF
from reach.geometry.triangle_pair import triangle_triangle

ROUGH = 0.7
"""A first look at a pose may miss what comes nearer by less than this share."""


@dataclass(frozen=True, eq=False)
class SweptGap:
    """Least gap of a carried mesh over one motion.

    The gap of two meshes is the distance of their surfaces, 0 where they meet
    or where a shell of one lies inside the other.

    Attributes
    ----------
    low, high : float, m
        Bracket of the least gap.  ``[0, high]`` with a small `high` means that
        contact is not excluded; ``[0, 0]`` is contact for certain.
    time : float
        When the gap is `high`, from 0 to 1.  ``nan`` without a witness.
    on_payload, on_scene : ndarray, shape (3,), m, world
        Witness points at that time; ``nan`` without one.
    face_payload, face_scene : int
        Rows of those triangles in what the trees were built from, or -1.
    """

    low: float
    high: float
    time: float
    on_payload: Floats
    on_scene: Floats
    face_payload: int
    face_scene: int


def goal_of(
    within: float, beyond: float, enough: float | None
) -> tuple[float, float, float, float]:
    """Return how close a bound has to come, what is certain, what ends it, and the cap (m)."""
    if not within >= TIE:
        raise ValueError(f"within must be at least {TIE} m, not {within}")
    if not beyond >= 0.0:
        raise ValueError(f"beyond must not be negative or nan, not {beyond}")
    # A bracket is narrow, or what is asked for certain, with the rounding taken off.
    close = within - 4.0 * ROUNDING
    if enough is None:
        return close, INF, -INF, float(beyond)
    if not enough >= 0.0:
        raise ValueError(f"enough must not be negative or nan, not {enough}")
    close = min(close, TIE)
    return close, enough + 2.0 * ROUNDING, float(enough), max(beyond, enough + 2.0 * TIE)


def arrays_of(tree: Tree) -> tuple[Floats, Floats, NDArray[np.int32]]:
    """Return what searches want of a tree."""
    return tree.tri, tree.box, tree.link


def contact(scene: Tree, payload: Tree, pose: Floats, at: Floats) -> SweptGap:
    """Return the answer where `at` (m, world) lies in both at time 0."""
    here = point_distance(payload, transform_points(inverse(pose), at))
    there = point_distance(scene, at)
    faces = int(here.face[0]), int(there.face[0])
    return SweptGap(0.0, 0.0, 0.0, at.copy(), at.copy(), *faces)


def shown(
    scene: Tree,
    payload: Tree,
    placed: Floats | None,
    rows: tuple[int, int],
    found: Floats,
    low: float,
) -> SweptGap:
    """Return bracket and witness from what a search found.

    Parameters
    ----------
    placed : ndarray, shape (3, 3), or None
        Corners (m, world) of the payload's triangle that is nearest; None without a witness.
    rows : (int, int)
        Of the nearest triangles in the trees of payload and scene.
    found : ndarray, shape (4,)
        As :func:`reach.geometry.payload_gap.least_payload_gap` fills it.
    low : float, m
        Not rounded outward.
    """
    high = float(found[0])
    low = max(min(low, high) - ROUNDING, 0.0) if high > 0.0 else 0.0
    if placed is None:
        nowhere = np.full(3, np.nan)
        return SweptGap(low, high, np.nan, nowhere, nowhere.copy(), -1, -1)
    points = np.empty((2, 3))
    _show(placed.reshape(1, 9), scene.tri, rows[1], points)
    faces = int(payload.face[rows[0]]), int(scene.face[rows[1]])
    return SweptGap(low, high, float(found[1]), points[0], points[1], *faces)


@compiled
def _show(placed: Any, tri: Any, k: int, points: Any) -> None:
    _, p, q = triangle_triangle(corners_of(placed, 0), corners_of(tri, k))
    for i in range(3):
        points[0, i] = p[i]
        points[1, i] = q[i]
