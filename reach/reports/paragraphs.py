"""Paragraphs of a report, wrapped beside a label: what a grid of rich gives, and much quicker."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

_NARROW = 20
"""With fewer columns left for the text a grid decides what becomes narrower."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Text whose lines all begin after the indent and the label.

    A report has a thousand of them, which is why they do not go through a table.
    """

    text: str
    indent: int = 0
    label: str = ""
    style: str = ""

    def __rich_console__(
        self, console: Console, options: ConsoleOptions
    ) -> Iterator[RenderableType | Segment]:
        """Yield the lines."""
        beside = self.indent + cell_len(self.label)
        room = options.max_width - beside
        if not self.text or room < _NARROW or "\n" in self.label or "\t" in self.label:
            yield as_grid(self.text, self.indent, self.label, self.style)
            return
        style = console.get_style(self.style) if self.style else None
        for n, line in enumerate(Text(self.text).wrap(console, room, overflow="fold")):
            if self.indent:
                yield Segment(" " * self.indent)
            if self.label:
                told = self.label if n == 0 else " " * cell_len(self.label)
                yield Segment(told, style)
            yield Segment(line.plain, style)
            yield Segment.line()


def as_grid(text: str, indent: int, label: str, style: str) -> RenderableType:
    """Return the same as a renderable of rich."""
    if not label:
        return Padding(Text(text, style=style), (0, 0, 0, indent), expand=False)
    grid = Table.grid(padding=0)
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Text(label, style=style), Text(text, style=style))
    return Padding(grid, (0, 0, 0, indent), expand=False)
