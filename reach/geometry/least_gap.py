"""Search for the least gap of one leg: branch and bound over time and tree together.

For a span of time each axis is held against the tree as a patch
(:mod:`reach.geometry.motion`).  Triangles that could still be too near are
kept, and the span is halved for those alone; a patch that strays too far from
its axis is halved before it is held against anything.  The least gap seen so
far, at a true pose, is what all bounds are compared with.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry.compiled import compiled
from reach.geometry.distance import corners_of, segment_tree_distance2
from reach.geometry.motion import (
    Patch,
    ends_at,
    patch_box2,
    patch_frame,
    patch_triangle,
    stray,
    swing_radius,
)
from reach.geometry.triangle import INF, segment_triangle
from reach.geometry.vector import along, greatest, least, minus

_MOST_KEPT = 512
"""Most triangles kept for the halves of a span; with more, the halves ask the tree again."""

N_KEPT = 64 * _MOST_KEPT
N_SPANS = 64

_SHORTEST = 1e-12
"""Spans are not halved below this: 41 times at most, so that all fits the room."""

_SEEDS = (0.5, 0.0, 1.0)
_ROUGH = 0.02
_ROUGH_SHARE = 0.2
"""A patch may stray this far (m), or this share of the distance asked about."""


@compiled
def _target(goal: Any, found: Any) -> float:
    """Return how large a gap has to be proved before nothing more need be known of it."""
    return least(goal[1], found[0] - goal[0])


@compiled
def least_gap(
    tree: Any, motion: Any, radii: Any, deep: Any, goal: Any, found: Any, room: Any
) -> float:
    """Return a lower bound of the least gap of one leg.

    Parameters
    ----------
    tree : (tri, box, link)
    motion : (paths, step, angle)
        As :func:`reach.geometry.motion.fill_paths` makes them, two rows a capsule.
    radii, deep : ndarray, shape (m,), m
        `deep` is the gap of capsules that lie inside a solid, others ``inf``.
    goal : (close, certain, enough), m
        How near the bound has to come to the least gap seen, or from which
        height on it need not; and the gap below which to end at once.
    found : ndarray, shape (4,)
        Gap, time, capsule and row of ``tri`` of the least gap seen.  At first
        ``(cap, 0, -1, -1)``: gaps above the cap are not looked for.
    room : (stack, depth, spans, kept)
        Of `STACK`, `STACK`, (`NN_SPANS`, 4) and `N_KEPT` entries, to work in.

    Returns
    -------
    low : float, m
        Not rounded outward, and ``inf`` if all lies above the cap.  Minus the
        largest radius (or the deepest of `deep`) where it ended at once.
    """
    blind = np.inf
    low = np.inf
    for j in range(len(radii)):
        blind = least(blind, least(-radii[j], deep[j]))
        if deep[j] < np.inf:
            low = least(low, deep[j])
            if deep[j] < found[0]:
                found[0], found[1], found[2], found[3] = deep[j], 0.0, j, -1.0
    if found[0] < goal[2]:
        return blind
    for t in _SEEDS:
        for j in range(len(radii)):
            if deep[j] == np.inf:
                _look(tree, motion, j, radii[j], t, found, room)
                if found[0] < goal[2]:
                    return blind
    for j in range(len(radii)):
        if deep[j] == np.inf:
            low = least(low, _capsule_gap(tree, motion, j, radii[j], goal, found, room))
            if found[0] < goal[2]:
                return blind
    return low


@compiled
def _look(tree: Any, motion: Any, j: int, radius: float, t: float, found: Any, room: Any) -> None:
    """See whether capsule `j` at one time is nearer than all before."""
    bound = found[0] + radius
    if bound <= 0.0:
        return
    p, q = ends_at(motion[0], j, motion[1], motion[2], t)
    d2, k = segment_tree_distance2(tree[0], tree[1], tree[2], p, q, bound * bound, room[0], room[1])
    gap = math.sqrt(d2) - radius
    if k >= 0 and gap < found[0]:
        found[0], found[1], found[2], found[3] = gap, t, j, k


@compiled
def _capsule_gap(
    tree: Any, motion: Any, j: int, radius: float, goal: Any, found: Any, room: Any
) -> float:
    """Return a lower bound of the gap of one capsule, halving spans of time as needed."""
    spans, kept = room[2], room[3]
    swing = swing_radius(motion[0], j)
    low = np.inf
    spans[0] = (0.0, 1.0, -1.0, 0.0)
    n_spans = 1
    while n_spans > 0:
        n_spans -= 1
        t0, t1 = spans[n_spans, 0], spans[n_spans, 1]
        first, top = int(spans[n_spans, 2]), int(spans[n_spans, 3])
        if _target(goal, found) <= -radius:
            low = least(low, -radius)
            continue
        slack = stray(motion[2], swing, t1 - t0)
        below = top
        if slack <= greatest(_ROUGH, _ROUGH_SHARE * (found[0] + radius)):
            p0, q0 = ends_at(motion[0], j, motion[1], motion[2], t0)
            p1, q1 = ends_at(motion[0], j, motion[1], motion[2], t1)
            span = (t0, t1, slack, radius)
            if first < 0:
                bound, n_kept = _ask_tree(
                    tree, motion, j, (p0, q0, p1, q1), span, goal, found, room, top
                )
            else:
                bound, n_kept = _ask_kept(
                    tree, motion, j, (p0, q0, p1, q1), span, goal, found, kept, first, top
                )
            low = least(low, bound)
            if found[0] < goal[2]:
                return low
            if n_kept == 0:
                continue
            first = top if n_kept > 0 else -1
            if n_kept > 0:
                below = top + n_kept
        if t1 - t0 < _SHORTEST or n_spans + 2 > len(spans):
            low = least(low, -radius)
            continue
        middle = 0.5 * (t0 + t1)
        spans[n_spans] = (middle, t1, float(first), float(below))
        spans[n_spans + 1] = (t0, middle, float(first), float(below))
        n_spans += 2
    return low


@compiled
def _ask_tree(
    tree: Any,
    motion: Any,
    j: int,
    patch: Patch,
    span: Any,
    goal: Any,
    found: Any,
    room: Any,
    top: int,
) -> tuple[float, int]:
    """Hold a patch against the tree.

    Returns
    -------
    low : float, m
        Lower bound of the gap to all that need not be looked at again.
    n_kept : int
        Triangles kept from place `top` on; -1 where they were too many.
    """
    tri, box, link = tree
    stack, depth, _, kept = room
    _, _, slack, radius = span
    extra = slack + radius
    frame = patch_frame(patch)
    low = np.inf
    passed2 = np.inf
    n_kept = 0
    stack[0] = 0
    depth[0] = 0.0
    n_stack = 1
    reach = greatest(_target(goal, found) + extra, 0.0)
    while n_stack > 0:
        n_stack -= 1
        if depth[n_stack] >= reach * reach:
            passed2 = least(passed2, depth[n_stack])
            continue
        near = link[stack[n_stack], 0]
        count = link[stack[n_stack], 1]
        while near >= 0:
            far = near + 1
            d_near = patch_box2(frame, box, near)
            d_far = patch_box2(frame, box, far)
            if d_far < d_near:
                near, far = far, near
                d_near, d_far = d_far, d_near
            if d_far >= reach * reach:
                passed2 = least(passed2, d_far)
            else:
                stack[n_stack] = far
                depth[n_stack] = d_far
                n_stack += 1
            if d_near >= reach * reach:
                passed2 = least(passed2, d_near)
                break
            count = link[near, 1]
            near = link[near, 0]
        if near >= 0:
            continue
        for k in range(-near - 1, -near - 1 + count):
            bound = _triangle_gap(tri, k, motion, j, patch, span, goal, found)
            if bound >= _target(goal, found):
                low = least(low, bound)
            elif n_kept == _MOST_KEPT:
                return low, -1
            else:
                kept[top + n_kept] = k
                n_kept += 1
        if found[0] < goal[2]:
            break
        reach = greatest(_target(goal, found) + extra, 0.0)
    return least(low, math.sqrt(passed2) - extra), n_kept


@compiled
def _ask_kept(
    tree: Any,
    motion: Any,
    j: int,
    patch: Patch,
    span: Any,
    goal: Any,
    found: Any,
    kept: Any,
    first: int,
    top: int,
) -> tuple[float, int]:
    """Hold a patch against the triangles kept in places `first` to `top`; see `_ask_tree`."""
    low = np.inf
    n_kept = 0
    for place in range(first, top):
        k = kept[place]
        bound = _triangle_gap(tree[0], k, motion, j, patch, span, goal, found)
        if bound >= _target(goal, found):
            low = least(low, bound)
        else:
            kept[top + n_kept] = k
            n_kept += 1
        if found[0] < goal[2]:
            break
    return low, n_kept


@compiled
def _triangle_gap(
    tri: Any, k: int, motion: Any, j: int, patch: Patch, span: Any, goal: Any, found: Any
) -> float:
    """Return a lower bound of the gap to triangle `k`; see whether it is nearer than all before."""
    t0, t1, slack, radius = span
    asked = _target(goal, found) + slack + radius
    low, f, d = patch_triangle(patch, tri, k, asked, 0.1 * goal[0])
    if d - slack < found[0] + radius:
        t = t0 + f * (t1 - t0)
        p, q = ends_at(motion[0], j, motion[1], motion[2], t)
        a, b, c = corners_of(tri, k)
        gap = math.sqrt(segment_triangle(p, minus(q, p), a, b, c, INF)[0]) - radius
        if gap < found[0]:
            found[0], found[1], found[2], found[3] = gap, t, j, k
    gap_low: float = greatest(low - slack, 0.0) - radius
    return gap_low


@compiled
def show_witness(
    tree: Any, motion: Any, radii: Any, found: Any, room: Any, row: Any, points: Any
) -> None:
    """Write capsule, triangle and both points of the least gap seen.

    The triangle that gave it away need not be the nearest one at that time:
    `found` receives the gap to that one.

    Parameters
    ----------
    tree, motion, radii, found, room
        As :func:`least_gap` had and left them.
    row : ndarray of int64, shape (2,)
        Receives capsule and row of ``tri``.
    points : ndarray, shape (2, 3), m, world
        Receives the points on axis and surface.
    """
    j = int(found[2])
    p, q = ends_at(motion[0], j, motion[1], motion[2], found[1])
    d2, k = segment_tree_distance2(tree[0], tree[1], tree[2], p, q, INF, room[0], room[1])
    if found[3] >= 0.0:
        found[0] = least(math.sqrt(d2) - radii[j], found[0])
    a, b, c = corners_of(tree[0], k)
    u = minus(q, p)
    _, s, v, w = segment_triangle(p, u, a, b, c, INF)
    on_axis = along(p, s, u)
    on_mesh = along(along(a, v, minus(b, a)), w, minus(c, a))
    row[0], row[1] = j, k
    for i in range(3):
        points[0, i] = on_axis[i]
        points[1, i] = on_mesh[i]
