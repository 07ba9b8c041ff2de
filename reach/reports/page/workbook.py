"""The tables of a report as a workbook: a sheet a table, numbers as numbers with their unit."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reach.cautions import cautions, digest
from reach.dossier.records import Cell, Column, Table
from reach.finding import RANK, Verdict, count_of
from reach.pictures.palette import FAIL, INK, OPEN, PAPER, SIGHT, SOFT_INK
from reach.reports.page.cells import NO_LIMIT, NOT_KNOWN, Printed, columns_of
from reach.reports.record import COLUMNS, as_given, to_rows
from reach.reports.verdicts import MEANING, SHAPE

if TYPE_CHECKING:
    from reach.dossier.dossier import Dossier

LONGEST_NAME = 31
_FORBIDDEN = re.compile(r"[\[\]:*?/\\']")
_NARROWEST, _WIDEST = 8.0, 60.0
_DAY = 86400.0

_LOOK: dict[Verdict, dict[str, Any]] = {
    Verdict.FAIL: {"bold": True, "font_color": "#ffffff", "bg_color": FAIL},
    Verdict.OPEN: {"bold": True, "font_color": INK, "bg_color": OPEN},
    Verdict.REVIEW: {"bold": True, "font_color": "#ffffff", "bg_color": SIGHT},
    Verdict.PASS: {"font_color": INK, "bg_color": PAPER},
    Verdict.NOT_ASKED: {"italic": True, "font_color": SOFT_INK, "bg_color": PAPER},
}


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a sheet: its head, how its numbers are printed, and which number it holds."""

    head: str
    printed: Printed
    is_other: bool = False

    @property
    def form(self) -> str:
        """The number format, with the unit."""
        if self.printed.is_moment:
            return "[hh]:mm"
        digits = self.printed.other_digits if self.is_other else self.printed.digits
        unit = self.printed.other if self.is_other else self.printed.unit
        zeros = "0" + ("." + "0" * digits if digits else "")
        return f'{zeros}" {unit}"' if unit else zeros

    def value(self, cell: float) -> float:
        """Return an SI number as the sheet holds it; a moment in days, as sheets count."""
        if self.printed.is_moment:
            return cell / _DAY
        return self.printed.other_number(cell) if self.is_other else self.printed.number(cell)


def tables_xlsx(dossier: Dossier, units: str = "si") -> bytes:
    """Return all tables, what was found and what it rests on as the bytes of an XLSX file.

    Raises
    ------
    ImportError
        If the library that writes workbooks is not there.
    """
    from xlsxwriter import Workbook

    buffer = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False,
               "strings_to_numbers": False}  # fmt: skip
    with Workbook(buffer, options) as book:
        sheets = _Sheets(book)
        _front(sheets, dossier)
        for table in dossier.tables:
            _sheet_of(sheets, table, units)
        _findings(sheets, dossier)
    return buffer.getvalue()


class _Sheets:
    """Writes sheets of one workbook."""

    def __init__(self, book: Any) -> None:
        self.book = book
        self.names: set[str] = set()
        self._formats: dict[tuple[tuple[str, Any], ...], Any] = {}

    def format(self, **look: Any) -> Any:
        key = tuple(sorted(look.items()))
        if key not in self._formats:
            self._formats[key] = self.book.add_format({"valign": "top", "text_wrap": True} | look)
        return self._formats[key]

    def add(self, name: str) -> Any:
        """Return a new sheet; its name is unique and fits."""
        plain = _FORBIDDEN.sub("-", name)[:LONGEST_NAME]
        unique, n = plain, 1
        while unique.lower() in self.names:
            n += 1
            unique = f"{plain[: LONGEST_NAME - len(str(n)) - 1]}-{n}"
        self.names.add(unique.lower())
        sheet = self.book.add_worksheet(unique)
        sheet.set_paper(9)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.set_footer("&L&8Planning aid only. Not certified.&R&8&P / &N")
        return sheet

    def write(self, sheet: Any, row: int, column: int, cell: Cell, field: Field | None) -> None:
        """Write one cell: numbers as numbers, verdicts as words with shape and colour."""
        if isinstance(cell, Verdict):
            sheet.write_string(row, column, f"{SHAPE[cell]} {cell}", self.format(**_LOOK[cell]))
        elif cell is None:
            look = self.format(italic=True, font_color=SOFT_INK)
            sheet.write_string(row, column, NOT_KNOWN, look)
        elif isinstance(cell, str):
            sheet.write_string(row, column, cell, self.format())
        elif not math.isfinite(cell):
            words = NOT_KNOWN if math.isnan(cell) else NO_LIMIT
            sheet.write_string(row, column, words, self.format())
        else:
            form = field.form if field else "General"
            value = field.value(float(cell)) if field else cell
            sheet.write_number(row, column, value, self.format(num_format=form))

    def head(self, sheet: Any, row: int, heads: Sequence[str], n_rows: int) -> None:
        """Write the heads of columns, frozen, with filters."""
        look = self.format(bold=True, bottom=2, bg_color=PAPER)
        for k, head in enumerate(heads):
            sheet.write_string(row, k, head, look)
        sheet.freeze_panes(row + 1, 1)
        sheet.repeat_rows(row)
        if n_rows:
            sheet.autofilter(row, 0, row + n_rows, len(heads) - 1)


def fields_of(columns: Sequence[Column], printed: Sequence[Printed]) -> list[tuple[int, Field]]:
    """Return the columns of a sheet, each with the column of the table that it is made from.

    In both systems a number with a customary unit has two columns.
    """
    fields = []
    for k, (column, how) in enumerate(zip(columns, printed, strict=True)):
        unit = f", {how.unit}" if how.unit else ""
        fields.append((k, Field(f"{column.title}{unit}", how)))
        if how.other:
            fields.append((k, Field(f"{column.title}, {how.other}", how, True)))
    return fields


def _sheet_of(sheets: _Sheets, table: Table, units: str) -> None:
    sheet = sheets.add(table.name)
    fields = fields_of(table.columns, columns_of(table, units))
    bold = sheets.format(bold=True, text_wrap=False)
    sheet.write_string(0, 0, table.title, bold)
    says = table.says if table.rows else table.nothing
    sheet.write_string(1, 0, says, sheets.format(text_wrap=False, font_color=SOFT_INK))
    sheets.head(sheet, 2, [field.head for _, field in fields], len(table.rows))
    for r, row in enumerate(table.rows, 3):
        for c, (k, field) in enumerate(fields):
            sheets.write(sheet, r, c, row.cells[k], field)
    for c, (k, field) in enumerate(fields):
        texts = [str(row.cells[k]) for row in table.rows if isinstance(row.cells[k], str)]
        sheet.set_column(c, c, _wide(field.head, texts))


def _wide(head: str, texts: Sequence[str]) -> float:
    longest = max((len(text) for text in texts), default=0)
    word = max((len(part) for part in head.split()), default=0)
    return min(max(_NARROWEST, 0.5 * len(head), word + 2.0, 1.05 * longest), _WIDEST)


def _front(sheets: _Sheets, dossier: Dossier) -> None:
    """Write what it is about, the counts, the cautions and the files read."""
    outcome = dossier.outcome
    sheet = sheets.add("report")
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 100)
    rows: list[tuple[Cell, Cell]] = [
        (outcome.title, outcome.procedure),
        ("hash of the inputs", digest(outcome.inputs)),
        *((warning, "") for warning in outcome.warnings),
        ("", ""),
        *((verdict, f"{n}: {MEANING[verdict]}")
          for verdict, n in sorted(count_of(outcome.findings).items(), key=lambda o: RANK[o[0]])),
        ("", ""),
        *((f"caution {k}", text) for k, text in enumerate(cautions(outcome.inputs), 1)),
        ("", ""),
        *((as_given(file), sha256) for file, sha256 in outcome.inputs),
    ]  # fmt: skip
    for r, (left, right) in enumerate(rows):
        sheets.write(sheet, r, 0, left, None)
        sheets.write(sheet, r, 1, right, None)


def _findings(sheets: _Sheets, dossier: Dossier) -> None:
    """Write every finding, one row each, SI, under the heads of the CSV."""
    sheet = sheets.add("every finding")
    rows = to_rows(dossier.outcome)
    sheets.head(sheet, 0, COLUMNS, len(rows))
    verdict = COLUMNS.index("verdict")
    for r, row in enumerate(rows, 1):
        for c, cell in enumerate(row):
            told = Verdict(cell) if c == verdict else cell
            if told not in (None, ""):
                sheets.write(sheet, r, c, told, None)
    for c, name in enumerate(COLUMNS):
        sheet.set_column(c, c, {"because": 60.0, "fix": 45.0}.get(name, 16.0))
