"""`report`: everything that is handed over, as page, paper, cards, workbook and 3D file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reach.cli.check import varied
from reach.cli.options import (
    Anew,
    Scene,
    Sizes,
    Units,
    WhatIf,
    app,
    names_of,
    note,
    plain_errors,
    refuse_folder,
)

if TYPE_CHECKING:
    from reach.comparing.edits import Version
    from reach.files.procedure import LoadedProcedure
    from reach.files.scene import LoadedScene


@app.command(name="report")
def report_command(
    scene: Scene,
    procedure: Annotated[
        str | None,
        typer.Argument(metavar="PROCEDURE", help="A procedure file, else the scene's own."),
    ] = None,
    out: Annotated[
        Path,
        typer.Option("--out", "-o", metavar="DIR", help="Folder for the files, made if need be."),
    ] = Path("report"),
    units: Units = "si",
    sizes: Sizes = None,
    what_if: WhatIf = None,
    differences: Annotated[
        bool,
        typer.Option(
            "--differences/--no-differences",
            help="Whether what hangs on the body is run for other sizes and the other hand too; "
            "the first time that takes as long again.",
        ),
    ] = True,
    since: Annotated[
        str | None,
        typer.Option(
            "--since", metavar="OLD", help="An older procedure file: tell what has changed since."
        ),
    ] = None,
    without: Annotated[
        str | None,
        typer.Option(
            "--without",
            metavar="NAMES",
            help="Leave out, with commas between: html, pdf, cards, xlsx, glb, pictures.",
        ),
    ] = None,
    anew: Anew = False,
) -> None:
    """Write what is handed over: page, paper, cards and tables.

    report.html is one file that asks for nothing outside itself, report.pdf the same on A4,
    cards.pdf one worksite card a page, tables.xlsx every table, scene.glb the scene with ways,
    reach and marks of what fails. With --size the differences are told for those size classes.
    """
    with plain_errors():
        from reach.answer import sizes_of, watched
        from reach.dossier.dossier import dossier_of
        from reach.files.kept import KeptOnDisk
        from reach.files.problem import Gathered
        from reach.files.procedure import load_procedure
        from reach.files.scene import load_scene
        from reach.finding import exit_code
        from reach.folder import is_half_written, write_report

        told = Gathered()
        loaded = told.of(load_scene, scene)
        asked = told.of(load_procedure, procedure, loaded) if loaded is not None else None
        left_out = told.of(_left_out, without) or ()
        told.of(refuse_folder, out)
        if loaded is not None and asked is not None:
            told.of(_refuse_inputs, out, loaded, asked)
        wanted = told.of(sizes_of, sizes, loaded) if loaded is not None else None
        old = told.of(_since, since, loaded) if since is not None and loaded is not None else None
        pair = told.of(varied, loaded, asked, what_if, None, None)
        told.tell()
        assert pair is not None
        loaded, asked = pair
        assert loaded is not None
        assert asked is not None
        if is_half_written(out):
            note(f"What is in {out} is not one whole report: not finished, or changed since.")
        kept = None if anew else KeptOnDisk()
        with watched() as say:
            dossier = dossier_of(
                loaded, asked, kept=kept, say=say, spread=differences, sizes=wanted or (), since=old
            )
            if kept is not None:
                kept.write()
            written = write_report(dossier, out, units=units, without=left_out, say=say)
        for path in written.files:
            note(f"Wrote {path}")
        for words in written.absent:
            note(f"Missing: {words}")
        raise typer.Exit(exit_code(dossier.outcome.findings))


def _left_out(text: str | None) -> tuple[str, ...]:
    from reach.answer import mistyped
    from reach.files.problem import unknown
    from reach.folder import FILES, PICTURES

    known = [*FILES, PICTURES]
    names = names_of(text)
    wrong = [unknown("part of a report", name, known) for name in names if name not in known]
    if wrong:
        raise mistyped("--without", *wrong)
    if not set(FILES) - set(names):
        raise mistyped("--without", "leaves nothing to write")
    return names


def _refuse_inputs(out: Path, loaded: LoadedScene, asked: LoadedProcedure) -> None:
    """Refuse a folder in which a file that is read would be written over."""
    from reach.files.results import refuse_inputs
    from reach.files.scene import read_files
    from reach.folder import targets_in

    read = [*read_files(loaded, asked.files), *map(Path, asked.files)]
    for target in targets_in(out):
        refuse_inputs(target, read)


def _since(old: str, loaded: LoadedScene) -> Version:
    from reach.comparing.edits import Version
    from reach.files.procedure import load_procedure

    return Version(loaded, load_procedure(old, loaded))
