"""How two lines lie about each other: crossings as seen, and Gauss's integral.

Seen along a direction, each place where one line lies over the other has a
sign, that of ``(u_a x u_b) . (x_a - x_b)`` with u the way each line runs there.
The sum of the signs does not change while the lines bend, as long as neither is
pulled through the other and no end passes over or under the other line: it
changes by 1 when an end does.  A line that goes over and comes back over adds
nothing; one that hooks round the other adds 2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.lines.leading import Floats

TIE = 1e-6
"""Lines as near as this along the view (m) lie on one rail: the second is taken as outside."""
_ASIDE = (1e-7, 0.618e-7)
"""The second line is seen this far aside (m): lines on one rail then neither meet nor cross."""


@dataclass(frozen=True, eq=False, slots=True)
class Crossings:
    """Where two lines cross as seen, one row a crossing.

    Attributes
    ----------
    sign : ndarray of int64, shape (n,)
    on_a, on_b : ndarray, shape (n, 3), m
    outside_a : ndarray of bool, shape (n,)
        Whether the first line lies nearer to who looks.
    """

    sign: NDArray[np.int64]
    on_a: Floats
    on_b: Floats
    outside_a: NDArray[np.bool_]

    @property
    def count(self) -> int:
        """Sum of the signs."""
        return int(self.sign.sum())


def line_of(name: str, points: ArrayLike) -> Floats:
    """Return a polyline as an array, shape (k, 3); ValueError if it is none."""
    line = np.asarray(points, dtype=np.float64)
    if line.ndim != 2 or line.shape[1:] != (3,) or not len(line) or not np.isfinite(line).all():
        raise ValueError(f"{name} must be finite and have shape (k, 3), not {line.shape}")
    return line


def seen_crossings(a: ArrayLike, b: ArrayLike, outward: ArrayLike) -> Crossings:
    """Return where two lines cross as seen from outside.

    Parameters
    ----------
    a, b : array_like, shape (k, 3), m, world
        Each from its anchor to its worker.
    outward : array_like, shape (3,)
        From the structure toward who looks; need not be a unit vector.

    Returns
    -------
    crossings : Crossings

    Raises
    ------
    ValueError
        If a shape does not fit or `outward` is zero.
    """
    first, second = line_of("a", a), line_of("b", b)
    view = np.asarray(outward, dtype=np.float64)
    size = float(np.linalg.norm(view))
    if view.shape != (3,) or not (np.isfinite(size) and size > 0.0):
        raise ValueError("outward must be a direction of shape (3,)")
    view = view / size
    across = np.linalg.svd(view[None])[2][1:]
    across[1] *= np.sign(np.cross(across[0], across[1]) @ view)
    pa, pb = first @ across.T, second @ across.T + np.array(_ASIDE)
    u, v = np.diff(pa, axis=0)[:, None], np.diff(pb, axis=0)[None]
    gap = pb[None, :-1] - pa[:-1, None]
    turn = _cross2(u, v)
    with np.errstate(divide="ignore", invalid="ignore"):
        s, t = _cross2(gap, v) / turn, _cross2(gap, u) / turn
    i, j = np.nonzero((turn != 0.0) & (s >= 0.0) & (s < 1.0) & (t >= 0.0) & (t < 1.0))
    x = first[i] + s[i, j, None] * (first[i + 1] - first[i])
    y = second[j] + t[i, j, None] * (second[j + 1] - second[j])
    depth = (x - y) @ view
    outside_a = depth > TIE
    sign = np.where(outside_a, 1, -1) * np.sign(turn[i, j]).astype(np.int64)
    return Crossings(sign, x, y, outside_a)


def _cross2(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def gauss_integral(a: ArrayLike, b: ArrayLike) -> float:
    """Return Gauss's linking integral of two polylines, open or closed.

    Half the mean, over all views, of what :func:`seen_crossings` counts; the
    linking number where both are closed.  Each pair of segments is a
    quadrangle of the sphere (Klenin and Langowski, Computation of writhe in
    modeling of supercoiled DNA, Biopolymers 54, 2000; from memory).

    Parameters
    ----------
    a, b : array_like, shape (k, 3), m
        They must not meet.  Closed ones repeat their first point.

    Raises
    ------
    ValueError
        If a shape does not fit.
    """
    first, second = line_of("a", a), line_of("b", b)
    p, q = first[:-1, None], first[1:, None]
    r, s = second[None, :-1], second[None, 1:]
    corners = [r - p, s - p, s - q, r - q]
    normals = [_unit(np.cross(corners[k], corners[(k + 1) % 4])) for k in range(4)]
    area = np.zeros(np.broadcast_shapes(p.shape, r.shape)[:2])
    for k in range(4):
        area += np.arcsin(np.clip((normals[k] * normals[(k + 1) % 4]).sum(-1), -1.0, 1.0))
    side = np.sign((np.cross(s - r, q - p) * (r - p)).sum(-1))
    return float((area * side).sum() / (4.0 * np.pi))


def _unit(v: Floats) -> Floats:
    return np.asarray(v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-300))
