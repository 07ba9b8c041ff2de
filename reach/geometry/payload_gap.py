"""Search for the least gap of a carried mesh: branch and bound over two trees and time.

An entry of the search is a node of the payload, a node of the scene and a span
of time.  It is dropped once a direction shows that the two stay farther apart
than anyone needs to know; otherwise it is halved where it is largest.  An
entry hands on the direction that served it best: what parts two boxes parts
most of what lies in them.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry.carried import (
    N_NOW,
    box_low,
    corner_low,
    fill_corner,
    fill_hull,
    set_span,
    turned,
    turned_back,
)
from reach.geometry.compiled import compiled, inlined
from reach.geometry.distance import corners_of
from reach.geometry.tree import LEAF
from reach.geometry.triangle import INF
from reach.geometry.triangle_pair import triangle_triangle
from reach.geometry.vector import Vector, dot, greatest, least, minus

_ENTRIES = 256
"""Two trees at most 91 deep and 41 halvings of time: each level adds one entry."""

_SHORTEST = 1e-12
_SWING = 0.25
"""A span is halved while a payload node moves by more than this share of the larger half edge."""

_NONE = (0.0, 0.0, 0.0)


@inlined
def _target(goal: Any, found: Any) -> float:
    """Return how large a gap has to be proved before nothing more need be known of it."""
    return least(goal[1], goal[3] * found[0] - goal[0])


@compiled
def new_room() -> Any:
    """Return the arrays a search works in; they may serve any number of searches."""
    return (
        np.empty((_ENTRIES, 2), np.int32),
        np.empty((_ENTRIES, 12)),
        np.full(N_NOW, np.nan),
        np.empty((3 * LEAF, 10)),
        np.full(3, np.nan),
        np.empty(LEAF),
        np.empty(6),
    )


@inlined
def _middle(box: Any, node: int, about: Any) -> tuple[Vector, Vector]:
    """Return centre, from the point that runs straight, and half edges of a payload node."""
    return (
        (
            0.5 * (box[node, 0] + box[node, 3]) - about[0],
            0.5 * (box[node, 1] + box[node, 4]) - about[1],
            0.5 * (box[node, 2] + box[node, 5]) - about[2],
        ),
        (
            0.5 * (box[node, 3] - box[node, 0]),
            0.5 * (box[node, 4] - box[node, 1]),
            0.5 * (box[node, 5] - box[node, 2]),
        ),
    )


@inlined
def _top(box: Any, node: int, n: Vector) -> float:
    """Return the highest ``n . x`` (m) over a scene node."""
    top = 0.0
    for i in range(3):
        top += n[i] * (box[node, 3 + i] if n[i] > 0.0 else box[node, i])
    return top


@compiled
def _hull_gap(hull: Any, box: Any, node: int) -> tuple[float, Vector]:
    """Return the gap (m) between what is swept and a scene node, and its direction."""
    x = greatest(hull[0] - box[node, 3], 0.0) - greatest(box[node, 0] - hull[3], 0.0)
    y = greatest(hull[1] - box[node, 4], 0.0) - greatest(box[node, 1] - hull[4], 0.0)
    z = greatest(hull[2] - box[node, 5], 0.0) - greatest(box[node, 2] - hull[5], 0.0)
    gap = math.sqrt(x * x + y * y + z * z)
    if gap > 0.0:
        return gap, (x / gap, y / gap, z / gap)
    return 0.0, _NONE


@compiled
def _own_direction(now: Any, c: Vector, half: Vector, box: Any, node: int) -> Vector:
    """Return the direction of the gap between a payload box and a scene node turned its way."""
    h = (
        0.5 * (box[node, 3] - box[node, 0]),
        0.5 * (box[node, 4] - box[node, 1]),
        0.5 * (box[node, 5] - box[node, 2]),
    )
    d = turned_back(
        now,
        (
            now[9] - box[node, 0] - h[0],
            now[10] - box[node, 1] - h[1],
            now[11] - box[node, 2] - h[2],
        ),
    )
    g0, g1, g2 = 0.0, 0.0, 0.0
    for i in range(3):
        reach = abs(now[i]) * h[0] + abs(now[3 + i]) * h[1] + abs(now[6 + i]) * h[2] + half[i]
        at = d[i] + c[i]
        g = greatest(at - reach, 0.0) - greatest(-at - reach, 0.0)
        if i == 0:
            g0 = g
        elif i == 1:
            g1 = g
        else:
            g2 = g
    size = math.sqrt(g0 * g0 + g1 * g1 + g2 * g2)
    return turned(now, (g0 / size, g1 / size, g2 / size)) if size > 0.0 else _NONE


@compiled
def _nodes_gap(
    now: Any,
    body: Any,
    a: int,
    box: Any,
    b: int,
    hull: Any,
    known: Vector,
    target: float,
) -> tuple[float, Vector]:
    """Return a lower bound of the gap of two nodes over the span, and the direction it is seen in.

    Tries the direction handed on, that between the boxes in the world and that
    between them in the payload's frame, until one suffices.
    """
    gap, between = _hull_gap(hull, box, b)
    if gap >= target:
        return gap, between
    best, best_n = gap, between
    box_a, axis, about = body
    c, half = _middle(box_a, a, about)
    for trial in range(3):
        if trial == 0:
            n = known
        elif trial == 1:
            n = _own_direction(now, c, half, box, b)
        else:
            n = between
        if n[0] == 0.0 and n[1] == 0.0 and n[2] == 0.0:
            continue
        low = box_low(now, n, c, half, axis) - _top(box, b, n)
        if low > best:
            best, best_n = low, n
            if best >= target:
                break
    return best, best_n


@compiled
def least_payload_gap(
    scene: Any, payload: Any, motion: Any, about: Any, span: Any, goal: Any, found: Any, room: Any
) -> float:
    """Return a lower bound of the gap of a carried mesh over a span of its motion.

    Parameters
    ----------
    scene, payload : (tri, box, link)
    motion : (turn, origin, step, axis, angle)
        As for :func:`reach.geometry.carried.set_span`.
    about : ndarray, shape (3,), m, body
        The point that runs straight.
    span : (t0, t1)
    goal : (close, certain, enough, share), m
        How near the bound has to come to the least gap seen, or from which
        height on it need not; and the gap below which to end at once.  With a
        `share` below 1 it need only come near that share of the least gap: a
        quick look.
    found : ndarray, shape (4,)
        Gap, time, row of the payload's ``tri``, row of the scene's ``tri`` of
        the least gap seen.  At first ``(cap, 0, -1, -1)``.
    room
        Made by :func:`new_room`.

    Returns
    -------
    low : float, m
        Not rounded outward, ``inf`` if all lies above the cap, 0 where it
        ended at once.
    """
    nodes, spans, now, hull = room[0], room[1], room[2], room[6]
    now[19] = np.nan
    room[4][0] = np.nan
    body = (payload[1], motion[3], about)
    low = np.inf
    set_span(motion, span[0], span[1], now)
    c, half = _middle(payload[1], 0, about)
    fill_hull(now, c, half, motion[3], hull)
    bound, n = _nodes_gap(now, body, 0, scene[1], 0, hull, _NONE, INF)
    nodes[0, 0] = nodes[0, 1] = 0
    _put(spans, 0, span[0], span[1], bound, n, hull)
    n_entries = 1
    while n_entries > 0:
        n_entries -= 1
        bound = spans[n_entries, 2]
        if bound >= _target(goal, found):
            low = least(low, bound)
            continue
        a, b = nodes[n_entries, 0], nodes[n_entries, 1]
        t0, t1 = spans[n_entries, 0], spans[n_entries, 1]
        n = (spans[n_entries, 3], spans[n_entries, 4], spans[n_entries, 5])
        for i in range(6):
            hull[i] = spans[n_entries, 6 + i]
        set_span(motion, t0, t1, now)
        if payload[2][a, 0] < 0 and scene[2][b, 0] < 0:
            worst, n = _leaves_gap(scene, payload, motion, about, a, b, n, goal, found, room)
            if found[0] <= 0.0 or found[0] < goal[2]:
                return 0.0
            worst = greatest(worst, bound)
            if worst >= _target(goal, found) or t1 - t0 < _SHORTEST:
                low = least(low, worst)
                continue
            middle = 0.5 * (t0 + t1)
            nodes[n_entries + 1] = nodes[n_entries]
            _put(spans, n_entries, middle, t1, worst, n, hull)
            _put(spans, n_entries + 1, t0, middle, worst, n, hull)
            n_entries += 2
            continue
        split = _largest(now, payload, scene, motion, about, a, b, t1 - t0)
        first = n_entries
        for child in range(2):
            ca, cb, c0, c1 = a, b, t0, t1
            if split == 0:
                ca = payload[2][a, 0] + child
            elif split == 1:
                cb = scene[2][b, 0] + child
            elif child == 0:
                c1 = 0.5 * (t0 + t1)
            else:
                c0 = 0.5 * (t0 + t1)
            set_span(motion, c0, c1, now)
            if split != 1:
                c, half = _middle(payload[1], ca, about)
                fill_hull(now, c, half, motion[3], hull)
            target = _target(goal, found)
            gap, m = _nodes_gap(now, body, ca, scene[1], cb, hull, n, target)
            gap = greatest(gap, bound)
            if gap >= target:
                low = least(low, gap)
                continue
            at = n_entries
            if n_entries > first and spans[first, 2] < gap:
                nodes[at], spans[at] = nodes[first], spans[first]
                at = first
            nodes[at, 0], nodes[at, 1] = ca, cb
            _put(spans, at, c0, c1, gap, m, hull)
            n_entries += 1
    return low


@inlined
def _put(spans: Any, at: int, t0: float, t1: float, low: float, n: Vector, hull: Any) -> None:
    spans[at, 0], spans[at, 1], spans[at, 2] = t0, t1, low
    spans[at, 3], spans[at, 4], spans[at, 5] = n
    for i in range(6):
        spans[at, 6 + i] = hull[i]


@compiled
def _largest(
    now: Any, payload: Any, scene: Any, motion: Any, about: Any, a: int, b: int, duration: float
) -> int:
    """Return what to halve: 0 the payload's node, 1 the scene's, 2 the time."""
    c, half = _middle(payload[1], a, about)
    size_b = _middle(scene[1], b, about)[1]
    x = greatest(half[0], greatest(half[1], half[2]))
    y = greatest(size_b[0], greatest(size_b[1], size_b[2]))
    axis = (motion[3][0], motion[3][1], motion[3][2])
    height = dot(axis, c)
    rho = math.sqrt(greatest(dot(c, c) - height * height, 0.0)) + x
    step = (now[12], now[13], now[14])
    moved = math.sqrt(dot(step, step)) + now[18] * rho
    if moved > _SWING * greatest(x, y) and duration >= _SHORTEST:
        return 2
    if scene[2][b, 0] < 0 or (payload[2][a, 0] >= 0 and x > y):
        return 0
    return 1


@compiled
def _leaves_gap(
    scene: Any,
    payload: Any,
    motion: Any,
    about: Any,
    a: int,
    b: int,
    known: Vector,
    goal: Any,
    found: Any,
    room: Any,
) -> tuple[float, Vector]:
    """Return a lower bound of the gap of two leaves over the span, and a direction to try next.

    In one direction a bound of every pair of triangles costs one sum; only
    pairs that it leaves open are asked for their distance.
    """
    now, corners, held, lows = room[2], room[3], room[4], room[5]
    first_a, n_a = -payload[2][a, 0] - 1, payload[2][a, 1]
    first_b, n_b = -scene[2][b, 0] - 1, scene[2][b, 1]
    if held[0] != a or held[1] != now[19] or held[2] != now[20]:
        held[0], held[1], held[2] = a, now[19], now[20]
        for i in range(n_a):
            for j in range(3):
                p = (
                    payload[0][first_a + i, 3 * j] - about[0],
                    payload[0][first_a + i, 3 * j + 1] - about[1],
                    payload[0][first_a + i, 3 * j + 2] - about[2],
                )
                fill_corner(now, p, motion[3], corners[3 * i + j])
    has_known = known[0] != 0.0 or known[1] != 0.0 or known[2] != 0.0
    for i in range(n_a):
        lows[i] = _triangle_low(now, known, corners, i) if has_known else -np.inf
    worst, worst_n = np.inf, known
    for k in range(first_b, first_b + n_b):
        d, e, f = corners_of(scene[0], k)
        top = greatest(dot(known, d), greatest(dot(known, e), dot(known, f)))
        for i in range(n_a):
            low = lows[i] - top
            if low < _target(goal, found):
                low, n = _pair_gap(now, corners, i, (d, e, f), first_a + i, k, found)
                low = greatest(low, lows[i] - top)
                if low < worst:
                    worst_n = n
            worst = least(worst, low)
            if found[0] <= 0.0 or found[0] < goal[2]:
                return 0.0, worst_n
    return worst, worst_n


@inlined
def _triangle_low(now: Any, n: Vector, corners: Any, i: int) -> float:
    return least(
        corner_low(now, n, corners[3 * i]),
        least(corner_low(now, n, corners[3 * i + 1]), corner_low(now, n, corners[3 * i + 2])),
    )


@compiled
def _pair_gap(
    now: Any, corners: Any, i: int, other: Any, row_a: int, row_b: int, found: Any
) -> tuple[float, Vector]:
    """Return a lower bound of the gap of two triangles over the span, and its direction."""
    a = (corners[3 * i, 0], corners[3 * i, 1], corners[3 * i, 2])
    b = (corners[3 * i + 1, 0], corners[3 * i + 1, 1], corners[3 * i + 1, 2])
    c = (corners[3 * i + 2, 0], corners[3 * i + 2, 1], corners[3 * i + 2, 2])
    d2, p, q = triangle_triangle((a, b, c), other)
    d = math.sqrt(d2)
    if d < found[0]:
        found[0], found[1] = d, now[19]
        found[2], found[3] = row_a, row_b
    if d <= 0.0:
        return 0.0, _NONE
    n = minus(p, q)
    n = (n[0] / d, n[1] / d, n[2] / d)
    top = greatest(dot(n, other[0]), greatest(dot(n, other[1]), dot(n, other[2])))
    return greatest(_triangle_low(now, n, corners, i) - top, 0.0), n
