"""Boxes and triangles carried along by a rigid body: how low they come in a span of time.

"Low" is along a direction ``n`` that points from the scene to the body.  From
the middle of the span a body point moves along ``n`` by its velocity there,
plus what its acceleration makes of it.  The only acceleration is towards the
turning axis, ``-w^2 r``, ``r`` from the axis to the point; it lowers the point
only where ``r`` points up.  So a part of a spinning body that is turned to the
scene needs no allowance for its curved way, and each point pays for its own
velocity alone: what moves along the scene costs nothing.

All compiled routines share the array ``now``, shape (21,), filled by
:func:`set_span`: rotation ``world_from_body`` at the middle of the span
(0 to 8), place of the point that runs straight (9 to 11), its half motion
(12 to 14), half turn times the axis in the world (15 to 17), half turn (18),
middle and half length of the span (19, 20).
"""

from __future__ import annotations

import math
from typing import Any

from reach.geometry.compiled import compiled, inlined
from reach.geometry.vector import Vector, cross, dot, greatest, least

N_NOW = 21


@compiled
def set_span(motion: Any, t0: float, t1: float, now: Any) -> None:
    """Fill `now` for the span from `t0` to `t1`, unless it is for that span already.

    Parameters
    ----------
    motion : (turn, origin, step, axis, angle)
        Rotation at time 0, shape (3, 3); start and motion of the point that
        runs straight, m, world; turning axis, body; angle from time 0 to 1, rad.
    now : ndarray, shape (21,)
        ``nan`` at first.
    """
    middle = 0.5 * (t0 + t1)
    half = 0.5 * (t1 - t0)
    if now[19] == middle and now[20] == half:
        return
    turn, origin, step, axis, angle = motion
    x, y, z = axis[0], axis[1], axis[2]
    c, s = math.cos(angle * middle), math.sin(angle * middle)
    k = 1.0 - c
    for i in range(3):
        p, q, r = turn[i, 0], turn[i, 1], turn[i, 2]
        now[3 * i] = p * (c + x * x * k) + q * (x * y * k + z * s) + r * (x * z * k - y * s)
        now[3 * i + 1] = p * (x * y * k - z * s) + q * (c + y * y * k) + r * (y * z * k + x * s)
        now[3 * i + 2] = p * (x * z * k + y * s) + q * (y * z * k - x * s) + r * (c + z * z * k)
        now[9 + i] = origin[i] + middle * step[i]
        now[12 + i] = half * step[i]
        now[15 + i] = angle * half * (p * x + q * y + r * z)
    now[18] = angle * half
    now[19] = middle
    now[20] = half


@inlined
def turned(now: Any, v: Vector) -> Vector:
    """Return a body vector in the world."""
    return (
        now[0] * v[0] + now[1] * v[1] + now[2] * v[2],
        now[3] * v[0] + now[4] * v[1] + now[5] * v[2],
        now[6] * v[0] + now[7] * v[1] + now[8] * v[2],
    )


@inlined
def turned_back(now: Any, v: Vector) -> Vector:
    """Return a world vector in the body's frame."""
    return (
        now[0] * v[0] + now[3] * v[1] + now[6] * v[2],
        now[1] * v[0] + now[4] * v[1] + now[7] * v[2],
        now[2] * v[0] + now[5] * v[1] + now[8] * v[2],
    )


@inlined
def bend(now: Any, up: float, rho: float) -> float:
    """Return how far (m) turning lowers points beyond what their velocity does.

    Parameters
    ----------
    up : float, m
        Most that ``n . r`` can be in the middle of the span.
    rho : float, m
        Most that the length of ``r`` can be.
    """
    turn = now[18]
    lower: float = 0.5 * turn * turn * least(greatest(up + turn * rho, 0.0), rho)
    return lower


@compiled
def box_low(now: Any, n: Vector, c: Vector, half: Vector, axis: Any) -> float:
    """Return a lower bound of ``n . x`` over a body box and the span.

    Parameters
    ----------
    now : ndarray
    n : (x, y, z), world
        Of length 1.
    c, half : (x, y, z), m, body
        Centre, from the point that runs straight, and half edges of the box.
    axis : ndarray, shape (3,), body
        The turning axis.
    """
    m = turned_back(now, n)
    k = turned_back(now, cross(n, (now[15], now[16], now[17])))
    middle = n[0] * now[9] + n[1] * now[10] + n[2] * now[11] + dot(m, c)
    slope = n[0] * now[12] + n[1] * now[13] + n[2] * now[14] + dot(k, c)
    later = middle + slope
    sooner = middle - slope
    for i in range(3):
        later -= abs(m[i] + k[i]) * half[i]
        sooner -= abs(m[i] - k[i]) * half[i]
    low = least(later, sooner)
    if now[18] > 0.0:
        a = (axis[0], axis[1], axis[2])
        height = dot(a, c)
        size = math.sqrt(dot(half, half))
        rho = math.sqrt(greatest(dot(c, c) - height * height, 0.0)) + size
        low -= bend(now, dot(m, c) - dot(m, a) * height + size, rho)
    return low


@compiled
def fill_hull(now: Any, c: Vector, half: Vector, axis: Any, hull: Any) -> None:
    """Write the lowest and highest corner (m, world) of all that a body box sweeps in the span."""
    hull[0] = box_low(now, (1.0, 0.0, 0.0), c, half, axis)
    hull[1] = box_low(now, (0.0, 1.0, 0.0), c, half, axis)
    hull[2] = box_low(now, (0.0, 0.0, 1.0), c, half, axis)
    hull[3] = -box_low(now, (-1.0, 0.0, 0.0), c, half, axis)
    hull[4] = -box_low(now, (0.0, -1.0, 0.0), c, half, axis)
    hull[5] = -box_low(now, (0.0, 0.0, -1.0), c, half, axis)


@compiled
def fill_corner(now: Any, p: Vector, axis: Any, corner: Any) -> None:
    """Write where a body point is and goes: place, half motion, ``r`` (m, world) and ``|r|``.

    Parameters
    ----------
    p : (x, y, z), m, body
        From the point that runs straight.
    corner : ndarray, shape (10,)
    """
    a = (axis[0], axis[1], axis[2])
    height = dot(a, p)
    arm = (p[0] - height * a[0], p[1] - height * a[1], p[2] - height * a[2])
    r = turned(now, arm)
    foot = turned(now, p)
    v = cross((now[15], now[16], now[17]), r)
    for i in range(3):
        corner[i] = now[9 + i] + foot[i]
        corner[3 + i] = now[12 + i] + v[i]
        corner[6 + i] = r[i]
    corner[9] = math.sqrt(dot(r, r))


@inlined
def corner_low(now: Any, n: Vector, corner: Any) -> float:
    """Return a lower bound of ``n . x`` of one body point over the span."""
    at = n[0] * corner[0] + n[1] * corner[1] + n[2] * corner[2]
    slope = n[0] * corner[3] + n[1] * corner[4] + n[2] * corner[5]
    up = n[0] * corner[6] + n[1] * corner[7] + n[2] * corner[8]
    low: float = at - abs(slope) - bend(now, up, corner[9])
    return low
