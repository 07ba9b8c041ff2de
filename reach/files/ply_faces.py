"""Faces of PLY files that the reader of meshes passes over or takes for others.

That reader leaves out faces with fewer than three corners, covers the dents of others, takes corner
1.5 for corner 1, and of a binary file it takes every list to be as long as the first: with lists of
different lengths it reads what is not there.  Text files are read here.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import IO, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.files.ceilings import MOST_TRIANGLES
from reach.files.outlines import LEAST, THIN, in_triangles, told

MIXED = "faces with different numbers of corners in a binary file"
_LONGEST = 4096
"""Bytes of a line of a header."""
_SHAPES = ("vertex", "face")
_STRIPS = "tristrips"


_INDEX = ("vertex_index", "vertex_indices")
_WHOLE = {
    "char": (-128, 127), "uchar": (0, 255), "short": (-(2**15), 2**15 - 1),
    "ushort": (0, 2**16 - 1),
    "int": (-(2**31), 2**31 - 1), "uint": (0, 2**32 - 1), "int8": (-128, 127), "uint8": (0, 255),
    "int16": (-(2**15), 2**15 - 1), "uint16": (0, 2**16 - 1), "int32": (-(2**31), 2**31 - 1),
    "uint32": (0, 2**32 - 1), "int64": (-(2**63), 2**63 - 1), "uint64": (0, 2**63 - 1),
}  # fmt: skip
"""Kinds of whole numbers and their ends, as far as corners are counted."""
_INTEGER = re.compile(rb"[+-]?\d{1,18}")

Read = tuple[NDArray[np.float64], NDArray[np.int64], list[str]]
"""Corners, shape (n, 3), triangles of them, shape (m, 3), and notes on what is left out."""


class _Property(NamedTuple):
    """A number of a row, or a list of them with its length before it."""

    name: str
    kind: str
    is_list: bool


class _Element(NamedTuple):
    """A kind of rows: how many there are, and what a row has."""

    name: str
    length: int
    properties: list[_Property]


def check_ply(path: Path) -> Read | None:
    """Return corners, triangles and notes of a PLY file in words; None for one in numbers.

    Raises
    ------
    ValueError
        If it has strips of triangles or the same element twice, or corners that are no whole
        numbers, or if rows of a text file are missing, cut short, or longer than the header says.
    """
    with path.open("rb") as file:
        is_text, elements = _header(file)
        names = [one.name for one in elements]
        if _STRIPS in names:
            raise ValueError("has strips of triangles, which are not read; export it as triangles")
        for name in _SHAPES:
            if names.count(name) > 1:
                raise ValueError(f"has the element '{name}' twice; export it again")
        for one in elements:
            for told_of in one.properties:
                if told_of.is_list and told_of.name in _INDEX and told_of.kind not in _WHOLE:
                    raise ValueError(
                        f"counts corners of faces in numbers of kind '{told_of.kind}', which are "
                        "not whole; export it again"
                    )
        return _in_words(file, elements) if is_text else None


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
            case ["property", "list", _, kind, name, *_] if elements:
                elements[-1].properties.append(_Property(name, kind, True))
            case ["property", kind, name, *_] if elements:
                elements[-1].properties.append(_Property(name, kind, False))
    return False, elements  # the reader tells what is wrong with it


def _in_words(file: IO[bytes], elements: list[_Element]) -> Read:
    """Return corners and triangles of rows of words."""
    points, where, sizes, n_thin = np.empty((0, 3)), array("q"), array("q"), 0
    for one in elements:
        names = [told_of.name for told_of in one.properties]
        if one.name == "vertex":
            single = [told_of.name for told_of in one.properties if not told_of.is_list]
            if missing := [axis for axis in "xyz" if axis not in single]:
                raise ValueError(f"has corners without {', '.join(missing)}; export it again")
            numbers = array("d")
            for row, words in _rows(file, one):
                numbers.extend(_float(words[names.index(axis)][0], row) for axis in "xyz")
            points = np.array(numbers, float).reshape(-1, 3)
        elif one.name == "face":
            at = next((k for k, name in enumerate(names) if name in _INDEX), None)
            if at is None or not one.properties[at].is_list:
                raise ValueError("has faces without a list 'vertex_indices'; export it again")
            least, most = _WHOLE[one.properties[at].kind]
            for row, words in _rows(file, one):
                face = [_whole(word, row, least, most) for word in words[at]]
                if len(face) < LEAST:
                    n_thin += 1
                    continue
                where.extend(face)
                sizes.append(len(face))
                if len(where) - 2 * len(sizes) > MOST_TRIANGLES:
                    raise ValueError(f"more than {MOST_TRIANGLES} triangles; export it coarser")
        else:
            for _ in _rows(file, one):
                pass
    faces, warped = in_triangles(points, np.array(where, np.int64), np.array(sizes, np.int64))
    return points, faces, [*told(THIN, (), n_thin), *warped]


def _rows(file: IO[bytes], element: _Element) -> Iterator[tuple[str, list[list[bytes]]]]:
    """Yield which row it is, and the words of each property; an error where a row has others."""
    rows, has_lists = 0, any(one.is_list for one in element.properties)
    for line in islice(file, element.length):
        words = line.split()
        rows += 1
        row = f"row {rows} of {element.length} of '{element.name}'"
        found, at = list[list[bytes]](), 0
        if not has_lists:
            found, at = [[word] for word in words], len(element.properties)
        else:
            for one in element.properties:
                length = 1
                if one.is_list:
                    count = words[at] if at < len(words) else b""
                    length = int(count[:9]) if count.isdigit() else -1
                    at += 1
                if length < 0:
                    at = -1
                    break
                found.append(words[at : at + length])
                at += length
        if at != len(words):
            raise ValueError(
                f"has {len(words)} numbers in {row}, "
                "not what its header says; is it cut short? Export it again"
            )
        yield row, found
    if rows < element.length:
        raise ValueError(
            f"is cut short: {element.length} rows of '{element.name}' announced, {rows} there; "
            "export it again"
        )


def _float(word: bytes, row: str) -> float:
    try:
        if b"_" not in word:
            return float(word)
    except ValueError:
        pass
    shown = word[:40].decode("utf-8", "replace")
    raise ValueError(f"has '{shown}' where a number belongs, in {row}; export it again")


def _whole(word: bytes, row: str, least: int, most: int) -> int:
    if _INTEGER.fullmatch(word) and least <= int(word) <= most:
        return int(word)
    shown = word[:40].decode("utf-8", "replace")
    raise ValueError(
        f"has '{shown}' where the number of a corner belongs, in {row}; export it again"
    )


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
    return next((one for one in _INDEX if one in names), None)


def _check_lists(data: np.ndarray[Any, Any]) -> None:
    """Refuse rows of which a list announces another length than it was read with."""
    for name in data.dtype.names or ():
        inner = data.dtype[name]
        if inner.names == ("f0", "f1"):
            length = int(np.prod(inner["f1"].shape, dtype=int))
            if (data[name]["f0"] != length).any():
                raise ValueError(f"has {MIXED}; export it as triangles")


__all__ = ["MIXED", "check_ply", "faces_of"]
