"""XML files as a tree in which every element knows its line; nothing is ever expanded.

A document type is refused before anything it declares could be used: without one there are
no entities but the five of XML itself (W3C, Extensible Markup Language 1.0, 4.6).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from reach.files.problem import InputError, Problem

LARGEST = 8_000_000
"""Bytes; a robot of a thousand links takes less than a tenth of it (from the shipped crane)."""


@dataclass(slots=True)
class Element:
    """One element: its name, attributes, children and the line where it starts."""

    name: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)

    def all(self, name: str) -> Iterator[Element]:
        """Yield the direct children called ``name``."""
        return (child for child in self.children if child.name == name)

    def first(self, name: str) -> Element | None:
        """Return the first direct child called ``name``, or None."""
        return next(self.all(name), None)


class _RefusedError(Exception):
    """Raised inside the parser to end it at once."""


def read_marked(content: bytes, file: str) -> Element:
    """Return the root element of an XML text.

    Parameters
    ----------
    content : bytes
    file : str
        Name shown in problems.

    Raises
    ------
    InputError
        If it is too large, not well formed, or holds a document type.
    """
    if len(content) > LARGEST:
        message = f"is larger than {LARGEST // 1_000_000} MB; take out what is not the arm"
        raise InputError([Problem(file, "", None, message)])
    parser = expat.ParserCreate()
    open_: list[Element] = []
    roots: list[Element] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        element = Element(name, attributes, parser.CurrentLineNumber)
        (open_[-1].children if open_ else roots).append(element)
        open_.append(element)

    def refuse(*_: object) -> None:
        raise _RefusedError

    parser.StartElementHandler = start
    parser.EndElementHandler = lambda _: open_.pop()
    parser.StartDoctypeDeclHandler = refuse
    try:
        parser.Parse(content, True)
    except _RefusedError:
        message = "holds a document type (DOCTYPE), which is not read; take it out"
        raise InputError([Problem(file, "", parser.CurrentLineNumber, message)]) from None
    except expat.ExpatError as error:
        message = f"is not XML: {expat.ErrorString(error.code)}"
        raise InputError([Problem(file, "", error.lineno, message)]) from None
    except (LookupError, ValueError):  # what the first line says it is written in
        message = "is in an encoding that is not read; save it as UTF-8"
        raise InputError([Problem(file, "", 1, message)]) from None
    return roots[0]
