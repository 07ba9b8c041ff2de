"""Checks at the door: what the batch queries accept, said once."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry.tree import Floats


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
