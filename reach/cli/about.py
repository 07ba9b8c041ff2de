"""Commands beside the answers: explain a check, start a scene, print a schema, compile."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from reach.cli.options import app, plain_errors


@app.command(name="explain")
def explain_command(
    name: Annotated[
        str | None,
        typer.Argument(metavar="NAME", help="Name or id of a check; without it all are listed."),
    ] = None,
) -> None:
    """Explain a check: question, margin, limit and blind spots."""
    with plain_errors():
        from reach.answer import named_check
        from reach.checks import CHECKS
        from reach.reports.explain import explain, explain_all
        from reach.settings import wording as settings

        if name and name.lower() == settings.NAME:
            typer.echo(explain(settings), nl=False)
        else:
            every = [*CHECKS, settings]
            typer.echo(explain(named_check(name)) if name else explain_all(every), nl=False)


@app.command(name="new")
def new_command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")],
) -> None:
    """Write a small commented scene that passes, to start from."""
    with plain_errors():
        from reach.files.starter import write_starter

        for path in write_starter(folder):
            typer.echo(f"Wrote {path}")
        typer.echo(f"Now try: reach check {folder}")


@app.command(name="schema")
def schema_command(
    kind: Annotated[
        Literal["scene", "procedure", "runs", "findings"],
        typer.Argument(help="The kind of file."),
    ] = "scene",
) -> None:
    """Print the JSON Schema of a file, for editors and programs."""
    import json

    with plain_errors():
        from reach.files.schema import procedure_schema, runs_schema, scene_schema
        from reach.reports.record_schema import findings_schema

        schemas = {
            "scene": scene_schema,
            "procedure": procedure_schema,
            "runs": runs_schema,
            "findings": findings_schema,
        }
        typer.echo(json.dumps(schemas[kind](), indent=2, ensure_ascii=False))


@app.command(name="warm-up")
def warm_up_command() -> None:
    """Compile the geometry routines before the first check."""
    with plain_errors():
        from reach.warmup import is_compiled, warm_up

        already = is_compiled()
        warm_up()
        typer.echo("The geometry routines were compiled before." if already else "Compiled.")
