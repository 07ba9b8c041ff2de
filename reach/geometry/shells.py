"""Which triangles hang together, so that one corner can speak for each shell."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled


def shells_of(tri: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return one corner of each set of triangles that share corners, and a box round each.

    Corners are shared where their numbers are equal.  Where a mesh has seams
    one shell counts as several, which costs time and never misses one.

    Parameters
    ----------
    tri : ndarray, shape (n, 9), m

    Returns
    -------
    corners : ndarray, shape (k, 3), m
    boxes : ndarray, shape (k, 6), m
        Lowest and highest corner; infinite for a shell that is not closed: one where some edge is
        not run through as often one way as the other.
    """
    corners = tri.reshape(-1, 3)
    bits = (corners + 0.0).view(np.uint64)  # no minus zero: it is equal to zero
    firsts, boxes = _shells(tri, _numbered(bits).reshape(-1, 3))
    return np.ascontiguousarray(corners[3 * firsts]), boxes


@compiled
def _numbered(bits: Any) -> Any:
    """Return a number for each row, the same for equal ones: a table of places, tried in turn."""
    n = len(bits)
    size = 16
    while size < 2 * n:
        size *= 2
    table = np.full(size, -1, np.int64)
    number = np.empty(n, np.int64)
    n_found = 0
    for i in range(n):
        x, y, z = bits[i, 0], bits[i, 1], bits[i, 2]
        # Odd numbers that spread the bits of a corner; any would do.
        key = (
            x * np.uint64(0x9E3779B97F4A7C15)
            + y * np.uint64(0xC2B2AE3D27D4EB4F)
            + z * np.uint64(0x165667B19E3779F9)
        )
        key ^= key >> np.uint64(29)
        place = np.int64(key & np.uint64(size - 1))
        while True:
            first = table[place]
            if first < 0:
                table[place] = i
                number[i] = n_found
                n_found += 1
                break
            if bits[first, 0] == x and bits[first, 1] == y and bits[first, 2] == z:
                number[i] = number[first]
                break
            place = (place + 1) & (size - 1)
    return number


@compiled
def _shells(tri: Any, number: Any) -> Any:
    """Return one triangle of each connected set, by the corners' numbers, and its box."""
    n = len(number)
    parent = np.arange(number.max() + 1)
    for i in range(n):
        for j in range(1, 3):
            a, b = _root(parent, number[i, 0]), _root(parent, number[i, j])
            if a != b:
                parent[max(a, b)] = min(a, b)
    shell = np.full(len(parent), -1, np.int64)
    firsts = np.empty(n, np.int64)
    n_firsts = 0
    for i in range(n):
        a = _root(parent, number[i, 0])
        if shell[a] < 0:
            shell[a] = n_firsts
            firsts[n_firsts] = i
            n_firsts += 1
    boxes = np.empty((n_firsts, 6))
    boxes[:, :3] = np.inf
    boxes[:, 3:] = -np.inf
    for i in range(n):
        k = shell[_root(parent, number[i, 0])]
        for j in range(9):
            boxes[k, j % 3] = min(boxes[k, j % 3], tri[i, j])
            boxes[k, 3 + j % 3] = max(boxes[k, 3 + j % 3], tri[i, j])
    for a in _loose_ends(number):
        k = shell[_root(parent, a)]
        boxes[k, :3] = -np.inf
        boxes[k, 3:] = np.inf
    return firsts[:n_firsts].copy(), boxes


@compiled
def _loose_ends(number: Any) -> Any:
    """Return the lower corner of each edge that is not run through as often each way."""
    n = len(number)
    keys = np.empty(3 * n, np.int64)
    ways = np.empty(3 * n, np.int64)
    most = number.max() + 1
    for i in range(n):
        for j in range(3):
            a, b = number[i, j], number[i, (j + 1) % 3]
            keys[3 * i + j] = min(a, b) * most + max(a, b)
            ways[3 * i + j] = int(a < b) - int(b < a)
    order = np.argsort(keys)
    loose = np.empty(3 * n, np.int64)
    n_loose = 0
    total = 0
    for i in range(3 * n):
        total += ways[order[i]]
        if i + 1 == 3 * n or keys[order[i + 1]] != keys[order[i]]:
            if total != 0:
                loose[n_loose] = keys[order[i]] // most
                n_loose += 1
            total = 0
    return loose[:n_loose].copy()


@compiled
def _root(parent: Any, a: int) -> int:
    while parent[a] != a:
        parent[a] = parent[parent[a]]
        a = parent[a]
    return a
