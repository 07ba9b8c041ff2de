"""`sweep`: how near a payload comes to everything on its way, and a way where none is written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from reach.files.carry_question import Asked, CarryQuestion
    from reach.files.scene import LoadedScene
    from reach.sweeps import Sweeps

Glb = Annotated[
    Path | None,
    typer.Option("--glb", metavar="FILE", help="Write scene, payload and way as GLB."),
]


@app.command(name="sweep")
def sweep_command(
    scene: Scene,
    payload: Annotated[str, typer.Argument(metavar="PAYLOAD", help="What is moved.")],
    path: Annotated[
        str | None,
        typer.Option(
            "--path",
            metavar="NAME",
            help="One of its paths; without it those that the procedure takes, else all.",
        ),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(
            "--from",
            metavar="POSE",
            help="With --to: find a way from this pose, else from where the payload is.",
        ),
    ] = None,
    stop: Annotated[
        str | None, typer.Option("--to", metavar="POSE", help="Find a way to this pose.")
    ] = None,
    seed: Annotated[
        int, typer.Option("--seed", metavar="N", min=0, help="Of the search for a way.")
    ] = 0,
    write: Annotated[
        Path | None,
        typer.Option(
            "--write", metavar="FILE", help="Write a copy of the scene file with the way found."
        ),
    ] = None,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure",
            metavar="FILE",
            help="Where the payload is moved, with who rides and stands by, else the procedure "
            "that the scene names.",
        ),
    ] = None,
    crane: Annotated[
        str | None,
        typer.Option("--crane", metavar="NAME", help="Carry it on this crane, in no procedure."),
    ] = None,
    worker: Annotated[
        str | None,
        typer.Option("--worker", metavar="NAME", help="Who rides on the crane's tip."),
    ] = None,
    station: Annotated[
        str | None,
        typer.Option("--station", metavar="NAME", help="Where they stand as the motion begins."),
    ] = None,
    clearance: Annotated[
        str | None,
        typer.Option(
            "--clearance",
            metavar="LENGTH",
            help="Ask only whether it keeps at least so far off everywhere, such as '0.3 m'.",
        ),
    ] = None,
    spans: Annotated[
        int,
        typer.Option(
            "--spans", metavar="N", min=1, max=1000, help="Spans of the curve on each leg."
        ),
    ] = 40,
    placed: Placed = None,
    sizes: Sizes = None,
    json: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write gaps, curve and findings as JSON."),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Write the curve as CSV, one row a span."),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="Draw way and curve into this folder."),
    ] = None,
    glb: Glb = None,
    units: Units = "si",
) -> None:
    """Say how near a payload comes to everything on its way.

    Gaps are bounds over the whole motion, not samples of it.

    With --from and --to a way is found, and swept like a written one.
    """
    with plain_errors():
        from reach.answer import look, mistyped, sizes_of, watched
        from reach.files.carry_question import CarryQuestion
        from reach.files.problem import Gathered
        from reach.files.results import write_whole
        from reach.files.scene import load_scene
        from reach.files.way_text import check_scene_copy, write_with_ways
        from reach.reports.sweep import render_sweeps
        from reach.reports.sweep_data import sweeps_csv, sweeps_json
        from reach.sweeps import found_ways, sweeps_of

        told = Gathered()
        loaded = told.of(load_scene, scene)
        poses = told.of(placed_of, placed or [])
        least = told.of(_length, clearance) if clearance is not None else None
        told.of(refuse_folder, pictures)
        for target in (json, csv, glb):
            told.of(refuse_target, target, loaded)
        question = CarryQuestion(payload, path, start, stop, crane, worker, station, poses or {})
        if write is not None and not question.is_blank:
            told.problems += mistyped("--write", "needs --from and --to: no way is found").problems
        for option, value in (("--csv", csv), ("--glb", glb), ("--pictures", pictures)):
            if clearance is not None and value is not None:
                words = "is not made with --clearance, which asks for yes or no alone"
                told.problems += mistyped(option, words).problems
        bodies = asked = None
        if loaded is not None:
            bodies = told.of(sizes_of, sizes, loaded)
            asked = told.of(_asked, loaded, question, procedure)
            if write is not None:
                told.of(check_scene_copy, loaded, write)
        told.tell()
        assert loaded is not None
        assert asked is not None
        with watched() as say:
            sweeps = sweeps_of(
                loaded, question, asked, sizes=bodies, seed=seed, spans=spans, clearance=least,
                say=say,
            )  # fmt: skip
        ways = found_ways(loaded, sweeps)
        for target, written in ((json, sweeps_json), (csv, sweeps_csv)):
            if target is not None:
                write_whole(target, written(sweeps))
                note(f"Wrote {target}")
        if write is not None and ways:
            note(f"Wrote {write_with_ways(loaded, write, ways)}")
        elif write is not None:
            note(f"Nothing was written to {write}: no way was found.")
        if glb is not None:
            _write_glb(glb, sweeps)
        width, colour = look()
        text = render_sweeps(sweeps, width, colour, units, ways)
        typer.echo(text, nl=False, color=colour)
        if pictures is not None:
            from reach.pictures import draw_sweeps

            draw_into(lambda: draw_sweeps(sweeps, pictures))
        raise typer.Exit(sweeps.exit_code)


def _write_glb(target: Path, sweeps: Sweeps) -> None:
    from reach.files.results import write_whole
    from reach.pictures.export import glb_of_sweeps

    write_whole(target, glb_of_sweeps(sweeps))
    note(f"Wrote {target}")


def _asked(loaded: LoadedScene, question: CarryQuestion, procedure: str | None) -> Asked:
    """Return what is asked; a procedure that is named but not used is a problem."""
    from reach.answer import mistyped
    from reach.files.carry_question import carry_question
    from reach.files.problem import Gathered
    from reach.files.procedure import load_procedure

    told = Gathered()
    written = None
    if procedure is not None and question.stands_alone:
        said = "is not used: the question says itself how the payload is moved"
        told.problems += mistyped("--procedure", said).problems
    elif not question.stands_alone and (procedure or loaded.scene.procedure):
        written = told.of(load_procedure, procedure, loaded)
    asked = told.of(carry_question, loaded, question, written)
    if procedure and written is not None and asked is not None and not asked.is_written:
        along = f" along {question.path}" if question.path else ""
        said = f"no step of {procedure} moves {question.payload}{along}"
        told.problems += mistyped("--procedure", said).problems
    told.tell()
    assert asked is not None
    return asked


def _length(text: str) -> float:
    from reach.answer import mistyped
    from reach.units import quantity

    try:
        value = quantity(float(text) if _is_number(text) else text, "length")
    except ValueError as error:
        raise mistyped("--clearance", str(error)) from None
    if value < 0.0:
        raise mistyped("--clearance", f"must not be negative, found {text!r}")
    return value


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
