"""What an arm cannot reach for certain: links are no longer than they are."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.chain import Chain, Floats

ROUNDING = 1e-9
"""m; taken off every bound, for the numbers are not rounded outward."""


def spans(chain: Chain) -> tuple[Floats, Floats]:
    """Return the least and the greatest distance between origins that follow each other.

    Entry i is from joint i to joint i + 1, the last one to the tip.  A joint that slides moves
    its piece along z, its own origin stays where it starts.
    """
    offsets = np.concatenate([chain.fixed[1:, 9:], chain.end[None, 9:]])
    flat_part = np.linalg.norm(offsets[:, :2], axis=1)
    along = offsets[:, 2]
    low, high = np.zeros(chain.n), np.zeros(chain.n)
    low[chain.slides] = chain.lower[chain.slides]
    high[chain.slides] = chain.upper[chain.slides]
    greatest = np.hypot(flat_part, np.maximum(np.abs(along + low), np.abs(along + high)))
    crosses = (along + low) * (along + high) <= 0.0
    nearest = np.minimum(np.abs(along + low), np.abs(along + high))
    least = np.hypot(flat_part, np.where(crosses, 0.0, nearest))
    return least, greatest


def full_reach(chain: Chain) -> float:
    """Return the sum of the link lengths from the base origin to the tip (m).

    The tip is never farther from the base: an upper bound, attained where the arm can be
    laid out straight.

    Notes
    -----
    Lengths are taken from joint to joint, so a joint placed off the line of its neighbours
    adds to the sum though it adds little to the reach.
    """
    return float(np.linalg.norm(chain.fixed[0, 9:]) + spans(chain)[1].sum())


def shortage(chain: Chain, base_from_tip: ArrayLike) -> Floats:
    """Return by how much poses are out of reach for certain.

    The tip is at most the sum of the link lengths from the first joint, and the last joint,
    whose place the pose gives, at most the sum of the links before it; both are at least as
    far as the longest link less all others.  Joint limits and the turn are left out.

    Parameters
    ----------
    chain : Chain
    base_from_tip : array_like, shape (m, 4, 4) or (4, 4)

    Returns
    -------
    shortage : ndarray, shape (m,), m
        Above 0: proved out of reach, by at least so much.  Otherwise nothing is said.
    """
    poses = np.asarray(base_from_tip, dtype=np.float64).reshape(-1, 4, 4)
    least, greatest = spans(chain)
    first = chain.fixed[0, 9:]
    found = _outside(poses[:, :3, 3] - first, least, greatest)
    if chain.n > 1 and not chain.slides[-1]:
        turn, place = chain.end[:9].reshape(3, 3), chain.end[9:]
        last = poses[:, :3, 3] - poses[:, :3, :3] @ (turn.T @ place)
        found = np.maximum(found, _outside(last - first, least[:-1], greatest[:-1]))
    return found


def _outside(apart: Floats, least: Floats, greatest: Floats) -> Floats:
    distance = np.linalg.norm(apart, axis=1)
    n = int(np.argmax(least))
    inner = least[n] - (greatest.sum() - greatest[n])
    farther: Floats = np.maximum(distance - greatest.sum(), inner - distance) - ROUNDING
    return farther
