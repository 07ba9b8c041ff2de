"""Two trees of poses that grow towards each other (RRT-Connect), one from either end.

Kuffner, LaValle, RRT-Connect: an efficient approach to single-query path planning, ICRA 2000.
Every edge is certified.  Ours differ in that a step is as long as it can be
(the whole way, else half of it, and so on), and in where poses are drawn: some
close to what is there already, some turned as at an end, on the way between, or
squarely to it, since what people build stands square.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from reach.geometry import compiled
from reach.geometry.tree import Floats
from reach.geometry.vector import greatest, least
from reach.paths.keeping import leg_kept, state_kept
from reach.paths.states import N_STATE, between, fill_turn, turned_by

N_DRAWS = 12
"""Uniform numbers that one drawn pose takes at most."""

_HALVINGS = 5
_CHAIN = 8
"""Steps in which one tree follows the other's new pose."""

_AT_END, _NEAR, _ALONG, _BETWEEN, _SQUARE = 0.05, 0.2, 0.45, 0.55, 0.85
"""Shares, summed up: the other end, close to a known pose, from one along an axis of obstacles,
turned as between the ends, squarely to obstacles; else any."""


_FARTHEST = 0.8
"""How much of the three decades a pose may be moved over to settle."""

_GUIDED, _EXACTLY = 0.5, 0.25
"""Shares of poses drawn near or at those of a guide, where there is one."""


class Trees(NamedTuple):
    """Two trees: states (2, n, 7), parents and failed steps (2, n), how many of each (2,)."""

    state: Floats
    parent: Any
    failed: Any
    size: Any


def planted(start: Floats, goal: Floats, n_most: int) -> Trees:
    """Return two trees of one state each, with room for `n_most`."""
    trees = Trees(
        np.zeros((2, n_most, N_STATE)),
        np.full((2, n_most), -1),
        np.zeros((2, n_most), np.int64),
        np.ones(2, np.int64),
    )
    trees.state[0, 0], trees.state[1, 0] = start, goal
    return trees


def compile_now(world: Any, desk: Any) -> None:
    """Compile what a search calls, so that its time is not spent on that."""
    here = np.array([0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0])
    nothing = np.empty((0, N_DRAWS))
    trees, met, box = planted(here, here, 2), np.zeros(2, np.int64), np.zeros((2, 3))
    grow(world, trees, box, np.empty((0, N_STATE)), nothing, 0, desk, met)
    settle(world, here, box, nothing, desk, here.copy())
    leg_kept(world, here, here, desk)


def way_back(trees: Trees, side: int, node: int) -> list[Floats]:
    """Return the states from a node to the root of its tree."""
    way = []
    while node >= 0:
        way.append(trees.state[side, node].copy())
        node = int(trees.parent[side, node])
    return way


@compiled
def grow(
    world: Any, trees: Any, box: Any, guide: Any, draws: Any, most: int, desk: Any, met: Any
) -> int:
    """Draw one pose a row and grow both trees towards it; return how many motions were tried.

    Parameters
    ----------
    world : Packed
    trees : Trees
    box : ndarray, shape (2, 3), m, world
        Where the cargo's centre may be.
    guide : ndarray, shape (m, 7)
        States to draw at and near, in half of the rows; may be none.
    draws : ndarray, shape (n, N_DRAWS)
        Uniform numbers from 0 to 1.
    most : int
        Motions to try at most, about.
    desk
        Made by :func:`reach.paths.keeping.new_desk`.
    met : ndarray, shape (2,)
        Receives the node of either tree where they met, else -1.
    """
    tried = 0
    target = np.empty(N_STATE)
    met[0] = met[1] = -1
    for row in range(len(draws)):
        side = row % 2
        if tried >= most or trees.size.max() + _CHAIN + 1 >= trees.state.shape[1]:
            return tried
        _draw(world, trees, side, box, guide, draws[row], target)
        node, _, n = _step(world, trees, side, target, desk)
        tried += n
        if node < 0:
            continue
        for _ in range(_CHAIN):
            other, there, n = _step(world, trees, 1 - side, trees.state[side, node], desk)
            tried += n
            if there:
                met[side], met[1 - side] = node, other
                return tried
            if other < 0:
                break
    return tried


@compiled
def settle(world: Any, known: Any, box: Any, draws: Any, desk: Any, out: Any) -> bool:
    """Write a state near a known one that keeps every gap; return whether one was met.

    Looks closer by first: the farther it goes, the later the row.
    """
    out[:] = known
    if state_kept(world, out, desk):
        return True
    for row in range(len(draws)):
        draws[row, 2] = 1.0 - _FARTHEST * (row + draws[row, 2]) / len(draws)
        draw_near(world, known, box, draws[row], out)
        if state_kept(world, out, desk):
            return True
    return False


@compiled
def _step(world: Any, trees: Any, side: int, target: Any, desk: Any) -> tuple[int, bool, int]:
    """Add a node on the way to `target`; return it or -1, whether it got there, motions tried."""
    near = _nearest(world, trees, side, target)
    node = trees.size[side]
    state = trees.state[side]
    share = 1.0
    for k in range(_HALVINGS):
        between(state[near], target, share, state[node])
        if leg_kept(world, state[near], state[node], desk):
            trees.parent[side, node] = near
            trees.failed[side, node] = 0
            trees.size[side] += 1
            if k > 0:
                trees.failed[side, near] += 1
            return node, k == 0, k + 1
        share *= 0.5
    trees.failed[side, near] += 1
    return -1, False, _HALVINGS


@compiled
def _nearest(world: Any, trees: Any, side: int, target: Any) -> int:
    """Return the nearest node; those that steps failed from often count as farther."""
    best, lowest = 0, np.inf
    state = trees.state[side]
    for k in range(trees.size[side]):
        d2 = 0.0
        for i in range(3):
            d2 += (state[k, i] - target[i]) ** 2
        w = 0.0
        for i in range(3, 7):
            w += state[k, i] * target[i]
        d2 += 8.0 * world.arm * world.arm * (1.0 - abs(w))
        d2 *= 1.0 + 0.2 * trees.failed[side, k]
        if d2 < lowest:
            best, lowest = k, d2
    return best


@compiled
def _draw(world: Any, trees: Any, side: int, box: Any, guide: Any, u: Any, out: Any) -> None:
    """Write a drawn state from uniform numbers."""
    kind = u[0]
    if len(guide) > 0:
        if kind < _GUIDED:
            known = guide[int(u[1] * len(guide))]
            out[:] = known
            if kind > _EXACTLY:
                draw_near(world, known, box, u, out)
            return
        kind = (kind - _GUIDED) / (1.0 - _GUIDED)
    if kind < _AT_END:
        out[:] = trees.state[1 - side, 0]
        return
    start, goal = trees.state[0, 0], trees.state[1, 0]
    if kind < _NEAR:
        known = trees.state[side, int(u[1] * trees.size[side])]
        draw_near(world, known, box, u, out)
        return
    if kind < _ALONG:
        _draw_along(world, trees.state[side, int(u[1] * trees.size[side])], box, u, out)
        return
    _spin(u[4], u[5], u[6], out)
    if kind < _BETWEEN:
        between(start, goal, u[7], out)
    elif kind < _SQUARE:
        out[3:] = world.square[int(u[7] * len(world.square))]
    _place(world, box, u, out)


@compiled
def _place(world: Any, box: Any, u: Any, out: Any) -> None:
    """Put the cargo's centre anywhere in the box, turned as it is."""
    turn = np.empty((3, 3))
    fill_turn(out, turn)
    for i in range(3):
        out[i] = box[0, i] + u[1 + i] * (box[1, i] - box[0, i]) - _arm_of(world, turn, i)


@compiled
def _arm_of(world: Any, turn: Any, i: int) -> float:
    """Return how far (m, along a world axis) the centre is from the point that runs straight."""
    arm = 0.0
    for j in range(3):
        arm += turn[i, j] * (world.centre[j] - world.about[j])
    return arm


@compiled
def _spin(u: float, v: float, w: float, out: Any) -> None:
    """Write a rotation, uniform over all (Shoemake, Graphics Gems III, 1992)."""
    a, b = math.sqrt(1.0 - u), math.sqrt(u)
    p, q = 2.0 * math.pi * v, 2.0 * math.pi * w
    out[3], out[4] = a * math.sin(p), a * math.cos(p)
    out[5], out[6] = b * math.sin(q), b * math.cos(q)


@compiled
def _draw_along(world: Any, known: Any, box: Any, u: Any, out: Any) -> None:
    """Write a known state moved along the way some face of an obstacle looks, within the box."""
    axis = world.axes[int(u[2] * len(world.axes))]
    low, high = -np.inf, np.inf
    turn = np.empty((3, 3))
    fill_turn(known, turn)
    for i in range(3):
        if abs(axis[i]) > 1e-9:
            at = known[i] + _arm_of(world, turn, i)
            p, q = (box[0, i] - at) / axis[i], (box[1, i] - at) / axis[i]
            low, high = greatest(low, least(p, q)), least(high, greatest(p, q))
    out[:] = known
    if low <= 0.0 <= high:
        for i in range(3):
            out[i] += (low + u[3] * (high - low)) * axis[i]


@compiled
def draw_near(world: Any, known: Any, box: Any, u: Any, out: Any) -> None:
    """Write a state close to a known one: how close is drawn over three decades.

    Parameters
    ----------
    world : Packed
    known, out : ndarray, shape (7,)
    box : ndarray, shape (2, 3), m, world
        Where the cargo's centre may be.
    u : ndarray, shape (N_DRAWS,)
        Uniform numbers from 0 to 1; the first two are not used.
    """
    size = 10.0 ** (-3.0 * u[2])
    a = 2.0 * math.pi * u[3]
    z = 2.0 * u[4] - 1.0
    r = math.sqrt(1.0 - z * z)
    half = 0.5 * math.pi * size * u[5]
    s = math.sin(half)
    turned_by(known, math.cos(half), s * r * math.cos(a), s * r * math.sin(a), s * z, out)
    before, after = np.empty((3, 3)), np.empty((3, 3))
    fill_turn(known, before)
    fill_turn(out, after)
    for i in range(3):
        way = size * (2.0 * u[6 + i] - 1.0) * 4.0 * world.arm
        centre = known[i] + _arm_of(world, before, i) + way
        centre = least(greatest(centre, box[0, i]), box[1, i])
        out[i] = centre - _arm_of(world, after, i)
