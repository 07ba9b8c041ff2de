"""Compiled: a line pulled tight by moves that none of them takes through the structure.

Each move replaces part of the line by something shorter whose swept triangles
are free, so the line stays in the class it was led in:

* drop a corner; draw a corner toward the chord of its neighbours; slide a
  corner along what it touches; cut a corner off by a chord that touches.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry import STACK, compiled
from reach.lines.pulling.sweeping import clear, contact, swept_free

_HALVINGS = 14
"""A move is found to 1/16000 of its largest."""
_PUSHES = 4
"""Times a slid corner is lifted off again before the slide is given up."""


@compiled
def _length(a: Any, b: Any) -> float:
    return math.sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2 + (b[2] - a[2]) ** 2)


@compiled
def _moves(world: Any, a: Any, b: Any, c: Any, y: Any) -> bool:
    """Return whether corner `b` between `a` and `c` may go to `y`."""
    tri, box, link, need, least, sleeve, stack, depth = world
    return (
        clear(tri, box, link, a, y, need, least, sleeve, stack, depth)
        and clear(tri, box, link, y, c, need, least, sleeve, stack, depth)
        and swept_free(tri, box, link, a, b, y, 0.5 * least, stack)
        and swept_free(tri, box, link, b, y, c, 0.5 * least, stack)
    )


@compiled
def _chord_free(world: Any, a: Any, b: Any, c: Any) -> bool:
    """Return whether the chord a c may stand for a b c."""
    tri, box, link, need, least, sleeve, stack, depth = world
    return clear(tri, box, link, a, c, need, least, sleeve, stack, depth) and swept_free(
        tri, box, link, a, b, c, 0.5 * least, stack
    )


@compiled
def _best_along(a: Any, c: Any, x: Any, e: Any) -> float:
    """Return s that makes a, x + s e, c shortest: both unfolded into one plane about the line."""
    sa = sc = 0.0
    for j in range(3):
        sa += (a[j] - x[j]) * e[j]
        sc += (c[j] - x[j]) * e[j]
    da = _length(a, x + sa * e)
    dc = _length(c, x + sc * e)
    return (sa * dc + sc * da) / (da + dc) if da + dc > 0.0 else 0.5 * (sa + sc)


@compiled
def _drawn(world: Any, a: Any, b: Any, c: Any, gain: float) -> Any:
    """Return `b` drawn toward the chord of its neighbours as far as it goes."""
    u = c - a
    uu = u[0] ** 2 + u[1] ** 2 + u[2] ** 2
    t = ((b - a) * u).sum() / uu if uu > 0.0 else 0.5
    step = a + min(max(t, 0.0), 1.0) * u - b
    before = _length(a, b) + _length(b, c)
    low, high, best = 0.0, 1.0, b
    for _ in range(_HALVINGS):
        f = 0.5 * (low + high)
        y = b + f * step
        if low == 0.0 and before - _length(a, y) - _length(y, c) < gain:
            break
        if _moves(world, a, b, c, y):
            low, best = f, y
        else:
            high = f
    return best


@compiled
def _lifted(world: Any, a: Any, y: Any, c: Any) -> Any:
    """Return `y` pushed off the surface until both its segments keep off, if it can be."""
    tri, box, link, need, _, _, stack, depth = world
    out = np.empty(13)
    x = y.copy()
    for _ in range(_PUSHES):
        moved = False
        d = contact(tri, box, link, a, x, need, stack, depth, out)
        if 0.0 < d < need and out[3] > 0.05:
            x = x + out[:3] * ((need - d) * 1.001 + 1e-9) / out[3]
            moved = True
        d = contact(tri, box, link, x, c, need, stack, depth, out)
        if 0.0 < d < need and out[3] < 0.95:
            x = x + out[:3] * ((need - d) * 1.001 + 1e-9) / (1.0 - out[3])
            moved = True
        if not moved:
            break
    return x


@compiled
def _ways(a: Any, b: Any, c: Any, touch: Any, touching: Any) -> Any:
    """Return directions to slide corner `b` in, shape (9, 3), zero where there is none.

    Along the seam of both contacts, across each, and along the edges of the
    two triangles that are touched.
    """
    ways = np.zeros((9, 3))
    pull = (a - b) / max(_length(a, b), 1e-12) + (c - b) / max(_length(c, b), 1e-12)
    if touching[0] and touching[1]:
        ways[0] = np.cross(touch[0, :3], touch[1, :3])
    for i in range(2):
        if touching[i]:
            ways[1 + i] = pull - (pull * touch[i, :3]).sum() * touch[i, :3]
            for k in range(3):
                ways[3 + 3 * i + k] = touch[i, 4 + 3 * k : 7 + 3 * k]
    return ways


@compiled
def _slid(world: Any, a: Any, b: Any, c: Any, gain: float) -> Any:
    """Return `b` moved along what its segments touch to where the line is shortest."""
    tri, box, link, need, _, _, stack, depth = world
    touch = np.zeros((2, 13))
    touching = np.zeros(2, np.bool_)
    reach = 1.5 * need + 1e-3
    touching[0] = np.isfinite(contact(tri, box, link, a, b, reach, stack, depth, touch[0]))
    touching[1] = np.isfinite(contact(tri, box, link, b, c, reach, stack, depth, touch[1]))
    before = _length(a, b) + _length(b, c)
    ways = _ways(a, b, c, touch, touching)
    for way in range(len(ways)):
        e = ways[way]
        size = math.sqrt((e * e).sum())
        if size < 1e-6:
            continue
        e = e / size
        s = _best_along(a, c, b, e)
        for _ in range(5):
            y = b + s * e
            if before - _length(a, y) - _length(y, c) < gain:
                break
            y = _lifted(world, a, y, c)
            if before - _length(a, y) - _length(y, c) >= gain and _moves(world, a, b, c, y):
                return y
            s *= 0.4
    return b


@compiled
def _cut(world: Any, a: Any, b: Any, c: Any, gain: float) -> float:
    """Return how far from corner `b` (m) a chord across it may begin, 0 if it gains too little."""
    la, lc = _length(a, b), _length(b, c)
    m = min(la, lc)
    if m <= 0.0:
        return 0.0
    u, v = (a - b) / la, (c - b) / lc
    save = 2.0 - _length(u, v)
    low, high = 0.0, m
    for _ in range(_HALVINGS):
        if high * save < gain:
            return 0.0
        s = 0.5 * (low + high)
        if _chord_free(world, b + s * u, b, b + s * v):
            low = s
        else:
            high = s
    return low if low * save >= gain else 0.0


@compiled
def tighten(
    tri: Any,
    box: Any,
    link: Any,
    led: Any,
    need: float,
    least: float,
    sleeve: Any,
    gain: float,
    most: int,
    sweeps: int,
) -> Any:
    """Return a line no longer than `led`, between the same ends, in the same class.

    Parameters
    ----------
    tri, box, link : ndarray
        Of the tree.
    led : ndarray, shape (k, 3), m, world
        Already `need` off the surface.
    need, least : float, m
        Kept off the surface; in the sleeves.
    sleeve : ndarray, shape (2, 4), m
        As for :func:`reach.lines.pulling.sweeping.cuts`.
    gain : float, m
        Moves that save less are not made; ends when a sweep saves less.
    most : int
        Most corners.
    sweeps : int
        Most sweeps over all corners.

    Returns
    -------
    points : ndarray, shape (m, 3), m, world
    """
    stack = np.empty(STACK, np.int32)
    world = (tri, box, link, need, least, sleeve, stack, np.empty(STACK))
    line = np.empty((most, 3))
    n = led.shape[0]
    line[:n] = led
    cutting = False
    for _ in range(sweeps):
        saved = 0.0
        i = 1
        while i < n - 1:
            a, b, c = line[i - 1].copy(), line[i].copy(), line[i + 1].copy()
            before = _length(a, b) + _length(b, c)
            if _chord_free(world, a, b, c):
                line[i : n - 1] = line[i + 1 : n].copy()
                n -= 1
                saved += before - _length(a, c)
                i = max(1, i - 1)
                continue
            y = _slid(world, a, _drawn(world, a, b, c, gain), c, 0.05 * gain)
            saved += before - _length(a, y) - _length(y, c)
            line[i] = y
            if cutting and n < most:
                s = _cut(world, a, y, c, gain)
                if s > 0.0:
                    p = y + s * (a - y) / _length(a, y)
                    q = y + s * (c - y) / _length(c, y)
                    saved += 2.0 * s - _length(p, q)
                    line[i + 2 : n + 1] = line[i + 1 : n].copy()
                    line[i], line[i + 1] = p, q
                    n += 1
                    i += 1
            i += 1
        if saved < gain:
            if cutting:
                break
            cutting = True
    return line[:n].copy()
