"""The timeline and the windows, as tables."""

from __future__ import annotations

from collections.abc import Iterator

from reach.dossier.basis import Basis
from reach.dossier.cabling import light_words
from reach.dossier.records import Row, Table
from reach.dossier.wording import columns, listed, table
from reach.model.outing import Windows
from reach.timetables import CHECKS_OF_THE_CLOCK, Timed


def timeline(basis: Basis) -> Table:
    """Return each step on the clock: lane, times as written, slack, light, what it waits for."""
    heads = columns(
        ("start", "at"), ("end", "at"), "lanes", "step", ("takes", "s"), ("takes at least", "s"),
        ("takes at most", "s"), ("earliest start", "at"), ("latest start", "at"), ("slack", "s"),
        "sets the end", "waits for", "light", "optional", "verdict of the clock", "verdict",
    )  # fmt: skip
    rows = _rows(basis, basis.timed) if basis.timed else ()
    return table("timeline", "Timeline", _says(basis), heads, rows, "The procedure has no steps.")


def _says(basis: Basis) -> str:
    says = (
        "Starts and ends as written; slack by lanes and by what steps wait for, written starts "
        "taken as 'not before'. The verdict of the clock is that of the checks of time alone."
    )
    timed = basis.timed
    if timed is None:
        return says
    end, limit = timed.outing.end, timed.limit.value
    left = (limit - end) / 60.0
    words = f"{left:.0f} min before" if left >= 0.0 else f"{-left:.0f} min after"
    chance = f" It is over by the limit {timed.chance}." if timed.chance else ""
    return f"{says} It ends {words} the limit of {limit / 60.0:g} min.{chance}"


def _rows(basis: Basis, timed: Timed) -> Iterator[Row]:
    for task in timed.outing.tasks:
        step, when = timed.outing.step(task.name), timed.table.times[task.name]
        span = timed.outing.spans[task.name]
        answers = basis.answers(task.name)
        of_clock = basis.answers(task.name, CHECKS_OF_THE_CLOCK)
        yield Row(
            (
                span.begin,
                span.end,
                listed(task.lanes),
                task.name,
                span.end - span.begin,
                task.spread.low,
                task.spread.high,
                when.start,
                when.latest_start,
                when.slack,
                "yes" if task.name in timed.table.critical else "no",
                listed(task.after, "its lane alone"),
                light_words(basis, span),
                "no" if step.optional is None else f"priority {step.optional:g}",
                basis.verdict(of_clock),
                basis.verdict(answers),
            ),
            answers,
        )


def windows(basis: Basis) -> Table:
    """Return the stretches of time in which something is allowed, and the nights."""
    heads = columns(
        "window", "number", ("begins", "at"), ("ends", "at"), ("kept from both ends", "s"), "dark",
        "needed by",
    )  # fmt: skip
    says = "Windows that the procedure declares: nights, contact, whatever else bounds the work."
    rows = (
        row for name, one in basis.procedure.windows.items() for row in _window(basis, name, one)
    )
    return table("windows", "Windows and nights", says, heads, rows, "No window is declared.")


def _window(basis: Basis, name: str, record: Windows) -> Iterator[Row]:
    needed = [
        fastener for fastener, guard in basis.procedure.guards.items() if guard.window == name
    ]
    answers = basis.answers(checks=("window",), names=(name,))
    for number, (begin, end) in enumerate(record.spans, 1):
        dark = "yes" if record.dark else "not declared"
        cells = (name, number, begin, end, record.margin, dark, listed(needed, "nothing"))
        yield Row(cells, answers)
