"""A table of a dossier ready for the page: heads, cells as text with their kind, links."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from reach.dossier.records import Cell, Table
from reach.finding import Verdict
from reach.reports.page.cells import columns_of, head_of, is_number, text_of_cell

UPRIGHT, ACROSS = 66.0, 106.0
"""Widest table on upright paper and on paper across, em of its letters; a wider one is cut."""

_LETTER, _PAD = 0.54, 1.0
_LINES, _LEAST, _MOST = 8.0, 10.0, 46.0
"""Words run over about so many lines at most; a column of many words has so many letters a line."""

_WORDY = 15.0
"""A column so wide (em) holds sentences."""

_FEW = 3
"""With fewer rows a column that says the same in all of them stays a column."""


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
    widths : tuple of float, em
        Of the columns, by what stands in them.
    alike : tuple of (head, text)
        What is the same in all rows, told once instead of in a column.
    has_links : bool
    """

    name: str
    title: str
    says: str
    nothing: str
    heads: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    widths: tuple[float, ...]
    alike: tuple[tuple[str, str], ...]
    has_links: bool

    @property
    def width(self) -> float:
        """Of the whole table, em."""
        return sum(self.widths)

    @property
    def is_wide(self) -> bool:
        """Whether it needs paper across."""
        return self.width > UPRIGHT

    @property
    def has_words(self) -> bool:
        """Whether a column holds sentences, which take fewer lines where the table is wider."""
        return any(width >= _WORDY for width in self.widths)

    @property
    def pieces(self) -> tuple[Tabular, ...]:
        """The table cut into tables that fit on paper across, each with the first column."""
        found: list[list[int]] = [[]]
        room = ACROSS - self.widths[0] if self.widths else ACROSS
        left = room
        for k in range(1, len(self.widths)):
            if self.widths[k] > left and found[-1]:
                found.append([])
                left = room
            found[-1].append(k)
            left -= self.widths[k]
        if len(found) == 1:
            return (self,)
        return tuple(self._columns([0, *some], n, len(found)) for n, some in enumerate(found, 1))

    def _columns(self, some: list[int], number: int, of: int) -> Tabular:
        return replace(
            self,
            title=f"{self.title}, part {number} of {of}",
            says=self.says if number == 1 else "",
            heads=tuple(self.heads[k] for k in some),
            lines=tuple(
                replace(line, cells=tuple(line.cells[k] for k in some)) for line in self.lines
            ),
            widths=tuple(self.widths[k] for k in some),
            alike=self.alike if number == 1 else (),
        )


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
    kept = [k for k in range(len(heads)) if not _is_alike(lines, k)]
    alike = tuple((heads[k][0], lines[0].cells[k].text) for k in range(len(heads)) if k not in kept)
    heads = tuple(heads[k] for k in kept)
    lines = tuple(replace(line, cells=tuple(line.cells[k] for k in kept)) for line in lines)
    return Tabular(
        table.name,
        table.title,
        table.says,
        table.nothing,
        heads,
        lines,
        tuple(_width(head, [line.cells[k] for line in lines]) for k, (head, _) in enumerate(heads)),
        alike,
        any(line.links for line in lines),
    )


def _is_alike(lines: tuple[Line, ...], k: int) -> bool:
    """Return whether a column, the first one apart, says the same in each of several rows."""
    if k == 0 or len(lines) < _FEW or lines[0].cells[k].kind.startswith("verdict"):
        return False
    return len({line.cells[k].text for line in lines}) == 1


def _width(head: str, cells: list[Shown]) -> float:
    """Return how wide a column should be, em: its longest word fits, many words run over lines."""
    texts = [cell.text for cell in cells]
    word = max((len(part) for text in (head, *texts) for part in text.split()), default=1)
    whole = max((len(text) for text in (*texts, head[: len(head) // 2])), default=1)
    badge = 3.0 if any(cell.kind.startswith("verdict") for cell in cells) else 0.0
    letters = max(word, min(whole, _LEAST + whole / _LINES, _MOST))
    return _LETTER * letters + _PAD + badge


def _kind(cell: Cell) -> str:
    if cell is None:
        return "unknown"
    if isinstance(cell, Verdict):
        return f"verdict {cell.name.lower()}"
    return "number" if is_number(cell) else "words"


def _kind_of_column(cells: list[Cell]) -> str:
    known = [cell for cell in cells if cell is not None]
    return "number" if known and all(is_number(cell) for cell in known) else "words"
