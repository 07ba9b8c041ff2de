"""Exact distances and crossings of points, segments and rays with one triangle.

All routines take scalars, so that the compiler keeps everything in registers
and can build them for other devices.  They work in float64 without directed
rounding: whoever needs a guaranteed bound subtracts 1e-9 m, far more than the
rounding seen at the size of a space station.

Triangles may be degenerate.  A triangle without area is the union of its
edges; one so thin that its normal would be rounding noise gets a normal made
perpendicular to its longest edge again.
"""

from __future__ import annotations

import math

from reach.geometry.compiled import compiled

INF = math.inf


@compiled
def _clamped(x: float) -> float:
    return min(max(x, 0.0), 1.0)


@compiled
def point_segment(
    px: float, py: float, pz: float,
    ax: float, ay: float, az: float, bx: float, by: float, bz: float,
) -> tuple[float, float]:  # fmt: skip
    """Return the squared distance of point `p` to segment `ab` and where.

    Returns
    -------
    d2 : float, m^2
    t : float
        Nearest point is ``a + t (b - a)``, ``0 <= t <= 1``.
    """
    ux = bx - ax
    uy = by - ay
    uz = bz - az
    wx = px - ax
    wy = py - ay
    wz = pz - az
    uu = ux * ux + uy * uy + uz * uz
    t = _clamped((ux * wx + uy * wy + uz * wz) / uu) if uu > 0.0 else 0.0
    wx -= t * ux
    wy -= t * uy
    wz -= t * uz
    return wx * wx + wy * wy + wz * wz, t


@compiled
def segment_segment(
    px: float, py: float, pz: float, ux: float, uy: float, uz: float,
    qx: float, qy: float, qz: float, vx: float, vy: float, vz: float,
) -> tuple[float, float, float]:  # fmt: skip
    """Return the squared distance of two segments and where it is.

    The segments are ``p + s u`` and ``q + t v`` with s and t from 0 to 1.

    Returns
    -------
    d2 : float, m^2
    s, t : float
        Parameters of one pair of nearest points.

    Notes
    -----
    Follows Ericson, Real-Time Collision Detection (2005), section 5.1.9.  For
    nearly parallel segments the determinant there is a difference of almost
    equal numbers; it and its numerator are then taken from cross products.
    """
    wx = px - qx
    wy = py - qy
    wz = pz - qz
    uu = ux * ux + uy * uy + uz * uz
    vv = vx * vx + vy * vy + vz * vz
    uw = ux * wx + uy * wy + uz * wz
    vw = vx * wx + vy * wy + vz * wz
    if uu <= 0.0:
        s = 0.0
        t = _clamped(vw / vv) if vv > 0.0 else 0.0
    elif vv <= 0.0:
        s = _clamped(-uw / uu)
        t = 0.0
    else:
        uv = ux * vx + uy * vy + uz * vz
        det = uu * vv - uv * uv
        num = uv * vw - uw * vv
        if det < 1e-6 * uu * vv:
            nx = uy * vz - uz * vy
            ny = uz * vx - ux * vz
            nz = ux * vy - uy * vx
            det = nx * nx + ny * ny + nz * nz
            num = (
                nx * (vy * wz - vz * wy)
                + ny * (vz * wx - vx * wz)
                + nz * (vx * wy - vy * wx)
            )
        s = _clamped(num / det) if det > 1e-28 * uu * vv else 0.0
        t = (uv * s + vw) / vv
        if t < 0.0:
            t = 0.0
            s = _clamped(-uw / uu)
        elif t > 1.0:
            t = 1.0
            s = _clamped((uv - uw) / uu)
    dx = wx + s * ux - t * vx
    dy = wy + s * uy - t * vy
    dz = wz + s * uz - t * vz
    return dx * dx + dy * dy + dz * dz, s, t
