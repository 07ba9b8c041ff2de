"""Faces of PLY files that the reader of meshes passes over or takes for others.

That reader leaves out faces with fewer than three corners, covers the dents of others, and of a
binary file it takes every list to be as long as the first: with lists of different lengths it reads
what is not there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.files.outlines import LEAST, THIN, in_triangles, told

MIXED = "faces with different numbers of corners in a binary file"


def faces_of(
    raw: Mapping[str, Any],
) -> tuple[NDArray[np.float64], NDArray[np.int64], list[str]] | None:
    """Return corners and triangles of a PLY file and notes on its faces; None where it has none.

    Parameters
    ----------
    raw : mapping
        What the reader keeps of the file: of each element the data.

    Raises
    ------
    ValueError
        If lists of a binary file have different lengths: they were read as if they had not; or if
        the outline of a face crosses itself.
    """
    for told_of in raw.values():
        if isinstance(told_of.get("data"), np.ndarray):
            _check_lists(told_of["data"])
    lists = _lists(raw.get("face", {}).get("data"))
    if lists is None or raw.get("vertex", {}).get("data") is None:
        return None
    corners = raw["vertex"]["data"]
    points = np.stack([np.asarray(corners[one], float).reshape(-1) for one in "xyz"], axis=-1)
    sizes = np.array([len(one) for one in lists], np.int64)
    if isinstance(lists, np.ndarray) and lists.ndim == 2:
        where = lists.reshape(-1)
    else:
        where = np.concatenate(
            [np.empty(0, np.int64), *(one for one in lists if len(one) >= LEAST)]
        )
    where = where[: int(sizes[sizes >= LEAST].sum())].astype(np.int64)
    faces, warped = in_triangles(points, where, sizes[sizes >= LEAST])
    return points, faces, [*told(THIN, (), int((sizes < LEAST).sum())), *warped]


def _lists(data: Any) -> Any:
    """Return the lists of corners of all faces, one for each."""
    if isinstance(data, np.ndarray):
        name = _named(data.dtype.names or ())
        return None if name is None else data[name]["f1"]
    name = _named(data) if isinstance(data, Mapping) else None
    return None if name is None else data[name]


def _named(names: Any) -> str | None:
    return next((one for one in ("vertex_index", "vertex_indices") if one in names), None)


def _check_lists(data: np.ndarray[Any, Any]) -> None:
    """Refuse rows of which a list announces another length than it was read with."""
    for name in data.dtype.names or ():
        inner = data.dtype[name]
        if inner.names == ("f0", "f1"):
            length = int(np.prod(inner["f1"].shape, dtype=int))
            if (data[name]["f0"] != length).any():
                raise ValueError(f"has {MIXED}; export it as triangles")


__all__ = ["MIXED", "faces_of"]
