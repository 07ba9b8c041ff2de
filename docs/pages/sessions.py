"""Sessions that the page on commands shows: what is typed, and what of the output is kept."""

from __future__ import annotations

import re
import shlex
import subprocess
from collections.abc import Iterator
from contextlib import chdir
from tempfile import TemporaryDirectory
from typing import NamedTuple

from typer.testing import CliRunner

from reach.cli import app

WIDTH = "100"
"""Columns of the terminal in which sessions are run."""


class Session(NamedTuple):
    """What is typed, line after line, and which lines of the output are shown.

    ``keep`` holds pairs of a pattern and a number: so many lines from the first that matches,
    after those before; empty keeps all.
    """

    typed: tuple[str, ...]
    keep: tuple[tuple[str, int], ...] = ()


SESSIONS = {
    "new": Session(("reach new my-site",)),
    "check": Session(
        ("reach check my-site",),
        (
            (r"Osier", 2),
            (r"UNREACHABLE", 1),
            (r"UNKNOWN", 1),
            (r"PASSES", 5),
            (r"  ○ step left bolt: W1 · PB1 · PD-A", 10),
            (r"NOT CHECKED", 4),
            (r"COUNTS", 3),
            (r"CAUTIONS", 3),
        ),
    ),
    "ask": Session(
        (
            "reach ask my-site --at SA --restraint FR-A --fastener PB1 --tool PD-A "
            "--setting 'clocking=0, pitch=0 deg, roll=0 deg, yaw=0' --size small,large "
            "--only reach,clearance,sight",
        ),
        ((r"Osier", 2), (r"UNREACHABLE", 1), (r"PASSES", 5), (r"COUNTS", 3)),
    ),
    "compare": Session(
        (
            "sed 's/PD-A = { turns = 150/PD-A = { turns = 28/' my-site/procedure.toml > "
            "my-site/weak.toml",
            "reach compare my-site/procedure.toml my-site/weak.toml --only energy,torque",
        ),
        ((r"Compared", 4), (r"WORSE", 9), (r"EDITS", 3), (r"COUNTS", 3)),
    ),
    "settings": Session(
        ("reach settings brackenfall --targets CN2 --worker W2",),
        ((r"SETTINGS", 2), (r"LOOKED AT", 6), (r"UNREACHABLE", 6), (r"COUNTS", 3)),
    ),
    "route": Session(
        ("reach route tallowmere RUNG-8 RUNG-9 --worker R2",),
        ((r"WAYS", 1), (r"WAY 1", 6), (r"RECKONED", 4), (r"PASSES", 8), (r"COUNTS", 3)),
    ),
    "returns": Session(
        ("reach returns brackenfall --size medium",),
        ((r"THE WAY HOME", 6), (r"PLACES", 7), (r"RAILS", 5)),
    ),
    "clock": Session(
        ("reach clock my-site",),
        ((r"ON THE CLOCK", 4), (r"TIMETABLE", 5), (r"WHAT THE CLOCK", 4), (r"CUT ORDER", 4)),
    ),
    "crane": Session(
        ("reach crane brackenfall Wd --worker W2 --placed relay-boom=seated",),
        ((r"CRANE", 3), (r"BRANCHES", 5), (r"BRANCH 1", 12), (r"UNKNOWN", 7), (r"COUNTS", 3)),
    ),
    "sweep": Session(
        ("reach sweep brackenfall relay-boom --path low-way-in",),
        ((r"SWEEP", 6), (r"  nearest", 4), (r"  What is left", 4), (r"COUNTS", 3)),
    ),
    "ledger": Session(
        ("reach ledger my-site --at 'left bolt'",),
        ((r"LEDGER", 2), (r"PEOPLE", 3), (r"ITEMS", 6), (r"SAFETY LINES", 4), (r"TOOLS", 3)),
    ),
    "batch": Session(
        ("reach batch my-site --vary sizes --only reach,torque --jobs 1 -o out",),
        ((r"Batch", 1), (r"FAILS", 1), (r"TASKS", 6), (r"COUNTS", 3)),
    ),
    "explain": Session(("reach explain torque",)),
    "schema": Session(("reach schema runs",), ((r"\{", 12), (r'        "scene"', 5))),
    "warm-up": Session(("reach warm-up",)),
}
"""Command -> its session, in the order in which they are run: one folder serves them all."""

LONG: dict[str, str] = {
    "report": "It writes files, two minutes for the demo; the README lists them.",
    "view": "It serves a page until it is stopped; the README shows it.",
}
"""Command -> why it has no session here: it runs too long, and where else it is tested."""


def run_all() -> dict[str, str]:
    """Return command -> its session as shown, all run in one fresh folder."""
    runner = CliRunner(env={"COLUMNS": WIDTH, "NO_COLOR": "1"})
    with TemporaryDirectory() as folder, chdir(folder):
        return {name: "\n".join(_run(runner, session)) for name, session in SESSIONS.items()}


def _run(runner: CliRunner, session: Session) -> Iterator[str]:
    for typed in session.typed:
        yield "\n".join(_folded(f"$ {typed}"))
        if not typed.startswith("reach "):
            done = subprocess.run(typed, shell=True, check=True, capture_output=True, text=True)
            assert not done.stdout, typed
            continue
        result = runner.invoke(app, shlex.split(typed)[1:])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        if result.exit_code == 2:
            raise ValueError(f"{typed}: {result.stderr}")
        yield from cut(steady(result.stdout).strip("\n").splitlines(), session.keep)


def _folded(line: str) -> Iterator[str]:
    """Yield a long command in several lines, as a shell takes them."""
    words, now = re.findall(r"'[^']*'|\S+", line), ""
    for word in words:
        if now and len(now) + len(word) > int(WIDTH) - 4:
            yield f"{now} \\"
            now = "     "
        now = f"{now} {word}" if now else word
    yield now


def steady(text: str) -> str:
    """Return output without what differs from run to run: hashes, seconds.

    Examples
    --------
    >>> steady("found in 1.9 s. (hash 6bba9102db09)")
    'found in … s. (hash …)'
    """
    text = re.sub(r"(\(|hash\s+)[0-9a-f]{12}\b", r"\1…", text)
    return re.sub(r"found in [0-9.]+ s", "found in … s", text)


def cut(lines: list[str], keep: tuple[tuple[str, int], ...]) -> list[str]:
    """Return the lines that are kept, with a line ``…`` for those between.

    Raises
    ------
    ValueError
        If a pattern matches no line after those before.
    """
    if not keep:
        return lines
    shown: list[str] = []
    at = 0
    for pattern, number in keep:
        found = next((i for i in range(at, len(lines)) if re.match(pattern, lines[i])), None)
        if found is None:
            raise ValueError(f"no line begins with {pattern!r} after line {at}")
        shown += _between(lines[at:found])
        shown += lines[found : found + number]
        at = found + number
    return [*shown, *_between(lines[at:])]


def _between(left_out: list[str]) -> list[str]:
    """Return what stands for lines that are left out: nothing of them if they are empty."""
    return ["…"] if any(line.strip() for line in left_out) else left_out
