"""`settings`: the best setting of a restraint for several fasteners and bodies at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from reach.cli.options import (
    Bit,
    Extension,
    Placed,
    Scene,
    Sizes,
    Units,
    Worker,
    app,
    note,
    placed_of,
    plain_errors,
)

if TYPE_CHECKING:
    from reach.files.scene import LoadedScene


@app.command(name="settings")
def settings_command(
    scene: Scene,
    targets: Annotated[
        str,
        typer.Option("--targets", metavar="NAMES", help="Fasteners to reach, separated by commas."),
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
        typer.Option(
            "--hand",
            help="Hand that holds the tool, else the one of the procedure; own is the worker's "
            "better one.",
        ),
    ] = None,
    placed: Placed = None,
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
    """Find the socket and setting from which everything works.

    Tool, hand and poses of payloads are those of the procedure that the scene names unless an
    option says otherwise.
    """
    with plain_errors():
        from reach.answer import look, sizes_of, watched
        from reach.files.problem import Gathered
        from reach.files.results import write_whole
        from reach.files.scene import load_scene
        from reach.finding import exit_code
        from reach.reports.settings import render_settings, settings_json
        from reach.settings.asking import asking_of
        from reach.settings.choose import choose, own_procedure

        told = Gathered()
        loaded = told.of(load_scene, scene)
        angle = told.of(_angle, step)
        poses = told.of(placed_of, placed) if placed else None
        if json is not None:
            told.of(_check_json, json, loaded)
        names, free = _names(targets), _names(sockets) if sockets else None
        ways: dict[str, Any] = {
            "worker": worker,
            "tool": tool,
            "bit": bit,
            "extension": extension,
            "hand": hand,
            "placed": poses,
        }
        bodies = None
        if loaded is not None:
            bodies = told.of(sizes_of, sizes, loaded)
            told.of(asking_of, loaded, names, restraint, free, own_procedure(loaded), **ways)
        told.tell()
        assert loaded is not None
        with watched() as say:
            choice = choose(
                loaded,
                names,
                restraint=restraint,
                sockets=free,
                sizes=bodies,
                procedure=own_procedure(loaded),
                top=top,
                step=angle,
                say=say,
                **ways,
            )
        if json is not None:
            write_whole(json, settings_json(choice))
            note(f"Wrote {json}")
        width, colour = look()
        typer.echo(render_settings(choice, width, colour, units), nl=False, color=colour)
        raise typer.Exit(exit_code(choice.outcome.findings))


def _angle(text: str) -> float:
    """Return the step of joints without detents, rad."""
    from reach.answer import mistyped
    from reach.units import quantity

    try:
        angle = 0.0 if text.strip() == "0" else quantity(text, "angle")
    except ValueError as error:
        raise mistyped("--step", str(error)) from None
    if not angle > 0.0:
        raise mistyped("--step", f"must be greater than 0, found {text!r}")
    return angle


def _check_json(path: Path, loaded: LoadedScene | None) -> None:
    """Refuse a file that could not be written, or that is read."""
    from reach.files.results import check_writable, refuse_inputs
    from reach.files.scene import read_files

    check_writable(path)
    if loaded is not None:
        refuse_inputs(path, read_files(loaded))


def _names(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]
