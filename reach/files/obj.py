"""Corners and faces of OBJ files, read here as the reader of other meshes takes some for others.

That one counts corners from the end of the file where a face counts back from its own line, passes
over what begins with a tab, and covers the dents of faces.  Format: "Object files (.obj)",
Wavefront's Advanced Visualizer, appendix B1 (from memory).
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from reach.files.ceilings import MOST_TRIANGLES
from reach.files.outlines import LEAST, THIN, in_triangles, told

_FACES = (b"f", b"fo")
_UNREAD = {
    b"surf": "a curved surface",
    b"curv": "a curve",
    b"curv2": "a curve",
    b"bsp": "a curved surface",
    b"bzp": "a curved surface",
    b"cdp": "a curved surface",
    b"cdc": "a curve",
    b"call": "another file named",
    b"csh": "a command of another program",
}
_STATEMENTS = {b"v", *_FACES, *_UNREAD}
"""What begins a statement of its own: not how a line that a backslash ended goes on."""
_BOM = b"\xef\xbb\xbf"
"""What some editors write before the first word of a file."""
_MOST = 2**62
"""A corner's number beyond which none is counted."""

Read = tuple[NDArray[np.float64], NDArray[np.int64], list[str]]
"""Corners, shape (n, 3), triangles of them, shape (m, 3), and notes on what is left out."""


def read_obj(path: Path) -> Read:
    """Return corners and triangles of an OBJ file, and notes on its faces.

    Raises
    ------
    ValueError
        If a line is not as it should be, or says what is not read here, with its number.
    """
    corners, where = array("d"), array("q")
    sizes, lines, thin = array("q"), array("q"), []
    for number, words in _lines(path):
        kind = words[0]
        if kind == b"v":
            corners.extend(_corner(number, words))
        elif kind in _FACES:
            face = _face(number, words, len(corners) // 3)
            if len(face) < LEAST:
                thin.append(number)
                continue
            where.extend(face)
            sizes.append(len(face))
            lines.append(number)
            if len(where) - 2 * len(sizes) > MOST_TRIANGLES:
                raise ValueError(f"more than {MOST_TRIANGLES} triangles; export it coarser")
        elif kind not in _STATEMENTS and kind.lower() in _STATEMENTS:
            _wrong(number, f"has '{kind.decode()}' in capitals", "write it in small letters")
        elif kind in _UNREAD:
            _wrong(number, f"has {_UNREAD[kind]}, which is not read", "export it as triangles")
    points = np.array(corners, float).reshape(-1, 3)
    faces, warped = in_triangles(
        points, np.array(where, np.int64) - 1, np.array(sizes, np.int64), lines
    )
    return points, faces, [*told(THIN, thin), *warped]


def _lines(path: Path) -> Iterator[tuple[int, list[bytes]]]:
    """Yield the number of each line that says something, and its words; with what continues it."""
    begun, whole = 0, b""
    with path.open("rb") as file:
        for number, line in enumerate(_parted(file), 1):
            if begun or b"\\" in line:
                if begun and line.split(None, 1)[:1] and line.split(None, 1)[0] in _STATEMENTS:
                    what = (
                        f"begins with '{line.split()[0].decode()}' after a line that goes on (\\)"
                    )
                    _wrong(number, what, "export it again without")
                begun = begun or number
                line = whole + line.rstrip(b"\r\n")
                if line.endswith(b"\\"):
                    whole = line[:-1] + b" "
                    continue
            if b"#" in line:
                line = line.split(b"#", 1)[0]
            if words := line.split():
                yield begun or number, words
            begun, whole = 0, b""
    if words := whole.split(b"#", 1)[0].split():
        yield begun, words


def _parted(file: Iterable[bytes]) -> Iterator[bytes]:
    """Yield lines however they end, without what editors write before the first."""
    for k, line in enumerate(file):
        line = line.removeprefix(_BOM) if k == 0 else line
        if b"\r" in line[:-2]:
            yield from line.splitlines(keepends=True)
        else:
            yield line


def _corner(number: int, words: list[bytes]) -> list[float]:
    try:
        _check_plain(words)
        x, y, z = map(float, words[1:4])
    except ValueError:
        _wrong(number, "has a corner without three numbers", "export it again")
    return [x, y, z]


def _face(number: int, words: list[bytes], so_far: int) -> list[int]:
    """Return which corners, from 1, a face has; what it counts back it counts from its line."""
    try:
        _check_plain(words)
        face = [int(word.partition(b"/")[0]) for word in words[1:]]
    except ValueError:
        _wrong(number, "has a face with corners that are no numbers", "export it again")
    if face and (min(face) <= 0 or max(face) > _MOST):
        if 0 in face or min(face) < -so_far or max(face) > _MOST:
            _wrong(number, "has a face with corners that are not there", "export it again")
        return [one if one > 0 else so_far + one + 1 for one in face]
    return face


def _check_plain(words: list[bytes]) -> None:
    """Refuse what is a number in Python alone."""
    if b"_" in b"".join(words):
        raise ValueError


def _wrong(line: int, what: str, mend: str) -> NoReturn:
    raise ValueError(f"{what}, in line {line}; {mend}")


__all__ = ["read_obj"]
