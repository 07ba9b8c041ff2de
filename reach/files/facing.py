"""Which way the triangles of a mesh face: what is doubled or turned is made as its neighbours are.

Distances do not ask which way a triangle faces.  What lies inside does: the winding number takes
each triangle twice as twice the surface, and one that is turned as a hole.  An exported mesh has
both, and something that lies wholly inside a solid must not be missed for it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def faced(triangles: Floats) -> tuple[Floats, list[str]]:
    """Return the triangles, doubled ones once and turned ones as their neighbours, and notes.

    Of each set of triangles that hang together by edges the fewer are turned, so that a hollow
    keeps facing the other way than what is round it.  Corners are shared where their numbers are
    equal.  Edges with more than two triangles say nothing.

    Parameters
    ----------
    triangles : ndarray, shape (n, 3, 3), m

    Returns
    -------
    triangles : ndarray, shape (m, 3, 3), m
    notes : list of str
        What was done, and what is odd in the surface as a whole, for the planner.
    """
    corners = _numbered(triangles)
    notes = []
    kept = _once(corners)
    if len(kept) < len(corners):
        n = len(corners) - len(kept)
        notes.append(f"has {n} of {len(corners)} triangles more than once: each counts once")
        triangles, corners = triangles[kept], corners[kept]
    turned, is_closed = _turned(corners)
    if turned is not None and turned.any():
        n = int(turned.sum())
        notes.append(f"has {n} of {len(corners)} triangles that face against their neighbours: ")
        notes[-1] += "taken as if they did not"
        triangles = triangles.copy()
        triangles[turned] = triangles[turned][:, ::-1]
    if not is_closed:
        notes.append("is not a closed surface: what lies inside it cannot be told for sure; ")
        notes[-1] += "close it where it was made if it is solid"
    elif turned is None:
        notes.append("has a side that is its own back: inside and outside cannot be told apart")
    elif np.linalg.det(triangles - triangles[0, 0]).sum() < 0.0:
        notes.append("has faces that point inward: it is turned inside out")
    return triangles, notes


def _numbered(triangles: Floats) -> Ints:
    """Return a number for each corner, the same for equal ones, shape (n, 3)."""
    flat = triangles.reshape(-1, 3)
    order = np.lexsort(flat.T)
    follows = np.all(flat[order[1:]] == flat[order[:-1]], axis=1)
    number = np.empty(len(flat), np.int64)
    number[order] = np.concatenate([[0], np.cumsum(~follows)])
    return number.reshape(-1, 3)


def _keys(rows: Ints) -> Ints:
    """Return a number for each row of numbers, shape (n, k), the same for equal rows only."""
    most = int(rows.max(initial=0)) + 1
    if most ** rows.shape[1] >= 2**63:
        return np.unique(rows, axis=0, return_inverse=True)[1].ravel().astype(np.int64)
    keys = np.zeros(len(rows), np.int64)
    for column in rows.T:
        keys = keys * most + column
    return keys


def _once(corners: Ints) -> Ints:
    """Return which triangles to keep: of those that are the same and face the same way, one.

    Of two that face opposite ways both stay where they are a wall between two rooms, or a sheet
    with a back: they enclose nothing.  Where one of them closes the surface, it alone stays.
    """
    turns = (corners.argmin(axis=1)[:, None] + np.arange(3)) % 3
    rolled = np.take_along_axis(corners, turns, axis=1)
    kept = np.sort(np.unique(_keys(rolled), return_index=True)[1])
    _, first, which, count = np.unique(
        _keys(np.sort(corners[kept], axis=1)),
        return_index=True, return_inverse=True, return_counts=True,
    )  # fmt: skip
    if (count == 1).all():
        return kept
    single = np.sort(first)
    paired = count[which[single]] > 1
    ends, _ = _edges(corners[kept[single]])
    _, edge, shared = np.unique(_keys(ends), return_inverse=True, return_counts=True)
    edge = edge.reshape(-1, 3)
    group = _groups(edge[paired])
    odd = np.zeros(int(group.max()) + 1, bool)
    odd[group[(shared[edge[paired]] % 2 == 1).any(axis=1)]] = True
    closing = single[paired][~odd[group]]
    backs = np.isin(which, which[closing])
    backs[closing] = False
    return kept[~backs]


def _groups(edge: Ints) -> Ints:
    """Return a number for each triangle, the same where they hang together by edges (n, 3)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n, size = len(edge), len(edge) + int(edge.max()) + 1
    ends = np.repeat(np.arange(n), 3), n + edge.ravel()
    graph: Any = coo_array((np.ones(3 * n), ends), shape=(size, size))
    return np.asarray(connected_components(graph, directed=False)[1][:n], np.int64)


def _edges(corners: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """Return the lower and upper corner of each edge of each triangle, and whether it runs up."""
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=-1).reshape(-1, 2)
    return np.sort(ends, axis=1), ends[:, 0] < ends[:, 1]


def _turned(corners: Ints) -> tuple[NDArray[np.bool_] | None, bool]:
    """Return which triangles to turn, and whether no edge is open.

    None to turn where a surface is its own back, as a Moebius band is.

    Every triangle stands twice in a graph, as it is and turned; two that share an edge are joined
    as they agree.  What hangs together in it is then a choice for each triangle.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(corners)
    ends, up = _edges(corners)
    triangle = np.repeat(np.arange(n), 3)
    keys = _keys(ends)
    order = np.argsort(keys, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(keys[order]) != 0])
    size = np.diff(np.r_[starts, len(order)])
    is_closed = bool((size % 2 == 0).all())
    pair = starts[size == 2]
    one, other = order[pair], order[pair + 1]
    against = up[one] == up[other]  # neighbours run along their edge in opposite directions
    if not against.any():
        return np.zeros(n, bool), is_closed
    a, b = triangle[one], triangle[other]
    swap = np.where(against, n, 0)
    rows, columns = np.r_[a, a + n], np.r_[b + swap, b + n - swap]
    graph: Any = coo_array((np.ones(len(rows)), (rows, columns)), shape=(2 * n, 2 * n))
    n_sets, label = connected_components(graph, directed=False)
    as_is, back = label[:n], label[n:]
    if (as_is == back).any():
        return None, is_closed
    votes = np.bincount(as_is, minlength=n_sets)  # how many stay if a set is taken as it is
    first = np.full(n_sets, n)
    np.minimum.at(first, as_is, np.arange(n))
    # Of an even split the set of the first triangle stays.
    even = (votes[as_is] == votes[back]) & (first[as_is] > first[back])
    return np.asarray((votes[as_is] < votes[back]) | even), is_closed
