"""Where each key of a TOML text stands: a light scan that finds lines and checks nothing.

Where the text is not valid TOML the scan stops and keeps the lines found up to there.
"""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass, field

Place = tuple[str | int, ...]
"""Keys and array positions from the root of the file; positions count from 0."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^\s,\]}#]+(?: \d[^\s,\]}#]*)?")
_BLANK = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")
_INSIDE = {
    '"': re.compile(r'(?:[^"\\\n]+|\\.)*'),
    "'": re.compile(r"[^'\n]*"),
    '"""': re.compile(r'(?:[^"\\]+|\\.|"(?!""))*', re.DOTALL),
    "'''": re.compile(r"(?:[^']+|'(?!''))*"),
}
"""What stands between two marks of a text."""

_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


def _escaped(match: re.Match[str]) -> str:
    return _ESCAPES.get(match.group(1), "")


def dotted(place: Place) -> str:
    """Return a place as people write it; array positions count from 1.

    Examples
    --------
    >>> dotted(("steps", 2, "actions", 0, "bit"))
    'steps[3].actions[1].bit'
    """
    text = ""
    for part in place:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


@dataclass(frozen=True, slots=True)
class Again:
    """A place given a second time, at ``line``; it was first given at line ``first``."""

    place: Place
    line: int
    first: int


@dataclass(slots=True)
class Scan:
    """Lines of places, and the places that were given twice."""

    lines: dict[Place, int] = field(default_factory=dict)
    repeated: list[Again] = field(default_factory=list)


def scan(text: str) -> Scan:
    r"""Return the line of every key, table and array element of a TOML text.

    Examples
    --------
    >>> scan('a = 1\n[b]\nc = [\n 1,\n 2]').lines[("b", "c", 1)]
    5
    """
    reader = _Reader(text)
    with contextlib.suppress(_ScanError, RecursionError):
        reader.document()
    return reader.found


class _ScanError(Exception):
    """The text is not valid TOML here."""


class _Reader:
    """Walks a TOML text once, from key to key."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1
        self.found = Scan()
        self.counts: dict[Place, int] = {}
        self.whole: set[Place] = set()

    def document(self) -> None:
        table: Place = ()
        while True:
            self.space(lines=True)
            if self.at >= len(self.text):
                return
            if self.peek("["):
                table = self.header()
            else:
                self.pair(table)

    def header(self) -> Place:
        line = self.line
        is_array = self.text.startswith("[[", self.at)
        self.take("[[" if is_array else "[")
        keys = self.keys()
        self.take("]]" if is_array else "]")
        place: Place = ()
        for key in keys[:-1]:
            self.found.lines.setdefault((*place, key), line)
            place = self.inside((*place, key))
        place = (*place, keys[-1])
        if is_array:
            count = self.counts.get(place, 0)
            self.counts[place] = count + 1
            self.found.lines.setdefault(place, line)
            place = (*place, count)
            self.found.lines[place] = line
            return place
        if place in self.whole:
            self.found.repeated.append(Again(place, line, self.found.lines[place]))
        self.whole.add(place)
        self.found.lines.setdefault(place, line)
        return place

    def inside(self, place: Place) -> Place:
        """Return the place itself, or its last element when it is an array of tables."""
        return (*place, self.counts[place] - 1) if place in self.counts else place

    def pair(self, table: Place) -> None:
        line = self.line
        keys = self.keys()
        self.take("=")
        for n in range(1, len(keys)):
            self.found.lines.setdefault((*table, *keys[:n]), line)
        place = (*table, *keys)
        if place in self.found.lines:
            self.found.repeated.append(Again(place, line, self.found.lines[place]))
        else:
            self.found.lines[place] = line
        self.whole.add(place)
        self.space()
        self.value(place)

    def value(self, place: Place) -> None:
        if self.peek("["):
            self.array(place)
        elif self.peek("{"):
            self.inline_table(place)
        elif self.peek('"') or self.peek("'"):
            self.string()
        else:
            self.match(_SCALAR)

    def array(self, place: Place) -> None:
        self.take("[")
        count = 0
        while True:
            self.space(lines=True)
            if self.peek("]"):
                break
            self.found.lines[(*place, count)] = self.line
            self.value((*place, count))
            count += 1
            self.space(lines=True)
            if not self.peek(","):
                break
            self.take(",")
        self.take("]")

    def inline_table(self, place: Place) -> None:
        self.take("{")
        self.space()
        while not self.peek("}"):
            self.pair(place)
            self.space()
            if not self.peek(","):
                break
            self.take(",")
            self.space()
        self.take("}")

    def keys(self) -> tuple[str, ...]:
        keys = []
        while True:
            self.space()
            quoted = self.peek('"') or self.peek("'")
            keys.append(self.string() if quoted else self.match(_BARE))
            self.space()
            if not self.peek("."):
                return tuple(keys)
            self.take(".")

    def string(self) -> str:
        mark = self.text[self.at]
        long = self.text.startswith(mark * 3, self.at)
        end = mark * 3 if long else mark
        self.take(end)
        content = self.match(_INSIDE[end])
        self.line += content.count("\n")
        self.take(end)
        while long and self.peek(mark):
            self.at += 1
        return _ESCAPE.sub(_escaped, content) if mark == '"' else content

    def space(self, lines: bool = False) -> None:
        gap = self.match(_GAP if lines else _BLANK)
        self.line += gap.count("\n")

    def peek(self, text: str) -> bool:
        return self.text.startswith(text, self.at)

    def take(self, text: str) -> None:
        if not self.peek(text):
            raise _ScanError
        self.at += len(text)

    def match(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise _ScanError
        self.at = match.end()
        return match.group()
