"""Faces of OBJ files that the reader of meshes passes over: told, or a reason to refuse the file.

That reader takes lines that begin with "f " and passes over those with fewer than three corners.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

LEAST = 3
"""Corners of a face."""


def check_obj(path: Path) -> list[str]:
    """Return a note on faces of an OBJ file that have fewer than three corners; none otherwise.

    Raises
    ------
    ValueError
        If a line with a face begins otherwise than with an f and a blank: it would be passed over
        although it has its corners.
    """
    thin, missed = [], []
    for number, line in _faces(path):
        if len(line.split()) <= LEAST:
            thin.append(number)
        elif not line.startswith(b"f "):
            missed.append(number)
    if missed:
        n, first = "a face", ""
        if len(missed) > 1:
            n, first = f"{len(missed)} faces", "the first "
        where = f"in lines that do not begin with an f and a blank, {first}in line {missed[0]}"
        raise ValueError(f"has {n} {where}; export it again")
    if not thin:
        return []
    if len(thin) == 1:
        return [f"has a face with fewer than three corners, in line {thin[0]}: it is left out"]
    told = f"has {len(thin)} faces with fewer than three corners, the first in line {thin[0]}"
    return [f"{told}: they are left out"]


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
