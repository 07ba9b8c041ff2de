"""Cells of tables in words and in numbers: one unit a column, with as many digits as it bears."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeGuard

from reach.dossier.records import Cell, Column, Table
from reach.finding import Verdict
from reach.reports.clock import hours_text
from reach.reports.verdicts import SHAPE
from reach.units import UNITS, in_unit

NOT_KNOWN = "not known"
NO_LIMIT = "no limit"

_PRINTED = {"rad": "deg", "rad/s": "deg/s"}
_CUSTOMARY = {"m": "in", "N": "lbf", "N m": "ft lbf", "kg": "lb", "m/s": "in/s"}
_DIGITS = {"m": 3, "s": 0, "min": 1, "h": 2, "deg": 1, "deg/s": 2, "m/s": 3, "in": 1, "in/s": 1}
_DIGITS_ELSE = 1
_IN_MINUTES = 120.0
"""A column of times with one of at least so many seconds is printed in minutes."""


@dataclass(frozen=True, slots=True)
class Printed:
    """How the numbers of a column are printed.

    Attributes
    ----------
    unit : str
        As printed; empty for counts and words.
    other : str
        Customary unit that stands beside it, or empty.
    digits : int
        After the point; of counts 0.
    other_digits : int
    is_moment : bool
        As hours and minutes.
    """

    unit: str
    other: str
    digits: int
    other_digits: int
    is_moment: bool = False

    def number(self, value: float) -> float:
        """Return an SI number in the unit that is printed."""
        return in_unit(value, self.unit) if self.unit in _KNOWN else value

    def other_number(self, value: float) -> float:
        """Return an SI number in the customary unit."""
        return in_unit(value, self.other)

    def text(self, value: float) -> str:
        """Return an SI number as text without its unit, which stands in the head."""
        if math.isnan(value):
            return NOT_KNOWN
        if math.isinf(value):
            return NO_LIMIT
        if self.is_moment:
            return hours_text(value)
        text = _fixed(self.number(value), self.digits)
        if self.other:
            text += f" ({_fixed(self.other_number(value), self.other_digits)})"
        return text


_KNOWN = {unit for units in UNITS.values() for unit in units}


def printed_as(column: Column, cells: Sequence[Cell], units: str = "si") -> Printed:
    """Return how the numbers of a column are printed.

    Parameters
    ----------
    column : Column
    cells : sequence of Cell
        Those of the column.
    units : str
        ``"si"`` or ``"both"``.

    Examples
    --------
    >>> printed_as(Column("gap", "m"), [0.92], "both").text(0.92)
    '0.920 (36.2)'
    >>> printed_as(Column("time", "s"), [30.0, 600.0]).text(600.0)
    '10.0'
    """
    if column.is_moment:
        return Printed("h:min", "", 0, 0, True)
    numbers = [float(cell) for cell in cells if is_number(cell)]
    finite = [abs(number) for number in numbers if math.isfinite(number)]
    unit = _PRINTED.get(column.unit, column.unit)
    if unit == "s" and max(finite, default=0.0) >= _IN_MINUTES:
        unit = "min"
    other = _CUSTOMARY.get(column.unit, "") if units == "both" else ""
    if other and other not in _KNOWN:
        other = ""
    whole = not unit and all(number.is_integer() for number in finite)
    digits = 0 if whole else _DIGITS.get(unit, 2 if not unit else _DIGITS_ELSE)
    return Printed(unit, other, digits, _DIGITS.get(other, _DIGITS_ELSE))


def is_number(cell: Cell) -> TypeGuard[float]:
    """Return whether a cell is a number."""
    return isinstance(cell, int | float) and not isinstance(cell, bool)


def columns_of(table: Table, units: str = "si") -> list[Printed]:
    """Return how each column of a table is printed."""
    return [
        printed_as(column, [row.cells[k] for row in table.rows], units)
        for k, column in enumerate(table.columns)
    ]


def head_of(column: Column, printed: Printed) -> str:
    """Return the head of a column with its unit.

    Examples
    --------
    >>> head_of(Column("Widest gap", "m"), printed_as(Column("Widest gap", "m"), [1.0], "both"))
    'Widest gap, m (in)'
    """
    if not printed.unit:
        return column.title
    other = f" ({printed.other})" if printed.other else ""
    return f"{column.title}, {printed.unit}{other}"


def text_of_cell(cell: Cell, printed: Printed) -> str:
    """Return a cell as text; a verdict with its shape and word, what is not known as such.

    Examples
    --------
    >>> text_of_cell(Verdict.OPEN, printed_as(Column("verdict"), []))
    '◇ open'
    """
    if cell is None:
        return NOT_KNOWN
    if isinstance(cell, Verdict):
        return f"{SHAPE[cell]} {cell}"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, str):
        return cell
    return printed.text(float(cell))


def _fixed(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text
