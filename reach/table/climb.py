"""Climb: carry a posture from one target to the next one, by random steps that are cheap to refuse.

What `reach.worker.search.refine` does, made for many easy targets: the trunk and the hand are
placed again only if a step has moved them, and a step is refused as soon as one joint is worse
than the worst one was.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled
from reach.worker.chain import (
    N_FREEDOMS,
    N_OUT,
    ROLL,
    TILT,
    arm,
    hand_frame,
    lift,
    to_torso,
    trunk_fk,
    wrist_of,
)
from reach.worker.chance import State
from reach.worker.figure import RISE
from reach.worker.search import nudge

Array = NDArray[np.float64]

Ground = tuple[Array, Array, Array, Array]
"""Scratch: two postures (2, 9), two placed trunks and hands (2, 8, 3), rows (5, 3), out (14,).

Rows 0-2 of a placed posture are the torso rotation, 3-5 the hand's, 6 the shoulder of the
hanging arm and 7 the wrist, boot frame.
"""


@compiled
def ground() -> Ground:
    """Return the scratch arrays of a climb."""
    return np.empty((2, N_FREEDOMS)), np.empty((2, 8, 3)), np.empty((5, 3)), np.empty(N_OUT)


@compiled
def climb(
    p: Array,
    t: Array,
    d: Array,
    violation: float,
    n_steps: int,
    goal: float,
    step: float,
    state: State,
    scratch: Ground,
) -> float:
    """Improve the posture in row 0 of ``scratch[0]`` in place; return its violation, rad.

    Parameters
    ----------
    t, d : ndarray, shape (3,), m and unit vector, boot frame
    violation : float, rad
        That of the posture; infinite for a posture that comes from elsewhere.
    n_steps : int
    goal : float, rad
        Stop once the violation is at most this.
    step : float
        Size of the first steps, as a share of each freedom's range.
    """
    rows, placed, arms, out = scratch
    now, then = 0, 1
    if not violation < np.inf:
        _place_trunk(p, rows[0], placed[0])
        _place_hand(p, t, d, rows[0], placed[0])
        violation = _excess(p, rows[0, N_FREEDOMS - 1], placed[0], 1e9, arms, out)
    failures, count = 0, 0
    while count < n_steps and violation > goal:
        count += 1
        nudge(p, rows[now], step, state, rows[then])
        if _differ(rows, 0, TILT):
            _place_trunk(p, rows[then], placed[then])
        else:
            placed[then, 0:3] = placed[now, 0:3]
            placed[then, 6] = placed[now, 6]
        if _differ(rows, TILT, ROLL + 1):
            _place_hand(p, t, d, rows[then], placed[then])
        else:
            placed[then, 3:6] = placed[now, 3:6]
            placed[then, 7] = placed[now, 7]
        f = _excess(p, rows[then, N_FREEDOMS - 1], placed[then], violation, arms, out)
        if f < violation:
            violation, failures = f, 0
            now, then = then, now
            step = min(0.6, 1.3 * step)
        else:
            failures += 1
            if failures % 4 == 0:
                step = max(0.01, 0.8 * step)
    if now == 1:
        rows[0] = rows[1]
        placed[0] = placed[1]
    return violation


@compiled
def _differ(rows: Array, first: int, last: int) -> bool:
    differ = False
    for i in range(first, last):
        differ = differ or rows[0, i] != rows[1, i]
    return differ


@compiled
def _place_trunk(p: Array, x: Array, placed: Array) -> None:
    trunk_fk(p, x, placed[0:3], placed[6])


@compiled
def _place_hand(p: Array, t: Array, d: Array, x: Array, placed: Array) -> None:
    hand_frame(p, d, x[TILT], x[TILT + 1], x[ROLL], placed[3:6])
    wrist_of(p, t, placed[3:6], placed[7])


@compiled
def _excess(p: Array, swivel: float, placed: Array, stop: float, arms: Array, out: Array) -> float:
    """Return the worst excess over the arm's limits, rad; any value above ``stop`` if it is."""
    shoulder, w, h = arms[0], arms[1], arms[2:5]
    for i in range(3):
        shoulder[i] = placed[6, i]
    if p[RISE] > 0.0:
        lift(p, placed[0:3], shoulder, placed[7])
    to_torso(placed[0:3], shoulder, placed[7], placed[3:6], w, h)
    return arm(p, w, h, swivel, stop, out)
