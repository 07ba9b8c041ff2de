"""Where someone drifts who lets go: a ball round the last point that holds the line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import Tree, inside, point_distance

Floats = NDArray[np.float64]


class Swing(NamedTuple):
    """Gap between who may drift and one hazard.

    Attributes
    ----------
    name : str
        The hazard.
    low, high : float, m
        The gap: no drift brings any part of the body nearer to the stand-off
        than ``low``, and one in free space along a straight line comes as near
        as ``high``.  Negative: the stand-off is broken by as much.  Equal, but
        for rounding; structure in the way, which can but stop a drift, is not
        looked at.
    held : int
        Which of the points that hold the line is meant.
    witness : ndarray, shape (3,), m
        The nearest point of the hazard.
    """

    name: str
    low: float
    high: float
    held: int
    witness: Floats


def swing(
    points: ArrayLike,
    free_length: ArrayLike,
    body_radius: float,
    trees: Sequence[tuple[str, Tree, float]],
) -> list[Swing]:
    """Return how near to each hazard someone can drift on the free end of a line.

    Parameters
    ----------
    points : array_like, shape (k, 3) or (3,), m, world
        Where the line is held last: anchor, fairlead or rail.
    free_length : array_like, shape () or (k,), m
        Length of line beyond each point.
    body_radius : float, m
        Of a ball round the line's end at the suit that holds the body.
    trees : sequence of (name, Tree, stand-off in m)
        The hazards; inside a closed one the distance is 0.

    Returns
    -------
    swings : list of Swing
        One for each hazard, in order: at the point where the gap is least.

    Raises
    ------
    ValueError
        If a shape does not fit or a number is negative or not finite.
    """
    held = np.atleast_2d(np.asarray(points, dtype=np.float64))
    if held.ndim != 2 or held.shape[1] != 3 or not len(held) or not np.isfinite(held).all():
        raise ValueError(f"points must be finite and have shape (k, 3), not {held.shape}")
    free = np.broadcast_to(np.asarray(free_length, dtype=np.float64), len(held))
    numbers = np.array([*free, body_radius, *(stand_off for _, _, stand_off in trees)])
    if not (np.isfinite(numbers) & (numbers >= 0.0)).all():
        raise ValueError("lengths, radius and stand-offs must be finite and 0 or more")
    return [_swing(held, free, body_radius, *hazard) for hazard in trees]


def _swing(
    held: Floats, free: Floats, body_radius: float, name: str, tree: Tree, stand_off: float
) -> Swing:
    found = point_distance(tree, held)
    distance = np.where(inside(tree, held), 0.0, found.distance)
    gap = distance - free - body_radius - stand_off
    i = int(np.argmin(gap))
    return Swing(name, float(gap[i]) - 1e-9, float(gap[i]), i, found.on_mesh[i])
