"""The ledger as text and CSV: what each step changes, or how everything stands after one."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reach.cautions import cautions
from reach.reports.table import heading, paragraph, printed

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.ledger.facts import Fact
    from reach.ledgers import Entry, Ledger

COLUMNS = ("step", "lane", "moment", "group", "thing", "what", "value")
"""Columns of the CSV: one row a step and thing; seconds since the start; no step: the beginning."""

TITLES = {
    "people": "PEOPLE",
    "items": "ITEMS",
    "lines": "SAFETY LINES",
    "restraints": "RESTRAINTS",
    "tools": "TOOLS",
    "fasteners": "BOLTS AND CONNECTORS",
    "inhibits": "INHIBITS",
    "payloads": "PAYLOADS",
    "cranes": "CRANES",
}
"""Kind of things -> heading, in the order in which they are told."""

NOTHING = "not along"


def render_ledger(ledger: Ledger, width: int = 100, colour: bool = False, at: str = "") -> str:
    """Return the ledger as text that stands alone; nothing is cut off, long lines wrap.

    Parameters
    ----------
    ledger : Ledger
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    at : str
        The step after which everything is told; without it, what each step changes.
    """
    return printed(_parts(ledger, at), width, colour)


def ledger_csv(ledger: Ledger, at: str = "") -> str:
    """Return one row a step and thing under `COLUMNS`: how everything stands after each step."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for entry in [ledger.after(at)] if at else ledger.entries:
        for fact in entry.facts:
            table.writerow((entry.step, entry.lane, round(entry.end, 3), *fact))
    return text.getvalue()


def hours(seconds: float) -> str:
    """Return a moment as hours and minutes, with seconds where there are some.

    Examples
    --------
    >>> hours(5040.0), hours(75.0)
    ('01:24', '00:01:15')
    """
    whole = round(seconds)
    rest = f":{whole % 60:02d}" if whole % 60 else ""
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}{rest}"


def _parts(ledger: Ledger, at: str) -> Iterator[RenderableType]:
    steps = ledger.entries[1:]
    yield heading("LEDGER", f"{ledger.title}: {ledger.procedure}")
    if not ledger.is_declared:
        said = "The procedure does not say how the outing begins: items and hooks are not known."
        yield paragraph(said, 2, "! ", "bold")
    if at:
        yield from _state(ledger.after(at))
    else:
        ends = max((entry.end for entry in steps), default=0.0)
        yield paragraph(
            f"{len(steps)} steps until {hours(ends)}, in the order in which they end.", 2
        )
        for entry in steps:
            yield from _changes(entry)
    yield heading("CAUTIONS")
    for number, text in enumerate(cautions(ledger.inputs), 1):
        yield paragraph(text, 2, f"{number:>2}. ")


def _changes(entry: Entry) -> Iterator[RenderableType]:
    """Yield one block: a step, and what it changes."""
    times = f"{hours(entry.begin)} to {hours(entry.end)}  "
    yield Text()
    yield paragraph(f"{entry.step} ({entry.lane})", 0, times, "bold")
    if not entry.changes:
        yield paragraph("Nothing changes hands, place or state.", len(times))
        return
    grid = _grid()
    for was, now in entry.changes:
        grid.add_row(now.thing, now.what, f"{now.value} (was {was.value})")
    yield Padding(grid, (0, 0, 0, len(times)), expand=False)


def _state(entry: Entry) -> Iterator[RenderableType]:
    """Yield one table for each kind of things: how they stand after a step."""
    yield paragraph(f"After step {entry.step} ({entry.lane}), at {hours(entry.end)}.", 2)
    for group, title in TITLES.items():
        facts = [fact for fact in entry.facts if fact.group == group]
        absent = [fact.thing for fact in facts if fact.value == NOTHING]
        there = [fact for fact in facts if fact.value != NOTHING]
        if not facts:
            continue
        yield heading(title)
        if there:
            yield Padding(_table(there), (0, 0, 0, 2), expand=False)
        if absent:
            yield paragraph(", ".join(absent), 2, "Not along: ")


def _table(facts: Sequence[Fact]) -> Table:
    """Return a table with a row for each thing and a column for what is said of it."""
    columns = list(dict.fromkeys(fact.what for fact in facts))
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    for name in ("", *columns):
        table.add_column(name, overflow="fold", no_wrap=False)
    rows: dict[str, dict[str, str]] = {}
    for fact in facts:
        rows.setdefault(fact.thing, {})[fact.what] = fact.value
    for thing, said in rows.items():
        table.add_row(thing, *(said.get(name, "") for name in columns))
    return table


def _grid() -> Table:
    grid = Table.grid(padding=(0, 2, 0, 0))
    for _ in range(3):
        grid.add_column(overflow="fold")
    return grid
