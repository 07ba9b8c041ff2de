"""The smallest gap over motions of an arm, for sure: to structure, and between its links.

Around a moment no gap shrinks by more than its capsules are carried (`rates`).  Motions are
cut, and cuts halved where their lower bound is lowest, all motions of a row at once: one is
looked at closely only where it may come nearer than the nearest seen on any of them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.bound import ROUNDING
from reach.arm.chain import Chain, Floats
from reach.arm.clearance import asked_capsules, compared_pairs, pair_gaps, structure_gaps
from reach.arm.covers import Covers, covers_of
from reach.arm.motion import waypoints_of
from reach.arm.rates import farthest, steady_and_bend, velocities
from reach.geometry import Tree

TOLERANCE = 1e-3
"""m; a bracket this narrow is not narrowed further."""
MOST_POSTURES = 20_000
_FIRST_CUTS = 16

Pieces = NDArray[np.int64]
Look = Callable[[Pieces, Floats, float], tuple[Floats, Floats]]
"""Motions, moments on them and half the length of a cut -> gaps, and how far they may shrink."""


class GapBracket(NamedTuple):
    """What is known about the smallest gap over a motion.

    Attributes
    ----------
    low : float, m
        Proved: at no moment is the gap smaller.
    high : float, m
        The gap between the covers at ``moment``.
    moment : float
        Share of the motion, 0 to 1.
    postures : int
        How many were looked at.
    piece : int
        Of several motions in a row the one that ``moment`` is on.
    """

    low: float
    high: float
    moment: float
    postures: int
    piece: int = 0


def self_gap(
    chain: Chain, start: ArrayLike, end: ArrayLike, covers: Covers | None = None,
    wanted: float | None = None, tolerance: float = TOLERANCE,
) -> GapBracket:  # fmt: skip
    """Return a bracket on the smallest gap between links over a motion from start to end.

    As `self_chain_gap` of two postures.
    """
    rows = np.stack([np.asarray(start), np.asarray(end)])
    return self_chain_gap(chain, rows, covers, wanted, tolerance)


def self_chain_gap(
    chain: Chain, postures: ArrayLike, covers: Covers | None = None,
    wanted: float | None = None, tolerance: float = TOLERANCE,
) -> GapBracket:  # fmt: skip
    """Return a bracket on the smallest gap between links from posture to posture.

    Parameters
    ----------
    chain : Chain
    postures : array_like, shape (m, n_joints), rad or m
        Between two all joints move evenly.
    covers : Covers, optional
        Made with `covers_of` where not given; what rides along may be added to them.
    wanted : float, m, optional
        The search ends as soon as the bracket lies on one side of it.
    tolerance : float, m
    """
    covers = covers or covers_of(chain)
    rows, pairs = waypoints_of(chain, postures), compared_pairs(chain, covers)
    ways = np.diff(rows, axis=0)
    a, b = pairs[:, 0], pairs[:, 1]
    # Seen from the piece nearer to the base only the joints between the two move the other.
    between = np.arange(chain.n)[None, :] >= covers.piece[a][:, None]
    speed, bend = steady_and_bend(chain, ways[:, None], farthest(chain, covers)[b], between)

    def look(piece: Pieces, s: Floats, half: float) -> tuple[Floats, Floats]:
        q = rows[piece] + s[:, None] * ways[piece]
        added = velocities(chain, q, ways[piece], covers)[:, b]
        moving = np.einsum("nkejc,kj->nkec", added, between)
        gaps = pair_gaps(chain, q, covers, pairs)
        return gaps, _carried(moving, speed[piece], bend[piece], half)

    return _bracket(look, len(ways), len(pairs), wanted, tolerance)


def structure_gap(
    chain: Chain, start: ArrayLike, end: ArrayLike, tree: Tree, covers: Covers | None = None,
    world_from_base: ArrayLike | None = None, without: Collection[str] | None = None,
    wanted: float | None = None, tolerance: float = TOLERANCE,
) -> GapBracket:  # fmt: skip
    """Return a bracket on the smallest gap to structure over a motion from start to end.

    As `chain_gap` of two postures.
    """
    rows = np.stack([np.asarray(start), np.asarray(end)])
    return chain_gap(chain, rows, tree, covers, world_from_base, without, wanted, tolerance)


def chain_gap(
    chain: Chain, postures: ArrayLike, tree: Tree, covers: Covers | None = None,
    world_from_base: ArrayLike | None = None, without: Collection[str] | None = None,
    wanted: float | None = None, tolerance: float = TOLERANCE,
) -> GapBracket:  # fmt: skip
    """Return a bracket on the smallest gap to structure from posture to posture.

    Parameters
    ----------
    chain : Chain
    postures : array_like, shape (m, n_joints), rad or m
        Between two all joints move evenly.
    tree : Tree
        Structure, in the world.
    covers, world_from_base, without
        As `structure_clearance` has them; what rides along may be added to the covers.
    wanted : float, m, optional
        The search ends as soon as the bracket lies on one side of it.
    tolerance : float, m
    """
    asked = asked_capsules(chain, covers or covers_of(chain), without)
    rows, far = waypoints_of(chain, postures), farthest(chain, asked)
    ways = np.diff(rows, axis=0)
    speed, bend = steady_and_bend(chain, ways[:, None], far, np.ones_like(far, bool))

    def look(piece: Pieces, s: Floats, half: float) -> tuple[Floats, Floats]:
        q = rows[piece] + s[:, None] * ways[piece]
        moving = velocities(chain, q, ways[piece], asked).sum(axis=3)
        gaps = structure_gaps(chain, q, tree, asked, world_from_base)
        return gaps, _carried(moving, speed[piece], bend[piece], half)

    return _bracket(look, len(ways), len(far), wanted, tolerance)


def _carried(moving: Floats, speed: Floats, bend: Floats, half: float) -> Floats:
    """Return how far an axis gets in ``half`` of a cut, either way from its middle: (n, k), m."""
    now = np.linalg.norm(moving, axis=-1).max(axis=-1)
    return np.asarray(np.minimum(speed * half, now * half + 0.5 * bend * half * half))


def _bracket(
    look: Look, n_pieces: int, n_gaps: int, wanted: float | None, tolerance: float
) -> GapBracket:
    """Narrow down the smallest of all gaps on motions in a row.

    Cuts are halved until the bracket is as narrow as ``tolerance``, lies on one side of
    ``wanted``, or enough postures were seen.
    """
    if n_gaps == 0:
        return GapBracket(np.inf, np.inf, 0.0, 0)
    piece = np.append(np.arange(n_pieces), n_pieces - 1)
    middles: Floats = np.append(np.zeros(n_pieces), 1.0)
    least = look(piece, middles, 0.0)[0].min(axis=1)
    n = int(least.argmin())
    high, moment, on, count = float(least[n]), float(middles[n]), int(piece[n]), len(middles)
    n_cuts = -(-_FIRST_CUTS // n_pieces)
    half = 0.5 / n_cuts
    piece = np.repeat(np.arange(n_pieces), n_cuts)
    middles = np.tile((2.0 * np.arange(n_cuts) + 1.0) * half, n_pieces)
    settled = np.inf
    while True:
        gaps, carried = look(piece, middles, half)
        least, count = gaps.min(axis=1), count + len(middles)
        n = int(least.argmin())
        if least[n] < high:
            high, moment, on = float(least[n]), float(middles[n]), int(piece[n])
        lows = (gaps - carried).min(axis=1) - ROUNDING
        low = min(settled, float(lows.min()))
        again = lows < (high - tolerance if wanted is None else min(high - tolerance, wanted))
        decided = wanted is not None and (low >= wanted or high < wanted)
        if decided or not again.any() or count + 2 * again.sum() > MOST_POSTURES:
            return GapBracket(min(low, high), high, moment, count, on)
        settled = min(settled, float(lows[~again].min(initial=np.inf)))
        half *= 0.5
        middles = (middles[again, None] + np.array([-half, half])).ravel()
        piece = np.repeat(piece[again], 2)
