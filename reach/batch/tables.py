"""All findings of a batch in one table, failures first, made without holding it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from tempfile import TemporaryFile
from types import TracebackType
from typing import IO, Any

from reach.batch.plan import Entry
from reach.finding import Verdict
from reach.reports.record import COLUMNS

WHERE = ("run", "scene", "procedure", "variation")
"""Columns of a table of a batch that come before those of one run."""

BROKEN = "broken input"
LOST = "not finished"
ORDER = (str(Verdict.FAIL), BROKEN, LOST, *(str(v) for v in Verdict if v is not Verdict.FAIL))
"""What the column ``verdict`` says, in the order of the rows; two are not verdicts: there the
input could not be used, or the program did not come to an answer."""

_VERDICT = COLUMNS.index("verdict")
_BECAUSE = COLUMNS.index("because")
_NUMBERS = {"low", "high", "limit_value"}
_AT_A_TIME = 4096


class FindingsTable:
    """The table while it is gathered: a temporary file for each verdict."""

    def __init__(self) -> None:
        self._stack = ExitStack()
        self._parts: dict[str, IO[str]] = {verdict: self._part() for verdict in ORDER}
        self._writers = {
            verdict: csv.writer(part, lineterminator="\n") for verdict, part in self._parts.items()
        }

    def _part(self) -> IO[str]:
        part = TemporaryFile("w+", encoding="utf-8", newline="")  # noqa: SIM115, closed by the stack
        return self._stack.enter_context(part)

    def __enter__(self) -> FindingsTable:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stack.close()

    def add(self, entry: Entry, rows: list[list[Any]]) -> None:
        """Add the findings of a task."""
        for row in rows:
            self._writers[row[_VERDICT]].writerow([*_where(entry), *row])

    def add_failed(self, entry: Entry, word: str, lines: tuple[str, ...]) -> None:
        """Add a row for each line about a task without findings; ``word`` is BROKEN or LOST."""
        for line in lines:
            row = [""] * len(COLUMNS)
            row[_VERDICT], row[_BECAUSE] = word, line
            self._writers[word].writerow([*_where(entry), *row])

    def write(self, path: Path) -> None:
        """Write the table as CSV.

        Raises
        ------
        OSError
            If it cannot be written.
        """
        with path.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, lineterminator="\n").writerow([*WHERE, *COLUMNS])
            for part in self._parts.values():
                part.seek(0)
                while text := part.read(1 << 20):
                    out.write(text)


def _where(entry: Entry) -> tuple[str, ...]:
    return entry.run, entry.scene, entry.procedure, entry.variation


def has_parquet() -> bool:
    """Return whether tables can be written as Parquet, for which pyarrow is needed."""
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError:
        return False
    return True


def write_parquet(table: Path, path: Path) -> None:
    """Write a table of findings again as Parquet, see `has_parquet`.

    Numbers are float64, a blank one is null; everything else is text.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    import pyarrow as pa
    from pyarrow import parquet

    names = [*WHERE, *COLUMNS]
    schema = pa.schema([(n, pa.float64() if n in _NUMBERS else pa.string()) for n in names])
    with (
        parquet.ParquetWriter(path, schema) as writer,
        table.open(encoding="utf-8", newline="") as file,
    ):
        rows = csv.reader(file)
        next(rows)
        for chunk in _chunks(rows):
            columns = [_cells(name, cells) for name, cells in zip(names, chunk, strict=True)]
            writer.write_table(pa.table(columns, schema=schema))


def _chunks(rows: Iterator[list[str]]) -> Iterator[list[tuple[str, ...]]]:
    """Yield the columns of so many rows at a time."""
    while some := list(islice(rows, _AT_A_TIME)):
        yield list(zip(*some, strict=True))


def _cells(name: str, cells: tuple[str, ...]) -> list[Any]:
    if name in _NUMBERS:
        return [float(cell) if cell else None for cell in cells]
    return list(cells)
