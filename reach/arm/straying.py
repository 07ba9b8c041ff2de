"""How far the tip strays from the asked way between postures: bounds that hold all along.

Between two postures all joints move evenly.  The way from where the tip is to where it should
be is a function of the share s of the piece whose second derivative is at most that of the
tip plus that of the asked way, ``M``.  Looked at K + 1 evenly spread shares it is, in between,
within ``M / (8 K^2)`` of a straight line, so no longer than at the longer end plus that.  The
angle of the turn that is missing changes no faster than the two turn against each other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.asked import Way
from reach.arm.bound import ROUNDING
from reach.arm.chain import Chain, Floats
from reach.arm.covers import Covers
from reach.arm.forward import piece_poses, tip_poses
from reach.arm.rates import farthest, steady_and_bend

N_LOOKS = 8
"""Shares of a piece that are looked at, its first left out."""


def strays(chain: Chain, way: Way, at: ArrayLike, q: ArrayLike) -> tuple[Floats, Floats]:
    """Return bounds on how far the tip's origin and direction stray in each piece.

    Parameters
    ----------
    chain : Chain
    way : Way
    at : array_like, shape (m,)
        Where on the way each posture stands; no piece goes over a corner.
    q : array_like, shape (m, n), rad or m

    Returns
    -------
    off : ndarray, shape (m - 1,), m
    off_turn : ndarray, shape (m - 1,), rad
    """
    moments, rows = np.asarray(at, dtype=np.float64), np.asarray(q, dtype=np.float64)
    ways, spans = np.diff(rows, axis=0), np.diff(moments)
    shares = np.linspace(0.0, 1.0, N_LOOKS + 1)[:, None]
    m = len(ways)
    looked = rows[:-1, None] + shares * ways[:, None]
    looked = looked.reshape(-1, chain.n)
    # Just inside the leg: at a corner the leg after it has another axis, but the same pose.
    asked = way.targets((moments[:-1, None] + shares[:, 0] * spans[:, None]).ravel())
    tips = tip_poses(chain, looked)
    leg = np.minimum(moments[:-1].astype(np.int64), len(way.legs) - 1)
    angle = way.legs[leg, 9] * spans

    apart = np.linalg.norm(tips[:, :3, 3] - asked[:, 9:], axis=1).reshape(m, -1)
    tip = Covers(
        np.zeros(1, np.int64), np.full(1, chain.n), chain.end[None, 9:], chain.end[None, 9:],
        np.zeros(1),
    )  # fmt: skip
    far = farthest(chain, tip)
    bend = steady_and_bend(chain, ways[:, None], far, np.ones_like(far, bool))[1][:, 0]
    bend = bend + angle**2 * np.linalg.norm(way.legs[leg, 19:], axis=1)
    longest = np.maximum(apart[:, 1:], apart[:, :-1]).max(axis=1)
    off = longest + bend / (8.0 * N_LOOKS**2) + ROUNDING

    missing = np.linalg.norm(tips[:, :3, :3].reshape(-1, 9) - asked[:, :9], axis=1)
    missing = 2.0 * np.arcsin(np.minimum(missing / np.sqrt(8.0), 1.0)).reshape(m, -1)
    turning = np.where(chain.slides, 0.0, ways)
    axes = piece_poses(chain, looked)[:, 1:, :3, 2].reshape(m, -1, chain.n, 3)
    against = np.einsum("mkjc,mj->mkc", axes, turning)
    against = against - (way.legs[leg, 6:9] * angle[:, None])[:, None]
    turns = np.abs(turning)
    change = (turns * (np.cumsum(turns, axis=1) - turns)).sum(axis=1)
    half = 0.5 / N_LOOKS
    speed = np.linalg.norm(against, axis=2)
    off_turn = (missing + speed * half).max(axis=1) + 0.5 * change * half**2 + ROUNDING
    return np.asarray(off), np.asarray(off_turn)
