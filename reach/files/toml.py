"""TOML files with the line of every key, so that a problem can name its place."""

from __future__ import annotations

import hashlib
import re
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reach.files.lines import Place, dotted, scan
from reach.files.problem import InputError, Problem

_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)\s*\Z")


LARGEST = 64_000_000
"""Bytes of a text file that are read; a scene of a million rails fits."""


@dataclass(frozen=True, slots=True)
class Document:
    """A TOML file that was read: its data, its name as shown, its hash, its lines.

    Attributes
    ----------
    data : dict
    file : str
        Name shown in problems.
    path : Path
    sha256 : str
    lines : dict of place -> int
        Line of each key and array element.
    """

    data: dict[str, Any]
    file: str
    path: Path
    sha256: str
    lines: dict[Place, int]

    def line_of(self, place: Place) -> int | None:
        """Return the line of a place, or of the innermost thing round it that has one."""
        for n in range(len(place), 0, -1):
            if place[:n] in self.lines:
                return self.lines[place[:n]]
        return None

    def problem(self, place: Place, message: str) -> Problem:
        """Return a problem at ``place`` of this file."""
        return Problem(self.file, dotted(place), self.line_of(place), message)


def read_bytes(path: Path, file: str) -> bytes:
    """Return what a file holds; InputError says why it cannot be read."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode) and not stat.S_ISDIR(found.st_mode):
            raise InputError([Problem(file, "", None, "is no plain file")])  # it may never end
        if found.st_size > LARGEST:
            message = f"has {found.st_size / 1e6:.0f} MB, {LARGEST / 1e6:.0f} MB at most are read"
            raise InputError([Problem(file, "", None, message)])
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError([Problem(file, "", None, "there is no such file")]) from None
    except IsADirectoryError:
        raise InputError([Problem(file, "", None, "is a folder, not a file")]) from None
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise InputError([Problem(file, "", None, f"cannot be read: {reason}")]) from None


def read_text(path: Path, file: str) -> tuple[str, str]:
    """Return the UTF-8 text of a file and its sha256; InputError when it is not text."""
    content = read_bytes(path, file)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        message = "is not UTF-8 text; save it as UTF-8"
        raise InputError([Problem(file, "", line, message)]) from None
    return text, hashlib.sha256(content).hexdigest()


def read_toml(path: Path, file: str) -> Document:
    """Return a TOML file as a `Document`.

    Parameters
    ----------
    path : Path
    file : str
        Name to show in problems.

    Raises
    ------
    InputError
        If the file is missing, is not text, has a syntax error or gives a name twice.
    """
    text, sha256 = read_text(path, file)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_problems(text, file, str(error))) from None
    except RecursionError:
        raise InputError([Problem(file, "", None, "is nested too deeply")]) from None
    return Document(data, file, path, sha256, scan(text).lines)


def _problems(text: str, file: str, reason: str) -> list[Problem]:
    repeated = scan(text).repeated
    places = {again.place for again in repeated}
    problems = [
        Problem(file, dotted(again.place), again.line, _twice(again.place, again.first))
        for again in repeated
        if not any(again.place[:n] in places for n in range(1, len(again.place)))
    ]
    if problems:
        return problems
    match = _AT.search(reason)
    message = reason[: match.start()] if match else reason
    if match is None or match.group(1) is None:
        return [Problem(file, "", None, f"TOML syntax: {message} (at the end of the file)")]
    line, column = int(match.group(1)), match.group(2)
    return [Problem(file, "", line, f"TOML syntax: {message} (column {column})")]


def _twice(place: Place, first: int) -> str:
    return f"duplicate name {place[-1]!r}: already given at line {first}"
