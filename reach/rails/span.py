"""What a body in a suit spans from hand to hand, both hands on a hold at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reach.model.suit import Suit
from reach.worker.body import Body
from reach.worker.chain import N_OUT, arm
from reach.worker.figure import GRIP, HALF, R_MAX, RISE, Grip, figure_of, mirrored
from reach.worker.margin import sphere_points

Array = NDArray[np.float64]

_N_WAYS, _N_SWIVELS, _N_ROUNDS = 200, 24, 6
_FIRST_STEP, _NEAR = 0.15, 0.03
"""Directions and elbow swivels of an arm that are tried, steps (rad) that refine the best pair, and
how near (m) the bound both arms straight out need to be for no others to be tried."""


@dataclass(frozen=True, slots=True, eq=False)
class HandSpan:
    """The largest distance between two grips that both hands hold at once, m.

    Attributes
    ----------
    low : float, m
        Reached in the posture given: both arms inside their joint limits, wrists straight,
        elbows at their straightest.
    high : float, m
        No posture exceeds it: shoulder to shoulder and both arms in one line.
    right, left : ndarray, shape (3,), m, torso frame
        The grips of that posture, from the middle between the shoulders.
    excess : float, rad
        Worst excess of that posture over a joint limit; at most 0.

    Notes
    -----
    Contact of arms with the suit's own torso is not looked at, nor the strength it takes.
    """

    low: float
    high: float
    right: Array
    left: Array
    excess: float


def span_of(body: Body, suit: Suit) -> HandSpan:
    """Return what a body in a suit spans, as a proved interval.

    Raises
    ------
    ValueError
        If no straight arm is inside the suit's limits at all.

    Examples
    --------
    >>> from reach.files.people import load_population, load_suits
    >>> from reach.worker.body import percentile_body
    >>> span = span_of(percentile_body(load_population("male"), 50), load_suits()["halden"])
    >>> bool(1.0 < span.low <= span.high < 2.0)
    True
    """
    span = _span(figure_of(body, suit, Grip()).key)
    if span is None:
        raise ValueError(f"no straight arm is inside the limits of {suit.title or 'the suit'}")
    return span


@lru_cache(maxsize=64)
def _span(key: bytes) -> HandSpan | None:
    p = np.frombuffer(key)
    high = math.hypot(2.0 * p[HALF], p[RISE]) + 2.0 * float(p[R_MAX] + p[GRIP])
    sideways = _straight(p, np.array([0.0, -1.0, 0.0]))
    if sideways is not None and _apart(sideways, sideways) > high - _NEAR:
        right, left = _refined(p, sideways, sideways)
    else:
        held = [found for way in sphere_points(_N_WAYS) if (found := _straight(p, way)) is not None]
        if not held:
            return None
        grips = np.array([grip for grip, _, _ in held])
        spans = np.linalg.norm(grips[:, None] - mirrored(grips)[None], axis=2)
        i, j = np.unravel_index(int(np.argmax(spans)), spans.shape)
        right, left = _refined(p, held[i], held[j])
    excess = max(right[1], left[1])
    return HandSpan(_apart(right, left), high, right[0], mirrored(left[0]), excess)


_Held = tuple[Array, float, Array]
"""Grip (m, from the middle between the shoulders), excess (rad), direction of the arm."""


def _apart(right: _Held, left: _Held) -> float:
    return float(np.linalg.norm(right[0] - mirrored(left[0])))


def _straight(p: Array, way: Array) -> _Held | None:
    """Return the grip of a right arm stretched along ``way`` (unit, torso), or None.

    The hand goes on straight from the forearm, turned to the middle of its pronation.
    """
    out, any_hand, hand = np.empty(N_OUT), np.eye(3), np.empty((3, 3))
    wrist, best = float(p[R_MAX]) * way, None
    rise = float(p[RISE]) * max(0.0, float(way[2]))
    for swivel in np.linspace(0.0, 2.0 * math.pi, _N_SWIVELS, endpoint=False):
        arm(p, wrist, any_hand, swivel, np.inf, out)
        # Written out: this is asked some thousand times.
        fx, fy, fz, hx, hy, hz = out[3:9].tolist()
        hand[0] = fx, -hx, hy * fz - hz * fy
        hand[1] = fy, -hy, hz * fx - hx * fz
        hand[2] = fz, -hz, hx * fy - hy * fx
        excess = float(arm(p, wrist, hand, swivel, np.inf, out))
        if excess > 0.0:
            continue
        forearm = np.array([fx, fy, fz])
        grip = np.array([0.0, -p[HALF], rise]) + wrist + p[GRIP] * forearm
        if best is None or grip @ way > best[0] @ way:
            best = (grip, excess, way)
    return best


def _refined(p: Array, right: _Held, left: _Held) -> tuple[_Held, _Held]:
    """Turn both arms by smaller and smaller steps while the span grows."""
    step = _FIRST_STEP
    for _ in range(_N_ROUNDS):
        for turn in step * np.concatenate([np.eye(3), -np.eye(3)]):
            for side in (0, 1):
                way = (right, left)[side][2] + turn
                found = _straight(p, way / np.linalg.norm(way))
                if found is None:
                    continue
                pair = (found, left) if side == 0 else (right, found)
                if _apart(*pair) > _apart(right, left):
                    right, left = pair
        step *= 0.5
    return right, left
