"""Whether one motion keeps every clearance: certified, or not."""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.geometry import compiled
from reach.geometry.payload_gap import least_payload_gap, new_room
from reach.geometry.sweeping import ROUNDING, TIE
from reach.geometry.vector import least
from reach.paths.states import fill_turn, turn_from
from reach.paths.world import FLAT


@compiled
def new_desk(n_pairs: int) -> Any:
    """Return the arrays that legs are judged in; `n_pairs` of cargo and obstacle trees."""
    return (
        new_room(),
        np.empty((3, 3)),
        np.empty(3),
        np.empty(3),
        np.empty(3),
        np.empty(4),
        np.arange(n_pairs),
    )


@compiled
def leg_kept(world: Any, a: Any, b: Any, desk: Any) -> bool:
    """Return whether the motion from state `a` to state `b` keeps every gap, for certain.

    Looks at the end and the middle first: most legs that fail, fail there.
    ``False`` says only that it is not certain.

    Parameters
    ----------
    world : Packed
    a, b : ndarray, shape (7,)
    desk
        Made by :func:`new_desk`.
    """
    _, turn, origin, step, axis, _, order = desk
    angle = turn_from(a, b, axis)
    if angle > FLAT:
        return False
    fill_turn(a, turn)
    for i in range(3):
        origin[i] = a[i]
        step[i] = b[i] - a[i]
    motion = (turn, origin, step, axis, angle)
    for look in range(3):
        t0, t1 = (1.0, 0.5, 0.0)[look], (1.0, 0.5, 1.0)[look]
        for k in range(len(order)):
            if not _pair_kept(world, motion, order[k], t0, t1, desk):
                # What stood in the way is likely to do so again.
                order[0], order[k] = order[k], order[0]
                return False
    return True


@compiled
def state_kept(world: Any, a: Any, desk: Any) -> bool:
    """Return whether a state keeps every gap, for certain."""
    _, turn, origin, step, axis, _, order = desk
    fill_turn(a, turn)
    for i in range(3):
        origin[i] = a[i]
        step[i] = 0.0
        axis[i] = 0.0
    axis[2] = 1.0
    for k in range(len(order)):
        if not _pair_kept(world, (turn, origin, step, axis, 0.0), order[k], 0.0, 0.0, desk):
            order[0], order[k] = order[k], order[0]
            return False
    return True


@compiled
def trees_of(world: Any, pair: int) -> Any:
    """Return the tree of obstacles and the tree of the cargo of a pair, each (tri, box, link)."""
    i, k = world.pairs[pair, 0], world.pairs[pair, 1]
    tri0, tri1 = world.scene_at[k, 0], world.scene_at[k + 1, 0]
    box0, box1 = world.scene_at[k, 1], world.scene_at[k + 1, 1]
    scene = (world.scene_tri[tri0:tri1], world.scene_box[box0:box1], world.scene_link[box0:box1])
    tri0, tri1 = world.cargo_at[i, 0], world.cargo_at[i + 1, 0]
    box0, box1 = world.cargo_at[i, 1], world.cargo_at[i + 1, 1]
    cargo = (world.cargo_tri[tri0:tri1], world.cargo_box[box0:box1], world.cargo_link[box0:box1])
    return scene, cargo


@compiled
def _pair_kept(world: Any, motion: Any, pair: int, t0: float, t1: float, desk: Any) -> bool:
    """Return whether one tree of the cargo keeps its gap to one tree of obstacles."""
    found = desk[5]
    wanted = world.wanted[pair]
    scene, cargo = trees_of(world, pair)
    found[0], found[1], found[2], found[3] = wanted + 2.0 * TIE, 0.0, -1.0, -1.0
    goal = (TIE, wanted + 2.0 * ROUNDING, wanted, 1.0)
    low = least_payload_gap(scene, cargo, motion, world.about, (t0, t1), goal, found, desk[0])
    return bool(least(low, found[0]) - ROUNDING >= wanted)
