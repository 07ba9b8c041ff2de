"""A body swept from pose to pose: how near it comes to structure and hazards, as a bound."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, swept_clearance
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.hazards import met
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
    for one in met(site, situation):
        if one.record.kind not in ELSEWHERE:
            asked = one.record.stand_off + one.error
            other, faces = _swept(one.tree, mover, starts, stops, asked, one.error)
            high = other.high if one.is_sure else np.full(len(faces), np.inf)
            words = [one.name if face >= 0 else "" for face in faces]
            other = replace(other, names=words, high=high)
            found = _lesser(found, other)
    return found


def _swept(
    tree: Tree, mover: Mover, starts: Array, stops: Array, asked: float, excess: float
) -> tuple[Swept, NDArray[np.int64]]:
    swept = swept_clearance(
        tree, starts, stops, mover.p, mover.q, mover.radius, WITHIN, BEYOND + asked
    )
    is_near = swept.face >= 0
    # Where an axis itself meets the surface the depth is not known.
    deep = is_near & (swept.high <= -mover.radius[np.maximum(swept.capsule, 0)] + 1e-9)
    low = np.where(deep, -np.inf, swept.low - asked)
    high = np.where(is_near, swept.high - asked + excess, np.inf)
    return Swept(
        low, high, [], np.where(is_near, swept.capsule, -1), swept.time,
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


def items_room(situation: Situation, corridor: Corridor) -> Swept | None:
    """Return how near what is carried comes to the structure, None where nothing has a size."""
    mover, n = corridor.mover, corridor.mover.n_body
    around = situation.surroundings
    if len(mover.names) == n:
        return None
    items = replace(mover, p=mover.p[n:], q=mover.q[n:], radius=mover.radius[n:])
    starts, stops = corridor.poses
    found, faces = _swept(around.tree, items, starts, stops, around.error, around.excess)
    names = [around.names[int(around.solid_of[face])] if face >= 0 else "" for face in faces]
    return replace(found, names=names, capsule=np.where(found.capsule < 0, -1, found.capsule + n))
