"""At the door of the batch queries: what they accept, and in which order they work."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled
from reach.geometry.tree import Floats

_Number = TypeVar("_Number", bound=np.generic)
_FEW = 1024


def points_of(name: str, given: ArrayLike, n: int | None = None) -> Floats:
    """Return points or directions as an array of rows.

    Parameters
    ----------
    name : str
        Of the argument, for the message.
    given : array_like, shape (n, 3) or (3,)
    n : int, optional
        Rows wanted.  One row is repeated.

    Returns
    -------
    rows : ndarray, shape (n, 3)
        In C order.

    Raises
    ------
    ValueError
        If the shape does not fit.
    """
    rows = np.atleast_2d(np.asarray(given, dtype=np.float64))
    if rows.size == 0 and rows.ndim == 2:
        rows = rows.reshape(0, 3)
    if rows.ndim != 2 or rows.shape[1] != 3:
        raise ValueError(f"{name} must have shape (n, 3) or (3,), not {np.shape(given)}")
    if n is not None and len(rows) != n:
        if len(rows) != 1:
            raise ValueError(f"{name} has {len(rows)} rows where {n} are asked")
        rows = np.broadcast_to(rows, (n, 3))
    return np.ascontiguousarray(rows)


def finite_points_of(name: str, given: ArrayLike, n: int | None = None) -> Floats:
    """Return what :func:`points_of` returns, for questions that have only yes and no.

    Raises
    ------
    ValueError
        Also if a number is not finite: an unknown place must not read as "no".
    """
    rows = points_of(name, given, n)
    if not np.isfinite(rows).all():
        bad = int(np.flatnonzero(~np.isfinite(rows).all(axis=1))[0])
        raise ValueError(f"{name} row {bad} is not finite: {rows[bad].tolist()}")
    return rows


def values_of(name: str, given: ArrayLike, n: int) -> Floats:
    """Return one value a row, from one for all or one each.

    Parameters
    ----------
    name : str
        Of the argument, for the message.
    given : array_like, shape () or (n,)
    n : int

    Returns
    -------
    values : ndarray, shape (n,)

    Raises
    ------
    ValueError
        If the shape does not fit, or a value is negative or ``nan``.
    """
    values = np.asarray(given, dtype=np.float64)
    if values.ndim > 1 or (values.ndim == 1 and len(values) not in (1, n)):
        raise ValueError(f"{name} must be one value or {n} values, not shape {values.shape}")
    if not (values >= 0.0).all():
        raise ValueError(f"{name} must not be negative or nan, found {values.min()}")
    return np.ascontiguousarray(np.broadcast_to(values, (n,)))


def near_order(points: Floats) -> NDArray[np.int64]:
    """Return how to sort `points` so that neighbours in space follow each other.

    Queries answered in this order find the part of the tree that they need
    already in the processor's cache: up to twice as fast on large scenes.

    Parameters
    ----------
    points : ndarray, shape (n, 3), m
        Rows that are not finite come anywhere.

    Returns
    -------
    order : ndarray, shape (n,)
        ``points[order]`` is sorted; a few rows stay as they are.
    """
    if len(points) < _FEW:
        return np.arange(len(points))
    keys = np.empty(len(points), dtype=np.uint64)
    _curve_keys(points, keys)
    keys.sort()
    return (keys & np.uint64(0xFFFFFFFF)).astype(np.int64)


def sorted_rows(order: NDArray[np.int64], *columns: Floats) -> list[Floats]:
    """Return each array with its rows in the given order."""
    return [np.take(column, order, axis=0) for column in columns]


def as_given(order: NDArray[np.int64], answers: NDArray[_Number]) -> NDArray[_Number]:
    """Return answers to sorted rows in the order in which the rows were given."""
    back = np.empty_like(answers)
    back[order] = answers
    return back


@compiled
def _curve_keys(points: Any, keys: Any) -> None:
    """Fill in the place along a Z-order curve (10 bits an axis) above the row number."""
    low = np.full(3, np.inf)
    span = 0.0
    for i in range(len(points)):
        for k in range(3):
            low[k] = min(low[k], points[i, k])
    for i in range(len(points)):
        for k in range(3):
            span = max(span, points[i, k] - low[k])
    scale = 1023.0 / span if 0.0 < span < np.inf else 0.0
    for i in range(len(points)):
        key = 0
        for k in range(3):
            at = (points[i, k] - low[k]) * scale
            key |= _spread(int(at) if 0.0 <= at <= 1023.0 else 0) << k
        keys[i] = (np.uint64(key) << np.uint64(32)) | np.uint64(i)


@compiled
def _spread(cell: int) -> int:
    """Return the 10 bits of a number with two zeros between each."""
    cell = (cell | (cell << 16)) & 0x030000FF
    cell = (cell | (cell << 8)) & 0x0300F00F
    cell = (cell | (cell << 4)) & 0x030C30C3
    return (cell | (cell << 2)) & 0x09249249
