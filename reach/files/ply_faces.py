"""Faces of PLY files that the reader of meshes passes over or takes for others.

That reader leaves out faces with fewer than three corners, covers the dents of others, and of a
binary file it takes every list to be as long as the first: with lists of different lengths it reads
what is not there.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice
from pathlib import Path
from typing import IO, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.files.outlines import LEAST, THIN, in_triangles, told

MIXED = "faces with different numbers of corners in a binary file"
_LONGEST = 4096
"""Bytes of a line of a header."""
_SHAPES = ("vertex", "face")
_STRIPS = "tristrips"
_LIST = "list"


class _Element(NamedTuple):
    """A kind of rows: how many there are, and of each number of a row whether a list follows."""

    name: str
    length: int
    lists: list[bool]


def check_ply(path: Path) -> None:
    """Refuse a PLY file of which the reader of meshes would pass over a part.

    Raises
    ------
    ValueError
        If it has strips of triangles or the same element twice, or if rows of a text file are
        missing, cut short, or longer than the header says.
    """
    with path.open("rb") as file:
        is_text, elements = _header(file)
        names = [one.name for one in elements]
        if _STRIPS in names:
            raise ValueError("has strips of triangles, which are not read; export it as triangles")
        for name in _SHAPES:
            if names.count(name) > 1:
                raise ValueError(f"has the element '{name}' twice; export it again")
        for one in elements if is_text else ():
            _check_rows(file, one)


def _header(file: IO[bytes]) -> tuple[bool, list[_Element]]:
    """Return whether a file is text, and its elements as far as they can be read."""
    is_text, elements = False, list[_Element]()
    while line := file.readline(_LONGEST):
        words = line.decode("ascii", "replace").split()
        match words:
            case ["end_header", *_]:
                return is_text, elements
            case ["format", how, *_]:
                is_text = how.lower() == "ascii"
            case ["element", name, length] if length.isascii() and length.isdigit():
                elements.append(_Element(name, int(length), []))
            case ["property", kind, *_] if elements:
                elements[-1].lists.append(kind == _LIST)
    return False, elements  # the reader tells what is wrong with it


def _check_rows(file: IO[bytes], element: _Element) -> None:
    """Refuse rows that do not have what the header says."""
    rows = 0
    for row in islice(file, element.length):
        words = row.split()
        rows += 1
        if len(words) != _announced(words, element.lists):
            raise ValueError(
                f"has {len(words)} numbers in row {rows} of {element.length} of '{element.name}', "
                "not what its header says; is it cut short? Export it again"
            )
    if rows < element.length:
        raise ValueError(
            f"is cut short: {element.length} rows of '{element.name}' announced, {rows} there; "
            "export it again"
        )


def _announced(words: list[bytes], lists: list[bool]) -> int:
    """Return how many numbers a row should have; -1 where a length is no number."""
    if not any(lists):
        return len(lists)
    at = 0
    for is_list in lists:
        if is_list and at < len(words):
            if not words[at].isdigit():
                return -1
            at += int(words[at][:9])
        at += 1
    return at


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


__all__ = ["MIXED", "check_ply", "faces_of"]
