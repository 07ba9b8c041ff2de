"""`route`: the best way from place to place along rails, and others that really differ."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reach.cli.options import (
    Placed,
    Scene,
    Sizes,
    Units,
    Worker,
    app,
    draw_into,
    names_of,
    note,
    placed_of,
    plain_errors,
    refuse_folder,
    refuse_target,
)

Glb = Annotated[
    Path | None,
    typer.Option("--glb", metavar="FILE", help="Write scene, way and line as GLB for other tools."),
]


@app.command(name="route")
def route_command(
    scene: Scene,
    start: Annotated[
        str,
        typer.Argument(
            metavar="FROM",
            help="A hatch, socket, station, anchor, handhold or rail, or a point on one: RL09@1.5.",
        ),
    ],
    stop: Annotated[str, typer.Argument(metavar="TO", help="A place, as FROM.")],
    worker: Worker = None,
    sizes: Sizes = None,
    carrying: Annotated[
        str | None,
        typer.Option("--carrying", metavar="ITEMS", help="On the suit, separated by commas."),
    ] = None,
    in_hand: Annotated[
        str | None,
        typer.Option("--in-hand", metavar="ITEMS", help="In a hand, separated by commas."),
    ] = None,
    others: Annotated[
        int,
        typer.Option(
            "--alternatives", metavar="K", min=0, max=20, help="Other ways to show, at most."
        ),
    ] = 0,
    avoid: Annotated[
        str | None,
        typer.Option("--avoid", metavar="RAILS", help="Not to be used, separated by commas."),
    ] = None,
    tether: Annotated[
        str | None,
        typer.Option("--tether", metavar="NAME", help="Safety line worn, else the worker's own."),
    ] = None,
    anchor: Annotated[
        str | None,
        typer.Option("--anchor", metavar="NAME", help="Where its other end is hooked."),
    ] = None,
    placed: Placed = None,
    json: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write ways and all findings as JSON."),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Write one row for each leg as CSV."),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="Draw each way into this folder."),
    ] = None,
    glb: Glb = None,
    units: Units = "si",
) -> None:
    """Find the way from one place to another along rails, and check it.

    Ways are the quickest first. Where there is none, the proof is printed and what would make one.
    """
    with plain_errors():
        from reach.answer import look, sizes_of, watched
        from reach.files.moves_question import MoveQuestion, move_question
        from reach.files.problem import Gathered
        from reach.files.results import write_whole
        from reach.files.scene import load_scene
        from reach.reports.route import render_routes, routes_csv, routes_json
        from reach.routes import routes_between

        told = Gathered()
        loaded = told.of(load_scene, scene)
        poses = told.of(placed_of, placed or [])
        told.of(refuse_folder, pictures)
        for path in (json, csv, glb):
            told.of(refuse_target, path, loaded)
        asked = MoveQuestion(
            start, stop, worker, names_of(carrying), names_of(in_hand), names_of(avoid), tether,
            anchor, poses or {},
        )  # fmt: skip
        bodies = procedure = None
        if loaded is not None:
            bodies = told.of(sizes_of, sizes, loaded)
            procedure = told.of(move_question, loaded, asked)
        told.tell()
        assert loaded is not None
        assert procedure is not None
        with watched() as say:
            routes = routes_between(loaded, procedure, asked, sizes=bodies, others=others, say=say)
        for path, written in ((json, routes_json), (csv, routes_csv)):
            if path is not None:
                write_whole(path, written(routes))
                note(f"Wrote {path}")
        if glb is not None:
            from reach.pictures.export import glb_of_routes

            write_whole(glb, glb_of_routes(routes))
            note(f"Wrote {glb}")
        width, colour = look()
        text = render_routes(routes, width, colour, units, others)
        typer.echo(text, nl=False, color=colour)
        if pictures is not None:
            from reach.pictures import draw

            draw_into(lambda: draw(routes.outcome, pictures))
        raise typer.Exit(routes.exit_code)
