"""`compare`: what changed between two versions, and what that does to the answers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reach.cli.options import Only, Units, app, note, plain_errors

if TYPE_CHECKING:
    from reach.comparing.edits import Version
    from reach.comparing.threshold import Threshold


@app.command(name="compare")
def compare_command(
    old: Annotated[
        str,
        typer.Argument(
            metavar="OLD",
            help="A procedure file, or a scene (folder, file, shipped name) with its procedure.",
        ),
    ],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The same, after the change.")],
    scene: Annotated[
        str | None,
        typer.Option(
            "--scene",
            metavar="SCENE",
            help="Scene of the procedures, else the one in the folder of each.",
        ),
    ] = None,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure",
            metavar="FILE",
            help="Procedure for both scenes, else the one that each names.",
        ),
    ] = None,
    threshold: Annotated[
        str | None,
        typer.Option(
            "--threshold",
            metavar="AMOUNTS",
            help="By how much a margin must change to be told, unit by unit, such as "
            "'0.05 m, 2 deg', or a share of it, such as '20 %'; else 0.02 m, 1 deg, 1 N m, 10 N, "
            "1 min and 0.05.",
        ),
    ] = None,
    only: Only = None,
    blame: Annotated[
        bool,
        typer.Option(
            "--blame/--no-blame",
            help="Find out which edit did what, by running the old version with some of the edits.",
        ),
    ] = True,
    runs: Annotated[
        int | None,
        typer.Option("--runs", metavar="N", min=1, help="Runs for that at most, else 24."),
    ] = None,
    json: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write edits and answers as JSON."),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Write one row for each changed answer as CSV."),
    ] = None,
    units: Units = "si",
) -> None:
    """Compare two versions of a procedure, of a scene or of both.

    Prints the edits, the answers that are worse or better and which edit did it. Exit code 1 when
    something is worse: a verdict, a new answer that does not pass, a fail that fails by more; 3
    when nothing is for certain, but something is asked no more, or does not pass and may be
    short of more.
    """
    with plain_errors():
        from reach.answer import checks_of, look, watched
        from reach.comparing.compare import RUNS, compare
        from reach.comparing.sides import versions
        from reach.files.problem import Gathered
        from reach.files.results import write_whole
        from reach.reports.compare import render_comparison
        from reach.reports.compare_data import comparison_csv, comparison_json

        told = Gathered()
        both = told.of(versions, old, new, scene, procedure)
        least = told.of(_threshold, threshold)
        checks = checks_of(only, told)
        for path in (json, csv):
            told.of(_check_target, path, both)
        told.tell()
        assert both is not None
        with watched() as say:
            found = compare(
                *both,
                only=checks or None,
                threshold=least,
                runs=(runs or RUNS) if blame else 0,
                say=say,
            )
        for path, render in ((json, comparison_json), (csv, comparison_csv)):
            if path is not None:
                write_whole(path, render(found))
                note(f"Wrote {path}")
        width, colour = look()
        typer.echo(render_comparison(found, width, colour, units), nl=False, color=colour)
        raise typer.Exit(found.exit_code)


def _threshold(text: str | None) -> Threshold:
    from reach.answer import mistyped
    from reach.comparing.threshold import threshold_of

    try:
        return threshold_of(text)
    except ValueError as error:
        raise mistyped("--threshold", str(error)) from None


def _check_target(path: Path | None, both: tuple[Version, Version] | None) -> None:
    """Refuse a file that could not be written, or that is read."""
    from reach.files.results import check_writable, refuse_inputs
    from reach.files.scene import read_files

    if path is None:
        return
    check_writable(path)
    for one in both or ():
        files = [Path(file) for file in one.asked.files]
        refuse_inputs(path, [*read_files(one.scene, one.asked.files), *files])
