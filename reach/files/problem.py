"""What is wrong with an input: all problems of all files at once, each with its place."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import ParamSpec, TypeVar

_LONG = re.compile(r"\S{121,}")
_KEPT = 60
"""Of a word that is longer than two of these so many letters are told at both ends."""

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input.

    Attributes
    ----------
    file : str
        The file as shown to people, for example ``"brackenfall/scene.toml"``.
    place : str
        Dotted keys inside it, ``"sockets.SK3.axis"``; empty for the whole file.
    line : int or None
        Line in the file, counted from 1, when it is known for sure.
    message : str
        What is wrong and, where possible, the nearest right name.

    Examples
    --------
    >>> print(Problem("a/scene.toml", "sockets.SK3.axis", 41, "has zero length: [0, 0, 0]"))
    a/scene.toml:41: sockets.SK3.axis: has zero length: [0, 0, 0]
    """

    file: str
    place: str
    line: int | None
    message: str

    def __post_init__(self) -> None:
        # What is quoted from a file may be of any length.
        object.__setattr__(self, "message", _LONG.sub(_shortened, self.message))

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        return ": ".join(part for part in (where, self.place, self.message) if part)


def _shortened(word: re.Match[str]) -> str:
    text = word.group()
    return f"{text[:_KEPT]}…{text[-_KEPT:]}"


class InputError(Exception):
    """An input that cannot be used; ``problems`` holds every reason, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(dict.fromkeys(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class Gathered:
    """Problems of several parts of an input, gathered to be told all at once."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def of(self, make: Callable[P, T], *args: P.args, **more: P.kwargs) -> T | None:
        """Return what is made, or None and keep the problems where it cannot be."""
        try:
            return make(*args, **more)
        except InputError as error:
            self.problems += error.problems
            return None

    def tell(self) -> None:
        """Raise an InputError with all problems so far; return where there are none."""
        if self.problems:
            raise InputError(self.problems)


def in_file_order(problems: Iterable[Problem]) -> list[Problem]:
    """Return problems file by file as first met, those of a file by line, whole files first."""
    found = list(problems)
    files = {file: n for n, file in enumerate(dict.fromkeys(each.file for each in found))}
    return sorted(found, key=lambda each: (files[each.file], each.line or 0))


_SHORT = 3
_LIKE_SHORT, _LIKE = 0.5, 0.6
"""Share of letters in common from which a name is meant, for names up to `_SHORT` and longer."""


def nearest(name: str, names: Iterable[str]) -> str | None:
    """Return the known name most like ``name``, or None when none is like it.

    Of two letters one may be another; longer names have to be nearer.

    Examples
    --------
    >>> nearest("axsi", ["axis", "at", "zero"]), nearest("SK33", ["SK3", "RL01"])
    ('axis', 'SK3')
    >>> nearest("SB", ["SA"]), nearest("nowhere", ["tallowmere"])
    ('SA', None)
    """
    known = list(names)
    folded = {other.casefold(): other for other in reversed(known)}
    cutoff = _LIKE_SHORT if len(name) <= _SHORT else _LIKE
    found = difflib.get_close_matches(name.casefold(), list(folded), n=1, cutoff=cutoff)
    return folded[found[0]] if found else None


def unknown(what: str, name: str, names: Iterable[str]) -> str:
    """Return the sentence for a name that does not exist, with the nearest one that does.

    Examples
    --------
    >>> unknown("key", "axsi", ["axis", "at"])
    "unknown key 'axsi'; did you mean 'axis'?"
    >>> unknown("socket", "Q", ["SK1", "SK2"])
    "unknown socket 'Q'; there are SK1, SK2"
    >>> unknown("socket", "Q", [])
    "unknown socket 'Q'; there are none"
    """
    known = list(names)
    near = nearest(name, known)
    if near:
        return f"unknown {what} {name!r}; did you mean {near!r}?"
    return f"unknown {what} {name!r}; there are {listed(known)}"


def listed(names: Sequence[str], most: int = 12) -> str:
    """Return names as text, shortened after ``most``.

    Examples
    --------
    >>> listed(["a", "b", "c"], most=2), listed([])
    ('a, b and 1 more', 'none')
    """
    if not names:
        return "none"
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
