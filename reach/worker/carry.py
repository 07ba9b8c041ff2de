"""Carry: how far round its target a posture serves with trunk and hand held still, by proof.

Hold the trunk and the hand's rotation of a posture and move the target by at most R, any way.
Then for every such target there is an arm within its limits if `excess_within` is at most 0:

1.  The wrist moves by at most R from the shoulder.  Where the arm lifts its shoulder by at most
    k, each of the three rounds of `reach.worker.chain.lift` moves the shoulder by at most
    q = k / m times what wrist and shoulder moved before, m the least distance of the wrist from
    any lift of the shoulder (a unit vector of length m turns by at most 1 / m a metre); together
    the wrist moves by s <= R (1 + q + q^2 + q^3).  The distance r of wrist and shoulder stays
    within r - s and r + s, and the line e between them turns by at most asin(s / r).
2.  Let the plane of the arm be carried along by the smallest rotation that takes e to where it
    now points: one of the swivels the worker may choose.  In that plane upper arm and forearm
    make angles with e whose cosines, (a^2 + r^2 - b^2) / (2 a r) and the same with a and b
    exchanged, have at most one turning point in r: so the most that they change between r - s
    and r + s is told by the ends and that point.  Upper arm and forearm, hinge and all, thus
    turn by at most U and V, the sums of both parts.
3.  Cone: a direction moves by at most what it is turned.  Twist: it is counted from the hinge
    carried by the smallest rotation from the axis of the cone.  At an angle c off that axis the
    carried hinge spins by tan(c / 2) a radian that the upper arm moves round the axis, so a turn
    w of the arm changes the twist by at most |w along| + tan(c / 2) |w across|, which is no more
    than |w| / cos(c / 2); all along, c is at most what it was and U.
4.  Wrist: the hand, held, turns against the forearm by at most V.  With the axes of pronation
    and flexion 90 deg + D apart (D the deviation, whose axis is square to both), a turn w changes
    D by at most |w|, the root of (cos D dF)^2 + dD^2 by at most |w|, and pronation by at most
    |w| / cos D; all along, |D| is at most what it was and V.  The bend of the wrist, whose cosine
    is cos F cos D, is at most the root of F^2 + D^2, so the oval of the wrist bounds it too.

`ease` looks for trunk, tilt, roll and swivel for which this holds: damped least squares on what
is above the limits, nothing of which the proof rests on.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.chain import (
    IMPOSSIBLE,
    METRES_PER_RADIAN,
    N_FREEDOMS,
    N_OUT,
    N_WORK,
    TILT,
    evaluate,
)
from reach.worker.figure import (
    CONE,
    CONE_X,
    CONE_Y,
    CONE_Z,
    DEVIATION,
    FLEXION,
    FOREARM,
    HIGH,
    LOW,
    PRONATION,
    R_MAX,
    R_MIN,
    RISE,
    TOLERANCE,
    TWIST,
    UPPER_ARM,
)

Array = NDArray[np.float64]

Desk = tuple[Array, Array, Array, Array, Array, Array, Array, Array, Array]
"""Scratch of `ease`: work, out, terms, their trial, posture, slopes, normal matrix, rest, free."""

N_TERMS, N_LIMITS = 7, 6
"""Terms: longest and shortest arm, cone, twist, pronation, wrist, all rad; last the tilt of the
tool, which is inside by construction and only kept from the rim."""

SPARE = 1e-6
"""What is proved holds by so much (rad): more than rounding takes."""

_AIM = 1e-3
_STEEPEST = 1.5
"""Angles (rad) up to which the cosines in parts 3 (twice this) and 4 are looked at."""

_DAMPING, _LESS, _MORE, _LEAST = 1e-3, 0.3, 6.0, 1e-6
_N_TRIES, _N_PASSES, _BETTER = 6, 3, 0.9999
_NUDGE = 1e-6


@compiled
def desk() -> Desk:
    """Return room to work in for `ease`."""
    n = N_TERMS
    return (
        np.empty((N_WORK, 3)), np.empty(N_OUT), np.empty(n), np.empty(n), np.empty(N_FREEDOMS),
        np.empty((n, N_FREEDOMS)), np.empty((n, n)), np.empty(n), np.empty(N_FREEDOMS),
    )  # fmt: skip


@compiled
def _angle(a: float, b: float, r: float) -> float:
    """Angle at the end of side a in a triangle of sides a, r and the opposite b, rad."""
    return math.acos(min(1.0, max(-1.0, (a * a + r * r - b * b) / (2.0 * a * r))))


@compiled
def swing(a: float, b: float, r: float, low: float, high: float) -> float:
    """Return the most that `_angle` is off its value at r anywhere from ``low`` to ``high``."""
    at = _angle(a, b, r)
    most = max(abs(_angle(a, b, low) - at), abs(_angle(a, b, high) - at))
    if a > b:
        turning = math.sqrt(a * a - b * b)
        if low < turning < high:
            most = max(most, abs(_angle(a, b, turning) - at))
    return most


@compiled
def _moved(p: Array, w: Array, radius: float) -> float:
    """Most that the wrist moves from the shoulder when the target moves by ``radius``, m."""
    if p[RISE] <= 0.0:
        return radius
    up = max(0.0, abs(w[2]) - p[RISE])
    nearest = math.sqrt(w[0] * w[0] + w[1] * w[1] + up * up) - radius
    q = p[RISE] / max(nearest, 1e-9)
    return radius * (1.0 + q + q * q + q * q * q)


@compiled
def terms_within(p: Array, radius: float, work: Array, out: Array, c: Array) -> float:
    """Write bounds on what is above each limit for all targets up to ``radius`` (m) off.

    Parameters
    ----------
    work, out : ndarray
        As `reach.worker.chain.evaluate` leaves them.
    c : ndarray, shape (7,), rad
        The first six are written.

    Returns
    -------
    largest : float, rad
        At most 0: every such target has a posture within the limits.
    """
    w = work[11]
    r = math.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
    s = _moved(p, w, radius)
    c[0] = (r + s - p[R_MAX]) / METRES_PER_RADIAN
    c[1] = (p[R_MIN] - (r - s)) / METRES_PER_RADIAN
    # Beyond these two limits the rest is only there to show the way back.
    low, high = max(p[R_MIN], min(p[R_MAX], r - s)), max(p[R_MIN], min(p[R_MAX], r + s))
    at = min(high, max(low, r))
    a, b = p[UPPER_ARM], p[FOREARM]
    turned = math.asin(min(1.0, s / r))
    upper, lower = turned + swing(a, b, at, low, high), turned + swing(b, a, at, low, high)
    off = out[0] * p[CONE_X] + out[1] * p[CONE_Y] + out[2] * p[CONE_Z]
    cone = math.acos(min(1.0, max(-1.0, off))) + upper
    c[2] = cone - min(p[CONE], 2.0 * _STEEPEST)
    spin = math.cos(0.5 * min(2.0 * _STEEPEST, cone))
    c[3] = abs(out[10]) + upper / spin - p[TWIST]
    flexion, deviation = out[12], out[13]
    leaning = abs(deviation) + lower
    slope = math.cos(min(_STEEPEST, leaning))
    c[4] = abs(out[11]) + lower / slope - p[PRONATION]
    oval = math.sqrt((flexion / p[FLEXION]) ** 2 + (deviation / p[DEVIATION]) ** 2)
    wrist = lower * max(1.0, p[DEVIATION] / (p[FLEXION] * slope))
    c[5] = max((oval - 1.0) * p[DEVIATION] + wrist, leaning - _STEEPEST)
    return float(c[:N_LIMITS].max())


@compiled
def excess_within(
    p: Array, t: Array, d: Array, x: Array, radius: float, work: Array, out: Array, c: Array
) -> float:
    """Return a bound on the worst excess over all targets up to ``radius`` (m) from ``t``, rad.

    Parameters
    ----------
    t, d, x, work, out
        See `reach.worker.chain.evaluate`; trunk and tilt are the caller's to keep inside.
    c : ndarray, shape (7,)
        Receives the terms, see `N_TERMS`.
    """
    if evaluate(p, t, d, x, work, out) >= IMPOSSIBLE:
        c[:] = IMPOSSIBLE
        return IMPOSSIBLE
    c[N_LIMITS] = math.sqrt(x[TILT] ** 2 + x[TILT + 1] ** 2) - math.tan(p[TOLERANCE])
    return terms_within(p, radius, work, out, c)


@compiled
def _rest(p: Array, c: Array, i: int) -> float:
    """What a term is above where it is wanted; the tilt only where it has room to give."""
    if i == N_LIMITS and math.tan(p[TOLERANCE]) < 10.0 * _AIM:
        return 0.0
    return max(0.0, c[i] + _AIM)


@compiled
def _misfit(p: Array, c: Array) -> float:
    total = 0.0
    for i in range(N_TERMS):
        total += _rest(p, c, i) ** 2
    return total


@compiled
def _keep_inside(p: Array, x: Array) -> None:
    """Bring trunk and tilt of ``x`` inside their limits."""
    for j in range(TILT):
        x[j] = min(p[HIGH + j], max(p[LOW + j], x[j]))
    tilt, most = math.sqrt(x[TILT] ** 2 + x[TILT + 1] ** 2), math.tan(p[TOLERANCE])
    if tilt > most:
        x[TILT], x[TILT + 1] = x[TILT] * most / tilt, x[TILT + 1] * most / tilt


@compiled
def _solve(m: Array, g: Array) -> None:
    """Solve m z = g in place for a symmetric positive m; z is left in ``g``."""
    n = len(g)
    for k in range(n):
        for i in range(k + 1, n):
            f = m[i, k] / m[k, k]
            for j in range(k + 1, n):
                m[i, j] -= f * m[k, j]
            g[i] -= f * g[k]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            g[k] -= m[k, j] * g[j]
        g[k] /= m[k, k]


@compiled
def _step(p: Array, x: Array, c: Array, damping: float, room: Desk) -> None:
    """Write the trial posture: the shortest step that takes away what is above, damped.

    A trunk joint that stands at its limit and would be pushed on is held, and the step made anew.
    """
    y, slopes, m, g, free = room[4], room[5], room[6], room[7], room[8]
    free[:] = 1.0
    if math.tan(p[TOLERANCE]) < 10.0 * _AIM:
        free[TILT], free[TILT + 1] = 0.0, 0.0
    for _ in range(_N_PASSES):
        for i in range(N_TERMS):
            g[i] = _rest(p, c, i)
            for k in range(N_TERMS):
                total = 0.0
                if g[i] > 0.0 and _rest(p, c, k) > 0.0:
                    for j in range(N_FREEDOMS):
                        total += slopes[i, j] * slopes[k, j] * free[j]
                m[i, k] = total
            m[i, i] += damping if g[i] > 0.0 else 1.0
        _solve(m, g)
        held = False
        for j in range(N_FREEDOMS):
            total = 0.0
            for i in range(N_TERMS):
                total += slopes[i, j] * g[i]
            y[j] = x[j] - free[j] * total
            if j < TILT and free[j] > 0.0:
                above = y[j] > p[HIGH + j] and x[j] >= p[HIGH + j]
                if above or (y[j] < p[LOW + j] and x[j] <= p[LOW + j]):
                    free[j], held = 0.0, True
        if not held:
            break
    _keep_inside(p, y)


@compiled
def ease(p: Array, t: Array, d: Array, x: Array, radius: float, n_steps: int, room: Desk) -> float:
    """Change posture ``x`` in place until it serves all targets up to ``radius`` (m) from ``t``.

    Returns
    -------
    excess : float, rad
        At most -`SPARE`: it does, by the proof above.
    """
    work, out, c, trial, y, slopes = room[0], room[1], room[2], room[3], room[4], room[5]
    _keep_inside(p, x)
    excess = excess_within(p, t, d, x, radius, work, out, c)
    damping = _DAMPING
    for _ in range(n_steps):
        if excess <= -SPARE or excess >= IMPOSSIBLE:
            break
        for j in range(N_FREEDOMS):
            y[:] = x
            y[j] += _NUDGE
            excess_within(p, t, d, y, radius, work, out, trial)
            for i in range(N_TERMS):
                slopes[i, j] = (trial[i] - c[i]) / _NUDGE
        better = False
        for _ in range(_N_TRIES):
            _step(p, x, c, damping, room)
            found = excess_within(p, t, d, y, radius, work, out, trial)
            if _misfit(p, trial) < _BETTER * _misfit(p, c):
                x[:] = y
                c[:] = trial
                excess, better = found, True
                damping = max(_LEAST, _LESS * damping)
                break
            damping *= _MORE
        if not better:
            break
    return excess
