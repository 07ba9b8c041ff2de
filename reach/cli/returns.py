"""`returns`: minutes back to the lock, alone and brought by a partner."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reach.cli.options import (
    Scene,
    Sizes,
    Units,
    app,
    draw_into,
    note,
    plain_errors,
    refuse_folder,
    refuse_target,
)

if TYPE_CHECKING:
    from reach.files.scene import LoadedScene


@app.command(name="returns")
def returns_command(
    scene: Scene,
    procedure: Annotated[
        str | None,
        typer.Argument(
            metavar="PROCEDURE", help="A procedure file: also a row for each of its steps."
        ),
    ] = None,
    worker: Annotated[
        str | None, typer.Option("--worker", metavar="NAME", help="Only this worker.")
    ] = None,
    sizes: Sizes = None,
    swaps: Annotated[
        int | None,
        typer.Option(
            "--swaps",
            metavar="N",
            min=0,
            max=20,
            help="Swaps of safety lines on the way, else counted or the scene's own number.",
        ),
    ] = None,
    partner: Annotated[
        str | None,
        typer.Option(
            "--partner", metavar="PLACE", help="Where the partner starts, else beside the casualty."
        ),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv", metavar="FILE", help="Write one row for each grip, place and step as CSV."
        ),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option(
            "--pictures", metavar="DIR", help="Draw the grips by minutes home into this folder."
        ),
    ] = None,
    units: Units = "si",
) -> None:
    """Print how many minutes it is back to the lock, from everywhere.

    Both by oneself and for a partner who brings someone who cannot move. Exit code 1 when a step
    of the procedure is beyond the rule, 3 when none is but of some it is not known.
    """
    with plain_errors():
        from reach.answer import look, sizes_of
        from reach.files.problem import Gathered
        from reach.files.procedure import load_procedure
        from reach.files.results import write_whole
        from reach.files.scene import load_scene
        from reach.reports.returns import render_returns, returns_csv
        from reach.returns import returns_of

        told = Gathered()
        loaded = told.of(load_scene, scene)
        asked = bodies = None
        if loaded is not None:
            if procedure is not None:
                asked = told.of(load_procedure, procedure, loaded)
            bodies = told.of(sizes_of, sizes, loaded)
            told.of(_known, loaded, worker, partner)
        read = tuple(Path(file) for file in (asked.files if asked else {}))
        told.of(refuse_target, csv, loaded, read)
        told.of(refuse_folder, pictures)
        told.tell()
        assert loaded is not None
        returns = returns_of(
            loaded,
            asked,
            workers=[worker] if worker else (),
            sizes=bodies,
            swaps=swaps,
            partner=partner or "",
        )
        if csv is not None:
            write_whole(csv, returns_csv(returns))
            note(f"Wrote {csv}")
        width, colour = look()
        typer.echo(render_returns(returns, width, colour, units), nl=False, color=colour)
        if pictures is not None:
            from reach.pictures import draw_returns

            draw_into(lambda: draw_returns(returns, pictures))
        raise typer.Exit(returns.exit_code)


def _known(loaded: LoadedScene, worker: str | None, partner: str | None) -> None:
    """Refuse a worker who is not there, and a partner who is at no place."""
    from reach.answer import mistyped
    from reach.files.moves import place_problem
    from reach.files.problem import InputError, Problem, unknown

    problems: list[Problem] = []
    if worker is not None and worker not in loaded.scene.workers:
        message = unknown("worker", worker, loaded.scene.workers)
        problems += mistyped("--worker", message).problems
    if partner is not None and (message := place_problem(loaded.scene, partner)):
        problems += mistyped("--partner", message).problems
    if problems:
        raise InputError(problems)
