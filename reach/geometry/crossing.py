"""Where one ray meets one box and one triangle."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from reach.geometry.compiled import inlined
from reach.geometry.vector import Vector, greatest, least

Shear = tuple[tuple[int, int, int], Vector, Vector]

_TINY = 1e-290
_WIDER = 1.0 + 4.0 * 2.0**-52


@inlined
def finite_inverse(d: float) -> float:
    """Return 1/d, large but finite for zero, so that a zero times it is no ``nan``."""
    return 1.0 / d if abs(d) > _TINY else math.copysign(1.0 / _TINY, d)


@inlined
def box_entry(o: Vector, inverse: Vector, box: Any, node: int, far: float) -> float:
    """Return where a ray enters a box, or ``inf`` if it misses for sure.

    Errs on the side of a hit: the slab test's upper end is made wider by more
    than its rounding (Ize, Robust BVH ray traversal, 2013).
    """
    x0 = (box[node, 0] - o[0]) * inverse[0]
    x1 = (box[node, 3] - o[0]) * inverse[0]
    y0 = (box[node, 1] - o[1]) * inverse[1]
    y1 = (box[node, 4] - o[1]) * inverse[1]
    z0 = (box[node, 2] - o[2]) * inverse[2]
    z1 = (box[node, 5] - o[2]) * inverse[2]
    x0, x1 = least(x0, x1), greatest(x0, x1)
    y0, y1 = least(y0, y1), greatest(y0, y1)
    z0, z1 = least(z0, z1), greatest(z0, z1)
    start = greatest(greatest(x0, y0), greatest(z0, 0.0))
    end = least(least(x1, y1), least(z1, far))
    return start if start <= end * _WIDER else np.inf


@inlined
def ray_shear(o: Vector, d: Vector) -> Shear:
    """Return what all triangles need of a ray with origin `o` and direction `d`.

    Returns
    -------
    axes : (kx, ky, kz)
        `kz` is the axis along which the direction is longest.
    shear : (sx, sy, sz)
        ``d[kx] / d[kz]``, ``d[ky] / d[kz]``, ``1 / d[kz]``.
    origin : (ox, oy, oz)
        In the order of the axes.
    """
    x, y, z = abs(d[0]), abs(d[1]), abs(d[2])
    if x >= y and x >= z:
        s = 1.0 / d[0]
        return (1, 2, 0), (d[1] * s, d[2] * s, s), (o[1], o[2], o[0])
    if y >= z:
        s = 1.0 / d[1]
        return (2, 0, 1), (d[2] * s, d[0] * s, s), (o[2], o[0], o[1])
    s = 1.0 / d[2]
    return (0, 1, 2), (d[0] * s, d[1] * s, s), (o[0], o[1], o[2])


@inlined
def ray_triangle(tri: Any, k: int, ray: Shear) -> tuple[float, float]:
    """Return numerator and denominator of the t at which a ray meets triangle `k`.

    Woop, Benthin and Wald, Watertight ray/triangle intersection, JCGT 2 (2013):
    the sign of each edge function is right or zero, and zero is a hit, so no
    ray slips between neighbours.

    Parameters
    ----------
    tri : ndarray, shape (n, 9), m
    k : int
    ray : tuple
        From :func:`ray_shear`.

    Returns
    -------
    num, det : float
        ``t = num / det`` with ``det > 0``; a miss has ``det = 0``.
    """
    (kx, ky, kz), (sx, sy, sz), (ox, oy, oz) = ray
    # Tells the compiler that no index is negative, which it would test for at each use.
    kx, ky, kz = kx & 3, ky & 3, kz & 3
    az, bz, cz = tri[k, kz] - oz, tri[k, 3 + kz] - oz, tri[k, 6 + kz] - oz
    ax, ay = tri[k, kx] - ox - sx * az, tri[k, ky] - oy - sy * az
    bx, by = tri[k, 3 + kx] - ox - sx * bz, tri[k, 3 + ky] - oy - sy * bz
    cx, cy = tri[k, 6 + kx] - ox - sx * cz, tri[k, 6 + ky] - oy - sy * cz
    u = cx * by - cy * bx
    v = ax * cy - ay * cx
    w = bx * ay - by * ax
    if least(least(u, v), w) < 0.0 and greatest(greatest(u, v), w) > 0.0:
        return 0.0, 0.0
    det = u + v + w
    num = (u * az + v * bz + w * cz) * sz
    if det < 0.0:
        return -num, -det
    return num, det
