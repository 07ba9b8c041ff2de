"""The command line: read what was typed, call, render; everything heavy is imported when needed.

Exit codes: 0 all that was asked passes, 1 something fails, 2 the input cannot be used,
3 nothing fails but not everything is known, 70 a defect of this program, 130 interrupted.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from reach.files.procedure import LoadedProcedure

UNREADABLE = 2
DEFECT = 70
INTERRUPTED = 130

app = typer.Typer(
    name="reach",
    help="Can a worker, held by a foot restraint, reach, see and turn this fastener: "
    "answers with proof and margins.",
    epilog="Exit codes: 0 everything asked passes; 1 something fails; 2 the input cannot be "
    "used; 3 nothing fails, but not everything is known. "
    "Planning aid only; each result ends with its cautions.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Scene = Annotated[
    str,
    typer.Argument(
        metavar="SCENE",
        help="A folder with scene.toml, a scene file, or the name of a shipped scene.",
    ),
]
Sizes = Annotated[
    str | None,
    typer.Option(
        "--size",
        metavar="NAMES",
        help="Run these size classes, separated by commas, instead of each worker's own body.",
    ),
]
Only = Annotated[
    list[str] | None,
    typer.Option(
        "--only", metavar="CHECK", help="Run only this check, by name or id; may be repeated."
    ),
]
Json = Annotated[
    Path | None,
    typer.Option(
        "--json", metavar="FILE", help="Write all findings with evidence and sources as JSON."
    ),
]
Csv = Annotated[
    Path | None,
    typer.Option("--csv", metavar="FILE", help="Write one row for each finding as CSV."),
]
Pictures = Annotated[
    Path | None,
    typer.Option(
        "--pictures",
        metavar="DIR",
        help="Draw each worksite from outside and from the worker's eyes into this folder.",
    ),
]
Expect = Annotated[
    Path | None,
    typer.Option(
        "--expect",
        metavar="FILE",
        help="Compare with this key and exit 0 when equal and 1 when not.",
    ),
]
Units = Annotated[
    Literal["si", "both"],
    typer.Option("--units", help="Print SI units, or both SI and customary units."),
]
Values = Annotated[
    bool, typer.Option("--values", help="Also list every value used, with its source.")
]


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
    only: Only = None,
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
) -> None:
    """Check every step of a procedure and print what was found."""
    with _plain_errors():
        from reach.answer import Wanted, answer
        from reach.files.procedure import load_procedure
        from reach.files.scene import load_scene

        wanted = Wanted(sizes, only, json, csv, pictures, expect, units, values)
        loaded = load_scene(scene)
        asked = load_procedure(procedure, loaded)
        raise typer.Exit(answer(loaded, _of_worker(asked, worker) if worker else asked, wanted))


@app.command(name="ask")
def ask_command(
    scene: Scene,
    at: Annotated[
        str, typer.Option("--at", metavar="PLACE", help="Socket or station to work from.")
    ],
    worker: Annotated[
        str | None,
        typer.Option("--worker", metavar="NAME", help="Who; may be left out where one is there."),
    ] = None,
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
        str | None, typer.Option("--tool", metavar="NAME", help="Tool in the hand.")
    ] = None,
    bit: Annotated[str | None, typer.Option("--bit", metavar="NAME", help="Bit on it.")] = None,
    extension: Annotated[
        str | None,
        typer.Option("--extension", metavar="NAME", help="Extension between tool and bit."),
    ] = None,
    hand: Annotated[
        Literal["right", "left", "either", "both", "own"],
        typer.Option("--hand", help="Hand that holds the tool; own is the worker's better one."),
    ] = "own",
    placed: Annotated[
        list[str] | None,
        typer.Option(
            "--placed",
            metavar="PAYLOAD=POSE",
            help="Where a payload is, else in its first pose; may be repeated.",
        ),
    ] = None,
    sizes: Sizes = None,
    only: Only = None,
    json: Json = None,
    csv: Csv = None,
    pictures: Pictures = None,
    expect: Expect = None,
    units: Units = "si",
    values: Values = False,
) -> None:
    """Ask about one fastener from one place, without a procedure file."""
    with _plain_errors():
        from reach.answer import Wanted, answer
        from reach.files.procedure import question
        from reach.files.scene import load_scene

        joints = _setting(setting) if setting else None
        wanted = Wanted(sizes, only, json, csv, pictures, expect, units, values)
        loaded = load_scene(scene)
        asked = question(
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
            placed=_placed(placed or []),
        )
        raise typer.Exit(answer(loaded, asked, wanted))


@app.command(name="explain")
def explain_command(
    name: Annotated[
        str | None,
        typer.Argument(metavar="NAME", help="Name or id of a check; without it all are listed."),
    ] = None,
) -> None:
    """Explain a check: question, margin, limit and blind spots."""
    with _plain_errors():
        from reach.answer import named_check
        from reach.checks import CHECKS
        from reach.reports.explain import explain, explain_all

        typer.echo(explain(named_check(name)) if name else explain_all(CHECKS), nl=False)


@app.command(name="new")
def new_command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")],
) -> None:
    """Write a small commented scene that passes, to start from."""
    with _plain_errors():
        from reach.files.starter import write_starter

        for path in write_starter(folder):
            typer.echo(f"Wrote {path}")
        typer.echo(f"Now try: reach check {folder}")


@app.command(name="schema")
def schema_command(
    kind: Annotated[
        Literal["scene", "procedure", "findings"],
        typer.Argument(help="The kind of file."),
    ] = "scene",
) -> None:
    """Print the JSON Schema of a file, for editors and programs."""
    import json

    with _plain_errors():
        from reach.files.schema import procedure_schema, scene_schema
        from reach.reports.record_schema import findings_schema

        schemas = {
            "scene": scene_schema,
            "procedure": procedure_schema,
            "findings": findings_schema,
        }
        typer.echo(json.dumps(schemas[kind](), indent=2, ensure_ascii=False))


@app.command(name="warm-up")
def warm_up_command() -> None:
    """Compile the geometry routines before the first check."""
    with _plain_errors():
        from reach.warmup import is_compiled, warm_up

        already = is_compiled()
        warm_up()
        typer.echo("The geometry routines were compiled before." if already else "Compiled.")


def main() -> None:
    """Run the command line; a defect of this program never looks like an answer."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app()
    except Exception:
        traceback.print_exc()
        _note("This is a defect of the program, not an answer about the scene.")
        sys.exit(DEFECT)


def _setting(text: str) -> dict[str, int | str]:
    from reach.answer import mistyped
    from reach.files.procedure import setting_of

    try:
        return setting_of(text)
    except ValueError as error:
        raise mistyped("--setting", str(error)) from None


def _placed(texts: list[str]) -> dict[str, str]:
    from reach.answer import mistyped

    placed = {}
    for text in texts:
        payload, equals, pose = (part.strip() for part in text.partition("="))
        if not (payload and equals and pose):
            raise mistyped("--placed", f"needs payload=pose, found {text!r}")
        placed[payload] = pose
    return placed


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


@contextmanager
def _plain_errors() -> Iterator[None]:
    """Turn problems of the input and an interrupt into plain lines and exit codes."""
    from reach.files.problem import InputError

    try:
        yield
    except InputError as error:
        _note(str(error))
        raise typer.Exit(UNREADABLE) from None
    except KeyboardInterrupt:
        _note("Stopped before the end; no file was left half-written.")
        raise typer.Exit(INTERRUPTED) from None


def _note(text: str) -> None:
    typer.echo(text, err=True)
