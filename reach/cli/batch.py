"""`batch`: many scenes, procedures and variations, resumed where they were left."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reach.cli.options import INTERRUPTED, Only, Population, Sizes, app, note, plain_errors

if TYPE_CHECKING:
    from reach.batch.batch import Progress as Reached
    from reach.batch.batch import Say
    from reach.batch.plan import Defaults
    from reach.batch.scheduler import Connected
    from reach.files.runs import LoadedRuns

LINES = 60
"""Lines of a section that are printed; all of them stand in the summary that is written."""


@app.command(name="batch")
def batch_command(
    where: Annotated[
        str,
        typer.Argument(
            metavar="LIST|GLOB",
            help="A list of runs (.toml or .csv), or a quoted pattern of scene folders, scene "
            "files or procedure files.",
        ),
    ],
    sizes: Sizes = None,
    population: Population = None,
    vary: Annotated[
        str | None,
        typer.Option(
            "--vary",
            metavar="NAMES",
            help="Also run with crew, hands or sizes varied; several separated by commas.",
        ),
    ] = None,
    what_if: Annotated[
        list[str] | None,
        typer.Option(
            "--what-if",
            metavar="TEXT",
            help="Also run as it would be otherwise, in the words of reach check; each option is a "
            "case of its own, several with commas between them hold together.",
        ),
    ] = None,
    only: Only = None,
    jobs: Annotated[
        int | None,
        typer.Option("--jobs", metavar="N", min=1, help="Processes at a time, else one a core."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster", metavar="ADDRESS", help="Run on the Dask scheduler at this address."
        ),
    ] = None,
    out: Annotated[
        Path,
        typer.Option("-o", "--out", metavar="DIR", help="Folder for tasks, table and summary."),
    ] = Path("out/batch"),
) -> None:
    """Check many scenes, procedures and variations.

    Run again, it does only what is missing or changed.  Exit code 70: a task did not finish.
    """
    with plain_errors(), _scheduler(cluster) as scheduler:
        from reach.answer import compile_first
        from reach.batch.batch import Progress, run_batch

        defaults, runs = _asked(where, sizes, population, vary, what_if, only, jobs, cluster)
        if cluster is None:
            compile_first()
        reached = Progress()
        try:
            with _shown() as show:

                def say(progress: Progress) -> None:
                    nonlocal reached
                    reached = progress
                    show(progress)

                told = run_batch(
                    runs, out, defaults=defaults, jobs=jobs, scheduler=scheduler, say=say
                )
        except KeyboardInterrupt:
            n = reached.done + reached.kept
            note(f"Stopped. {n} tasks are done and kept in {out}; the same command goes on there.")
            raise typer.Exit(INTERRUPTED) from None
        _print(told.files[0])
        progress = told.progress
        note(f"Ran {progress.done} tasks, {progress.kept} were kept from before.")
        for file in told.files:
            note(f"Wrote {file}")
        raise typer.Exit(told.exit_code)


def _asked(
    where: str,
    sizes: str | None,
    population: str | None,
    vary: str | None,
    what_if: list[str] | None,
    only: list[str] | None,
    jobs: int | None,
    cluster: str | None,
) -> tuple[Defaults, LoadedRuns]:
    """Return what is to be run and how, or raise InputError with everything that is wrong."""
    from reach.answer import checks_of, mistyped
    from reach.batch.plan import Defaults
    from reach.batch.task import Options
    from reach.files.people import draw_of
    from reach.files.problem import Gathered
    from reach.files.runs import load_runs

    told = Gathered()
    if population is not None:
        told.of(draw_of, population, "--population")
    if jobs is not None and cluster is not None:
        message = "is not for a cluster: its workers set how many run at a time"
        told.problems += mistyped("--jobs", message).problems
    checks = checks_of(only, told)
    varied = told.of(_varied, vary)
    runs = told.of(load_runs, where)
    told.of(_readable, what_if or [])
    told.tell()
    assert runs is not None
    assert varied is not None
    options = Options(_names(sizes), tuple(checks), population)
    return Defaults(options, varied, tuple(what_if or ())), runs


@contextmanager
def _scheduler(address: str | None) -> Iterator[Connected | None]:
    """Give the scheduler that is asked for; before anything else, for the answer may be no."""
    if address is None:
        yield None
        return
    from reach.batch.scheduler import connected

    with connected(address) as scheduler:
        yield scheduler


def _names(text: str | None) -> tuple[str, ...]:
    return tuple(part.strip() for part in (text or "").split(",") if part.strip())


def _varied(text: str | None) -> tuple[str, ...]:
    from typing import get_args

    from reach.answer import mistyped
    from reach.files.problem import unknown
    from reach.model.runs import Varied

    names, known = _names(text), get_args(Varied)
    wrong = [unknown("variation", name, known) for name in names if name not in known]
    if wrong:
        raise mistyped("--vary", *wrong)
    return names


def _readable(texts: list[str]) -> None:
    """Refuse what is no variation, whatever the scene."""
    from reach.answer import mistyped
    from reach.varying import UnfitError, variations_of

    try:
        variations_of(*texts)
    except UnfitError as error:
        raise mistyped("--what-if", *error.messages) from None


@contextmanager
def _shown() -> Iterator[Say]:
    """Give what shows progress: a bar on a terminal, else a line for each task that ended."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda reached: note(f"{_ended(reached)} {reached.last}")
        return
    columns = (
        TextColumn("{task.completed:.0f} of {task.fields[about]}"),
        BarColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.description}", markup=False),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("reading", total=None, about="?")

        def show(reached: Reached) -> None:
            # How many tasks the runs that are not read yet will have is not known: as many each.
            all_of_them = reached.tasks * reached.n_runs / max(reached.planned, 1)
            sure = reached.planned == reached.n_runs
            bar.update(
                task,
                total=all_of_them,
                completed=_ended(reached),
                description=reached.last,
                about=f"{'' if sure else 'about '}{all_of_them:.0f}",
            )

        yield show


def _ended(reached: Reached) -> int:
    return reached.done + reached.kept + reached.failed


def _print(summary: Path) -> None:
    """Print the summary, long sections cut to what fits a screen."""
    from reach.reports.summary import shortened

    with summary.open(encoding="utf-8") as lines:
        for line in shortened(lines, LINES, str(summary)):
            typer.echo(line, nl=False)
