"""Which triangles hang together, so that one corner can speak for each shell."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled


def shell_corners(tri: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return one corner of each set of triangles that share corners.

    Corners are shared where their numbers are equal.  Where a mesh has seams
    one shell counts as several, which costs time and never misses one.

    Parameters
    ----------
    tri : ndarray, shape (n, 9), m

    Returns
    -------
    corners : ndarray, shape (k, 3), m
    """
    corners = tri.reshape(-1, 3)
    order = np.lexsort(corners.T)
    follows = np.all(corners[order[1:]] == corners[order[:-1]], axis=1)
    number = np.empty(len(corners), dtype=np.int64)
    number[order] = np.concatenate([[0], np.cumsum(~follows)])
    firsts = _first_triangles(number.reshape(-1, 3))
    return np.ascontiguousarray(corners[3 * firsts])


@compiled
def _first_triangles(number: Any) -> Any:
    """Return one triangle of each connected set: union by the corners' numbers."""
    n = len(number)
    parent = np.arange(number.max() + 1)
    for i in range(n):
        for j in range(1, 3):
            a, b = _root(parent, number[i, 0]), _root(parent, number[i, j])
            if a != b:
                parent[max(a, b)] = min(a, b)
    taken = np.zeros(len(parent), np.bool_)
    firsts = np.empty(n, np.int64)
    n_firsts = 0
    for i in range(n):
        a = _root(parent, number[i, 0])
        if not taken[a]:
            taken[a] = True
            firsts[n_firsts] = i
            n_firsts += 1
    return firsts[:n_firsts].copy()


@compiled
def _root(parent: Any, a: int) -> int:
    while parent[a] != a:
        parent[a] = parent[parent[a]]
        a = parent[a]
    return a
