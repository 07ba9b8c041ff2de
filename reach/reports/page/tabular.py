"""A table of a dossier ready for the page: heads, cells as text with their kind, links."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from reach.dossier.records import Cell, Table
from reach.finding import Verdict
from reach.reports.page.cells import columns_of, head_of, is_number, text_of_cell

WIDE = 8
"""A table of more columns is laid out across the paper, and set smaller."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One cell: its text, what kind it is, and for a verdict which."""

    text: str
    kind: str


@dataclass(frozen=True, slots=True)
class Line:
    """One row: cells, and links to what shows that it is so."""

    cells: tuple[Shown, ...]
    links: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tabular:
    """One table.

    Attributes
    ----------
    name, title, says, nothing : str
    heads : tuple of (text, kind)
    lines : tuple of Line
    has_links, is_wide : bool
    """

    name: str
    title: str
    says: str
    nothing: str
    heads: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    has_links: bool
    is_wide: bool


def tabular(table: Table, link: Callable[[int], str] | None, units: str) -> Tabular:
    """Return a table ready to print.

    Parameters
    ----------
    table : Table
    link : callable or None
        Anchor of a finding by its place in the run; None for a table without links.
    units : str
    """
    printed = columns_of(table, units)
    heads = tuple(
        (head_of(column, how), _kind_of_column([row.cells[k] for row in table.rows]))
        for k, (column, how) in enumerate(zip(table.columns, printed, strict=True))
    )
    lines = tuple(
        Line(
            tuple(
                Shown(text_of_cell(cell, how), _kind(cell))
                for cell, how in zip(row.cells, printed, strict=True)
            ),
            tuple(link(k) for k in row.answers) if link else (),
        )
        for row in table.rows
    )
    return Tabular(
        table.name,
        table.title,
        table.says,
        table.nothing,
        heads,
        lines,
        any(line.links for line in lines),
        len(heads) > WIDE,
    )


def _kind(cell: Cell) -> str:
    if cell is None:
        return "unknown"
    if isinstance(cell, Verdict):
        return f"verdict {cell.name.lower()}"
    return "number" if is_number(cell) else "words"


def _kind_of_column(cells: list[Cell]) -> str:
    known = [cell for cell in cells if cell is not None]
    return "number" if known and all(is_number(cell) for cell in known) else "words"
