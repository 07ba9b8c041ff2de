"""A body swept from pose to pose: how near it comes to structure and hazards, as a bound."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, swept_clearance
from reach.site import Site, Situation
from reach.travel.stance import Mover

Array = NDArray[np.float64]

WITHIN = 0.005
"""Bound and witness of a sweep are brought this near to each other (m)."""

BEYOND = 1.0
"""Room wider than this (m) is not measured."""

ELSEWHERE = ("vent", "sharp edge")
"""Kinds of hazard that have checks of their own."""


@dataclass(frozen=True, eq=False)
class Swept:
    """The least room of a body on each of several pieces of its way.

    Attributes
    ----------
    low, high : ndarray, shape (n,), m
        Bracket on the least of (gap less what is asked there); high is inf where nothing is
        near.
    names : list of str
        Solid or hazard it is least to; empty where nothing is near.
    capsule : ndarray, shape (n,)
        Part of the body; -1 where nothing is near.
    time : ndarray, shape (n,)
        Share of the piece that is done then.
    on_axis, on_mesh : ndarray, shape (n, 3), m, world
        nan where nothing is near.
    """

    low: Array
    high: Array
    names: list[str]
    capsule: NDArray[np.int64]
    time: Array
    on_axis: Array
    on_mesh: Array


def room_of(site: Site, situation: Situation, mover: Mover, starts: Array, stops: Array) -> Swept:
    """Return the least room of a body beyond what structure and hazards ask.

    Parameters
    ----------
    starts, stops : ndarray, shape (n, 4, 4)
        world_from_body at both ends of each piece.
    """
    around = situation.surroundings
    asked = site.limit("body_clearance").value + around.error
    found, faces = _swept(around.tree, mover, starts, stops, asked, around.excess)
    names = [around.names[int(around.solid_of[face])] if face >= 0 else "" for face in faces]
    found = replace(found, names=names)
    for name, kind, tree, stand_off in around.hazards:
        if kind not in ELSEWHERE:
            other, faces = _swept(tree, mover, starts, stops, stand_off, 0.0)
            other = replace(other, names=[name if face >= 0 else "" for face in faces])
            found = _lesser(found, other)
    return found


def _swept(
    tree: Tree, mover: Mover, starts: Array, stops: Array, asked: float, excess: float
) -> tuple[Swept, NDArray[np.int64]]:
    swept = swept_clearance(
        tree, starts, stops, mover.p, mover.q, mover.radius, WITHIN, BEYOND + asked
    )
    is_near = swept.face >= 0
    high = np.where(is_near, swept.high - asked + excess, np.inf)
    return Swept(
        swept.low - asked, high, [], np.where(is_near, swept.capsule, -1), swept.time,
        swept.on_axis, swept.on_mesh,
    ), swept.face  # fmt: skip


def _lesser(a: Swept, b: Swept) -> Swept:
    """Return piece by piece the one with less room."""
    of_b = b.low < a.low
    return Swept(
        np.minimum(a.low, b.low),
        np.minimum(a.high, b.high),
        [(b if mine else a).names[i] for i, mine in enumerate(of_b)],
        np.where(of_b, b.capsule, a.capsule),
        np.where(of_b, b.time, a.time),
        np.where(of_b[:, None], b.on_axis, a.on_axis),
        np.where(of_b[:, None], b.on_mesh, a.on_mesh),
    )
