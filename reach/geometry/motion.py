"""Straight axes carried along by a rigid body, and what bounds the space they sweep.

A body moves from one pose to another: one of its points runs straight, and the
body turns about that point at a constant rate, about one axis, the shortest
way.  Within a short time a carried axis stays close to a *patch*: the ruled
surface between where it is at the start and at the end.  A body point whose
acceleration is at most ``a`` strays from the straight line between its two
places by at most ``a T^2 / 8`` in a time ``T``; turning at ``w`` gives
``a = w^2 r`` at a distance ``r`` from the turning axis, greatest at an end of
the carried axis.  Pure translation has no such slack.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry.compiled import compiled, inlined
from reach.geometry.distance import corners_of
from reach.geometry.tree import Floats
from reach.geometry.triangle import INF, segment_triangle
from reach.geometry.vector import Vector, along, cross, dot, greatest, least, minus, plus

Ends = tuple[Vector, Vector]
Patch = tuple[Vector, Vector, Vector, Vector]
"""Ends of an axis at the start of a time, then at its end: p0, q0, p1, q1."""

_STILL = 1e-11
"""Turns below this (rad) are rounding of the poses: at 30 m they move nothing by 1e-9 m."""

_STEPS = 12
"""Most cuts at one triangle; smooth cases take two to four."""


def turn_between(start: Floats, stop: Floats) -> tuple[Floats, Floats]:
    """Return axis and angle of the shortest turn from one rotation to another.

    Parameters
    ----------
    start, stop : ndarray, shape (n, 3, 3)
        ``world_from_body``.

    Returns
    -------
    axis : ndarray, shape (n, 3), body
        Of length 1; z where there is no turn.
    angle : ndarray, shape (n,), rad
        From 0 to pi.  At pi both ways are as short; one of them is taken,
        always the same for the same numbers.

    Notes
    -----
    By way of the unit quaternion, from the largest of its four components
    (Shepperd, Quaternion from rotation matrix, J. Guidance and Control 1,
    1978), so that angles near 0 and near pi keep all their digits.
    """
    if np.array_equal(start, stop):
        # What follows gives this to the last digit: the product is symmetric.
        return np.tile([0.0, 0.0, 1.0], (len(start), 1)), np.zeros(len(start))
    r = np.einsum("nji,njk->nik", start, stop)
    xx, yy, zz = r[:, 0, 0], r[:, 1, 1], r[:, 2, 2]
    x, y, z = (r[:, i, j] - r[:, j, i] for i, j in ((2, 1), (0, 2), (1, 0)))
    xy, yz, zx = (r[:, i, j] + r[:, j, i] for i, j in ((0, 1), (1, 2), (2, 0)))
    rows = np.array(
        [
            [1.0 + xx + yy + zz, x, y, z],
            [x, 1.0 + xx - yy - zz, xy, zx],
            [y, xy, 1.0 - xx + yy - zz, yz],
            [z, zx, yz, 1.0 - xx - yy + zz],
        ]
    )
    largest = np.argmax(np.diagonal(rows, axis1=0, axis2=1), axis=1)
    quaternion = rows[largest, :, np.arange(len(r))]
    quaternion[quaternion[:, 0] < 0.0] *= -1.0
    length = np.linalg.norm(quaternion[:, 1:], axis=1)
    angle = 2.0 * np.arctan2(length, quaternion[:, 0])
    angle[angle < _STILL] = 0.0
    turns = angle > 0.0
    axis = np.tile([0.0, 0.0, 1.0], (len(r), 1))
    axis[turns] = quaternion[turns, 1:] / length[turns, None]
    return axis, angle


@compiled
def fill_paths(turn: Any, origin: Any, axis: Any, arms: Any, paths: Any) -> None:
    """Write how each body point moves: ``a + t step + cos(t angle) b + sin(t angle) c``.

    Parameters
    ----------
    turn : ndarray, shape (3, 3)
        ``world_from_body`` at time 0.
    origin : ndarray, shape (3,), m, world
        Where the point that runs straight is at time 0.
    axis : ndarray, shape (3,), body
    arms : ndarray, shape (k, 3), m, body
        Body points from the one that runs straight.
    paths : ndarray, shape (k, 3, 3), m, world
        Receives a, b, c of each.
    """
    a = (axis[0], axis[1], axis[2])
    for k in range(len(arms)):
        arm = (arms[k, 0], arms[k, 1], arms[k, 2])
        height = dot(arm, a)
        foot = (height * a[0], height * a[1], height * a[2])
        out = minus(arm, foot)
        side = cross(a, out)
        for i in range(3):
            row = (turn[i, 0], turn[i, 1], turn[i, 2])
            paths[k, 0, i] = origin[i] + dot(row, foot)
            paths[k, 1, i] = dot(row, out)
            paths[k, 2, i] = dot(row, side)


@compiled
def ends_at(paths: Any, j: int, step: Any, angle: float, t: float) -> Ends:
    """Return the ends of axis `j` (m, world) at time `t`; rows ``2 j, 2 j + 1`` of `paths`."""
    c = math.cos(angle * t)
    s = math.sin(angle * t)
    return (
        _place(paths[2 * j], step, t, c, s),
        _place(paths[2 * j + 1], step, t, c, s),
    )


@inlined
def _place(path: Any, step: Any, t: float, c: float, s: float) -> Vector:
    return (
        path[0, 0] + t * step[0] + c * path[1, 0] + s * path[2, 0],
        path[0, 1] + t * step[1] + c * path[1, 1] + s * path[2, 1],
        path[0, 2] + t * step[2] + c * path[1, 2] + s * path[2, 2],
    )


@compiled
def swing_radius(paths: Any, j: int) -> float:
    """Return how far (m) axis `j` reaches from the turning axis, a little too much on purpose."""
    most = 0.0
    for k in (2 * j, 2 * j + 1):
        for i in (1, 2):
            b = (paths[k, i, 0], paths[k, i, 1], paths[k, i, 2])
            most = greatest(most, dot(b, b))
    return 1.000001 * math.sqrt(most)


@inlined
def stray(angle: float, radius: float, duration: float) -> float:
    """Return how far (m) an axis may be from its patch: ``w^2 r T^2 / 8``."""
    turned = angle * duration
    return 0.125 * turned * turned * radius


@inlined
def patch_frame(patch: Patch) -> Patch:
    """Return middle, half axis, half motion and twist of a patch.

    Its points are ``middle + s axis + f motion + s f twist``, s and f from -1 to 1.
    """
    p0, q0, p1, q1 = patch
    along0, along1 = minus(q0, p0), minus(q1, p1)
    low, high = plus(p0, q0), plus(p1, q1)
    middle, axis = plus(low, high), plus(along0, along1)
    motion, twist = minus(high, low), minus(along1, along0)
    return (
        (0.25 * middle[0], 0.25 * middle[1], 0.25 * middle[2]),
        (0.25 * axis[0], 0.25 * axis[1], 0.25 * axis[2]),
        (0.25 * motion[0], 0.25 * motion[1], 0.25 * motion[2]),
        (0.25 * twist[0], 0.25 * twist[1], 0.25 * twist[2]),
    )


@inlined
def _share(d: Vector, u: Vector) -> float:
    uu = dot(u, u)
    return least(greatest(dot(d, u) / uu, -1.0), 1.0) if uu > 0.0 else 0.0


@compiled
def patch_box2(frame: Patch, box: Any, node: int) -> float:
    """Return a lower bound (m^2) of the squared distance of a patch to box `node`.

    The larger of two: the gap between the boxes round both, and the gap along
    the line from about the nearest point of the patch to the box's centre.
    """
    middle, axis, motion, twist = frame
    r = (
        0.5 * (box[node, 3] - box[node, 0]),
        0.5 * (box[node, 4] - box[node, 1]),
        0.5 * (box[node, 5] - box[node, 2]),
    )
    d = (
        box[node, 0] + r[0] - middle[0],
        box[node, 1] + r[1] - middle[1],
        box[node, 2] + r[2] - middle[2],
    )
    gap2 = 0.0
    for i in range(3):
        span = greatest(
            abs(axis[i] + twist[i]) + abs(motion[i]), abs(axis[i] - twist[i]) + abs(motion[i])
        )
        gap = greatest(abs(d[i]) - span - r[i], 0.0)
        gap2 += gap * gap
    f = _share(d, motion)
    s = _share(along(d, -f, motion), along(axis, f, twist))
    f = _share(along(d, -s, axis), along(motion, s, twist))
    n = along(along(along(d, -s, axis), -f, motion), -s * f, twist)
    a, m, t = dot(n, axis), dot(n, motion), dot(n, twist)
    most = greatest(abs(a + t) + m, abs(a - t) - m)
    gap = dot(n, d) - most - abs(n[0]) * r[0] - abs(n[1]) * r[1] - abs(n[2]) * r[2]
    nn = dot(n, n)
    if gap > 0.0 and gap * gap > gap2 * nn:
        gap2 = gap * gap / nn
    return gap2


@compiled
def patch_triangle(
    patch: Patch, tri: Any, k: int, enough: float, close: float
) -> tuple[float, float, float]:
    """Return a lower bound of the distance of a patch to triangle `k`, and a near place.

    Each trial time gives the exact distance of the axis to the triangle there
    and a direction that separates the two.  Along that direction the gap of
    patch and triangle is at least a linear function of time; two such lines,
    one falling and one rising, cross at the next trial.  For a translation this
    closes in on the distance of the triangle to the swept parallelogram.

    Parameters
    ----------
    patch : Patch
    tri : ndarray, shape (n, 9), m
    k : int
    enough : float, m
        The search ends once the bound is this high,
    close : float, m
        or once bound and distance are this close.

    Returns
    -------
    low : float, m
        Not negative.
    f : float
        From 0 to 1: when the patch's axis was nearest of the trials.
    d : float, m
        How near.
    """
    p0, q0, p1, q1 = patch
    a, b, c = corners_of(tri, k)
    p_step, q_step = minus(p1, p0), minus(q1, q0)
    f = _first_trial(patch, a, b, c)
    low = 0.0
    best = INF
    best_f = f
    falling0 = falling1 = rising0 = rising1 = -INF
    for _ in range(_STEPS):
        p = along(p0, f, p_step)
        u = minus(along(q0, f, q_step), p)
        _, s, v, w = segment_triangle(p, u, a, b, c, INF)
        on_mesh = along(along(a, v, minus(b, a)), w, minus(c, a))
        n = minus(along(p, s, u), on_mesh)
        d = math.sqrt(dot(n, n))
        if d < best:
            best = d
            best_f = f
        if d < 1e-12:
            return low, best_f, 0.0
        n = (n[0] / d, n[1] / d, n[2] / d)
        top = greatest(dot(n, a), greatest(dot(n, b), dot(n, c)))
        gap0 = least(dot(n, p0), dot(n, q0)) - top
        gap1 = least(dot(n, p1), dot(n, q1)) - top
        if gap1 < gap0:
            falling0, falling1 = gap0, gap1
        else:
            rising0, rising1 = gap0, gap1
        if falling1 >= rising1:
            f_next, bound = 1.0, falling1
        elif rising0 >= falling0:
            f_next, bound = 0.0, rising0
        else:
            drop, climb = falling0 - rising0, rising1 - falling1
            f_next = drop / (drop + climb)
            bound = least(
                falling0 + f_next * (falling1 - falling0), rising0 + f_next * (rising1 - rising0)
            )
        low = greatest(bound, low)
        if low >= enough or best - low < close or abs(f_next - f) < 1e-9:
            break
        f = f_next
    return low, best_f, best


@inlined
def _first_trial(patch: Patch, a: Vector, b: Vector, c: Vector) -> float:
    """Return the time from 0 to 1 at which the patch's middle passes the triangle's centre."""
    p0, q0, p1, q1 = patch
    low, high = plus(p0, q0), plus(p1, q1)
    motion = minus(high, low)
    mm = dot(motion, motion)
    centre = plus(plus(a, b), c)
    d = (
        0.6666666666666666 * centre[0] - low[0],
        0.6666666666666666 * centre[1] - low[1],
        0.6666666666666666 * centre[2] - low[2],
    )
    return least(greatest(dot(d, motion) / mm, 0.0), 1.0) if mm > 0.0 else 0.5
