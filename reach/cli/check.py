"""`check` and `ask`: a whole procedure, or one question without a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from reach.cli.options import (
    Anew,
    Bit,
    Csv,
    Expect,
    Extension,
    Json,
    Only,
    Pictures,
    Placed,
    Population,
    Scene,
    Sizes,
    Units,
    Values,
    WhatIf,
    Worker,
    app,
    placed_of,
    plain_errors,
)

if TYPE_CHECKING:
    from reach.files.procedure import LoadedProcedure
    from reach.files.scene import LoadedScene


@app.command(name="check")
def check_command(
    scene: Scene,
    procedure: Annotated[
        str | None,
        typer.Argument(
            metavar="PROCEDURE", help="A procedure file; without it the one the scene names."
        ),
    ] = None,
    sizes: Sizes = None,
    population: Population = None,
    only: Only = None,
    what_if: WhatIf = None,
    worker: Annotated[
        str | None,
        typer.Option("--worker", metavar="NAME", help="Ask only what this worker does."),
    ] = None,
    json: Json = None,
    csv: Csv = None,
    pictures: Pictures = None,
    expect: Expect = None,
    units: Units = "si",
    values: Values = False,
    anew: Anew = False,
    fill: Annotated[
        Path | None,
        typer.Option(
            "--fill",
            metavar="FILE",
            help="Find settings for steps that leave theirs blank, write a copy of the procedure "
            "with them and check it.",
        ),
    ] = None,
) -> None:
    """Check every step of a procedure and print what was found."""
    with plain_errors():
        from reach.answer import Wanted, answer, request_of
        from reach.files.problem import Gathered
        from reach.files.procedure import load_procedure
        from reach.files.scene import load_scene

        told = Gathered()
        wanted = Wanted(sizes, population, only, json, csv, pictures, expect, units, values, anew)
        loaded = told.of(load_scene, scene)
        asked = told.of(load_procedure, procedure, loaded) if loaded is not None else None
        request = request_of(wanted, loaded, asked, told)
        if fill is not None:
            told.of(_check_fill, fill, procedure, loaded)
        if asked is not None and worker:
            told.of(_of_worker, asked, worker)
        pair = told.of(varied, loaded, asked, what_if, request.sizes, fill)
        told.tell()
        assert pair is not None
        loaded, asked = pair
        assert loaded is not None
        assert asked is not None
        if fill is not None:
            asked = _filled(loaded, asked, procedure, fill, request.sizes)
        mine = _of_worker(asked, worker) if worker else asked
        raise typer.Exit(answer(loaded, mine, wanted, request))


@app.command(name="ask")
def ask_command(
    scene: Scene,
    at: Annotated[
        str, typer.Option("--at", metavar="PLACE", help="Socket or station to work from.")
    ],
    worker: Worker = None,
    restraint: Annotated[
        str | None,
        typer.Option("--restraint", metavar="NAME", help="Foot restraint in the socket."),
    ] = None,
    setting: Annotated[
        str | None,
        typer.Option(
            "--setting",
            metavar="TEXT",
            help="Joints of the restraint, such as 'clocking=1, yaw=4, pitch=30 deg', the others "
            "at 0; without it the place stays blank and the answer open.",
        ),
    ] = None,
    fastener: Annotated[
        str | None,
        typer.Option(
            "--fastener",
            metavar="NAME",
            help="What to turn; without it the worker only stands there.",
        ),
    ] = None,
    tool: Annotated[
        str | None,
        typer.Option("--tool", metavar="NAME", help="Tool in the hand, else the only one allowed."),
    ] = None,
    bit: Bit = None,
    extension: Extension = None,
    hand: Annotated[
        Literal["right", "left", "either", "both", "own"],
        typer.Option("--hand", help="Hand that holds the tool; own is the worker's better one."),
    ] = "own",
    placed: Placed = None,
    sizes: Sizes = None,
    population: Population = None,
    only: Only = None,
    json: Json = None,
    csv: Csv = None,
    pictures: Pictures = None,
    expect: Expect = None,
    units: Units = "si",
    values: Values = False,
    anew: Anew = False,
) -> None:
    """Ask about one fastener from one place, without a procedure file."""
    with plain_errors():
        from reach.answer import Wanted, answer, request_of
        from reach.files.problem import Gathered
        from reach.files.question import question
        from reach.files.scene import load_scene

        told = Gathered()
        wanted = Wanted(sizes, population, only, json, csv, pictures, expect, units, values, anew)
        loaded = told.of(load_scene, scene)
        joints = told.of(_setting, setting) if setting else None
        poses = told.of(placed_of, placed or [])
        asked = None
        if loaded is not None:
            asked = told.of(
                question,
                loaded,
                where=at,
                worker=worker,
                restraint=restraint,
                setting=joints,
                fastener=fastener,
                tool=tool,
                bit=bit,
                extension=extension,
                hand=hand,
                placed=poses,
            )
        request = request_of(wanted, loaded, asked, told)
        told.tell()
        assert loaded is not None
        assert asked is not None
        raise typer.Exit(answer(loaded, asked, wanted, request))


def _check_fill(target: Path, procedure: str | None, loaded: LoadedScene | None) -> None:
    """Refuse a copy that could not be written, or would be written over what is read."""
    from reach.files.procedure import procedure_file
    from reach.files.results import check_writable, refuse_inputs
    from reach.files.scene import read_files

    check_writable(target)
    if loaded is not None:
        refuse_inputs(target, [procedure_file(procedure, loaded)[0], *read_files(loaded)])


def _filled(
    loaded: LoadedScene,
    asked: LoadedProcedure,
    procedure: str | None,
    target: Path,
    sizes: list[str] | None,
) -> LoadedProcedure:
    """Write a copy of a procedure with its blank settings filled; return the copy."""
    from reach.answer import note, watched
    from reach.files.procedure import load_procedure
    from reach.settings.fill import fill, write_fill

    with watched() as say:
        filled = fill(loaded, asked, sizes, say)
    for path in write_fill(loaded, procedure, target, filled):
        note(f"Wrote {path}")
    for line in filled.notes or ("No setting is blank.",):
        note(line)
    return load_procedure(target, loaded)


def varied(
    loaded: LoadedScene | None,
    asked: LoadedProcedure | None,
    texts: list[str] | None,
    sizes: list[str] | None,
    fill: Path | None,
) -> tuple[LoadedScene | None, LoadedProcedure | None]:
    """Return scene and procedure with what is typed after --what-if; all problems at once."""
    if not texts:
        return loaded, asked
    from reach.answer import mistyped
    from reach.varying import (
        UnfitError,
        Variation,
        parts_of,
        sizes_problems,
        variations_of,
        varied_copies,
    )

    wrong: list[str] = []
    variations: list[Variation] = []
    for part in (part for text in texts for part in parts_of(text) or [text]):
        try:
            variations += variations_of(part)
        except UnfitError as error:
            wrong += error.messages
    wrong += sizes_problems(variations, sizes or ())
    if fill is not None:
        wrong.append("is not for --fill: the copy that it writes is for the files as written")
    if loaded is not None and asked is not None:
        try:
            loaded, asked = varied_copies(loaded, asked, variations)
        except UnfitError as error:
            wrong += error.messages
    if wrong:
        raise mistyped("--what-if", *wrong)
    return loaded, asked


def _setting(text: str) -> dict[str, int | str]:
    from reach.answer import mistyped
    from reach.files.question import setting_of

    try:
        return setting_of(text)
    except ValueError as error:
        raise mistyped("--setting", str(error)) from None


def _of_worker(asked: LoadedProcedure, worker: str) -> LoadedProcedure:
    """Return the procedure with nothing asked of anybody else; payloads move as before."""
    from dataclasses import replace

    from reach.answer import mistyped
    from reach.files.problem import unknown

    workers = [lane for lane, kind in asked.procedure.lanes.items() if kind == "worker"]
    if worker not in workers:
        raise mistyped("--worker", unknown("worker", worker, workers))
    steps = tuple(
        step if step.lane == worker else step.model_copy(update={"actions": ()})
        for step in asked.procedure.steps
    )
    return replace(asked, procedure=asked.procedure.model_copy(update={"steps": steps}))
