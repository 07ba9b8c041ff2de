"""CSV tables for long lists: one record a row, columns named like the keys of the record."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from reach.files.lines import Place
from reach.files.problem import InputError, Problem, unknown
from reach.files.records import plain_type
from reach.files.toml import read_text


@dataclass(frozen=True, slots=True)
class Column:
    """One column: where its cells go in the record, and how a cell is read.

    ``form`` is ``"text"``, ``"list"`` (separated by ``;``), ``"number"`` (a plain
    number, else text with a unit) or ``"numbers"`` (one number, or several with ``;``).
    """

    name: str
    place: Place
    form: str
    required: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One row: data by record key, with what is needed to name a problem's place."""

    file: str
    line: int
    data: dict[str, Any]
    columns: tuple[Column, ...]

    def problem(self, place: Place, message: str) -> Problem:
        """Return a problem whose place is the column that fed ``place``."""
        names = [c.name for c in self.columns if c.place[: len(place)] == place[: len(c.place)]]
        whole = next((c.name for c in self.columns if c.place == place), None)
        name = whole or (str(place[0]) if place and len(names) != 1 else "".join(names[:1]))
        return Problem(self.file, name if place else "", self.line, message)


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a CSV file and its hash."""

    rows: tuple[Row, ...]
    sha256: str


_FORMS: dict[Any, str] = {tuple[str, ...]: "list", float: "number", tuple[float, float]: "numbers"}
"""Type of a key -> how its cells are read."""


def columns_of(model: type[BaseModel]) -> list[Column]:
    """Return the columns of a record; vectors and tables have one column a component.

    Examples
    --------
    >>> from reach.model.scene import Anchor
    >>> [column.name for column in columns_of(Anchor)]
    ['name', 'in', 'at.x', 'at.y', 'at.z', 'on', 'rating', 'title']
    """
    columns = [Column("name", ("name",), "text", required=True)]
    for key, field in model.model_fields.items():
        name, kind = field.alias or key, plain_type(field.annotation)
        required = field.is_required()
        if get_origin(kind) is tuple and len(get_args(kind)) == 3:
            places = [(f"{name}.{axis}", (name, i)) for i, axis in enumerate("xyz")]
            columns += [Column(column, place, "number", required) for column, place in places]
        elif isinstance(kind, type) and issubclass(kind, BaseModel):
            parts = kind.model_fields
            columns += [Column(f"{name}.{part}", (name, part), "numbers") for part in parts]
        else:
            form = _FORMS.get(kind, "text")
            columns.append(Column(name, (name,), form, required))
    return columns


def read_table(
    path: Path,
    file: str,
    columns: Sequence[Column],
    problems: list[Problem],
    families: dict[str, str] | None = None,
) -> Table:
    """Return the rows of a CSV file; problems of its header and cells are added.

    Parameters
    ----------
    path : Path
    file : str
        Name to show in problems.
    columns : sequence of Column
    problems : list of Problem
        Is added to; a table whose header is wrong gives no rows.
    families : dict
        Beginnings of further columns and their form: ``{"setting.": "number"}``.

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    text, sha256 = read_text(path, file)
    lines = _lines(text, file)
    line, header = next(lines, (1, []))
    found = _header(header, file, line, columns, families or {}, problems)
    if found is None:
        return Table((), sha256)
    rows = []
    for line, cells in lines:
        if len(cells) != len(found):
            message = f"has {len(cells)} cells, the header has {len(found)}"
            problems.append(Problem(file, "", line, message))
        else:
            rows.append(Row(file, line, _data(cells, found), tuple(found)))
    return Table(tuple(rows), sha256)


def _lines(text: str, file: str) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and stripped cells; empty lines and # lines are left out."""
    begun: list[str] = []

    def given() -> Iterator[str]:
        # A quotation mark in a remark opens no cell, and a cell "#3" in marks is no remark.
        for line in io.StringIO(text):
            is_remark = not begun and line.lstrip().startswith("#")
            begun.append(line)
            yield "\n" if is_remark else line

    reader = csv.reader(given(), strict=True)
    try:
        for cells in reader:
            begun.clear()
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                yield reader.line_num, stripped
    except csv.Error as error:
        raise InputError([Problem(file, "", reader.line_num, f"CSV syntax: {error}")]) from None


def _header(
    names: list[str],
    file: str,
    line: int,
    columns: Sequence[Column],
    families: dict[str, str],
    problems: list[Problem],
) -> list[Column] | None:
    known = {column.name: column for column in columns}
    if not names:
        message = f"is empty; the first line names the columns: {', '.join(known)}"
        problems.append(Problem(file, "", None, message))
        return None
    found, messages = [], []
    for name in names:
        family = next((start for start in families if name.startswith(start)), None)
        if name in known:
            found.append(known[name])
        elif family and len(name) > len(family):
            place = (family.rstrip("."), name.removeprefix(family))
            found.append(Column(name, place, families[family]))
        else:
            messages.append(unknown("column", name, known))
    twice = dict.fromkeys(name for name in names if names.count(name) > 1)
    messages += [f"column {name!r} is given twice" for name in twice]
    messages += [
        f"column {column.name!r} is missing"
        for column in columns
        if column.required and column.name not in names
    ]
    problems += [Problem(file, "", line, message) for message in messages]
    return None if messages else found


def _data(cells: list[str], columns: list[Column]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    vectors: dict[str, list[Any]] = {}
    for cell, column in zip(cells, columns, strict=True):
        key = str(column.place[0])
        if len(column.place) == 1:
            if cell:
                data[key] = _value(cell, column.form)
        elif isinstance(column.place[1], int):
            vectors.setdefault(key, ["", "", ""])[column.place[1]] = _value(cell, column.form)
        elif cell:
            data.setdefault(key, {})[column.place[1]] = _value(cell, column.form)
    return data | {key: vector for key, vector in vectors.items() if any(v != "" for v in vector)}


def _value(cell: str, form: str) -> Any:
    if form == "list":
        return [part.strip() for part in cell.split(";") if part.strip()]
    if form == "text":
        return cell
    if form == "numbers" and ";" in cell:
        return [_value(part.strip(), "number") for part in cell.split(";")]
    for number in (int, float) if "_" not in cell else ():
        try:
            return number(cell)
        except ValueError:
            continue
    return cell
