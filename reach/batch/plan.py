"""From listed runs to tasks: each scene is read once, its variations told apart by hash."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace

from reach.batch.perform import task_of
from reach.batch.task import Options, Task
from reach.batch.variations import variations, varied, workers_of
from reach.files.problem import InputError, Problem, unknown
from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.runs import ListedRun
from reach.files.scene import LoadedScene, load_scene
from reach.reports.record import as_given
from reach.varying import UnfitError, sizes_problems, variations_of
from reach.varying import Variation as Change


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the plan: a task by its key, or why there is none.

    Attributes
    ----------
    run, scene, procedure, variation : str
        As the tables name them.
    key : str
        Of the task; empty for a run whose input cannot be used.
    problems : tuple of str
        One line each, for such a run.
    note : str
        What a reader should know about this run, such as a variation it cannot have.
    """

    run: str
    scene: str
    procedure: str = ""
    variation: str = ""
    key: str = ""
    problems: tuple[str, ...] = ()
    note: str = ""

    def line(self) -> str:
        """Return the entry as one line of JSON."""
        return json.dumps(asdict(self), ensure_ascii=False) + "\n"

    @classmethod
    def of_line(cls, line: str) -> Entry:
        """Return the entry in a line that `line` wrote."""
        data = json.loads(line)
        return cls(**(data | {"problems": tuple(data["problems"])}))


@dataclass(frozen=True, slots=True)
class Defaults:
    """What the command line asks of every run that does not say otherwise itself."""

    options: Options = field(default_factory=Options)
    vary: tuple[str, ...] = ()
    what_if: tuple[str, ...] = ()


def planned(listed: ListedRun, defaults: Defaults) -> Iterator[tuple[Entry, Task | None]]:
    """Yield each task of one run with its line of the plan; broken input gives a line alone."""
    scene = as_given(listed.run.scene)
    written = as_given(listed.run.procedure) if listed.run.procedure else ""
    try:
        if listed.problem:
            raise InputError([listed.problem])
        loaded = load_scene(listed.scene)
        asked = load_procedure(listed.procedure, loaded)
        vary = defaults.vary if listed.run.vary is None else listed.run.vary
        sizes = _sizes(listed, defaults, loaded)
        cases = _cases(listed, defaults, () if "sizes" in vary else sizes)
    except InputError as error:
        problems = tuple(str(problem) for problem in error.problems)
        yield Entry(listed.name, scene, written, problems=problems), None
        return
    note = _note(vary, loaded, asked)
    population = listed.run.population or defaults.options.population
    classes = list(loaded.scene.sizes)
    for variation in variations(len(workers_of(asked)), vary, sizes, classes, cases):
        entry = Entry(listed.name, scene, as_given(asked.file), variation.words, note=note)
        note = ""
        options = Options(variation.sizes, defaults.options.only, population)
        try:
            task = task_of(*varied(loaded, asked, variation), options, variation.words)
        except UnfitError as error:
            lines = tuple(f"what if: {message}" for message in error.messages)
            yield replace(entry, problems=lines), None
        else:
            yield replace(entry, key=task.key), task


def _cases(listed: ListedRun, defaults: Defaults, sizes: Sequence[str]) -> list[tuple[Change, ...]]:
    """Return the cases of *what if*; problems of all of them at once."""
    texts = defaults.what_if if listed.run.what_if is None else listed.run.what_if
    cases: dict[tuple[Change, ...], None] = {}
    wrong: list[str] = []
    for text in texts:
        try:
            cases[variations_of(text)] = None
        except UnfitError as error:
            wrong += error.messages
    wrong += [message for case in cases for message in sizes_problems(case, sizes)]
    if wrong:
        raise InputError(Problem("", "what if", None, message) for message in wrong)
    return list(cases)


def _sizes(listed: ListedRun, defaults: Defaults, loaded: LoadedScene) -> tuple[str, ...]:
    sizes = tuple(dict.fromkeys(listed.run.sizes or defaults.options.sizes))
    known = list(loaded.scene.sizes)
    wrong = [unknown("size class", size, known) for size in sizes if size not in known]
    if wrong:
        raise InputError(Problem(loaded.file, "sizes", None, message) for message in wrong)
    return sizes


def _note(vary: Sequence[str], loaded: LoadedScene, asked: LoadedProcedure) -> str:
    notes = []
    if "crew" in vary and len(workers_of(asked)) < 2:
        notes.append("crew not swapped: the procedure has fewer than two workers")
    if "sizes" in vary and not loaded.scene.sizes:
        notes.append("sizes not varied: the scene has no size classes")
    return "; ".join(notes)
