"""Faces of PLY files that the reader of meshes passes over or takes for others.

That reader leaves out faces with fewer than three corners, and of a binary file it takes every list
to be as long as the first: with lists of different lengths it reads what is not there.
"""

from __future__ import annotations

from typing import Any

import numpy as np

LEAST = 3
"""Corners of a face."""

MIXED = "faces with different numbers of corners in a binary file"


def check_ply(scene: Any) -> list[str]:
    """Return a note on faces with fewer than three corners of what was read from a PLY file.

    Parameters
    ----------
    scene : trimesh.Scene

    Raises
    ------
    ValueError
        If lists of a binary file have different lengths: they were read as if they had not.
    """
    notes = []
    for part in scene.geometry.values():
        for element, told in part.metadata.get("_ply_raw", {}).items():
            data = told.get("data")
            if isinstance(data, np.ndarray):
                _check_lists(data)
            elif isinstance(data, dict) and element == "face":
                notes += _thin(data)
    return notes


def _check_lists(data: np.ndarray[Any, Any]) -> None:
    """Refuse rows of which a list announces another length than it was read with."""
    for name in data.dtype.names or ():
        inner = data.dtype[name]
        if inner.names == ("f0", "f1"):
            length = int(np.prod(inner["f1"].shape, dtype=int))
            if (data[name]["f0"] != length).any():
                raise ValueError(f"has {MIXED}; export it again, as triangles")


def _thin(data: dict[str, Any]) -> list[str]:
    """Return a note on lists of corners of different lengths, of which some are too short."""
    lists = next((data[one] for one in ("vertex_index", "vertex_indices") if one in data), ())
    n = sum(np.size(one) < LEAST for one in lists)
    if not n:
        return []
    if n == 1:
        return ["has a face with fewer than three corners: it is left out"]
    return [f"has {n} faces with fewer than three corners: they are left out"]


__all__ = ["MIXED", "check_ply"]
