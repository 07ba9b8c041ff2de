"""What a check asks and does not ask, taken from the text that stands in its module."""

from __future__ import annotations

import inspect
import textwrap
from collections.abc import Iterable
from typing import Any

PARAGRAPHS = ("Question.", "Margin.", "Limit.", "Blind spots.")
"""How the four paragraphs of every check begin, in order."""


def explain(module: Any, width: int = 88) -> str:
    """Return name, ids and the four paragraphs of a check.

    Parameters
    ----------
    module : module
        A check: ``NAME``, ``IDS`` and a docstring that holds the `PARAGRAPHS`.
    width : int
        Longest line.

    Raises
    ------
    ValueError
        If a paragraph is missing.
    """
    parts = [f"{module.NAME} ({', '.join(module.IDS)})"]
    parts += [_filled(paragraph, width) for paragraph in paragraphs(module)]
    return "\n\n".join(parts) + "\n"


def explain_all(modules: Iterable[Any]) -> str:
    """Return one line for each check: name, ids and what it is about."""
    rows = [(module.NAME, ", ".join(module.IDS), _summary(module)) for module in modules]
    widths = [max((len(row[column]) for row in rows), default=0) for column in (0, 1)]
    return "".join(
        f"{name:<{widths[0]}}  {ids:<{widths[1]}}  {summary}\n" for name, ids, summary in rows
    )


def _summary(module: Any) -> str:
    first = " ".join((inspect.getdoc(module) or "").split("\n\n")[0].split())
    return first.removeprefix(PARAGRAPHS[0]).strip()


def paragraphs(module: Any) -> list[str]:
    """Return the four paragraphs of a check, each on one line.

    Raises
    ------
    ValueError
        If one is missing.
    """
    found: dict[str, list[str]] = {}
    lines: list[str] = []
    for line in (inspect.getdoc(module) or "").splitlines():
        word = next((word for word in PARAGRAPHS if line.startswith(word)), None)
        if word:
            lines = found.setdefault(word, [])
        lines.append(line.strip())
    missing = [word for word in PARAGRAPHS if word not in found]
    if missing:
        raise ValueError(f"{module.NAME}: no paragraph begins with {', '.join(missing)}")
    return [" ".join(" ".join(found[word]).split()) for word in PARAGRAPHS]


def _filled(paragraph: str, width: int) -> str:
    return textwrap.fill(paragraph, width, break_long_words=False, break_on_hyphens=False)
