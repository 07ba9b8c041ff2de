"""At the door of the batch queries: what they accept, and in which order they work."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled
from reach.geometry.tree import Floats
from reach.geometry.vector import greatest, least

_Number = TypeVar("_Number", bound=np.generic)
FEW = 1024
"""Queries that are answered in the order in which they come."""


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
    rows = np.asarray(given, dtype=np.float64)
    if rows.ndim == 2 and rows.shape[1] == 3 and n in (None, len(rows)):
        return rows if rows.flags.c_contiguous else np.ascontiguousarray(rows)
    rows = np.atleast_2d(rows)
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
    if values.ndim == 0 and values >= 0.0:
        return np.full(n, float(values))
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
    if len(points) < FEW:
        return np.arange(len(points))
    keys = np.empty(len(points), dtype=np.uint16)
    _curve_keys(points, keys)
    return np.argsort(keys, kind="stable")


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
    """Fill in the place of each point along a Z-order curve through 32 x 32 x 32 cells."""
    low = np.full(3, np.inf)
    high = np.full(3, -np.inf)
    for i in range(len(points)):
        for k in range(3):
            low[k] = least(points[i, k], low[k])
            high[k] = greatest(points[i, k], high[k])
    for k in range(3):
        span = high[k] - low[k]
        high[k] = 31.999 / span if 0.0 < span < np.inf else 0.0
    for i in range(len(points)):
        key = 0
        for k in range(3):
            at = (points[i, k] - low[k]) * high[k]
            key |= _spread(int(at) if 0.0 <= at < 32.0 else 0) << k
        keys[i] = key


@compiled
def _spread(cell: int) -> int:
    """Return the 5 bits of a number with two zeros between each."""
    cell = (cell | (cell << 8)) & 0x100F
    cell = (cell | (cell << 4)) & 0x10C3
    return (cell | (cell << 2)) & 0x1249
