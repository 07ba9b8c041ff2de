"""Closest points of many pairs of segments, and which pairs are near at all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHORTEST_PIECE = 0.5
"""Rails are cut into pieces no shorter than this for the search of neighbours (m)."""


def closest(p: Floats, u: Floats, q: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
    """Return where the segments ``p p+u`` and ``q q+v`` of each row come closest.

    The closest pair is either inside both, or has an end of one segment in it: the least of
    the five candidates is taken, which needs no threshold for parallel ones.

    Parameters
    ----------
    p, u, q, v : ndarray, shape (n, 3), m
        Starts and whole lengths; a length may be zero.

    Returns
    -------
    s, t : ndarray, shape (n,)
        Shares of ``u`` and ``v``, 0 to 1.
    distance : ndarray, shape (n,), m

    Examples
    --------
    >>> x, y = np.eye(3)[:1], np.eye(3)[1:2]
    >>> [part.tolist() for part in closest(0 * x, x, 0.5 * x + 0.25 * y, y)]
    [[0.5], [0.0], [0.25]]
    """
    a, e, b, r = _dot(u, u), _dot(v, v), _dot(u, v), p - q
    c, f = _dot(u, r), _dot(v, r)
    denominator = a * e - b * b
    crossing = denominator > 1e-12 * a * e
    divisor = np.where(crossing, denominator, 1.0)
    inner_s = np.clip(np.where(crossing, (b * f - c * e) / divisor, 0.0), 0.0, 1.0)
    inner_t = share((p + inner_s[:, None] * u) - q, v)
    zero, one = np.zeros(len(p)), np.ones(len(p))
    s = np.stack([zero, one, share(q - p, u), share(q + v - p, u), inner_s])
    t = np.stack([share(p - q, v), share(p + u - q, v), zero, one, inner_t])
    apart = r + s[:, :, None] * u - t[:, :, None] * v
    squared = np.einsum("ijk,ijk->ij", apart, apart)
    best, rows = np.argmin(squared, axis=0), np.arange(len(p))
    return s[best, rows], t[best, rows], np.sqrt(squared[best, rows])


def share(w: Floats, u: Floats) -> Floats:
    """Return the share of ``u``, 0 to 1, nearest to the point ``w``; 0 where ``u`` is zero."""
    length = _dot(u, u)
    return np.asarray(
        np.clip(_dot(w, u) / np.where(length > 0.0, length, 1.0), 0.0, 1.0) * (length > 0.0),
        np.float64,
    )


def near_pairs(start: Floats, stop: Floats, gap: float) -> Ints:
    """Return every pair of segments that may be at most ``gap`` apart.

    Segments are cut into pieces about as long as the gap; two that are ``gap`` apart have
    pieces whose middles are at most the gap and two half pieces apart.  No pair is missed.

    Parameters
    ----------
    start, stop : ndarray, shape (n, 3), m
    gap : float, m
        Finite.

    Returns
    -------
    pairs : ndarray, shape (m, 2)
        The smaller index first, sorted; some of them may be farther apart.
    """
    if len(start) < 2:
        return np.empty((0, 2), np.int64)
    from scipy.spatial import cKDTree

    middles, owner, longest = pieces(start, stop, max(gap, SHORTEST_PIECE))
    near = cKDTree(middles).query_pairs(gap + longest + 1e-6, output_type="ndarray")
    two = np.sort(owner[near], axis=1)
    two = two[two[:, 0] != two[:, 1]]
    keys = np.unique(two[:, 0] * len(start) + two[:, 1])
    return np.stack([keys // len(start), keys % len(start)], axis=1)


def near_points(start: Floats, stop: Floats, points: Floats, radius: Floats) -> Ints:
    """Return every (point, segment) that may be at most the point's ``radius`` apart.

    Returns
    -------
    pairs : ndarray, shape (m, 2)
        Index of the point, index of the segment; sorted.
    """
    if not len(start) or not len(points):
        return np.empty((0, 2), np.int64)
    from scipy.spatial import cKDTree

    middles, owner, longest = pieces(start, stop, max(float(radius.max()), SHORTEST_PIECE))
    balls = cKDTree(middles).query_ball_point(points, radius + 0.5 * longest + 1e-6)
    counts = np.array([len(ball) for ball in balls])
    which = np.repeat(np.arange(len(points)), counts)
    found = owner[np.concatenate([np.asarray(ball, np.int64) for ball in balls])]
    keys = np.unique(which * len(start) + found)
    return np.stack([keys // len(start), keys % len(start)], axis=1)


def pieces(start: Floats, stop: Floats, most: float) -> tuple[Floats, Ints, float]:
    """Cut segments into equal pieces of at most ``most``: middles, owners, the longest piece."""
    length = np.linalg.norm(stop - start, axis=1)
    counts = np.maximum(1, np.ceil(length / most)).astype(np.int64)
    owner = np.repeat(np.arange(len(start)), counts)
    at = (counting(counts) + 0.5) / counts[owner]
    middles = start[owner] + at[:, None] * (stop - start)[owner]
    return middles, owner, float((length / counts).max(initial=0.0))


def counting(counts: Ints) -> Ints:
    """Return 0, 1, ... for each run of so many rows.

    Examples
    --------
    >>> counting(np.array([2, 3])).tolist()
    [0, 1, 0, 1, 2]
    """
    ends = np.cumsum(counts)
    return np.asarray(np.arange(int(counts.sum())) - np.repeat(ends - counts, counts), np.int64)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("...i,...i->...", a, b), np.float64)
