"""`settings`: the best setting of a restraint for several fasteners and bodies at once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from reach.cli.options import (
    Bit,
    Extension,
    Scene,
    Sizes,
    Units,
    Worker,
    app,
    note,
    placed_of,
    plain_errors,
)


@app.command(name="settings")
def settings_command(
    scene: Scene,
    targets: Annotated[
        str,
        typer.Option("--targets", metavar="NAMES", help="Fasteners, separated by commas."),
    ],
    worker: Worker = None,
    sizes: Sizes = None,
    restraint: Annotated[
        str | None,
        typer.Option(
            "--restraint",
            metavar="NAME",
            help="Foot restraint to set; may be left out where there is one kind.",
        ),
    ] = None,
    sockets: Annotated[
        str | None,
        typer.Option("--sockets", metavar="NAMES", help="Sockets to look at, else all free ones."),
    ] = None,
    tool: Annotated[
        str | None,
        typer.Option(
            "--tool", metavar="NAME", help="Tool in the hand, else the one of the procedure."
        ),
    ] = None,
    bit: Bit = None,
    extension: Extension = None,
    hand: Annotated[
        Literal["right", "left", "either", "both", "own"] | None,
        typer.Option("--hand", help="Hand that holds the tool; own is the worker's better one."),
    ] = None,
    placed: Annotated[
        list[str] | None,
        typer.Option(
            "--placed",
            metavar="PAYLOAD=POSE",
            help="Where a payload is, else where the scene's procedure has it; may be repeated.",
        ),
    ] = None,
    top: Annotated[
        int, typer.Option("--top", metavar="N", min=1, max=50, help="Settings to show.")
    ] = 3,
    step: Annotated[
        str,
        typer.Option("--step", metavar="ANGLE", help="Step of joints that have no detents."),
    ] = "15 deg",
    json: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write the ranking and all findings as JSON."),
    ] = None,
    units: Units = "si",
) -> None:
    """Find the socket and setting from which everything works."""
    with plain_errors():
        from reach.answer import look, mistyped, sizes_of, watched
        from reach.files.results import check_writable, refuse_inputs, write_whole
        from reach.files.scene import load_scene, read_files
        from reach.finding import exit_code
        from reach.reports.settings import render_settings, settings_json
        from reach.settings.choose import choose, own_procedure
        from reach.units import quantity

        loaded = load_scene(scene)
        try:
            angle = 0.0 if step.strip() == "0" else quantity(step, "angle")
        except ValueError as error:
            raise mistyped("--step", str(error)) from None
        if not angle > 0.0:
            raise mistyped("--step", f"must be greater than 0, found {step!r}")
        if json is not None:
            check_writable(json)
            refuse_inputs(json, read_files(loaded))
        bodies = sizes_of(sizes, loaded)
        with watched() as say:
            choice = choose(
                loaded,
                _names(targets),
                restraint=restraint,
                sockets=_names(sockets) if sockets else None,
                sizes=bodies,
                procedure=own_procedure(loaded),
                top=top,
                step=angle,
                say=say,
                worker=worker,
                tool=tool,
                bit=bit,
                extension=extension,
                hand=hand,
                placed=placed_of(placed) if placed else None,
            )
        if json is not None:
            write_whole(json, settings_json(choice))
            note(f"Wrote {json}")
        width, colour = look()
        typer.echo(render_settings(choice, width, colour, units), nl=False, color=colour)
        raise typer.Exit(exit_code(choice.outcome.findings))


def _names(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]
