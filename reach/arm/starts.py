"""Where descents begin: stored postures, nearest tip first, turned towards the target."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from reach.arm.bound import full_reach
from reach.arm.chain import Chain, Floats, flat
from reach.arm.forward import tip_poses
from reach.geometry import compiled, inverse, pose_of

N_STARTS = 256
_UNIT_SHARE = 0.2
"""The length that counts like one radian, as a share of the full reach of the arm."""


@dataclass(frozen=True, eq=False, slots=True)
class Starts:
    """Stored postures of a chain; all with the first joint in the middle where it turns.

    Attributes
    ----------
    q : ndarray, shape (m, n), rad or m
    tips : ndarray, shape (m, 12)
        Tip poses in the frame of the first joint before it moves.
    first_from_base : ndarray, shape (12,)
    unit : float, m
        The length that counts like one radian.
    """

    q: Floats
    tips: Floats
    first_from_base: Floats
    unit: float


def starts_of(chain: Chain, m: int = N_STARTS) -> Starts:
    """Return stored postures of a chain, spread evenly over its limits; the same every time.

    They follow the additive recurrence with the generalised golden ratio, whose gaps stay
    even in any number of dimensions (M. Roberts, The unreasonable effectiveness of
    quasirandom sequences, 2018; from memory).
    """
    low, high = chain.search_range()
    q = low + evenly(m, chain.n) * (high - low)
    if not chain.slides[0]:
        q[:, 0] = 0.0
    base_from_first = np.eye(4)
    base_from_first[:3, :3] = chain.fixed[0, :9].reshape(3, 3)
    base_from_first[:3, 3] = chain.fixed[0, 9:]
    first_from_base = inverse(base_from_first)
    tips = flat(first_from_base @ tip_poses(chain, q))
    unit = _UNIT_SHARE * full_reach(chain)
    return Starts(q, tips, flat(pose_of(first_from_base[:3, :3], first_from_base[:3, 3])), unit)


def evenly(m: int, n: int) -> Floats:
    """Return ``m`` points of the unit cube in ``n`` dimensions, shape (m, n)."""
    ratio = 2.0
    for _ in range(64):
        ratio = (1.0 + ratio) ** (1.0 / (n + 1))
    steps = ratio ** -np.arange(1.0, n + 1.0)
    points: Floats = (0.5 + np.outer(np.arange(1, m + 1), steps)) % 1.0
    return points


@compiled
def rank(
    target: Any, first_from_base: Any, tips: Any, slides: bool, unit: float, cost: Any, turn: Any
) -> None:
    """Write how far each stored tip is from the target, and the first joint that is best.

    Parameters
    ----------
    target : ndarray, shape (12,)
        In the base frame.
    first_from_base, tips, unit
        Of `Starts`.
    slides : bool
        Whether the first joint slides: it is then left as stored.
    cost : ndarray, shape (m,)
        Written: squared distance in units plus 2 (1 - cosine) of the turn left over.
    turn : ndarray, shape (m,), rad
        Written: the first joint's angle that turns the stored tip's place towards the target.
    """
    k, t = first_from_base, np.empty(12)
    for i in range(3):
        for j in range(4):
            total = k[9 + i] if j == 3 else 0.0
            for a in range(3):
                total += k[3 * i + a] * (target[9 + a] if j == 3 else target[3 * a + j])
            if j == 3:
                t[9 + i] = total
            else:
                t[3 * i + j] = total
    radius = math.hypot(t[9], t[10])
    for m in range(len(tips)):
        s = tips[m]
        c, d = 1.0, 0.0
        own = math.sqrt(s[9] * s[9] + s[10] * s[10])
        if not slides and radius > 1e-9 and own > 1e-9:
            c = (s[9] * t[9] + s[10] * t[10]) / (radius * own)
            d = (s[9] * t[10] - s[10] * t[9]) / (radius * own)
        x = c * s[9] - d * s[10] - t[9]
        y = d * s[9] + c * s[10] - t[10]
        z = s[11] - t[11]
        trace = s[6] * t[6] + s[7] * t[7] + s[8] * t[8]
        for j in range(3):
            trace += (c * s[j] - d * s[3 + j]) * t[j] + (d * s[j] + c * s[3 + j]) * t[3 + j]
        # 3 - trace = 2 (1 - cos angle), near angle squared for small turns.
        cost[m] = (x * x + y * y + z * z) / (unit * unit) + (3.0 - trace)
        turn[m] = math.atan2(d, c)
