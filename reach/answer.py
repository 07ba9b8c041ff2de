"""Run what was asked, print the table, write the files: the part that `check` and `ask` share."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Literal

import typer
from rich.console import Console
from rich.progress import Progress

from reach.checks import CHECKS, check_named
from reach.files.kept import KeptOnDisk
from reach.files.people import draw_of
from reach.files.problem import Gathered, InputError, Problem, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.results import check_folder, check_writable, refuse_inputs, write_whole
from reach.files.scene import LoadedScene, read_files
from reach.finding import exit_code
from reach.geometry import on_waking
from reach.model.population_draw import PopulationDraw
from reach.reports.key import KeyRow, compare, comparison, load_key
from reach.reports.record import to_csv, to_json
from reach.reports.table import render_table, render_values
from reach.run import Outcome, Say, check
from reach.warmup import is_compiled, warm_up

UNWRITTEN = 2
_WIDEST = 120
_NARROWEST = 40


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to run and what to write besides the table."""

    sizes: str | None
    population: str | None
    only: list[str] | None
    json: Path | None
    csv: Path | None
    pictures: Path | None
    expect: Path | None
    units: Literal["si", "both"]
    values: bool
    anew: bool = False


@dataclass(frozen=True, slots=True)
class Request:
    """What was typed, read: sizes, people, checks and key."""

    sizes: list[str] | None
    population: PopulationDraw | None
    checks: list[str] | None
    key: tuple[KeyRow, ...] | None


def request_of(
    wanted: Wanted,
    scene: LoadedScene | None,
    procedure: LoadedProcedure | None,
    told: Gathered,
) -> Request:
    """Return what is wanted, read; every problem goes to ``told``.

    Parameters
    ----------
    wanted : Wanted
    scene, procedure : LoadedScene and LoadedProcedure, or None
        None where they cannot be used: what hangs on them is not looked at then.
    told : Gathered
    """
    for path in (wanted.json, wanted.csv):
        if path is not None:
            told.of(check_writable, path)
    if wanted.pictures is not None:
        told.of(check_folder, wanted.pictures)
    if scene is not None and procedure is not None:
        read = [*read_files(scene, procedure.files), Path(procedure.file)]
        for path in (wanted.json, wanted.csv):
            if path is not None:
                told.of(refuse_inputs, path, read)
    sizes = told.of(sizes_of, wanted.sizes, scene) if scene is not None else None
    people = wanted.population
    population = told.of(draw_of, people, "--population") if people is not None else None
    checks = checks_of(wanted.only, told)
    key = told.of(load_key, wanted.expect, _names_by_id()) if wanted.expect else None
    return Request(sizes, population, checks or None, key)


def checks_of(names: list[str] | None, told: Gathered) -> list[str]:
    """Return the plain names of checks typed by name or id; problems go to ``told``."""
    typed = [name.strip() for text in names or () for name in text.split(",") if name.strip()]
    found = [told.of(named_check, name, "--only") for name in typed]
    return [module.NAME for module in found if module is not None]


def answer(scene: LoadedScene, procedure: LoadedProcedure, wanted: Wanted, request: Request) -> int:
    """Run, write what is wanted, print the table and return the exit code."""
    outcome = _run(scene, procedure, request, wanted.anew)
    notes, unwritten = _write(outcome, wanted)
    _print(outcome, wanted)
    code = exit_code(outcome.findings)
    key = request.key
    if key is not None:
        differences = compare(key, outcome.findings)
        typer.echo(comparison(key, differences), nl=False)
        code = 1 if differences else 0
    if wanted.pictures is not None:
        notes += _draw(outcome, wanted.pictures)
    for line in notes + unwritten:
        note(line)
    return UNWRITTEN if unwritten else code


def _run(scene: LoadedScene, procedure: LoadedProcedure, request: Request, anew: bool) -> Outcome:
    kept = None if anew else KeptOnDisk()
    with watched() as say:
        outcome = check(
            scene,
            procedure,
            sizes=request.sizes,
            population=request.population,
            only=request.checks,
            kept=kept,
            processes=2,
            **({"say": say} if say else {}),
        )
    if kept is not None:
        kept.write()
    return outcome


def compile_first() -> None:
    """Compile the routines, and say so, where that is still to be done on this computer."""
    if not is_compiled():
        note("Compiling the routines, once on this computer; this takes about a minute.")
        warm_up()


@contextmanager
def watched() -> Iterator[Say | None]:
    """Compile first where that is due; show progress on a terminal, nothing elsewhere.

    It is due when the first routine is called: where all answers are kept none is.
    """
    on_waking(compile_first)
    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    with Progress(console=console, transient=True) as progress:
        task = progress.add_task("reading", total=None)

        def say(done: int, total: int, words: str) -> None:
            progress.update(task, completed=done, total=total, description=words)

        yield say


def _write(outcome: Outcome, wanted: Wanted) -> tuple[list[str], list[str]]:
    """Write the files that are wanted; return what was written and what could not be."""
    written, unwritten = [], []
    for path, render in ((wanted.json, to_json), (wanted.csv, to_csv)):
        if path is not None:
            try:
                write_whole(path, render(outcome))
                written.append(f"Wrote {path}")
            except InputError as error:
                unwritten.append(str(error))
    return written, unwritten


def look() -> tuple[int, bool]:
    """Return how wide and whether in colour to print on standard output."""
    columns = shutil.get_terminal_size(fallback=(100, 24)).columns
    width = min(max(columns, _NARROWEST), _WIDEST)
    return width, sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def _print(outcome: Outcome, wanted: Wanted) -> None:
    width, colour = look()
    if wanted.values:
        typer.echo(render_values(outcome, width, colour), color=colour)
    typer.echo(render_table(outcome, width, colour, wanted.units), nl=False, color=colour)


def _draw(outcome: Outcome, folder: Path) -> list[str]:
    from reach.pictures import draw

    try:
        drawn = draw(outcome, folder)
    except RuntimeError as error:
        return [f"No pictures: {error}"]
    return [f"Drew {path}" for path in drawn]


def sizes_of(text: str | None, scene: LoadedScene) -> list[str] | None:
    """Return size classes typed with commas between them; InputError names the nearest."""
    if text is None:
        return None
    sizes = list(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))
    wrong = [name for name in sizes if name not in scene.scene.sizes]
    if wrong or not sizes:
        known = list(scene.scene.sizes)
        raise mistyped("--size", *(unknown("size class", name, known) for name in wrong or [""]))
    return sizes


def named_check(name: str, said: str = "check") -> ModuleType:
    """Return a check by plain name or id; InputError names the nearest one."""
    try:
        return check_named(name)
    except ValueError as error:
        raise mistyped(said, str(error)) from None


def _names_by_id() -> dict[str, str]:
    return {check_id: module.NAME for module in CHECKS for check_id in module.IDS}


def mistyped(option: str, *messages: str) -> InputError:
    """Return what is wrong with an option of the command line, to be raised."""
    return InputError(Problem("command line", option, None, message) for message in messages)


def note(text: str) -> None:
    """Print a remark beside the results, on standard error."""
    typer.echo(text, err=True)
