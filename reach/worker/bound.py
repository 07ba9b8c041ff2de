"""Outer bounds: proofs that a tool tip is out of reach of every posture.

With the direction of the tool known, the wrist lies on a circle about the tool axis, but for
what the tolerance allows, and the forearm behind it within the bend of the wrist.  The arm
cannot bring wrist or elbow farther from the shoulder than its bones are long, and no trunk
posture brings the shoulder nearer than `reach.worker.sweep` says.  Twist, pronation and the
cone of the upper arm are not used: a bound above zero is a proof, one below zero says nothing.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.worker.figure import (
    ACROSS,
    AHEAD,
    ALONG,
    ANKLE,
    HALF,
    HIGH,
    HIP,
    LOW,
    R_MAX,
    RISE,
    SHOULDER,
    TOLERANCE,
    Figure,
)
from reach.worker.question import questions
from reach.worker.sweep import Boxes, boxes_for, sweep

Array = NDArray[np.float64]

ROUNDING = 2e-9
"""Taken off every bound, m: for rounding, and for tips moved to their lattice."""

N_BOXES = 4000
"""Boxes of trunk postures after which a bound is returned as it stands."""

_N_BOXES_SPHERE = 100_000
_TWIST_STEPS = 4001
_CHUNK = 64


def reach_sphere(figure: Figure) -> tuple[float, float]:
    """Return radii (inner, outer) about the plate origin between which every wrist lies, m.

    Both are proved bounds, however the plate is turned about its origin; each is
    less than 5 mm on the safe side.

    Examples
    --------
    >>> from reach.files.people import load_population, load_suits
    >>> from reach.worker.body import percentile_body
    >>> from reach.worker.figure import Grip, figure_of
    >>> body = percentile_body(load_population("male"), 50)
    >>> inner, outer = reach_sphere(figure_of(body, load_suits()["halden"], Grip()))
    >>> round(inner, 2), round(outer, 2)
    (0.77, 2.01)
    """
    return _sphere(figure.key)


def tip_sphere(figure: Figure) -> tuple[float, float]:
    """Return radii (inner, outer) about the plate origin between which every tool tip lies, m.

    Whatever the direction of the tool; see `reach_sphere`.
    """
    inner, outer = reach_sphere(figure)
    hand = math.hypot(figure.p[ALONG], figure.p[ACROSS])
    return max(0.0, inner - hand), outer + hand


def wrist_centres(figure: Figure, tips: ArrayLike, directions: ArrayLike) -> Array:
    """Return the middle of the wrists that put the tool tip there, m.

    Parameters
    ----------
    tips, directions : array_like, shape (n, 3), any one frame

    Returns
    -------
    centres : ndarray, shape (n, 3), m
        No such wrist is farther from its centre than `wrist_slack`.
    """
    t, d = questions(tips, directions)
    centres: Array = t - figure.p[ALONG] * d
    return centres


def wrist_slack(figure: Figure) -> float:
    """Return how far a wrist can be from its centre in `wrist_centres`, m."""
    return float(figure.p[ACROSS]) + _tilt_slack(figure.p)


def plate_shortage(figure: Figure, distances: ArrayLike) -> Array:
    """Return the proved shortage (m) of wrists at a distance from the plate origin.

    Holds for every rotation of the plate about its origin at once: a stanchion that keeps
    the origin fixed needs one look for all its settings.

    Parameters
    ----------
    distances : array_like, shape (n,), m
        From the plate origin to the centres of `wrist_centres`.

    Returns
    -------
    shortage : ndarray, shape (n,), m
        Above zero: proved out of reach by that many metres, too far or too near.
    """
    r, slack = np.asarray(distances, np.float64), wrist_slack(figure) + ROUNDING
    inner, outer = reach_sphere(figure)
    return np.asarray(np.maximum(r - outer, inner - r) - slack, np.float64)


def too_near(figure: Figure, tips: ArrayLike, directions: ArrayLike) -> Array:
    """Return by how much the wrist is proved nearer to the plate origin than any arm brings it.

    Parameters
    ----------
    tips, directions : array_like, shape (n, 3), m and any length, boot frame

    Returns
    -------
    shortage : ndarray, shape (n,), m
        Above zero: proved too near by that many metres.
    """
    centres = wrist_centres(figure, tips, directions)
    inner = reach_sphere(figure)[0]
    return np.asarray(
        inner - np.linalg.norm(centres, axis=1) - wrist_slack(figure) - ROUNDING, np.float64
    )


def shortage(figure: Figure, tips: ArrayLike, directions: ArrayLike, sharp: bool = True) -> Array:
    """Return the proved shortage of reach, m.

    Parameters
    ----------
    tips, directions : array_like, shape (n, 3), m and any length, boot frame
        Where the right hand's tool tip is to be and the way it is to point.
    sharp : bool
        False stops at the first proof, whose metres are then weak.

    Returns
    -------
    shortage : ndarray, shape (n,), m
        Above zero: proved out of reach by that many metres, up to a decimetre fewer
        than arm, wrist and trunk would let one prove.  Zero or less: no proof.
    """
    t, d = questions(tips, directions)
    centres = t - figure.p[ALONG] * d
    plate = plate_shortage(figure, np.linalg.norm(centres, axis=1))
    swept = np.empty(len(t))
    enough = np.inf if sharp else 0.0
    in_chunks(_shortages, len(t), figure.p, centres, d, enough, N_BOXES, swept, chunk=_CHUNK)
    return np.maximum(plate, swept)


@compiled
def _tilt_slack(p: Array) -> float:
    """How far the tilt of the tool axis inside its tolerance can move the wrist, m."""
    return 2.0 * math.sin(0.5 * p[TOLERANCE]) * math.hypot(p[ALONG], p[ACROSS])


@compiled
def proved(
    p: Array, centre: Array, d: Array, enough: float, n_boxes: int, boxes: Boxes, frame: Array
) -> float:
    """Return the proved shortage (m) of one wrist circle; stop once it is above ``enough``.

    Parameters
    ----------
    centre, d : ndarray, shape (3,), m and unit vector, boot frame
    boxes, frame
        Scratch of `reach.worker.sweep.sweep`.
    """
    arm = p[R_MAX] + _tilt_slack(p) + ROUNDING
    bound, _ = sweep(p, centre, d, p[ACROSS], arm + enough, arm, n_boxes, boxes, frame)
    return float(bound - arm)


@compiled
def proved_any_way(
    p: Array, tip: Array, enough: float, n_boxes: int, boxes: Boxes, frame: Array
) -> float:
    """Return the proved shortage (m) of a tip whatever the direction of the tool."""
    arm = p[R_MAX] + ROUNDING
    hand = math.hypot(p[ALONG], p[ACROSS])
    bound, _ = sweep(p, tip, np.zeros(3), hand, arm + enough, arm, n_boxes, boxes, frame)
    return float(bound - arm)


@compiled
def _shortages(
    start: int, stop: int, p: Array, centres: Array, d: Array, enough: float, n_boxes: int,
    swept: Array,
) -> None:  # fmt: skip
    boxes, frame = boxes_for(n_boxes), np.empty((4, 3))
    for i in range(start, stop):
        swept[i] = proved(p, centres[i], d[i], enough, n_boxes, boxes, frame)


@lru_cache(maxsize=256)
def _sphere(key: bytes) -> tuple[float, float]:
    p = np.frombuffer(key)
    n = _N_BOXES_SPHERE
    bound, _ = sweep(
        p, np.zeros(3), np.zeros(3), 0.0, np.inf, -1.0, n, boxes_for(n), np.empty((4, 3))
    )
    inner = max(0.0, bound - p[R_MAX] - ROUNDING)
    return float(inner), float(_farthest_shoulder(p) + p[R_MAX] + ROUNDING)


def _farthest_shoulder(p: Array) -> float:
    """Bound above the distance from the plate origin to any shoulder, m.

    Distance from the ankle does not depend on the ankle; it grows with the height of the
    turned torso vector, whose largest value over lateral bend and flexion is closed form for
    each twist, and a fine cover of the twists with their lever bounds it for all.
    """
    leg = p[HIP] - p[ANKLE]
    twist = np.linspace(p[LOW + 4], p[HIGH + 4], _TWIST_STEPS)
    cover = 0.5 * (p[HIGH + 4] - p[LOW + 4]) / (_TWIST_STEPS - 1) * math.hypot(p[HALF], p[AHEAD])
    farthest = 0.0
    for rise in (0.0, float(p[RISE])):
        z = p[SHOULDER] - p[HIP] + rise
        x = np.cos(twist) * p[AHEAD] + np.sin(twist) * p[HALF]
        y = np.sin(twist) * p[AHEAD] - np.cos(twist) * p[HALF]
        up = _largest(y, np.full_like(y, z), p[LOW + 3], p[HIGH + 3])
        down = -_largest(-y, np.full_like(y, -z), p[LOW + 3], p[HIGH + 3])
        height = np.maximum(
            _largest(-x, up, p[LOW + 2], p[HIGH + 2]), _largest(-x, down, p[LOW + 2], p[HIGH + 2])
        )
        square = p[HALF] ** 2 + p[AHEAD] ** 2 + z * z
        farthest = max(farthest, leg * leg + square + 2.0 * leg * (height.max() + cover))
    return float(p[ANKLE]) + math.sqrt(farthest)


def _largest(sine: Array, cosine: Array, low: float, high: float) -> Array:
    """Largest value of ``sine`` sin(q) + ``cosine`` cos(q) for q in [low, high]."""
    ends = np.maximum(
        sine * math.sin(low) + cosine * math.cos(low),
        sine * math.sin(high) + cosine * math.cos(high),
    )
    peak = np.arctan2(sine, cosine)
    inside = (peak >= low) & (peak <= high)
    return np.asarray(np.where(inside, np.hypot(sine, cosine), ends), np.float64)
