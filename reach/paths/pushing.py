"""Pushing a pose off what a growing cargo would run into.

The cargo is a little smaller than wanted, so that two nearest points tell which
way leads off.  Each push moves the cargo's point as far as it falls short when
the cargo grows, half by a shift and half by a turn as its lever has it.  Small
pushes keep neighbouring poses neighbours, which drawn ones do not.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry import compiled
from reach.geometry.distance import corners_of
from reach.geometry.payload_gap import least_payload_gap
from reach.geometry.triangle_pair import triangle_triangle
from reach.geometry.vector import along, cross, dot, minus
from reach.paths.keeping import state_kept, trees_of
from reach.paths.states import fill_turn, turned_by

_ROUNDS = 40
_OVER = 1.2
"""How far a push goes, times what is missing."""
_LITTLE = 2e-3
"""What every push adds (m): the nearest point need not be the one that falls short most."""
_CLOSE = 1e-3


@compiled
def pushed(small: Any, large: Any, grown: float, state: Any, desk: Any, out: Any) -> bool:
    """Write a state near `state` that the larger cargo is kept in; return whether one was met.

    Parameters
    ----------
    small, large : Packed
        The same with a smaller and a larger cargo.
    grown : float
        How much larger, as a share of the small one.
    state, out : ndarray, shape (7,)
    desk
        Made by :func:`reach.paths.keeping.new_desk`.
    """
    out[:] = state
    centre = np.empty(3)
    for _ in range(_ROUNDS):
        if state_kept(large, out, desk):
            return True
        turn = desk[1]
        fill_turn(out, turn)
        for i in range(3):
            centre[i] = out[i]
            for j in range(3):
                centre[i] += turn[i, j] * (small.centre[j] - small.about[j])
        missing, on_cargo, n = _worst(small, large, grown, out, centre, desk)
        if not missing > -np.inf:
            return False
        _push(large, out, centre, on_cargo, n, _OVER * max(missing, 0.0) + _LITTLE, turn)
    return state_kept(large, out, desk)


@compiled
def _worst(small: Any, large: Any, grown: float, state: Any, centre: Any, desk: Any) -> Any:
    """Return by how much (m) the worst pair of trees falls short, its point and the way off.

    ``-inf`` where nothing is near, or something is in contact.
    """
    room, turn, origin, step, axis, found, order = desk
    for i in range(3):
        origin[i] = state[i]
        step[i] = 0.0
        axis[i] = 0.0
    axis[2] = 1.0
    middle = (centre[0], centre[1], centre[2])
    worst, worst_point, worst_n = -np.inf, middle, middle
    for k in range(len(order)):
        scene, cargo = trees_of(small, k)
        wanted = large.wanted[k]
        found[0], found[1] = wanted + grown * 2.0 * large.arm, 0.0
        found[2], found[3] = -1.0, -1.0
        goal, motion = (_CLOSE, np.inf, -np.inf, 1.0), (turn, origin, step, axis, 0.0)
        least_payload_gap(scene, cargo, motion, small.about, (0.0, 0.0), goal, found, room)
        if found[2] < 0.0:
            continue
        if found[0] <= 0.0:
            return -np.inf, middle, middle
        p, q = _points(scene, cargo, found, turn, origin, small.about)
        n = minus(p, q)
        d = math.sqrt(dot(n, n))
        if d <= 0.0:
            return -np.inf, middle, middle
        n = (n[0] / d, n[1] / d, n[2] / d)
        missing = wanted - d - grown * dot(n, minus(p, middle))
        if missing > worst:
            worst, worst_point, worst_n = missing, p, n
    return worst, worst_point, worst_n


@compiled
def _points(scene: Any, cargo: Any, found: Any, turn: Any, origin: Any, about: Any) -> Any:
    """Return the nearest points of a found pair of triangles, on the cargo and on the scene."""
    rows = cargo[0][int(found[2])]
    placed = np.empty((1, 9))
    for c in range(3):
        for i in range(3):
            placed[0, 3 * c + i] = origin[i]
            for j in range(3):
                placed[0, 3 * c + i] += turn[i, j] * (rows[3 * c + j] - about[j])
    _, p, q = triangle_triangle(corners_of(placed, 0), corners_of(scene[0], int(found[3])))
    return p, q


@compiled
def _push(world: Any, state: Any, centre: Any, point: Any, n: Any, way: float, turn: Any) -> None:
    """Move the state so that a point of the cargo moves by `way` along `n`."""
    middle = (centre[0], centre[1], centre[2])
    lever = cross(minus(point, middle), n)
    arm2 = world.arm * world.arm
    share = way / (1.0 + dot(lever, lever) / arm2)
    spin = (share * lever[0] / arm2, share * lever[1] / arm2, share * lever[2] / arm2)
    angle = math.sqrt(dot(spin, spin))
    body = np.zeros(3)
    for i in range(3):
        for j in range(3):
            body[i] += turn[j, i] * spin[j]
    s = math.sin(0.5 * angle) / angle if angle > 0.0 else 0.0
    turned_by(state, math.cos(0.5 * angle), s * body[0], s * body[1], s * body[2], state)
    fill_turn(state, turn)
    moved = along(middle, share, n)
    for i in range(3):
        state[i] = moved[i]
        for j in range(3):
            state[i] -= turn[i, j] * (world.centre[j] - world.about[j])
