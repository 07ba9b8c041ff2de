"""Faces of OBJ files that the reader of meshes passes over: told, or a reason to refuse the file.

That reader takes lines that begin with "f " and passes over those with fewer than three corners.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

LEAST = 3
"""Corners of a face."""


def thin_faces(path: Path) -> list[str]:
    """Return a note on faces of an OBJ file that have fewer than three corners; none otherwise.

    Parameters
    ----------
    path : Path
        Files of other formats have no notes.
    """
    return _told(_odd_of(path).thin) if path.suffix.casefold() == ".obj" else []


def _told(lines: list[int]) -> list[str]:
    if not lines:
        return []
    if len(lines) == 1:
        return [f"has a face with fewer than three corners, in line {lines[0]}: it is left out"]
    told = f"has {len(lines)} faces with fewer than three corners, the first in line {lines[0]}"
    return [f"{told}: they are left out"]


def check_obj(path: Path) -> None:
    """Refuse an OBJ file with faces that would be passed over although they have their corners.

    Raises
    ------
    ValueError
        If a line with a face begins otherwise than with an f and a blank.
    """
    missed = _odd_of(path).missed
    if missed:
        n, first = "a face", ""
        if len(missed) > 1:
            n, first = f"{len(missed)} faces", "the first "
        where = f"in lines that do not begin with an f and a blank, {first}in line {missed[0]}"
        raise ValueError(f"has {n} {where}; export it again")


class _Odd(NamedTuple):
    """Numbers of the lines with faces of too few corners, and with faces that begin otherwise."""

    thin: list[int]
    missed: list[int]


def _odd_of(path: Path) -> _Odd:
    found = path.stat()
    return _odd(path, found.st_mtime_ns, found.st_size)


@lru_cache(maxsize=4)  # both questions of one file follow each other
def _odd(path: Path, written: int, size: int) -> _Odd:
    thin, missed = [], []
    for number, line in _faces(path):
        if len(line.split()) <= LEAST:
            thin.append(number)
        elif not line.startswith(b"f "):
            missed.append(number)
    return _Odd(thin, missed)


def _faces(path: Path) -> Iterator[tuple[int, bytes]]:
    """Yield the number of each line with a face, and the line with those that continue it."""
    begun, whole = 0, b""
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            begun = begun or number
            line = line.rstrip(b"\r\n")
            if line.endswith(b"\\"):
                whole += line[:-1]
                continue
            whole += line
            if whole.split(None, 1)[:1] == [b"f"]:
                yield begun, whole.split(b"#", 1)[0]
            begun, whole = 0, b""
    if whole.split(None, 1)[:1] == [b"f"]:
        yield begun, whole.split(b"#", 1)[0]
