"""Chain: boot plate to tool tip for one posture, and by how much its joints exceed their limits.

A posture is nine numbers: five trunk angles (ankle roll and pitch, hip flexion, waist lateral
and twist), two tilts of the tool axis inside its tolerance, the roll of the hand about that
axis, and the swivel of the elbow about the line from shoulder to wrist.  The arm then follows
in closed form.  All kernels are scalar, take the flat vector of `reach.worker.figure`, and
answer for the right hand.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.figure import (
    AHEAD,
    ANKLE,
    AXIS_X,
    AXIS_Y,
    AXIS_Z,
    CONE,
    CONE_X,
    CONE_Y,
    CONE_Z,
    DEVIATION,
    FLEXION,
    FOREARM,
    GRIP,
    HALF,
    HINGE_X,
    HINGE_Y,
    HINGE_Z,
    HIP,
    PRONATION,
    R_MAX,
    R_MIN,
    RISE,
    SHOULDER,
    TIP_X,
    TIP_Y,
    TIP_Z,
    TWIST,
    UPPER_ARM,
)

Array = NDArray[np.float64]

N_FREEDOMS = 9
N_WORK, N_OUT = 12, 14
TILT, ROLL, SWIVEL = 5, 7, 8
"""Places of the arm's freedoms in a posture."""

METRES_PER_RADIAN = 0.6
"""Length of an arm: turns a distance beyond the arm into a violation in rad."""

IMPOSSIBLE = 9.0
"""Violation (rad) of a wrist at the shoulder, where no elbow swivel is defined."""

_LIFT_ROUNDS = 3


def work_arrays() -> tuple[Array, Array]:
    """Return the scratch arrays ``work`` (12, 3) and ``out`` (14,) of `evaluate`."""
    return np.empty((N_WORK, 3)), np.empty(N_OUT)


@compiled
def trunk_fk(p: Array, q: Array, rotation: Array, shoulder: Array) -> tuple[float, float, float]:
    """Write torso ``rotation`` (3, 3) and right ``shoulder`` (3,); return the hip centre.

    rotation = Rx(q0) Ry(q1) Ry(q2) Rx(q3) Rz(q4), the first two about the ankle and the
    others about the hip; m, boot frame.
    """
    c0, s0, c1, s1 = math.cos(q[0]), math.sin(q[0]), math.cos(q[1]), math.sin(q[1])
    c2, s2, c3, s3 = math.cos(q[2]), math.sin(q[2]), math.cos(q[3]), math.sin(q[3])
    c4, s4 = math.cos(q[4]), math.sin(q[4])
    leg = p[HIP] - p[ANKLE]
    hip_x, hip_y, hip_z = s1 * leg, -s0 * c1 * leg, p[ANKLE] + c0 * c1 * leg
    for j in range(3):
        if j == 0:
            mx, my, mz = c2 * c4 + s2 * s3 * s4, c3 * s4, -s2 * c4 + c2 * s3 * s4
        elif j == 1:
            mx, my, mz = -c2 * s4 + s2 * s3 * c4, c3 * c4, s2 * s4 + c2 * s3 * c4
        else:
            mx, my, mz = s2 * c3, -s3, c2 * c3
        rotation[0, j] = c1 * mx + s1 * mz
        rotation[1, j] = s0 * s1 * mx + c0 * my - s0 * c1 * mz
        rotation[2, j] = -c0 * s1 * mx + s0 * my + c0 * c1 * mz
    x, y, z = p[AHEAD], -p[HALF], p[SHOULDER] - p[HIP]
    shoulder[0] = hip_x + rotation[0, 0] * x + rotation[0, 1] * y + rotation[0, 2] * z
    shoulder[1] = hip_y + rotation[1, 0] * x + rotation[1, 1] * y + rotation[1, 2] * z
    shoulder[2] = hip_z + rotation[2, 0] * x + rotation[2, 1] * y + rotation[2, 2] * z
    return hip_x, hip_y, hip_z


@compiled
def _normal(x: float, y: float, z: float) -> tuple[float, float, float]:
    """Return some unit vector normal to the unit vector (x, y, z)."""
    if abs(z) < 0.9:
        n = 1.0 / math.sqrt(x * x + y * y)
        return -y * n, x * n, 0.0
    n = 1.0 / math.sqrt(y * y + z * z)
    return 0.0, -z * n, y * n


@compiled
def hand_frame(p: Array, d: Array, tilt_a: float, tilt_b: float, roll: float, hand: Array) -> None:
    """Write the ``hand`` rotation (3, 3) whose tool axis is ``d`` tilted and then rolled.

    The tilts are tangents along two directions normal to ``d``; d and hand in one frame.
    """
    dx, dy, dz = d[0], d[1], d[2]
    ex, ey, ez = _normal(dx, dy, dz)
    fx, fy, fz = dy * ez - dz * ey, dz * ex - dx * ez, dx * ey - dy * ex
    if tilt_a != 0.0 or tilt_b != 0.0:
        dx, dy, dz = (
            dx + tilt_a * ex + tilt_b * fx,
            dy + tilt_a * ey + tilt_b * fy,
            dz + tilt_a * ez + tilt_b * fz,
        )
        n = 1.0 / math.sqrt(dx * dx + dy * dy + dz * dz)
        dx, dy, dz = dx * n, dy * n, dz * n
        k = ex * dx + ey * dy + ez * dz
        ex, ey, ez = ex - k * dx, ey - k * dy, ez - k * dz
        n = 1.0 / math.sqrt(ex * ex + ey * ey + ez * ez)
        ex, ey, ez = ex * n, ey * n, ez * n
        fx, fy, fz = dy * ez - dz * ey, dz * ex - dx * ez, dx * ey - dy * ex
    c, s = math.cos(roll), math.sin(roll)
    yx, yy, yz = c * ex + s * fx, c * ey + s * fy, c * ez + s * fz
    zx, zy, zz = c * fx - s * ex, c * fy - s * ey, c * fz - s * ez
    ax, ay, az = p[AXIS_X], p[AXIS_Y], p[AXIS_Z]
    bx, by, bz = _normal(ax, ay, az)
    gx, gy, gz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    hand[0, 0], hand[0, 1], hand[0, 2] = (
        dx * ax + yx * bx + zx * gx,
        dx * ay + yx * by + zx * gy,
        dx * az + yx * bz + zx * gz,
    )
    hand[1, 0], hand[1, 1], hand[1, 2] = (
        dy * ax + yy * bx + zy * gx,
        dy * ay + yy * by + zy * gy,
        dy * az + yy * bz + zy * gz,
    )
    hand[2, 0], hand[2, 1], hand[2, 2] = (
        dz * ax + yz * bx + zz * gx,
        dz * ay + yz * by + zz * gy,
        dz * az + yz * bz + zz * gz,
    )


@compiled
def wrist_of(p: Array, t: Array, hand: Array, wrist: Array) -> None:
    """Write the ``wrist`` (3,) of a hand whose tool tip is at ``t``, all in one frame."""
    x, y, z = p[TIP_X] + p[GRIP], p[TIP_Y], p[TIP_Z]
    for i in range(3):
        wrist[i] = t[i] - hand[i, 0] * x - hand[i, 1] * y - hand[i, 2] * z


@compiled
def lift(p: Array, rotation: Array, shoulder: Array, wrist: Array) -> None:
    """Raise the ``shoulder`` along the torso with the elevation of the line to the wrist.

    The rise depends on the shoulder itself; rise over arm length is below 0.15, so a few
    rounds settle it.
    """
    sx, sy, sz = shoulder[0], shoulder[1], shoulder[2]
    ux, uy, uz = rotation[0, 2], rotation[1, 2], rotation[2, 2]
    for _ in range(_LIFT_ROUNDS):
        x, y, z = wrist[0] - shoulder[0], wrist[1] - shoulder[1], wrist[2] - shoulder[2]
        along = (ux * x + uy * y + uz * z) / (math.sqrt(x * x + y * y + z * z) + 1e-12)
        k = p[RISE] * max(0.0, along)
        shoulder[0], shoulder[1], shoulder[2] = sx + k * ux, sy + k * uy, sz + k * uz


@compiled
def to_torso(
    rotation: Array, shoulder: Array, wrist: Array, hand: Array, w: Array, h: Array
) -> None:
    """Write wrist ``w`` from the shoulder and hand rotation ``h``, both in the torso frame."""
    x, y, z = wrist[0] - shoulder[0], wrist[1] - shoulder[1], wrist[2] - shoulder[2]
    for i in range(3):
        w[i] = rotation[0, i] * x + rotation[1, i] * y + rotation[2, i] * z
        for j in range(3):
            h[i, j] = (
                rotation[0, i] * hand[0, j]
                + rotation[1, i] * hand[1, j]
                + rotation[2, i] * hand[2, j]
            )


@compiled
def _acos(x: float) -> float:
    return math.acos(min(1.0, max(-1.0, x)))


@compiled
def arm(p: Array, w: Array, h: Array, swivel: float, stop: float, out: Array) -> float:
    """Return the worst excess of the arm over its limits, rad; at most 0 is legal.

    Parameters
    ----------
    w : ndarray, shape (3,), m, torso frame
        Wrist from the shoulder centre.
    h : ndarray, shape (3, 3)
        Hand rotation in the torso frame.
    swivel : float, rad
        0 puts the elbow nearest the axis of the upper-arm cone.
    stop : float, rad
        Once the excess is above this it is returned as it stands and ``out`` is not written.
    out : ndarray, shape (14,)
        Upper arm, forearm and elbow hinge directions (torso frame), then elbow, arm twist,
        pronation, wrist flexion and wrist deviation (rad).
    """
    a, b = float(p[UPPER_ARM]), float(p[FOREARM])
    r = math.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
    if not r >= 1e-6:
        return IMPOSSIBLE
    rr = min(float(p[R_MAX]), max(float(p[R_MIN]), r))
    worst = -IMPOSSIBLE
    if rr != r:
        worst = abs(r - rr) / METRES_PER_RADIAN
        if worst > stop:
            return worst
    cx, cy, cz = p[CONE_X], p[CONE_Y], p[CONE_Z]
    ex, ey, ez = w[0] / r, w[1] / r, w[2] / r
    k = ex * cx + ey * cy + ez * cz
    px, py, pz = cx - k * ex, cy - k * ey, cz - k * ez
    n = px * px + py * py + pz * pz
    if n < 1e-12:
        px, py, pz = _normal(ex, ey, ez)
    else:
        n = 1.0 / math.sqrt(n)
        px, py, pz = px * n, py * n, pz * n
    qx, qy, qz = ey * pz - ez * py, ez * px - ex * pz, ex * py - ey * px
    ca = min(1.0, max(-1.0, (a * a + rr * rr - b * b) / (2.0 * a * rr)))
    sa = math.sqrt(1.0 - ca * ca)
    cp, sp = math.cos(swivel), math.sin(swivel)
    gx, gy, gz = cp * px + sp * qx, cp * py + sp * qy, cp * pz + sp * qz
    ux, uy, uz = ca * ex + sa * gx, ca * ey + sa * gy, ca * ez + sa * gz
    vx, vy, vz = (rr * ex - a * ux) / b, (rr * ey - a * uy) / b, (rr * ez - a * uz) / b
    in_cone = ux * cx + uy * cy + uz * cz
    worst = max(worst, _acos(in_cone) - float(p[CONE]))
    if worst > stop:
        return worst
    bend = vx * h[0, 0] + vy * h[1, 0] + vz * h[2, 0]
    worst = max(worst, _acos(bend) - max(float(p[FLEXION]), float(p[DEVIATION])))
    if worst > stop:
        return worst
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    n = nx * nx + ny * ny + nz * nz
    if n < 1e-14:  # straight: the hinge is taken from the swivel plane
        nx, ny, nz = gy * ez - gz * ey, gz * ex - gx * ez, gx * ey - gy * ex
        n = nx * nx + ny * ny + nz * nz
    n = 1.0 / math.sqrt(n)
    nx, ny, nz = nx * n, ny * n, nz * n
    # The untwisted hinge, carried from the cone axis to the arm by the smallest rotation.
    k = (p[HINGE_X] * ux + p[HINGE_Y] * uy + p[HINGE_Z] * uz) / (1.0 + in_cone + 1e-12)
    tx, ty, tz = p[HINGE_X] - k * (cx + ux), p[HINGE_Y] - k * (cy + uy), p[HINGE_Z] - k * (cz + uz)
    twist = math.atan2(
        ux * (ty * nz - tz * ny) + uy * (tz * nx - tx * nz) + uz * (tx * ny - ty * nx),
        tx * nx + ty * ny + tz * nz,
    )
    worst = max(worst, abs(twist) - float(p[TWIST]))
    if worst > stop:
        return worst
    # Hand in the forearm frame (v, n x v, n): Rx(pronation - 90 deg) Rz(deviation) Ry(flexion).
    yx, yy, yz = ny * vz - nz * vy, nz * vx - nx * vz, nx * vy - ny * vx
    r01 = vx * h[0, 1] + vy * h[1, 1] + vz * h[2, 1]
    r02 = vx * h[0, 2] + vy * h[1, 2] + vz * h[2, 2]
    r11 = yx * h[0, 1] + yy * h[1, 1] + yz * h[2, 1]
    r21 = nx * h[0, 1] + ny * h[1, 1] + nz * h[2, 1]
    deviation = -math.asin(min(1.0, max(-1.0, r01)))
    flexion = math.atan2(r02, bend)
    turn = math.atan2(r21, r11) + 1.5 * math.pi
    pronation = turn - 2.0 * math.pi * math.floor(turn / (2.0 * math.pi)) - math.pi
    worst = max(worst, abs(pronation) - float(p[PRONATION]))
    oval = math.sqrt((flexion / p[FLEXION]) ** 2 + (deviation / p[DEVIATION]) ** 2)
    worst = max(worst, (oval - 1.0) * float(p[DEVIATION]))
    out[0], out[1], out[2] = ux, uy, uz
    out[3], out[4], out[5] = vx, vy, vz
    out[6], out[7], out[8] = nx, ny, nz
    out[9] = _acos(ux * vx + uy * vy + uz * vz)
    out[10], out[11], out[12], out[13] = twist, pronation, flexion, deviation
    return worst


@compiled
def evaluate(p: Array, t: Array, d: Array, x: Array, work: Array, out: Array) -> float:
    """Return the worst excess of posture ``x`` over the arm's limits, rad; at most 0 is legal.

    Trunk angles and tilts are the caller's to keep inside their limits.

    Parameters
    ----------
    t, d : ndarray, shape (3,), m and unit vector, boot frame
        Where the tool tip is to be and the direction in which it is to point.
    x : ndarray, shape (9,)
    work : ndarray, shape (12, 3)
        Left behind: torso rotation in rows 0-2, hand rotation in rows 3-5 (boot frame), hand
        in the torso frame in rows 6-8, shoulder in row 9, wrist in row 10 (boot frame), wrist
        from the shoulder in row 11 (torso frame).
    out : ndarray, shape (14,)
        See `arm`.
    """
    rotation, hand, h = work[0:3], work[3:6], work[6:9]
    trunk_fk(p, x, rotation, work[9])
    hand_frame(p, d, x[TILT], x[TILT + 1], x[ROLL], hand)
    wrist_of(p, t, hand, work[10])
    if p[RISE] > 0.0:
        lift(p, rotation, work[9], work[10])
    to_torso(rotation, work[9], work[10], hand, work[11], h)
    return arm(p, work[11], h, x[SWIVEL], 1e9, out)


@compiled
def cannot_bend(p: Array, r: float, in_cone: float, in_hand: float, slack: float) -> bool:
    """Return True if no swivel brings arm and wrist within ``slack`` (rad) of their limits.

    Parameters
    ----------
    r : float, m
        Shoulder to wrist.
    in_cone, in_hand : float
        Cosines of the line from shoulder to wrist with the cone axis and with the hand's x.
    """
    a, b = p[UPPER_ARM], p[FOREARM]
    ca = (a * a + r * r - b * b) / (2.0 * a * r)
    if ca * ca > 1.0:
        return False
    sa = math.sqrt(1.0 - ca * ca)
    best = ca * in_cone + sa * math.sqrt(max(0.0, 1.0 - in_cone * in_cone))
    if best < math.cos(min(math.pi, p[CONE] + slack)):
        return True
    sb, cb = a * sa / b, (r - a * ca) / b
    best = cb * in_hand + sb * math.sqrt(max(0.0, 1.0 - in_hand * in_hand))
    return bool(best < math.cos(min(math.pi, max(p[FLEXION], p[DEVIATION]) + slack)))
