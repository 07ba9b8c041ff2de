"""A procedure read from its files or from a question, checked against its scene."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reach.files.lines import Place
from reach.files.places import inside
from reach.files.problem import InputError, Problem, in_file_order, listed
from reach.files.records import Report, read_record, readable_part
from reach.files.scene import LoadedScene
from reach.files.steps import Written, step_problems
from reach.files.table import Column, Row, read_table
from reach.files.toml import Document, read_toml
from reach.model.procedure import Procedure, Step


@dataclass(frozen=True, slots=True)
class LoadedProcedure:
    """A procedure that fits its scene.

    Attributes
    ----------
    procedure : Procedure
    file : str
        The file as shown, or ``"command line"`` for a question.
    sha256 : str
        Of the file, or of the question.
    files : dict of str -> str
        Every file read, as shown -> sha256; empty for a question.
    what_if : tuple of str
        How it and its scene differ from their files; empty as they are written.
    """

    procedure: Procedure
    file: str
    sha256: str
    files: dict[str, str] = field(default_factory=dict)
    what_if: tuple[str, ...] = ()


def load_procedure(path: str | Path | None, loaded: LoadedScene) -> LoadedProcedure:
    """Return the procedure in a TOML file.

    Parameters
    ----------
    path : str, Path or None
        The file as typed, or a file of the scene's folder; None takes the one that the
        scene names.
    loaded : LoadedScene

    Raises
    ------
    InputError
        With every problem of the procedure.
    """
    file, shown = procedure_file(path, loaded)
    document = read_toml(file, shown)
    reading = _Reading(document, loaded.name)
    head = {key: value for key, value in document.data.items() if key != "steps"}
    procedure = read_record(Procedure, head, document.problem, reading.problems)
    reading.read_steps()
    # Without lanes every step would be in an unknown one: one problem is enough.
    lanes = _lanes(head.get("lanes")) or {step.lane: "" for step, _ in reading.steps}
    for lane, kind in lanes.items():
        if kind == "worker" and lane not in loaded.scene.workers:
            message = f"lane of a worker who is not in the scene; there are {_names(loaded)}"
            reading.problems.append(document.problem(("lanes", lane), message))
    reading.problems += step_problems(reading.steps, lanes, loaded.scene)
    if procedure is None or reading.problems:
        raise InputError(in_file_order(reading.problems))
    return LoadedProcedure(
        procedure=procedure.model_copy(update={"steps": tuple(s for s, _ in reading.steps)}),
        file=shown,
        sha256=document.sha256,
        files=reading.files,
    )


def procedure_file(path: str | Path | None, loaded: LoadedScene) -> tuple[Path, str]:
    """Return the file that a typed path stands for, and its name as shown."""
    if path is None and loaded.scene.procedure is None:
        message = 'the scene names no procedure; give one or add procedure = "procedure.toml"'
        raise InputError([Problem(loaded.file, "procedure", None, message)])
    name = loaded.scene.procedure if path is None else path
    assert name is not None
    in_scene = loaded.folder / name
    file = Path(name) if path is not None and Path(name).exists() else in_scene
    if file.resolve().is_relative_to(loaded.folder.resolve()) and file.exists():
        inner = file.resolve().relative_to(loaded.folder.resolve())
        return file, f"{loaded.name}/{inner.as_posix()}"
    return Path(name), str(name)


def _names(loaded: LoadedScene) -> str:
    return listed(list(loaded.scene.workers))


def _lanes(data: Any) -> dict[str, str]:
    return {str(k): str(v) for k, v in data.items()} if isinstance(data, dict) else {}


@dataclass(slots=True)
class _Reading:
    """A procedure while its files are read."""

    document: Document
    scene_name: str
    problems: list[Problem] = field(default_factory=list)
    steps: list[Written] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)

    def read_steps(self) -> None:
        """Read the steps of the TOML file, then those of its CSV file."""
        self.files[self.document.file] = self.document.sha256
        steps = self.document.data.get("steps", [])
        if not isinstance(steps, list):
            self.problems.append(self.document.problem(("steps",), "needs [[steps]] tables"))
            return
        for i, data in enumerate(steps):
            self.step(data, _below(self.document, ("steps", i)))
        tables = self.document.data.get("tables")
        for table, file in tables.items() if isinstance(tables, dict) else ():
            place: Place = ("tables", table)
            if table != "steps":
                message = f"unknown table {table!r}; a procedure has steps"
                self.problems.append(self.document.problem(place, message))
            elif isinstance(file, str):
                self.read_table(file, place)

    def read_table(self, file: str, place: Place) -> None:
        folder = self.document.path.parent
        shown = f"{Path(self.document.file).parent.as_posix()}/{file}".removeprefix("./")
        try:
            table = read_table(inside(folder, file), shown, STEP_COLUMNS, self.problems, FAMILIES)
        except ValueError as error:
            self.problems.append(self.document.problem(place, str(error)))
            return
        except InputError as error:
            self.problems += error.problems
            return
        self.files[shown] = table.sha256
        self.add_rows(table.rows)

    def add_rows(self, rows: tuple[Row, ...]) -> None:
        """Add a step for each named row; rows without a name add actions to the step above."""
        found: list[tuple[dict[str, Any], list[Row]]] = []
        for row in rows:
            data = dict(row.data)
            action = data.pop("action", None)
            if "name" in data:
                found.append((data | {"actions": []}, []))
            elif data or not found:
                message = "is empty: only a row that adds an action to the step above has no name"
                self.problems.append(row.problem(("name",), message))
                continue
            step, its_rows = found[-1]
            if not its_rows or action is not None:
                its_rows.append(row)
            if action is not None:
                step["actions"].append(action)
        for step, its_rows in found:
            self.step(step, _of_rows(its_rows))

    def step(self, data: Any, report: Report) -> None:
        step = read_record(Step, data, report, self.problems) or readable_part(Step, data)
        if step is not None:
            self.steps.append((step, report))


def _below(document: Document, above: Place) -> Report:
    def report(place: Place, message: str) -> Problem:
        return document.problem((*above, *place), message)

    return report


def _of_rows(rows: list[Row]) -> Report:
    """Return what makes problems of a step in rows: the first its keys, each an action."""

    def report(place: Place, message: str) -> Problem:
        if place[:1] == ("actions",) and len(place) > 1:
            with_action = [row for row in rows if "action" in row.data]
            row = with_action[int(place[1])] if with_action else rows[0]
            return row.problem(("action", *place[2:]), message)
        return rows[0].problem(place, message)

    return report


def _step_columns() -> list[Column]:
    forms = {"after": "list", "route": "list", "start": "number", "duration": "number"}
    keys = ("name", "lane", "start", "after", "duration", "where", "restraint", "route", "path")
    columns = [Column(key, (key,), forms.get(key, "text"), key == "lane") for key in keys]
    columns.append(Column("note", ("note",), "text"))
    actions = (
        "do",
        "fastener",
        "tool",
        "bit",
        "extension",
        "hand",
        "to",
        "from",
        "tether",
        "anchor",
        "payload",
        "crane",
        "guide",
        "clear_caller",
    )
    columns += [Column(key, ("action", key), "text") for key in actions]
    lists = ("carrying", "in_hand", "crosses", "grips", "cameras")
    columns += [Column(key, ("action", key), "list") for key in lists]
    return [*columns, Column("torque", ("action", "torque"), "number")]


STEP_COLUMNS = _step_columns()
FAMILIES = {"setting.": "number", "placed.": "text"}
"""Columns of a table of steps; ``setting.clocking`` and ``placed.boom`` are families."""
