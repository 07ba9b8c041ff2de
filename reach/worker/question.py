"""Questions at the door: tips and directions checked once and put on a fine lattice."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

TIP_DIGITS = 9
"""Decimals kept of the tips, m: a world moved as a whole must not change a search's last bit."""

DIRECTION_DIGITS = 12


def questions(tips: ArrayLike, directions: ArrayLike) -> tuple[Array, Array]:
    """Return tips and unit directions as arrays of shape (n, 3), rounded to a fine lattice.

    Parameters
    ----------
    tips : array_like, shape (n, 3) or (3,), m, boot frame
    directions : array_like, shape (n, 3) or (3,), boot frame
        One for all tips, or one each; of any length above zero.

    Raises
    ------
    ValueError
        Naming the first row that holds a nan or an infinity, or a direction of no length.

    Examples
    --------
    >>> tips, directions = questions([0.5, 0, 1.2], [2.0, 0, 0])
    >>> tips.tolist(), directions.tolist()
    ([[0.5, 0.0, 1.2]], [[1.0, 0.0, 0.0]])
    """
    t, d = _rows(tips, "tips"), _rows(directions, "directions")
    if len(d) == 1 and len(t) != 1:
        d = np.repeat(d, len(t), axis=0)
    if len(t) != len(d):
        raise ValueError(f"{len(t)} tips need as many directions, found {len(d)}")
    length = np.linalg.norm(d, axis=1)
    if (length < 1e-9).any():
        row = int(np.flatnonzero(length < 1e-9)[0])
        raise ValueError(f"direction {row} has no length")
    return _on_lattice(t, TIP_DIGITS), _on_lattice(d / length[:, None], DIRECTION_DIGITS)


def _rows(values: ArrayLike, name: str) -> Array:
    rows = np.atleast_2d(np.asarray(values, np.float64))
    if rows.size == 0:
        return np.zeros((0, 3))
    if rows.ndim != 2 or rows.shape[1] != 3:
        raise ValueError(f"{name} need the shape (n, 3), found {np.shape(values)}")
    bad = ~np.isfinite(rows).all(axis=1)
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise ValueError(f"{name} must be finite, row {row} is {rows[row].tolist()}")
    return rows


def _on_lattice(values: Array, digits: int) -> Array:
    """Round to decimals; minus zero becomes zero."""
    return np.ascontiguousarray(np.round(values, digits) + 0.0)
