"""Where the pieces of an arm are in a posture, and how the tip moves with each joint."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.chain import Chain, Floats
from reach.geometry import compiled, in_chunks


@compiled
def forward(q: Any, fixed: Any, slides: Any, end: Any, pieces: Any, tip: Any) -> None:
    """Write the poses of the pieces and of the tip, in the base frame.

    Parameters
    ----------
    q : ndarray, shape (n,), rad or m
    fixed, slides, end
        Of a `Chain`.
    pieces : ndarray, shape (n, 12)
        Written: after each joint, rotation row by row, then the place of the joint (m).
    tip : ndarray, shape (12,)
        Written.
    """
    a, b, c = 1.0, 0.0, 0.0
    d, e, f = 0.0, 1.0, 0.0
    g, h, i = 0.0, 0.0, 1.0
    x, y, z = 0.0, 0.0, 0.0
    n = len(q)
    for j in range(n + 1):
        k = fixed[j] if j < n else end
        x += a * k[9] + b * k[10] + c * k[11]
        y += d * k[9] + e * k[10] + f * k[11]
        z += g * k[9] + h * k[10] + i * k[11]
        a, b, c = _row(a, b, c, k)
        d, e, f = _row(d, e, f, k)
        g, h, i = _row(g, h, i, k)
        if j < n:
            if slides[j]:
                x += c * q[j]
                y += f * q[j]
                z += i * q[j]
            else:
                s, t = math.sin(q[j]), math.cos(q[j])
                a, b = t * a + s * b, t * b - s * a
                d, e = t * d + s * e, t * e - s * d
                g, h = t * g + s * h, t * h - s * g
        out = pieces[j] if j < n else tip
        out[0], out[1], out[2] = a, b, c
        out[3], out[4], out[5] = d, e, f
        out[6], out[7], out[8] = g, h, i
        out[9], out[10], out[11] = x, y, z


@compiled
def _row(a: Any, b: Any, c: Any, k: Any) -> Any:
    """Return one row of a product of rotations."""
    return (
        a * k[0] + b * k[3] + c * k[6],
        a * k[1] + b * k[4] + c * k[7],
        a * k[2] + b * k[5] + c * k[8],
    )


@compiled
def tip_columns(pieces: Any, slides: Any, tip: Any, jacobian: Any) -> None:
    """Write how the tip moves and turns with each joint, base frame, shape (6, n)."""
    for j in range(len(pieces)):
        k = pieces[j]
        u, v, w = k[2], k[5], k[8]
        if slides[j]:
            jacobian[0, j], jacobian[1, j], jacobian[2, j] = u, v, w
            jacobian[3, j], jacobian[4, j], jacobian[5, j] = 0.0, 0.0, 0.0
        else:
            x, y, z = tip[9] - k[9], tip[10] - k[10], tip[11] - k[11]
            jacobian[0, j] = v * z - w * y
            jacobian[1, j] = w * x - u * z
            jacobian[2, j] = u * y - v * x
            jacobian[3, j], jacobian[4, j], jacobian[5, j] = u, v, w


@compiled
def _rows(
    start: int, stop: int, q: Any, fixed: Any, slides: Any, end: Any, pieces: Any, tips: Any
) -> None:
    for r in range(start, stop):
        forward(q[r], fixed, slides, end, pieces[r], tips[r])


@compiled
def _jacobian(q: Any, fixed: Any, slides: Any, end: Any, jacobian: Any) -> None:
    pieces = np.empty((len(q), 12))
    tip = np.empty(12)
    forward(q, fixed, slides, end, pieces, tip)
    tip_columns(pieces, slides, tip, jacobian)


def postures_of(chain: Chain, q: ArrayLike) -> Floats:
    """Return postures as an array, shape (m, n).

    Raises
    ------
    ValueError
        If the number of joints is another.
    """
    rows = np.atleast_2d(np.ascontiguousarray(q, dtype=np.float64))
    if rows.ndim != 2 or rows.shape[1] != chain.n:
        raise ValueError(f"a posture of {chain.arm.name} has {chain.n} values, not {rows.shape}")
    return rows


def piece_poses(chain: Chain, q: ArrayLike) -> Floats:
    """Return where the rigid pieces of the arm are.

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (m, n) or (n,), rad or m

    Returns
    -------
    base_from_piece : ndarray, shape (m, n + 1, 4, 4)
        Piece 0 is the base; the tip link stands at ``end`` in the last.
    """
    rows = postures_of(chain, q)
    pieces = np.empty((len(rows), chain.n, 12))
    in_chunks(
        _rows, len(rows), rows, chain.fixed, chain.slides, chain.end, pieces,
        np.empty((len(rows), 12)),
    )  # fmt: skip
    poses = np.zeros((len(rows), chain.n + 1, 4, 4))
    _fill_poses(poses[:, 1:], pieces)
    poses[:, 0] = np.eye(4)
    return poses


def tip_poses(chain: Chain, q: ArrayLike) -> Floats:
    """Return ``base_from_tip`` of each posture, shape (m, 4, 4).

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (m, n) or (n,), rad or m
    """
    rows = postures_of(chain, q)
    tips = np.empty((len(rows), 12))
    pieces = np.empty((len(rows), chain.n, 12))
    in_chunks(_rows, len(rows), rows, chain.fixed, chain.slides, chain.end, pieces, tips)
    return _poses(tips)


def tip_jacobian(chain: Chain, q: ArrayLike) -> Floats:
    """Return the tip's velocity (m, base frame) and turning (rad) a unit of each joint.

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (n,), rad or m

    Returns
    -------
    jacobian : ndarray, shape (6, n)
    """
    jacobian = np.empty((6, chain.n))
    row = postures_of(chain, q)[0]
    _jacobian(row, chain.fixed, chain.slides, chain.end, jacobian)
    return jacobian


def _poses(rows: Floats) -> Floats:
    poses = np.zeros((*rows.shape[:-1], 4, 4))
    _fill_poses(poses, rows)
    return poses


def _fill_poses(poses: Floats, rows: Floats) -> None:
    poses[..., :3, :3] = rows[..., :9].reshape(*rows.shape[:-1], 3, 3)
    poses[..., :3, 3] = rows[..., 9:]
    poses[..., 3, 3] = 1.0
