"""A bounding-volume tree over triangles: built once, asked by every query.

The tree is a flat set of arrays, so that it can be handed to compiled code,
to another process or to another device as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled
from reach.geometry.shells import shells_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

LEAF = 6
"""Most triangles in a leaf."""
STACK = 128
"""Entries a traversal needs at most, whatever the triangles: see :func:`_split`."""

_BINS = 16
_DEEP = 60


@dataclass(frozen=True, eq=False)
class Tree:
    """Triangles sorted into nested boxes.

    Attributes
    ----------
    tri : ndarray, shape (n, 9), m, world
        Corners a, b, c of each triangle, in the order of the leaves.
    box : ndarray, shape (m, 6), m, world
        Lowest and highest corner of each node, a little too large on purpose.
    link : ndarray of int32, shape (m, 2)
        ``(left, left + 1)`` for an inner node, ``(-first - 1, count)`` for a
        leaf that holds triangles ``first`` to ``first + count - 1``.
    face : ndarray of int32, shape (n,)
        Row of each triangle in the array that :func:`build` was given.
    """

    tri: Floats
    box: Floats
    link: Ints
    face: Ints

    @property
    def n_triangles(self) -> int:
        """Number of triangles."""
        return len(self.tri)

    @property
    def nbytes(self) -> int:
        """Bytes of the four arrays."""
        return self.tri.nbytes + self.box.nbytes + self.link.nbytes + self.face.nbytes

    @cached_property
    def bounds(self) -> Floats:
        """Lowest and highest corner, shape (2, 3), m, world."""
        corners = self.tri.reshape(-1, 3)
        found = np.array([corners.min(axis=0), corners.max(axis=0)])
        found.flags.writeable = False
        return found

    @cached_property
    def moments(self) -> Floats:
        """What the winding number needs of each node, made on first use, shape (m, 7).

        Centre of area (m), summed area normal (m^2), and radius (m) about the
        centre that holds the node's box.
        """
        return np.asarray(_moments(self.tri, self.box, self.link))

    @property
    def shells(self) -> Floats:
        """One corner of each connected set of triangles, made on first use, shape (k, 3), m."""
        return self._shells[0]

    @property
    def shell_boxes(self) -> Floats:
        """A box round each of them, infinite where it is not closed, shape (k, 6), m."""
        return self._shells[1]

    @cached_property
    def _shells(self) -> tuple[Floats, Floats]:
        return shells_of(self.tri)


def build(triangles: ArrayLike) -> Tree:
    """Return the search tree of a set of triangles.

    Splits where the surface-area heuristic is cheapest (16 bins an axis).  The
    result depends on nothing but the input.

    Parameters
    ----------
    triangles : array_like, shape (n, 3, 3), m, world
        Corners of each triangle; degenerate ones are allowed.

    Returns
    -------
    tree : Tree

    Raises
    ------
    ValueError
        If there is no triangle, the shape is wrong or a number is not finite.
    """
    given = np.asarray(triangles, dtype=np.float64)
    if given.ndim != 3 or given.shape[1:] != (3, 3):
        raise ValueError(f"triangles must have shape (n, 3, 3), not {given.shape}")
    if len(given) == 0:
        raise ValueError("a tree needs at least one triangle")
    corners = np.ascontiguousarray(given.reshape(-1, 9))
    extreme = max(abs(float(corners.min())), abs(float(corners.max())))
    if not np.isfinite(extreme):
        bad = int(np.flatnonzero(~np.isfinite(corners).all(axis=1))[0])
        raise ValueError(f"triangle {bad} has a corner that is not finite: {given[bad].tolist()}")
    # Rays that run exactly in the face of a box must not be lost to rounding.
    face, box, link = _build(corners, 4.0 * float(np.spacing(extreme)))
    return Tree(corners[face], box, link, face)


@compiled
def _build(tri: Any, pad: float) -> tuple[Ints, Floats, Ints]:
    n = tri.shape[0]
    bounds = np.empty((n, 6))
    for i in range(n):
        for k in range(3):
            a, b, c = tri[i, k], tri[i, 3 + k], tri[i, 6 + k]
            bounds[i, k] = min(a, min(b, c))
            bounds[i, 3 + k] = max(a, max(b, c))
    order = np.arange(n, dtype=np.int32)
    box = np.empty((2 * n, 6))
    link = np.empty((2 * n, 2), np.int32)
    todo = np.empty((STACK, 4), np.int64)
    todo[0] = (0, 0, n, 0)
    n_todo = 1
    n_nodes = 1
    counts = np.empty(_BINS, np.int64)
    bins = np.empty((_BINS, 6))
    area = np.empty(_BINS)
    while n_todo > 0:
        n_todo -= 1
        node, start, stop, depth = todo[n_todo]
        _grow_box(bounds, order, start, stop, pad, box[node])
        if stop - start <= LEAF:
            link[node] = (-start - 1, stop - start)
            continue
        middle = _split(bounds, order, start, stop, depth, counts, bins, area)
        link[node] = (n_nodes, n_nodes + 1)
        todo[n_todo] = (n_nodes + 1, middle, stop, depth + 1)
        todo[n_todo + 1] = (n_nodes, start, middle, depth + 1)
        n_todo += 2
        n_nodes += 2
    return order, box[:n_nodes].copy(), link[:n_nodes].copy()


@compiled
def _grow_box(bounds: Any, order: Any, start: int, stop: int, pad: float, box: Any) -> None:
    for k in range(3):
        box[k] = np.inf
        box[3 + k] = -np.inf
    for q in range(start, stop):
        i = order[q]
        for k in range(3):
            box[k] = min(box[k], bounds[i, k])
            box[3 + k] = max(box[3 + k], bounds[i, 3 + k])
    for k in range(3):
        box[k] -= pad
        box[3 + k] += pad


@compiled
def _split(
    bounds: Any, order: Any, start: int, stop: int, depth: int, counts: Any, bins: Any, area: Any
) -> int:
    """Partition `order` and return the first row of the right half.

    Below a depth of 60 halves are equal, so that no input makes a tree deeper
    than 60 + 31 and a stack of 128 always suffices.
    """
    half = start + (stop - start) // 2
    if depth >= _DEEP:
        return half
    best = np.inf
    best_axis = -1
    best_bin = 0
    best_low = 0.0
    best_scale = 0.0
    for axis in range(3):
        low = np.inf
        high = -np.inf
        for q in range(start, stop):
            middle = bounds[order[q], axis] + bounds[order[q], 3 + axis]
            low = min(low, middle)
            high = max(high, middle)
        scale = _BINS * (1.0 - 1e-9) / (high - low) if high > low else 0.0
        if scale == 0.0 or not scale < np.inf:
            continue
        _fill_bins(bounds, order, start, stop, axis, low, scale, counts, bins)
        cost, at = _cheapest_plane(counts, bins, area, stop - start)
        if cost < best:
            best = cost
            best_axis = axis
            best_bin = at
            best_low = low
            best_scale = scale
    if best_axis < 0:
        return half
    left = start
    right = stop - 1
    while left <= right:
        i = order[left]
        middle = bounds[i, best_axis] + bounds[i, 3 + best_axis]
        if int((middle - best_low) * best_scale) <= best_bin:
            left += 1
        else:
            order[left] = order[right]
            order[right] = i
            right -= 1
    return left if start < left < stop else half


@compiled
def _fill_bins(
    bounds: Any,
    order: Any,
    start: int,
    stop: int,
    axis: int,
    low: float,
    scale: float,
    counts: Any,
    bins: Any,
) -> None:
    for j in range(_BINS):
        counts[j] = 0
        for k in range(3):
            bins[j, k] = np.inf
            bins[j, 3 + k] = -np.inf
    for q in range(start, stop):
        i = order[q]
        j = int((bounds[i, axis] + bounds[i, 3 + axis] - low) * scale)
        counts[j] += 1
        for k in range(3):
            bins[j, k] = min(bins[j, k], bounds[i, k])
            bins[j, 3 + k] = max(bins[j, 3 + k], bounds[i, 3 + k])


@compiled
def _cheapest_plane(counts: Any, bins: Any, area: Any, total: int) -> tuple[float, int]:
    """Return the least sum of half area times count, and the last bin on its left."""
    x0 = y0 = z0 = np.inf
    x1 = y1 = z1 = -np.inf
    n = 0
    for j in range(_BINS - 1, 0, -1):
        x0, y0, z0 = min(x0, bins[j, 0]), min(y0, bins[j, 1]), min(z0, bins[j, 2])
        x1, y1, z1 = max(x1, bins[j, 3]), max(y1, bins[j, 4]), max(z1, bins[j, 5])
        n += counts[j]
        dx, dy, dz = x1 - x0, y1 - y0, z1 - z0
        area[j] = (dx * dy + dy * dz + dz * dx) * n if n > 0 else 0.0
    x0 = y0 = z0 = np.inf
    x1 = y1 = z1 = -np.inf
    n = 0
    best = np.inf
    best_bin = 0
    for j in range(_BINS - 1):
        x0, y0, z0 = min(x0, bins[j, 0]), min(y0, bins[j, 1]), min(z0, bins[j, 2])
        x1, y1, z1 = max(x1, bins[j, 3]), max(y1, bins[j, 4]), max(z1, bins[j, 5])
        n += counts[j]
        if 0 < n < total:
            dx, dy, dz = x1 - x0, y1 - y0, z1 - z0
            cost = (dx * dy + dy * dz + dz * dx) * n + area[j + 1]
            if cost < best:
                best = cost
                best_bin = j
    return best, best_bin


@compiled
def _moments(tri: Any, box: Any, link: Any) -> Floats:
    n_nodes = box.shape[0]
    moments = np.zeros((n_nodes, 7))
    area = np.zeros(n_nodes)
    for node in range(n_nodes - 1, -1, -1):
        m = moments[node]
        left = link[node, 0]
        if left < 0:
            for k in range(-left - 1, -left - 1 + link[node, 1]):
                t = tri[k]
                ux, uy, uz = t[3] - t[0], t[4] - t[1], t[5] - t[2]
                vx, vy, vz = t[6] - t[0], t[7] - t[1], t[8] - t[2]
                nx = 0.5 * (uy * vz - uz * vy)
                ny = 0.5 * (uz * vx - ux * vz)
                nz = 0.5 * (ux * vy - uy * vx)
                a = np.sqrt(nx * nx + ny * ny + nz * nz)
                area[node] += a
                m[3] += nx
                m[4] += ny
                m[5] += nz
                for j in range(3):
                    m[j] += a * (t[j] + t[3 + j] + t[6 + j]) / 3.0
        else:
            for child in range(left, left + 2):
                area[node] += area[child]
                for j in range(3):
                    m[j] += moments[child, j] * area[child]
                    m[3 + j] += moments[child, 3 + j]
        reach2 = 0.0
        for j in range(3):
            m[j] = m[j] / area[node] if area[node] > 0.0 else box[node, j]
            reach2 += max(m[j] - box[node, j], box[node, 3 + j] - m[j]) ** 2
        m[6] = np.sqrt(reach2)
    return moments
