"""`ledger`: where everything and everyone is after each step."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reach.cli.options import Scene, app, note, plain_errors, refuse_target


@app.command(name="ledger")
def ledger_command(
    scene: Scene,
    procedure: Annotated[
        str | None,
        typer.Argument(metavar="PROCEDURE", help="A procedure file, else the scene's own."),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            "--at", metavar="STEP", help="Show how everything stands after this step, in tables."
        ),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            metavar="FILE",
            help="Write how everything stands after each step, or after the one asked for, as CSV.",
        ),
    ] = None,
) -> None:
    """Print where everything and everyone is after each step.

    Who or what holds it, hooks, restraints and their settings, tools and what is left in them,
    bolts, inhibits, holds on payloads. Nothing is judged: `check` does that.
    """
    with plain_errors():
        from reach.answer import look, mistyped
        from reach.files.problem import Gathered, unknown
        from reach.files.procedure import load_procedure
        from reach.files.results import write_whole
        from reach.files.scene import load_scene
        from reach.ledgers import ledger_of
        from reach.reports.ledger import ledger_csv, render_ledger

        told = Gathered()
        loaded = told.of(load_scene, scene)
        asked = told.of(load_procedure, procedure, loaded) if loaded is not None else None
        read = tuple(Path(file) for file in (asked.files if asked else {}))
        told.of(refuse_target, csv, loaded, read)
        if asked is not None and at is not None:
            steps = [step.name for step in asked.procedure.steps]
            if at not in steps:
                told.problems += mistyped("--at", unknown("step", at, steps)).problems
        told.tell()
        assert loaded is not None
        assert asked is not None
        ledger = ledger_of(loaded, asked)
        if csv is not None:
            write_whole(csv, ledger_csv(ledger, at or ""))
            note(f"Wrote {csv}")
        width, colour = look()
        typer.echo(render_ledger(ledger, width, colour, at or ""), nl=False, color=colour)
