"""Which runs a batch has: a list in TOML or CSV, or a pattern of scenes and procedures."""

from __future__ import annotations

import glob
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePath

from reach.files.places import SCENE_FILE, shipped_scene_names
from reach.files.problem import InputError, Problem, in_file_order, unknown
from reach.files.records import Report, read_record
from reach.files.table import Column, read_table
from reach.files.toml import read_text, read_toml
from reach.model.runs import Run, RunList
from reach.model.scene import Scene

COLUMNS = (
    Column("name", ("name",), "text"),
    Column("scene", ("scene",), "text", required=True),
    Column("procedure", ("procedure",), "text"),
    Column("sizes", ("sizes",), "list"),
    Column("vary", ("vary",), "list"),
    Column("what_if", ("what_if",), "list"),
    Column("population", ("population",), "text"),
)
"""Columns of a list in CSV."""

_OF_PROCEDURES = frozenset({"lanes", "steps"})
_OF_SCENES = frozenset(Scene.model_fields) - {"format", "title", "note", "tables"}


@dataclass(frozen=True, slots=True)
class ListedRun:
    """One run with its files found.

    Attributes
    ----------
    name : str
        Unique in its batch.
    run : Run
        As it is written; texts name files as they are shown.
    scene, procedure : Path, str or None
        What `load_scene` and `load_procedure` take.
    problem : Problem or None
        Set when a file that the run names is not there.
    """

    name: str
    run: Run
    scene: Path | str
    procedure: Path | None = None
    problem: Problem | None = None


@dataclass(frozen=True, slots=True)
class LoadedRuns:
    """The runs of a batch in their order, and what a pattern matched that is no run."""

    runs: tuple[ListedRun, ...]
    left_out: tuple[str, ...] = ()


def load_runs(where: str) -> LoadedRuns:
    """Return the runs of a list or a pattern.

    Parameters
    ----------
    where : str
        A list (.toml with ``[[runs]]``, or .csv), or a pattern such as ``"sites/*"`` of
        scene folders, scene files and procedure files; a procedure belongs to the scene in
        its folder.  A scene alone is a batch of one run.

    Raises
    ------
    InputError
        If the list has problems, each with its place, or a pattern matches no run.
    """
    path = Path(where)
    suffix = path.suffix.casefold() if path.is_file() else ""
    if suffix == ".csv":
        return _of_table(path)
    if suffix == ".toml" and _kind(path) in ("list", "unreadable"):
        return _of_list(path)
    return _of_pattern(where)


def _kind(path: Path) -> str:
    """Return which kind of TOML file it is, as far as it can be read."""
    try:
        keys = set(tomllib.loads(read_text(path, path.name)[0]))
    except (InputError, ValueError, RecursionError):
        return "unreadable"
    if keys & _OF_PROCEDURES:
        return "procedure"
    return "scene" if keys & _OF_SCENES else "list"


def _of_list(path: Path) -> LoadedRuns:
    document = read_toml(path, path.name)
    problems: list[Problem] = []
    read = read_record(RunList, document.data, document.problem, problems)
    runs = read.runs if read else ()

    def report(i: int) -> Report:
        return lambda place, message: document.problem(("runs", i, *place), message)

    return _listed([(run, report(i)) for i, run in enumerate(runs)], path, problems)


def _of_table(path: Path) -> LoadedRuns:
    problems: list[Problem] = []
    table = read_table(path, path.name, COLUMNS, problems)
    read = [(read_record(Run, row.data, row.problem, problems), row) for row in table.rows]
    if not read and not problems:
        problems.append(Problem(path.name, "", None, "lists no runs"))
    return _listed([(run, row.problem) for run, row in read if run], path, problems)


def _listed(runs: Iterable[tuple[Run, Report]], path: Path, problems: list[Problem]) -> LoadedRuns:
    """Find the files of each run and give it a name of its own."""
    pairs = list(runs)
    names: dict[str, int] = {}
    for run, report in pairs:
        if run.name and run.name in names:
            problems.append(report(("name",), f"duplicate name {run.name!r}"))
        if run.name:
            names[run.name] = 1
    if problems:
        raise InputError(in_file_order(problems))
    found = [_found(run, path.parent, report) for run, report in pairs]
    return LoadedRuns(_named(found))


def _found(run: Run, folder: Path, report: Report) -> ListedRun:
    scene: Path | str = folder / run.scene
    problem = None
    if not Path(scene).exists():
        scene = run.scene
        if run.scene not in shipped_scene_names():
            known = [*_scenes_in(folder), *shipped_scene_names()]
            problem = report(("scene",), unknown("scene", run.scene, known))
    home = Path(scene) if Path(scene).is_dir() else Path(scene).parent
    procedure = None
    if run.procedure is not None and problem is None:
        places = [folder / run.procedure, home / run.procedure]
        procedure = next((place for place in places if place.is_file()), None)
        if procedure is None and isinstance(scene, Path):
            known = sorted(each.name for each in home.glob("*.toml") if each.name != SCENE_FILE)
            problem = report(("procedure",), unknown("procedure", run.procedure, known))
        elif procedure is None:
            procedure = Path(run.procedure)  # a file of a shipped scene's folder
    return ListedRun(run.name, run, scene, procedure, problem)


def _scenes_in(folder: Path) -> list[str]:
    return sorted(file.parent.name for file in folder.glob(f"*/{SCENE_FILE}"))


def _of_pattern(where: str) -> LoadedRuns:
    matches = [Path(match) for match in sorted(glob.glob(where, recursive=True))]
    if not matches and where in shipped_scene_names():
        return LoadedRuns((ListedRun(where, Run(scene=where), where),))
    if not matches:
        known = sorted(path.name for path in _fixed_part(where).glob("*"))
        message = f"matches nothing: {unknown('name', PurePath(where).name, known)}"
        raise InputError([Problem("command line", "LIST", None, f"{where!r} {message}")])
    base = _fixed_part(where)
    runs, left_out = [], []
    for path in matches:
        found = _matched(path, base)
        if found is None:
            left_out.append(_shown(path, base))
        else:
            runs.append(found)
    if not runs:
        message = f"{where!r} matches no scene and no procedure"
        raise InputError([Problem("command line", "LIST", None, message)])
    return LoadedRuns(_named(runs), tuple(left_out))


def _matched(path: Path, base: Path) -> ListedRun | None:
    if path.is_dir():
        if not (path / SCENE_FILE).is_file():
            return None
        return ListedRun("", Run(scene=_shown(path, base)), path)
    if path.suffix.casefold() != ".toml":
        return None
    kind = _kind(path)
    if kind == "procedure":
        run = Run(scene=_shown(path.parent, base), procedure=path.name)
        return ListedRun("", run, path.parent, path)
    if kind == "list":
        return None
    home = path.parent if path.name == SCENE_FILE else path
    return ListedRun("", Run(scene=_shown(home, base)), home)


def _fixed_part(where: str) -> Path:
    """Return the folder that a pattern starts from: what comes before its first wildcard."""
    parts = PurePath(where).parts
    fixed = next((i for i, part in enumerate(parts) if glob.has_magic(part)), len(parts) - 1)
    return Path(*parts[:fixed])


def _shown(path: Path, base: Path) -> str:
    """Return a path from the pattern's fixed part on; the part itself is shown by its name."""
    inner = path.relative_to(base).as_posix() if path.is_relative_to(base) else path.name
    return path.resolve().name if inner == "." else inner


def _named(runs: list[ListedRun]) -> tuple[ListedRun, ...]:
    """Give each run without a name its files as one, numbered where that is taken."""
    taken = {found.name for found in runs if found.name}
    named: list[ListedRun] = []
    for found in runs:
        name = found.name
        if not name:
            first = "/".join(filter(None, (_plain(found.run.scene), _plain(found.run.procedure))))
            name, n = first, 1
            while name in taken:
                n += 1
                name = f"{first} ({n})"
            taken.add(name)
        named.append(ListedRun(name, found.run, found.scene, found.procedure, found.problem))
    return tuple(named)


def _plain(name: str | None) -> str:
    """Return a path as tables show it: of an absolute one the name alone."""
    if not name:
        return ""
    path = PurePath(name)
    return path.name if path.is_absolute() else path.as_posix()
