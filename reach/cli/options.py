"""Options that several commands take, and what turns problems into plain lines and exit codes."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import gettempdir
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from reach.files.scene import LoadedScene

UNREADABLE = 2
INTERRUPTED = 130
_FULL_OR_CLOSED = (
    errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EACCES, errno.EPERM, errno.EIO,
    errno.EPIPE, errno.ENAMETOOLONG,
)  # fmt: skip

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
"""What the modules of this folder add their commands to."""

Scene = Annotated[
    str,
    typer.Argument(
        metavar="SCENE",
        help="A folder with scene.toml, a scene file, or the name of a shipped scene.",
    ),
]
Worker = Annotated[
    str | None,
    typer.Option(
        "--worker",
        metavar="NAME",
        help="Who does it; may be left out where the scene has one worker.",
    ),
]
Bit = Annotated[
    str | None,
    typer.Option("--bit", metavar="NAME", help="Bit on the tool, else the only one that fits."),
]
Extension = Annotated[
    str | None,
    typer.Option("--extension", metavar="NAME", help="Extension between tool and bit."),
]
Sizes = Annotated[
    str | None,
    typer.Option(
        "--size",
        metavar="NAMES",
        help="Run these size classes, such as small,medium,large, instead of each worker's own "
        "body.",
    ),
]
Placed = Annotated[
    list[str] | None,
    typer.Option(
        "--placed",
        metavar="PAYLOAD=POSE",
        help="Where a payload is, else where the scene's procedure has it, or in its first pose; "
        "may be repeated.",
    ),
]
Population = Annotated[
    str | None,
    typer.Option(
        "--population",
        metavar="TEXT",
        help="Also ask for people drawn from the survey, such as 1000 or "
        "'n=1000, sex=mixed, seed=1': the share who can.",
    ),
]
WhatIf = Annotated[
    list[str] | None,
    typer.Option(
        "--what-if",
        metavar="TEXT",
        help="Check it as it would be otherwise, without editing files: 'swap W1 and W2', "
        "'W1 is large', 'W1 is left-handed', 'SK3 blocked', 'RL08 gone', 'SK3 free', "
        "'ST-1 length 20 m', 'windows +10 min', 'limit rail_gap 0.8 m'. Several hold together, "
        "separated by commas or given by repeating the option, and are taken in that order.",
    ),
]
Only = Annotated[
    list[str] | None,
    typer.Option(
        "--only",
        metavar="CHECKS",
        help="Run only these checks, by name or id (reach explain lists them), separated by "
        "commas; may be repeated.",
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
        help="Draw each worksite from outside and from the worker's eyes, and each move along "
        "rails, into this folder.",
    ),
]
Expect = Annotated[
    Path | None,
    typer.Option(
        "--expect",
        metavar="FILE",
        help="Compare with this key, a CSV table of what must be found; exit 0 when equal, else 1.",
    ),
]
Units = Annotated[
    Literal["si", "both"],
    typer.Option("--units", help="Print SI units, or both SI and customary units."),
]
Anew = Annotated[
    bool,
    typer.Option("--anew", help="Find everything anew; give nothing that earlier runs kept."),
]
Values = Annotated[
    bool, typer.Option("--values", help="Also list every value used, with its source.")
]


@contextmanager
def plain_errors() -> Iterator[None]:
    """Turn problems of the input and an interrupt into plain lines and exit codes."""
    from reach.files.problem import InputError

    try:
        yield
    except InputError as error:
        note(str(error))
        raise typer.Exit(UNREADABLE) from None
    except KeyboardInterrupt:
        note("Stopped before the end; no file was left half-written.")
        raise typer.Exit(INTERRUPTED) from None
    except OSError as error:
        message = _of_the_system(error)
        if message is None:
            raise
        note(message)
        raise typer.Exit(UNREADABLE) from None


def _of_the_system(error: OSError) -> str | None:
    """Return what to say of a disk that is full or closed; None for what is a defect of ours."""
    if error.errno not in _FULL_OR_CLOSED:
        return None
    if error.filename is not None:
        return f"{error.filename}: cannot be read or written: {error.strerror}"
    if traceback.extract_tb(error.__traceback__)[-1].name == "echo":
        # What is left is dropped, or Python would complain of it once more at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return f"standard output: cannot be written: {error.strerror}"
    return f"a temporary file in {gettempdir()}: cannot be written: {error.strerror}"


def names_of(text: str | None) -> tuple[str, ...]:
    """Return names that were typed with commas between them, each once.

    Examples
    --------
    >>> names_of("FR-1, BG-1,,FR-1"), names_of(None)
    (('FR-1', 'BG-1'), ())
    """
    parts = (part.strip() for part in (text or "").split(","))
    return tuple(dict.fromkeys(part for part in parts if part))


def refuse_target(
    path: Path | None, loaded: LoadedScene | None, more: tuple[Path, ...] = ()
) -> None:
    """Refuse a file to write that could not be written, or that was read."""
    from reach.files.results import check_writable, refuse_inputs
    from reach.files.scene import read_files

    if path is not None:
        check_writable(path)
        refuse_inputs(path, [*(read_files(loaded) if loaded else []), *more])


def refuse_folder(folder: Path | None) -> None:
    """Refuse a folder that is a file, or could not be made or written to."""
    from reach.files.results import check_folder

    if folder is not None:
        check_folder(folder)


def draw_into(draw: Callable[[], list[Path]]) -> None:
    """Draw, and say which files are there or why none is."""
    try:
        for path in draw():
            note(f"Drew {path}")
    except RuntimeError as error:
        note(f"No pictures: {error}")


def note(text: str) -> None:
    """Print a remark on standard error."""
    typer.echo(text, err=True)


def placed_of(texts: list[str]) -> dict[str, str]:
    """Return payload -> pose from texts such as ``boom=seated``."""
    from reach.answer import mistyped

    placed, wrong = {}, []
    for text in texts:
        payload, equals, pose = (part.strip() for part in text.partition("="))
        if payload and equals and pose:
            placed[payload] = pose
        else:
            wrong.append(f"needs payload=pose, found {text!r}")
    if wrong:
        raise mistyped("--placed", *wrong)
    return placed
