"""`crane`: how a crane holds its tip at a station, branch by branch, and what limits it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reach.cli.options import (
    Placed,
    Scene,
    Sizes,
    Units,
    app,
    draw_into,
    note,
    placed_of,
    plain_errors,
    refuse_folder,
    refuse_target,
)


@app.command(name="crane")
def crane_command(
    scene: Scene,
    station: Annotated[
        str, typer.Argument(metavar="STATION", help="Where its tip is to be: a station on a crane.")
    ],
    start: Annotated[
        str | None,
        typer.Option("--from", metavar="STATION", help="The station that it comes from."),
    ] = None,
    worker: Annotated[
        str | None,
        typer.Option("--worker", metavar="NAME", help="Who stands on its plate; else nobody."),
    ] = None,
    sizes: Sizes = None,
    placed: Placed = None,
    json: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write branches and all findings as JSON."),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Write one row for each branch as CSV."),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="Draw the crane there into this folder."),
    ] = None,
    units: Units = "si",
) -> None:
    """Show how a crane holds its tip at a station.

    Reach used, joints near limits, links near structure, the time it takes. Every branch of
    postures found is listed, the one with the best worst margin first.
    """
    with plain_errors():
        from reach.answer import look, mistyped, sizes_of, watched
        from reach.cranes import crane_answer
        from reach.files.crane_question import CraneQuestion, crane_question
        from reach.files.problem import Gathered
        from reach.files.results import write_whole
        from reach.files.scene import load_scene
        from reach.reports.crane import crane_csv, crane_json, render_crane

        told = Gathered()
        loaded = told.of(load_scene, scene)
        poses = told.of(placed_of, placed or [])
        told.of(refuse_folder, pictures)
        for path in (json, csv):
            told.of(refuse_target, path, loaded)
        asked = CraneQuestion(station, start, worker, poses or {})
        bodies = procedure = None
        if loaded is not None:
            bodies = told.of(sizes_of, sizes, loaded)
            procedure = told.of(crane_question, loaded, asked)
        if sizes is not None and worker is None:
            told.problems += mistyped("--size", "is of a body: give a --worker too").problems
        told.tell()
        assert loaded is not None
        assert procedure is not None
        with watched() as say:
            answer = crane_answer(loaded, procedure, asked, sizes=bodies, say=say)
        for path, written in ((json, crane_json), (csv, crane_csv)):
            if path is not None:
                write_whole(path, written(answer))
                note(f"Wrote {path}")
        width, colour = look()
        typer.echo(render_crane(answer, width, colour, units), nl=False, color=colour)
        if pictures is not None:
            from reach.pictures import draw_crane

            draw_into(lambda: draw_crane(answer, pictures))
        raise typer.Exit(answer.exit_code)
