"""Triangles of STL files, in numbers and in words, read here word by word.

The reader of other meshes takes corners as they come, three by three, whatever facets they are of,
and leaves out a body whose last line is missing.  Format: "StereoLithography interface
specification", 3D Systems, 1989 (from memory).
"""

from __future__ import annotations

import re
from array import array
from pathlib import Path
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from reach.files.ceilings import MOST_TRIANGLES

_HEADER, _TRIANGLE = 84, 50
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
_BOM = b"\xef\xbb\xbf"
_LOOK = 4096
"""Bytes after the header in which text has no zero."""
_BEGIN = re.compile(rb"\s*solid\b", re.IGNORECASE)
_SOLID = re.compile(rb"\s*solid\b[^\n]*(?:\n|\Z)\s*", re.IGNORECASE)
_END = re.compile(rb"end ?solid\b[^\n]*(?:\n|\Z)\s*", re.IGNORECASE)
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?|[+-]?(?:nan|inf(?:inity)?)"
_POINT = [_NUMBER] * 3
_WORDS = ["facet", "normal", *_POINT, "outer", "loop"]
_WORDS += [*(["vertex", *_POINT] * 3), "endloop", "endfacet"]
_FACET = re.compile(
    r"\s+".join(
        f"({word})" if word == _NUMBER and k > 5 else f"(?:{word})" for k, word in enumerate(_WORDS)
    ).encode()
    + rb"\s+",
    re.IGNORECASE,
)

Read = tuple[NDArray[np.float64], NDArray[np.int64], list[str]]
"""Corners, shape (n, 3), triangles of them, shape (m, 3), and no notes."""


def read_stl(path: Path) -> Read:
    """Return corners and triangles of an STL file.

    Raises
    ------
    ValueError
        If it is cut short or has what no facet has, with its line.
    """
    with path.open("rb") as file:
        head = file.read(_HEADER)
        announced = int.from_bytes(head[-4:], "little") if len(head) == _HEADER else 0
        size = path.stat().st_size
        is_whole = len(head) == _HEADER and size == _HEADER + announced * _TRIANGLE
        look = (head + file.read(_LOOK)).removeprefix(_BOM)
    is_text = not is_whole and _BEGIN.match(look) and b"\0" not in look
    corners = _in_words(path) if is_text else _in_numbers(path, size, announced)
    points = corners.reshape(-1, 3)
    return points, np.arange(len(points)).reshape(-1, 3), []


def _in_numbers(path: Path, size: int, announced: int) -> NDArray[np.float64]:
    if size < _HEADER:
        raise ValueError("is cut short: not even the header of an STL file; export it again")
    there = (size - _HEADER) // _TRIANGLE
    if size != _HEADER + announced * _TRIANGLE:
        what = "is cut short" if there < announced else "is longer than it says"
        raise ValueError(f"{what}: {announced} triangles announced, {there} there; export it again")
    _check_size(announced)
    records = np.fromfile(path, _RECORD, announced, offset=_HEADER)
    return np.asarray(records["corners"], float)


def _in_words(path: Path) -> NDArray[np.float64]:
    """Return the corners of all facets, shape (3 n, 3)."""
    content = path.read_bytes().removeprefix(_BOM)
    if b"\n" not in content:
        content = content.replace(b"\r", b"\n")
    numbers, at, end = array("d"), 0, len(content)
    while at < end:
        begin = _SOLID.match(content, at)
        if begin is None:
            _wrong(content, at, "has words outside of a solid")
        at = begin.end()
        while facet := _FACET.match(content, at):
            numbers.extend(map(float, facet.groups()))
            at = facet.end()
            if len(numbers) > 9 * MOST_TRIANGLES:
                _check_size(len(numbers) // 9)
        close = _END.match(content, at)
        if close is None:
            _not_a_facet(content, at, begin.start())
        at = close.end()
    return np.array(numbers, float).reshape(-1, 3)


def _not_a_facet(content: bytes, at: int, begin: int) -> NoReturn:
    """Tell what stands where a facet or the end of a solid belongs."""
    words = re.compile(rb"\S+").finditer(content, at)
    for wanted in _WORDS:
        word = next(words, None)
        if word is None:
            line = _line(content, begin)
            raise ValueError(f"is cut short: no 'endsolid' for line {line}; export it again")
        is_right = re.fullmatch(wanted.encode(), word.group(), re.IGNORECASE)
        if not is_right:
            what = "a number" if wanted == _NUMBER else f"'{wanted}'"
            shown = word.group()[:40].decode("utf-8", "replace")
            _wrong(content, word.start(), f"has '{shown}' where {what} belongs")
    _wrong(content, at, "has a facet that cannot be read")


def _check_size(n: int) -> None:
    if n > MOST_TRIANGLES:
        raise ValueError(f"has {n} triangles, {MOST_TRIANGLES} at most; export it coarser")


def _line(content: bytes, at: int) -> int:
    return content.count(b"\n", 0, at + len(content[at:]) - len(content[at:].lstrip())) + 1


def _wrong(content: bytes, at: int, what: str) -> NoReturn:
    raise ValueError(f"{what}, in line {_line(content, at)}; export it again")


__all__ = ["read_stl"]
