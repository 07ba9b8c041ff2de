"""A crane on its way: how far out, how near singular poses, how fast; brackets, not samples."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain, duration, full_reach, tip_poses
from reach.arm.bound import spans
from reach.arm.forward import piece_poses
from reach.arm.margins import far_from_singular
from reach.geometry.motion_chain import chain_of as motions_of
from reach.site import Carriage

Array = NDArray[np.float64]

N_PLACES = 400
"""Places looked at on one leg."""
N_POSTURES = 4_000
"""Postures looked at on the way of the joints, at least."""
SINGULAR_TOLERANCE = 2e-3
NEARLY = 1e-9
"""What an axis may be off for rounding, m."""
MOST_POSTURES = 60_000


class Extreme(NamedTuple):
    """The least or the largest value along a way.

    Attributes
    ----------
    low, high : float
        Bracket: proved, and seen.
    at : float
        Where it was seen: leg (or posture) number plus time 0 to 1.
    """

    low: float
    high: float
    at: float


def tip_track(carriage: Carriage, leg: int, times: Array, point: Array | None = None) -> Array:
    """Return where the tip is asked to be on a leg, shape (n, 3), m, world.

    Or any other ``point`` (m) of what is moved, in its frame.
    """
    tip = _tip_in(carriage) if point is None else point
    path = motions_of(carriage.poses[leg : leg + 2], _about(carriage, leg))
    return path.placed_at(0, times, tip[None])[:, 0]


def farthest_asked(carriage: Carriage, base: Array) -> Extreme:
    """Return the largest distance of the tip, as it is asked to go, from a point (m, world)."""
    if len(carriage.poses) < 2:
        tip = carriage.poses[0, :3, :3] @ _tip_in(carriage) + carriage.poses[0, :3, 3]
        distance = float(np.linalg.norm(tip - base))
        return Extreme(distance, distance, 0.0)
    times = np.linspace(0.0, 1.0, N_PLACES + 1)
    best, bound = (-1.0, 0.0), 0.0
    for leg in range(len(carriage.legs)):
        away = np.linalg.norm(tip_track(carriage, leg, times) - base, axis=1)
        k = int(away.argmax())
        best = max(best, (float(away[k]), leg + float(times[k])))
        # Between two places the tip is off the nearer one by half of what it goes, at most.
        bound = max(bound, float(away[k]) + 0.5 * _most_way(carriage, leg) / N_PLACES)
    return Extreme(best[0], bound, best[1])


def farthest_moved(chain: Chain, q: Array) -> Extreme:
    """Return the largest distance of the tip from the base, m, while all joints move evenly."""
    fine, step = _fine(q)
    tips = tip_poses(chain, fine)[:, :3, 3]
    away = np.linalg.norm(tips, axis=1)
    k = int(away.argmax())
    gone = np.abs(np.diff(fine, axis=0)) @ levers(chain)
    far = float(away[k])
    return Extreme(far, far + 0.5 * float(gone.max(initial=0.0)), k * step)


def levers(chain: Chain) -> Array:
    """Return how far the tip is from each joint at most, m: its way for one radian.

    1 for a joint that slides.
    """
    greatest = spans(chain)[1]
    return np.where(chain.slides, 1.0, np.cumsum(greatest[::-1])[::-1])


def least_singular(chain: Chain, q: Array) -> Extreme:
    """Return the smallest distance from singular poses while all joints move evenly.

    Around a posture a singular value falls by no more than the Jacobian changes: in a turn of
    all joints together by w the columns of the joints behind change by so much at most.
    """
    rows = np.asarray(q)
    if len(rows) < 2:
        value = float(far_from_singular(chain, rows).min())
        return Extreme(value, value, 0.0)
    reach = full_reach(chain)
    at = np.repeat(np.arange(len(rows) - 1), 8) + np.tile((np.arange(8) + 0.5) / 8, len(rows) - 1)
    half = np.full(len(at), 0.5 / 8)
    ways = np.abs(np.diff(rows, axis=0))
    seen = far_from_singular(chain, rows)
    k = int(seen.argmin())
    high, where = float(seen[k]), float(k)
    settled, count = math.inf, len(rows)
    while True:
        piece = np.minimum(at.astype(int), len(ways) - 1)
        share = (at - piece)[:, None]
        values = far_from_singular(chain, rows[piece] * (1.0 - share) + rows[piece + 1] * share)
        lows = values - half * _bend(chain, ways[piece], reach) - 1e-9
        k = int(values.argmin())
        if values[k] < high:
            high, where = float(values[k]), float(at[k])
        count += len(at)
        again = lows < high - SINGULAR_TOLERANCE
        if not again.any() or count + 2 * int(again.sum()) > MOST_POSTURES:
            low = min(settled, float(lows.min()))
            return Extreme(min(low, high), high, where)
        settled = min(settled, float(lows[~again].min(initial=math.inf)))
        half = np.repeat(0.5 * half[again], 2)
        at = np.repeat(at[again], 2) + np.tile([-1.0, 1.0], int(again.sum())) * half


def _bend(chain: Chain, ways: Array, reach: float) -> Array:
    """Return how fast the scaled Jacobian changes at most (Frobenius), shape (m,).

    An axis turns with the joints before it; the arm from it to the tip turns with those and is
    turned further by itself and the joints behind.
    """
    turns = np.where(chain.slides, 0.0, ways)
    slid = np.where(chain.slides, ways, 0.0).sum(axis=1, keepdims=True) / reach
    before = np.cumsum(turns, axis=1) - turns
    arm = levers(chain) / reach
    behind = np.cumsum((turns * arm)[:, ::-1], axis=1)[:, ::-1]
    moved = np.where(chain.slides, before / reach, before * arm + behind + slid)
    turned = np.where(chain.slides, 0.0, before)
    return np.asarray(np.sqrt((moved**2 + turned**2).sum(axis=1)))


def least_time(chain: Chain, q: Array, share: Array) -> float:
    """Return the least time (s) of a way on which each piece has a share of it, at the rates.

    Parameters
    ----------
    q : ndarray, shape (k, n_joints)
    share : ndarray, shape (k - 1,)
        Of the time, by piece; they add up to 1.

    Returns
    -------
    seconds : float
        ``nan`` where a joint that moves has no rate.
    """
    needed = duration(chain, q)
    moves = needed > 0.0
    if np.isnan(needed).any():
        return math.nan
    with np.errstate(divide="ignore"):
        return float((needed[moves] / share[moves]).max(initial=0.0))


def quickest(chain: Chain, tips: Array) -> float:
    """Return how long any arm of these rates takes at least from pose to pose of its tip, s.

    The tip goes no faster than all joints together carry it, each at its rate on an arm
    stretched out, and turns no faster than the sum of the rates.

    Parameters
    ----------
    tips : ndarray, shape (k, 4, 4)
        Poses it comes through.
    """
    if np.isnan(chain.velocity).any():
        return 0.0
    fastest = float((chain.velocity * levers(chain)).sum())
    turning = float(chain.velocity[~chain.slides].sum())
    total = 0.0
    for before, after in pairwise(tips):
        way = float(np.linalg.norm(after[:3, 3] - before[:3, 3]))
        cosine = 0.5 * (float(np.trace(before[:3, :3].T @ after[:3, :3])) - 1.0)
        turn = math.acos(min(1.0, max(-1.0, cosine)))
        total += max(way / fastest, turn / turning if turning > 0.0 else 0.0)
    return total


def fastest_asked(carriage: Carriage, seconds: Array, point: Array | None = None) -> Extreme:
    """Return the highest speed of the tip on a way that is asked, m/s.

    Parameters
    ----------
    seconds : ndarray, shape (k - 1,)
        That each leg takes.
    point : ndarray, shape (3,), m, optional
        Another point of what is moved, in its frame.
    """
    times = np.linspace(0.0, 1.0, N_PLACES + 1)
    best, bound = (0.0, 0.0), 0.0
    for leg, lasts in enumerate(seconds):
        if not lasts > 0.0:
            continue
        places = tip_track(carriage, leg, times, point)
        speeds = np.linalg.norm(np.diff(places, axis=0), axis=1) * N_PLACES / lasts
        k = int(speeds.argmax())
        best = max(best, (float(speeds[k]), leg + float(times[k]) + 0.5 / N_PLACES))
        bound = max(bound, _most_way(carriage, leg, point) / float(lasts))
    return Extreme(best[0], max(bound, best[0]), best[1])


def fastest_moved(chain: Chain, q: Array, seconds: Array, point: Array | None = None) -> Extreme:
    """Return the highest speed of the tip, m/s, where joints move evenly and pieces last so long.

    Parameters
    ----------
    q : ndarray, shape (k, n_joints)
    seconds : ndarray, shape (k - 1,)
    point : ndarray, shape (3,), m, optional
        Another point that the tip carries along, in the tip's frame.
    """
    off = np.zeros(3) if point is None else np.asarray(point, float)
    fine, step = _fine(q)
    n = round(1.0 / step)
    rates = np.diff(q, axis=0) / np.maximum(seconds, 1e-12)[:, None]
    middles = 0.5 * (fine[1:] + fine[:-1])
    of_piece = np.repeat(rates, n, axis=0)
    jacobians = _moving(chain, middles, off)
    speeds = np.linalg.norm(np.einsum("mij,mj->mi", jacobians, of_piece), axis=1)
    k = int(speeds.argmax())
    # Within half a step the velocity turns and grows by no more than all joints bend it.
    most = np.abs(of_piece)
    before = np.cumsum(most, axis=1) - most
    farther = np.where(chain.slides, 0.0, float(np.linalg.norm(off)))
    bent = ((2.0 * before + most) * most) @ (levers(chain) + farther)
    bound = float((speeds + 0.5 * bent * np.repeat(seconds, n) * step).max(initial=0.0))
    return Extreme(float(speeds[k]), bound, (k + 0.5) * step)


def _moving(chain: Chain, q: Array, off: Array) -> Array:
    """Return the rows of the Jacobian of a point of the tip that say how it moves, (m, 3, n)."""
    pieces, tips = piece_poses(chain, q)[:, 1:], tip_poses(chain, q)
    axes = pieces[:, :, :3, 2]
    points = tips[:, :3, 3] + tips[:, :3, :3] @ off
    arms = points[:, None] - pieces[:, :, :3, 3]
    columns = np.where(chain.slides[:, None], axes, np.cross(axes, arms))
    return np.swapaxes(columns, 1, 2)


def _fine(q: Array) -> tuple[Array, float]:
    """Return postures on a way of the joints, evenly between those given, and their step."""
    pieces = max(len(q) - 1, 1)
    n = max(2, math.ceil(N_POSTURES / pieces))
    if len(q) < 2:
        return np.asarray(q), 1.0
    share = (np.arange(n) / n)[None, :, None]
    inner = q[:-1, None] * (1.0 - share) + q[1:, None] * share
    return np.concatenate([inner.reshape(-1, q.shape[1]), q[-1:]]), 1.0 / n


def _about(carriage: Carriage, leg: int) -> Array:
    about = carriage.legs[leg].about
    return np.zeros(3) if about is None else np.asarray(about, float)


def _tip_in(carriage: Carriage) -> Array:
    assert carriage.payload_from_tip is not None
    return carriage.payload_from_tip[:3, 3]


def _most_way(carriage: Carriage, leg: int, point: Array | None = None) -> float:
    """Return how far the tip, or another point of what is moved, goes on a leg at most, m."""
    about = _about(carriage, leg)
    _, _, step, axis, angle = motions_of(carriage.poses[leg : leg + 2], about).motions
    # What lies along the axis does not move as it turns.
    arm = (_tip_in(carriage) if point is None else point) - about
    lever = float(np.linalg.norm(arm - (arm @ axis[0]) * axis[0])) + NEARLY
    return float(np.linalg.norm(step[0])) + float(angle[0]) * lever
