"""A procedure read from its files or from a question, checked against its scene."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reach.files.lines import Place
from reach.files.outing import outing_problems
from reach.files.overlaps import lane_circles, overlap_problems
from reach.files.places import inside
from reach.files.problem import InputError, Problem, in_file_order, listed, unknown
from reach.files.procedure_tables import COLUMNS, FAMILIES, begin_rows, steps_of
from reach.files.records import Report, read_record, readable_part
from reach.files.scene import LoadedScene
from reach.files.steps import Written, step_problems
from reach.files.table import read_table
from reach.files.toml import Document, read_toml
from reach.model.outing import Start
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
    # What can be read of a broken one is looked at, so that all problems are told at once.
    part = procedure or readable_part(Procedure, head)
    begin = part.begin if part is not None else None
    inhibits = _keys(head.get("inhibits"))
    reading.problems += step_problems(reading.steps, lanes, loaded.scene, begin, inhibits)
    reading.problems += overlap_problems(reading.steps, lanes)
    reading.problems += lane_circles(reading.steps)
    if part is not None:
        written = {"inhibits": inhibits, "windows": _keys(head.get("windows"))}
        whole = reading.whole(part)
        found = outing_problems(whole, lanes, loaded.scene, reading.report, written)
        reading.problems += found
    if procedure is None or reading.problems:
        raise InputError(in_file_order(reading.problems))
    return LoadedProcedure(
        procedure=reading.whole(procedure),
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


def _keys(data: Any) -> list[str]:
    return list(data) if isinstance(data, dict) else []


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
    begin: dict[str, dict[str, Any]] = field(default_factory=dict)
    rows: dict[Place, Report] = field(default_factory=dict)

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
            if table not in COLUMNS:
                message = unknown("table", table, COLUMNS)
                self.problems.append(self.document.problem(place, message))
            elif isinstance(file, str):
                self.read_table(table, file, place)

    def read_table(self, name: str, file: str, place: Place) -> None:
        """Take in the rows of one CSV file."""
        folder = self.document.path.parent
        shown = f"{Path(self.document.file).parent.as_posix()}/{file}".removeprefix("./")
        try:
            path = inside(folder, file)
            table = read_table(path, shown, COLUMNS[name], self.problems, FAMILIES.get(name))
        except ValueError as error:
            self.problems.append(self.document.problem(place, str(error)))
            return
        except InputError as error:
            self.problems += error.problems
            return
        self.files[shown] = table.sha256
        if name == "steps":
            for data, report in steps_of(table.rows, self.problems):
                self.step(data, report)
            return

        def written(entry: str) -> Problem | None:
            here: Place = ("begin", name, entry)
            return self.document.problem(here, "") if here in self.document.lines else None

        records, reports = begin_rows(name, table.rows, written, self.problems)
        self.begin[name] = records
        self.rows |= {("begin", name, entry): report for entry, report in reports.items()}

    def whole(self, procedure: Procedure) -> Procedure:
        """Return the procedure with its steps, and what CSV tables say of its begin."""
        procedure = procedure.model_copy(update={"steps": tuple(step for step, _ in self.steps)})
        if not self.begin:
            return procedure
        begin = procedure.begin or Start()
        update = {table: {**getattr(begin, table), **rows} for table, rows in self.begin.items()}
        return procedure.model_copy(update={"begin": begin.model_copy(update=update)})

    def report(self, place: Place, message: str) -> Problem:
        """Return a problem at a place of the procedure, in whichever file it is written."""
        if place[:3] in self.rows:
            return self.rows[place[:3]](place[3:], message)
        if place[:2] == ("begin", "items") and place not in self.document.lines:
            place = place[:3]  # "BG-1" is short for { in = "BG-1" }
        return self.document.problem(place, message)

    def step(self, data: Any, report: Report) -> None:
        step = read_record(Step, data, report, self.problems) or readable_part(Step, data)
        if step is not None:
            self.steps.append((step, report))


def _below(document: Document, above: Place) -> Report:
    def report(place: Place, message: str) -> Problem:
        return document.problem((*above, *place), message)

    return report
