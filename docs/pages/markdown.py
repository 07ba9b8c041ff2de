"""Pieces of Markdown: tables, code, links, and the anchors that a heading gets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

MADE = "<!-- Made by docs/write.py from the program itself: change that, not this. -->\n"
"""First line of every page that is made."""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; what would end a cell is written otherwise."""
    lines = [_row(head), _row(["---"] * len(head)), *(_row([*map(cell, row)]) for row in rows)]
    return "\n".join(lines) + "\n"


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def cell(text: str) -> str:
    """Return text as it stands in a cell of a table."""
    return " ".join(text.split()).replace("|", "\\|").replace("<", "&lt;")


def code(text: str, kind: str = "") -> str:
    """Return a block of code."""
    return f"```{kind}\n{text.rstrip()}\n```\n"


def plain(text: str) -> str:
    """Return the text of a docstring as Markdown: its marks of code have one tick."""
    return text.replace("``", "`")


def anchor(heading: str) -> str:
    """Return the anchor that a heading gets on the usual hosts.

    Examples
    --------
    >>> anchor("MoveCrane"), anchor("reach warm-up"), anchor("What it checks: `reach`")
    ('movecrane', 'reach-warm-up', 'what-it-checks-reach')
    """
    kept = re.sub(r"[^\w\- ]", "", heading.lower())
    return kept.replace(" ", "-")


def link(name: str, page: str = "") -> str:
    """Return a link to the heading of that name, on this page or another."""
    return f"[{name}]({page}#{anchor(name)})"
