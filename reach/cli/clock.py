"""`clock`: a procedure on the clock, as a timetable with what the checks of the clock say."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reach.cli.options import Scene, Units, app, note, plain_errors, refuse_target


@app.command(name="clock")
def clock_command(
    scene: Scene,
    procedure: Annotated[
        str | None,
        typer.Argument(metavar="PROCEDURE", help="A procedure file, else the scene's own."),
    ] = None,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write one row a step as CSV.")
    ] = None,
    units: Units = "si",
) -> None:
    """Print a procedure on the clock.

    Timetable with slack and what sets the end, windows, gloves, suits and clocks, the latest
    start home, what to cut, and how likely it is to end in time. Exit code 1 when a check of the
    clock fails, 3 when nothing fails but not all is known.
    """
    with plain_errors():
        from reach.answer import look
        from reach.files.problem import Gathered
        from reach.files.procedure import load_procedure
        from reach.files.results import write_whole
        from reach.files.scene import load_scene, read_files
        from reach.reports.clock import clock_csv, render_clock
        from reach.timetables import timed

        told = Gathered()
        loaded = told.of(load_scene, scene)
        asked = told.of(load_procedure, procedure, loaded) if loaded is not None else None
        if loaded is not None and asked is not None:
            read = (*read_files(loaded, asked.files), *map(Path, asked.files))
            told.of(refuse_target, csv, loaded, read)
        told.tell()
        assert loaded is not None
        assert asked is not None
        found = timed(loaded, asked)
        if found is None:
            note("The procedure has no steps.")
            raise typer.Exit(3)
        if csv is not None:
            write_whole(csv, clock_csv(found))
            note(f"Wrote {csv}")
        width, colour = look()
        typer.echo(render_clock(found, width, colour, units), nl=False, color=colour)
        raise typer.Exit(found.exit_code)
