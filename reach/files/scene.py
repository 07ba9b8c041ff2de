"""A scene read from its files: every entry checked, merged by unique name, with its origin."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args, get_origin

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from reach.files.ceilings import far_out, refused_rails, refused_triangles
from reach.files.facing import faced
from reach.files.lines import Place, dotted
from reach.files.meshes import against_standard, diagonal, oddities, read_mesh, spread
from reach.files.places import ScenePlace, inside, scene_place, shipped_model, used_file
from reach.files.problem import InputError, Problem, in_file_order, unknown
from reach.files.records import Report, as_written, read_record
from reach.files.references import scene_reference_problems
from reach.files.results import hash_of
from reach.files.table import Row, columns_of, read_table
from reach.files.toml import Document, read_toml
from reach.files.urdf import arm_of
from reach.model.arm import Arm
from reach.model.limits import LIMITS, WrittenLimit, limit_of
from reach.model.scene import Scene
from reach.model.shapes import Shaped
from reach.solids import triangles_of

ENTRIES: dict[str, type[BaseModel]] = {
    name: get_args(kind.annotation)[1]
    for name, kind in Scene.model_fields.items()
    if get_origin(kind.annotation) is dict and name != "tables"
}
"""Table of a scene -> record of its entries."""
LISTS = ("handrails", "handholds", "anchors", "sockets", "stations", "fasteners", "items")
"""Tables that can be CSV files."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a named thing is written."""

    file: str
    place: str
    line: int | None


@dataclass(frozen=True, slots=True, eq=False)
class LoadedScene:
    """A scene that was read, with all that came in with it.

    Attributes
    ----------
    scene : Scene
        ``scene.limits`` holds every limit: those the scene leaves out are the shipped ones.
    name : str
        The name of its folder.
    folder : Path
    file : str
        The scene file as shown.
    files : dict of str -> str
        Every file read, as shown -> sha256.
    origins : dict of (table, name) -> Origin
    written : dict of (table, name) -> dict
        Entries as they are written, with the units of their authors.
    meshes : dict of str -> ndarray, shape (n, 3, 3), m
        Triangles of the solids and hazards that are mesh files, in their own frame.
    warnings : tuple of str
        What looks odd but was taken as written.
    arms : dict of str -> Arm
        Of the cranes, by the crane's name.
    what_if : tuple of str
        How it differs from its files; empty as they are written.
    """

    scene: Scene
    name: str
    folder: Path
    file: str
    files: dict[str, str]
    origins: dict[tuple[str, str], Origin]
    written: dict[tuple[str, str], dict[str, Any]]
    meshes: dict[str, NDArray[np.float64]]
    warnings: tuple[str, ...]
    arms: dict[str, Arm] = field(default_factory=dict)
    what_if: tuple[str, ...] = ()


def read_files(scene: LoadedScene, more: Iterable[str] = ()) -> list[Path]:
    """Return the files of its folder that a scene was read from, and ``more`` named like them."""
    inside = f"{scene.name}/"
    shown = [file for file in (*scene.files, *more) if file.startswith(inside)]
    return [scene.folder / file.removeprefix(inside) for file in shown]


def load_scene(where: str | Path) -> LoadedScene:
    """Return the scene at ``where``, checked.

    Parameters
    ----------
    where : str or Path
        A folder that holds scene.toml, a .toml file, or the name of a shipped scene.

    Raises
    ------
    InputError
        With every problem of all files of the scene.
    """
    place = scene_place(where)
    document = read_toml(place.file, place.shown(place.file))
    reading = _Reading(place)
    reading.add(document, is_scene=True)
    reading.use(document)
    reading.fill_limits()
    if not reading.is_incomplete:
        reading.problems += scene_reference_problems(_Names(reading))
    if isinstance(procedure := document.data.get("procedure"), str):
        reading.check_file(document, ("procedure",), procedure)
    reading.read_meshes()
    reading.read_arms()
    if reading.problems:
        raise InputError(in_file_order(reading.problems))
    return LoadedScene(
        scene=Scene(**reading.head, **reading.records),
        name=place.name,
        folder=place.folder,
        file=document.file,
        files=reading.files,
        origins={key: _origin(key, report) for key, report in reading.reports.items()},
        written=reading.written,
        meshes=reading.meshes,
        warnings=tuple(reading.warnings),
        arms=reading.arms,
    )


def _origin(key: tuple[str, str], report: Report) -> Origin:
    problem = report((), "")
    return Origin(problem.file, dotted(key), problem.line)


@dataclass(slots=True)
class _Reading:
    """A scene while its files are read: what is there so far, and every problem.

    ``is_incomplete`` when a whole file could not be read: names may be missing for that
    reason alone, so references are not judged.
    """

    place: ScenePlace
    problems: list[Problem] = field(default_factory=list)
    head: dict[str, Any] = field(default_factory=dict)
    records: dict[str, dict[str, Any]] = field(
        default_factory=lambda: {table: {} for table in ENTRIES}
    )
    names: dict[str, dict[str, None]] = field(
        default_factory=lambda: {table: {} for table in ENTRIES}
    )
    unchecked: dict[str, dict[str, Any]] = field(
        default_factory=lambda: {table: {} for table in ENTRIES}
    )
    reports: dict[tuple[str, str], Report] = field(default_factory=dict)
    written: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    own_limits: set[str] = field(default_factory=set)
    files: dict[str, str] = field(default_factory=dict)
    meshes: dict[str, NDArray[np.float64]] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    arms: dict[str, Arm] = field(default_factory=dict)
    is_incomplete: bool = False

    def problem(self, table: str, name: str, place: Place, message: str) -> Problem:
        return self.reports[table, name](place, message)

    def add(self, document: Document, is_scene: bool = False) -> None:
        """Take in the entries of one file, and of the CSV tables it names."""
        self.files[document.file] = document.sha256
        head = {key: value for key, value in document.data.items() if key not in ENTRIES}
        if not is_scene:
            head = {"format": 1, **head}
        record = read_record(Scene, head, document.problem, self.problems)
        if is_scene and record is not None:
            self.head = {key: getattr(record, key) for key in record.model_fields_set}
        for table in ENTRIES:
            entries = document.data.get(table, {})
            if not isinstance(entries, dict):
                self.problems.append(
                    document.problem((table,), f"needs a table, found {entries!r}")
                )
                continue
            for name, data in entries.items():
                self.entry(table, name, data, _below(document, (table, name)), is_scene)
        for table, file in _texts(document.data.get("tables")):
            self.table(document, str(table), file)

    def use(self, document: Document) -> None:
        """Take in the files that the scene uses."""
        for i, name in _texts(document.data.get("use")):
            try:
                path, shown = used_file(self.place, name)
                if shown in self.files:
                    raise ValueError(f"{name!r} is used twice")
                used = read_toml(path, shown)
            except ValueError as error:
                self.is_incomplete = True
                self.problems.append(document.problem(("use", i), str(error)))
            except InputError as error:
                self.is_incomplete = True
                self.problems += error.problems
            else:
                for key in ("use", "procedure"):
                    if key in used.data:
                        message = f"only the scene file itself may have {key}"
                        self.problems.append(used.problem((key,), message))
                self.add(used)

    def entry(
        self, table: str, name: str, data: Any, report: Report, is_scene: bool = False
    ) -> None:
        """Take in one named entry of one table."""
        if table == "limits":
            self.limit(name, data, report, is_scene)
            return
        if name in self.names[table]:
            self.problems.append(report((), self.twice(table, name)))
            return
        self.names[table][name] = None
        self.reports[table, name] = report
        if not name.strip():
            self.problems.append(report((), "a name must not be empty"))
        record = read_record(ENTRIES[table], data, report, self.problems)
        if record is not None:
            self.records[table][name] = record
            self.written[table, name] = data
        elif isinstance(data, dict):
            self.unchecked[table][name] = as_written(ENTRIES[table], data)

    def twice(self, table: str, name: str) -> str:
        first = self.reports[table, name]((), "")
        where = first.file if first.line is None else f"{first.file}:{first.line}"
        return f"duplicate name {name!r}: already given in {where}"

    def limit(self, name: str, data: Any, report: Report, is_scene: bool) -> None:
        """Take in a limit; one of the scene itself stands, whatever its used files say."""
        if name not in LIMITS:
            self.problems.append(report((), unknown("limit", name, LIMITS)))
            return
        if name in self.names["limits"]:
            if name not in self.own_limits:
                self.problems.append(report((), self.twice("limits", name)))
            return
        self.names["limits"][name] = None
        self.reports["limits", name] = report
        if is_scene:
            self.own_limits.add(name)
        in_value = ("value",) if isinstance(data, dict) else ()
        written = read_record(WrittenLimit, _table_of(data), report, self.problems)
        if written is not None:
            try:
                self.records["limits"][name] = limit_of(name, written)
                self.written["limits", name] = _table_of(data)
            except ValueError as error:
                self.problems.append(report(in_value, str(error)))

    def fill_limits(self) -> None:
        """Give the shipped value of every limit that no file of the scene gives."""
        missing = [name for name in LIMITS if name not in self.names["limits"]]
        if missing:
            shipped = read_toml(shipped_model("limits"), "models/limits.toml")
            self.files[shipped.file] = shipped.sha256
            for name in missing:
                data = shipped.data["limits"][name]
                self.limit(name, data, _below(shipped, ("limits", name)), is_scene=False)

    def table(self, document: Document, table: str, file: str) -> None:
        """Take in the rows of one CSV file."""
        place: Place = ("tables", table)
        if table not in LISTS:
            self.problems.append(document.problem(place, unknown("table", table, LISTS)))
            return
        path = self.check_file(document, place, file)
        if path is None:
            self.is_incomplete = True
            return
        shown, n_before = self.place.shown(path), len(self.problems)
        try:
            rows = read_table(path, shown, columns_of(ENTRIES[table]), self.problems)
        except InputError as error:
            self.is_incomplete = True
            self.problems += error.problems
            return
        self.is_incomplete |= len(self.problems) > n_before
        self.files[shown] = rows.sha256
        for row in rows.rows:
            self.row(table, row)

    def row(self, table: str, row: Row) -> None:
        data = dict(row.data)
        name = data.pop("name", "")
        if not name:
            self.problems.append(row.problem(("name",), "a name must not be empty"))
        else:
            self.entry(table, name, data, row.problem)

    def check_file(self, document: Document, place: Place, name: str) -> Path | None:
        """Return the path of a file named in the scene, or None after noting the problem."""
        try:
            return inside(self.place.folder, name)
        except ValueError as error:
            self.problems.append(document.problem(place, str(error)))
            return None

    def read_meshes(self) -> None:
        """Read the mesh files of solids and hazards; note what looks odd in them."""
        shaped = [(table, n, r) for table in ("solids", "hazards") for n, r in self.shaped(table)]
        over = [refused_triangles(shaped), refused_rails(self.records["handrails"])]
        if refused := [one for one in over if one is not None]:
            self.problems += [self.problem(table, n, (), words) for table, n, words in refused]
            return
        sizes = {n: diagonal(triangles_of(r)) for _, n, r in shaped if r.mesh is None}
        odd: dict[str, list[str]] = {}
        for table, name, record in shaped:
            if record.mesh is None:
                continue
            report, place = self.reports[table, name], ("mesh", "file")
            try:
                path = inside(self.place.folder, record.mesh.file)
            except ValueError as error:
                self.problems.append(report(place, str(error)))
                continue
            try:
                read = read_mesh(path, record.mesh)
                self.meshes[name], told = faced(read.triangles)
                odd[name] = [*read.left_out, *told, *against_standard(record.mesh)]
                self.files[self.place.shown(path)] = hash_of(path)
                sizes[name] = diagonal(self.meshes[name])
            except ValueError as error:
                self.problems.append(report(place, f"{record.mesh.file}: {error}"))
        places = spread(r for table in LISTS for r in self.records[table].values())
        for table, name, _ in shaped:
            if name in self.meshes:
                others = [size for other, size in sizes.items() if other != name]
                for note in (*odd[name], *oddities(self.meshes[name], [*others, places])):
                    self.warnings.append(str(self.problem(table, name, ("mesh",), note)))
        for table, name, note in far_out(self.records):
            self.warnings.append(str(self.problem(table, name, (), note)))

    def read_arms(self) -> None:
        """Read the arm of every crane."""
        for name, crane in self.records["cranes"].items():
            report = self.reports["cranes", name]
            try:
                arm = arm_of(crane.arm, crane.tip, self.place.folder)
            except ValueError as error:
                self.problems.append(report(("arm",), str(error)))
            except InputError as error:
                nowhere = [one for one in error.problems if not one.file]
                self.problems += [report(("arm",), one.message) for one in nowhere]
                self.problems += [one for one in error.problems if one.file]
            else:
                self.arms[name] = arm
                self.files[arm.file] = arm.sha256

    def shaped(self, table: str) -> list[tuple[str, Shaped]]:
        return list(self.records[table].items())


class _Names:
    """What the reference checks see of a scene while it is read."""

    def __init__(self, reading: _Reading) -> None:
        self.names = reading.names
        self.records = {t: reading.records[t] | reading.unchecked[t] for t in ENTRIES}
        self.problem = reading.problem


def _below(document: Document, above: Place) -> Report:
    def report(place: Place, message: str) -> Problem:
        return document.problem((*above, *place), message)

    return report


def _texts(data: Any) -> list[tuple[Any, str]]:
    """Return the texts in a list or table, each with its position or key."""
    rest = enumerate(data) if isinstance(data, list) else ()
    pairs = data.items() if isinstance(data, dict) else rest
    return [(key, value) for key, value in pairs if isinstance(value, str)]


def _table_of(data: Any) -> Any:
    """Return a limit given by its value alone as the table it stands for."""
    return data if isinstance(data, dict) else {"value": data}
