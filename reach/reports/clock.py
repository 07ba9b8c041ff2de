"""A procedure on the clock as text and CSV: timetable, what fails, the way home, what to cut."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Literal

from rich.padding import Padding
from rich.table import Table

from reach.cautions import cautions
from reach.finding import Verdict
from reach.reports.route import sourced
from reach.reports.table import heading, paragraph, printed
from reach.reports.verdicts import badge

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.clock import Span
    from reach.timetables import Homeward, Timed

CRITICAL = "sets the end"
COLUMNS = (
    "step", "lanes", "begin", "end", "least", "likely", "most", "earliest", "latest", "slack",
    "critical", "after", "optional",
)  # fmt: skip
"""Columns of the CSV: minutes since the start; begin and end as written."""


def render_clock(timed: Timed, width: int = 100, colour: bool = False, units: str = "si") -> str:
    """Return the timetable as text that stands alone.

    Parameters
    ----------
    timed : Timed
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    """
    return printed(_parts(timed, units), width, colour)


def clock_csv(timed: Timed) -> str:
    """Return one row a step under `COLUMNS`."""
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    table.writeheader()
    for row in _rows(timed):
        table.writerow(row)
    return text.getvalue()


def _rows(timed: Timed) -> Iterator[dict[str, Any]]:
    for task in timed.outing.tasks:
        step, when = timed.outing.step(task.name), timed.table.times[task.name]
        span, spread = timed.outing.spans[task.name], task.spread
        yield {
            "step": task.name,
            "lanes": " ".join(task.lanes),
            "begin": _minutes(span.begin),
            "end": _minutes(span.end),
            "least": _minutes(spread.low),
            "likely": _minutes(spread.likely),
            "most": _minutes(spread.high),
            "earliest": _minutes(when.start),
            "latest": _minutes(when.latest_start),
            "slack": _minutes(when.slack),
            "critical": "yes" if task.name in timed.table.critical else "no",
            "after": " | ".join(task.after),
            "optional": "" if step.optional is None else step.optional,
        }


def _minutes(seconds: float) -> float:
    return round(seconds / 60.0, 4) + 0.0


def hours_text(seconds: float) -> str:
    """Return a moment as hours and minutes, rounded to the minute.

    Examples
    --------
    >>> hours_text(4440.0), hours_text(4469.0), hours_text(-60.0)
    ('01:14', '01:14', '-00:01')
    """
    minutes = abs(round(seconds / 60.0))
    return f"{'-' if seconds <= -30.0 else ''}{minutes // 60:02d}:{minutes % 60:02d}"


# ---- text ------------------------------------------------------------------------------


def _parts(timed: Timed, units: str) -> Iterator[RenderableType]:
    outcome = timed.outcome
    yield heading("ON THE CLOCK", f"{outcome.title}: {outcome.procedure or 'procedure'}")
    yield from _ends(timed, units)
    yield heading("TIMETABLE", "as written; slack by lanes and 'after', written starts not before")
    yield _table(timed)
    yield from _late(timed)
    if timed.findings:
        yield heading("WHAT THE CLOCK SAYS", "worst first")
        yield from _findings(timed)
    if timed.outing.workers:
        yield heading("THE WAY HOME", "latest start by oneself, lock included")
        for one in timed.homeward:
            yield paragraph(_home_words(one), 2, f"{one.worker}: ")
    yield heading("CUT ORDER", "steps closed up in their written order, windows kept")
    yield from _cuts(timed)
    for warning in outcome.warnings:
        yield paragraph(f"Warning: {warning}.", 2)
    yield heading("CAUTIONS")
    for number, text in enumerate(cautions(outcome.inputs), 1):
        yield paragraph(text, 2, f"{number:>2}. ")


def _ends(timed: Timed, units: str) -> Iterator[RenderableType]:
    end = timed.outing.end
    left = timed.limit.value - end
    words = f"{left / 60.0:.0f} min before" if left >= 0.0 else f"{-left / 60.0:.0f} min after"
    yield paragraph(f"It ends at {hours_text(end)} as written, {words} the limit.", 2)
    if abs(timed.table.end - end) > 0.5:
        yield paragraph(
            f"Written starts cannot all be kept: by what goes before it ends at "
            f"{hours_text(timed.table.end)}.", 2,
        )  # fmt: skip
    if timed.chance:
        yield paragraph(f"Durations as they may be, it is over by the limit {timed.chance}.", 2)
    yield paragraph(f"The limit: {sourced(timed.limit, units)}", 2)


def _table(timed: Timed) -> RenderableType:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    for name in ("begin", "end", "min", "slack", "lanes", "step", ""):
        justify: Literal["left", "right"] = "right" if name in ("min", "slack") else "left"
        table.add_column(name, justify=justify, no_wrap=name != "step", overflow="fold")
    for task in timed.outing.tasks:
        span, when = timed.outing.spans[task.name], timed.table.times[task.name]
        table.add_row(
            hours_text(span.begin),
            hours_text(span.end),
            _took(task.spread.low, task.spread.likely, task.spread.high),
            f"{when.slack / 60.0:.0f}",
            "+".join(task.lanes),
            task.name,
            CRITICAL if task.name in timed.table.critical else "",
        )
    return Padding(table, (0, 0, 0, 2), expand=False)


def _took(low: float, likely: float, high: float) -> str:
    took = f"{likely / 60.0:.3g}"
    return took if low == high else f"{took} ({low / 60.0:.3g} to {high / 60.0:.3g})"


def _late(timed: Timed) -> Iterator[RenderableType]:
    for late in timed.table.late:
        yield paragraph(
            f"'{late.task}' is written for {hours_text(late.written)} and can begin at "
            f"{hours_text(late.earliest)} at the earliest.", 2,
        )  # fmt: skip
    together = timed.table.idle(timed.outing.workers) if timed.outing.workers else ()
    if together:
        yield paragraph(f"All workers wait {_spans(together)}.", 2)


def _spans(some: tuple[Span, ...]) -> str:
    return ", ".join(f"{hours_text(one.begin)} to {hours_text(one.end)}" for one in some)


def _findings(timed: Timed) -> Iterator[RenderableType]:
    order = list(Verdict)
    for one in sorted(timed.findings, key=lambda finding: order.index(finding.verdict)):
        bad = one.verdict is Verdict.FAIL
        label = f"{badge(one.verdict)}  {one.check}: "
        yield paragraph(one.because, 2, label, "bold" if bad else "")
        if one.fix:
            yield paragraph(one.fix, 6, "Fix: ")


def _home_words(one: Homeward) -> str:
    lost = f" No rails lead home from {', '.join(one.lost)}; not counted." if one.lost else ""
    told = one.bingo
    if not one.returns:
        return f"no way home is known.{lost}"
    if told.latest is None or told.from_ is None:
        return f"no start home ends in time.{lost}"
    took = f"{told.from_.takes / 60.0:.1f} min from {told.from_.place}"
    words = f"{hours_text(told.latest)} at the latest, {took}."
    tight = one.tightest
    if tight is not None:
        words += (
            f" Tightest at {tight.place}: left at {hours_text(tight.left)}, "
            f"to be left by {hours_text(tight.by)}."
        )
    return words + lost


def _cuts(timed: Timed) -> Iterator[RenderableType]:
    told = timed.cuts
    options = [step.name for step in timed.outing.steps if step.optional is not None]
    yield paragraph(f"Closed up, with nothing cut, it ends at {hours_text(told.end)}.", 2)
    for cut in told.cuts:
        steps = ", ".join(cut.option.tasks)
        yield paragraph(
            f"cut {steps} (priority {cut.option.priority:g}): it ends at {hours_text(cut.end)}, "
            f"{cut.saved / 60.0:.0f} min sooner.", 2,
        )  # fmt: skip
    if told.margin < 0.0:
        yield paragraph(
            f"That is still {-told.margin / 60.0:.0f} min after the limit.", 2, style="bold"
        )
    elif not told.cuts:
        yield paragraph("Nothing needs to be cut.", 2)
    if not options:
        yield paragraph("No step says that it is optional.", 2)
