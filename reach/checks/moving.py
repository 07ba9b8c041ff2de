"""What the checks on moves share: which situations they take, their widest gap, their marks."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, capsule_clearance, segment_distance
from reach.rails.route import Leg, Route
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.sides import best_corridor, better_sides

Array = NDArray[np.float64]


def moves(situations: tuple[Situation, ...]) -> Iterator[Situation]:
    """Yield the situations in which a worker moves along rails."""
    for situation in situations:
        if situation.passage is not None:
            yield situation


def widest_leg(route: Route) -> Leg | None:
    """Return the leg over the widest gap between rails, if any is crossed."""
    gaps = [leg for leg in route.legs if leg.kind == "gap"]
    return max(gaps, key=lambda leg: leg.length, default=None)


def piece_words(rail: str, to_rail: str, is_first: bool = False) -> str:
    """Return a piece of the way in words; ``is_first`` begins a sentence.

    Examples
    --------
    >>> piece_words("RL07", "RL07"), piece_words("RL07", "RL22")
    ('along RL07', 'from RL07 to RL22')
    """
    words = f"along {rail}" if rail == to_rail else f"from {rail} to {to_rail}"
    return words[:1].upper() + words[1:] if is_first else words


class Nearest:
    """Where a tube comes nearest to the surface of a tree.

    Attributes
    ----------
    gap : float, m
        Distance of the axis less the radius, negative inside.
    touches : bool
        Whether the axis itself crosses the surface or runs inside: the depth is not known.
    piece, face : int
        Which piece of the axis, and which triangle.
    on_axis, on_mesh : ndarray, shape (3,), m, world
    """

    def __init__(self, tree: Tree, axis: Array, radius: float) -> None:
        gaps = capsule_clearance(tree, axis[:, 0], axis[:, 1], radius)
        self.piece = int(np.argmin(gaps))
        nearest = segment_distance(tree, axis[self.piece, 0][None], axis[self.piece, 1][None])
        self.gap = float(gaps[self.piece])
        self.touches = self.gap <= -radius
        self.face = int(nearest.face[0])
        self.on_axis: Array = nearest.on_query[0]
        self.on_mesh: Array = nearest.on_mesh[0]


def unsized(situation: Situation) -> str:
    """Return a clause on what is carried whose size is not given, or nothing."""
    passage = situation.passage
    assert passage is not None
    items = {**passage.carrying, **passage.in_hand}
    names = [name for name, item in items.items() if item.size is None]
    if not names:
        return ""
    what = "its size is" if len(names) == 1 else "their sizes are"
    return f" How far {' and '.join(names)} stick out is not known: {what} not given."


def room_fix(site: Site, situation: Situation, corridor: Corridor, low: float) -> str:
    """Return what mends a lack of room round tube or body, nothing where ``low`` (m) is enough."""
    if low >= 0.0:
        return ""
    if math.isinf(low) and unsized(situation):
        return "Give the size of what is carried."
    return better_sides(site, situation, corridor, best_corridor(site, situation))
