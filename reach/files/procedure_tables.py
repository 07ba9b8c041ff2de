"""CSV tables of a procedure: its steps, what holds which item at the begin, where lines are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from reach.files.lines import Place
from reach.files.problem import Problem
from reach.files.records import Report, read_record
from reach.files.table import Column, Row
from reach.model.outing import Ends, Kept
from reach.model.record import Record

_FORMS = {
    "after": "list",
    "with": "list",
    "route": "list",
    "start": "number",
    "duration": "number",
    "between": "numbers",
    "optional": "number",
}
_STEP = (
    "name", "lane", "start", "after", "duration", "between", "with", "optional", "where",
    "restraint", "route", "path", "note",
)  # fmt: skip
_TEXTS = (
    "do", "fastener", "tool", "bit", "extension", "hand", "loosen", "to", "from", "tether",
    "anchor", "payload", "crane", "guide", "clear_caller", "what", "item", "checked", "tied",
    "inhibit",
)  # fmt: skip
_LISTS = (
    "carrying", "in_hand", "crosses", "grips", "cameras", "items", "of", "through", "clamps",
)  # fmt: skip
_NUMBERS = ("torque", "force")


def _step_columns() -> tuple[Column, ...]:
    columns = [Column(key, (key,), _FORMS.get(key, "text"), key == "lane") for key in _STEP]
    for keys, form in ((_TEXTS, "text"), (_LISTS, "list"), (_NUMBERS, "number")):
        columns += [Column(key, ("action", key), form) for key in keys]
    return tuple(columns)


COLUMNS: dict[str, tuple[Column, ...]] = {
    "steps": _step_columns(),
    "items": (
        Column("item", ("item",), "text", required=True),
        Column("in", ("in",), "text", required=True),
        Column("tied", ("tied",), "text"),
    ),
    "lines": (
        Column("line", ("line",), "text", required=True),
        Column("hook", ("hook",), "text"),
        Column("reel", ("reel",), "text"),
    ),
}
"""Table of a procedure -> its columns; what is yes or no is text, read by the record."""

FAMILIES = {"steps": {"setting.": "number", "placed.": "text"}}
"""Table -> beginnings of further columns: ``setting.clocking`` and ``placed.boom``."""

BEGIN: dict[str, tuple[str, type[Record]]] = {"items": ("item", Kept), "lines": ("line", Ends)}
"""Table of the begin -> its column of names, and the record of a row."""


def steps_of(
    rows: Sequence[Row], problems: list[Problem]
) -> Iterable[tuple[dict[str, Any], Report]]:
    """Return the data of each step in a table, with what makes problems of it.

    A row with a name is a step; one without adds an action to the step above.
    """
    found: list[tuple[dict[str, Any], list[Row]]] = []
    for row in rows:
        data = dict(row.data)
        action = data.pop("action", None)
        if "name" in data:
            found.append((data | {"actions": []}, []))
        elif data or not found:
            message = "is empty: only a row that adds an action to the step above has no name"
            problems.append(row.problem(("name",), message))
            continue
        step, its_rows = found[-1]
        if not its_rows or action is not None:
            its_rows.append(row)
        if action is not None:
            step["actions"].append(action)
    return [(step, _of_rows(its_rows)) for step, its_rows in found]


def _of_rows(rows: list[Row]) -> Report:
    """Return what makes problems of a step in rows: the first its keys, each an action."""

    def report(place: Place, message: str) -> Problem:
        if place[:1] == ("actions",) and len(place) > 1:
            with_action = [row for row in rows if "action" in row.data]
            row = with_action[int(place[1])] if with_action else rows[0]
            return row.problem(("action", *place[2:]), message)
        return rows[0].problem(place, message)

    return report


def begin_rows(
    table: str,
    rows: Sequence[Row],
    written: Callable[[str], Problem | None],
    problems: list[Problem],
) -> tuple[dict[str, Any], dict[str, Report]]:
    """Return the records in a table of the begin by name, and what makes problems of each.

    Parameters
    ----------
    table : str
        ``"items"`` or ``"lines"``.
    rows : sequence of Row
    written : callable
        Returns where a name is given already, outside the table, as a problem; or None.
    problems : list of Problem
        Is added to.
    """
    column, model = BEGIN[table]
    records: dict[str, Any] = {}
    reports: dict[str, Report] = {}
    for row in rows:
        data = dict(row.data)
        name = str(data.pop(column, ""))
        if not name:
            problems.append(row.problem((column,), "a name must not be empty"))
            continue
        first = reports[name]((), "") if name in reports else written(name)
        if first is not None:
            message = f"duplicate name {name!r}: already given in {first.file}:{first.line}"
            problems.append(row.problem((column,), message))
            continue
        reports[name] = row.problem
        record = read_record(model, data, row.problem, problems)
        if record is not None:
            records[name] = record
    return records, reports
