"""Question. Does anything take longer than it may, such as the time that something is unpowered?

Margin. Seconds between the limit and the time from the end of one step to the end of another, or
to the end of the outing where the other never comes; each time that it is started anew.  Where
one step starts and stops it, that step counts from its begin.

Limit. Each clock's own, in the procedure. Exact. Where steps say how long they take at least and
at most, the probability is told as well; it does not decide.

Blind spots. What it does to warm up or cool down is in the limit, not reckoned here.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from reach.checks.ruling import clock_text, finding_in, minutes_text, unasked
from reach.clock import Event, Gap, Moment
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Outing
from reach.model.outing import Clock
from reach.model.procedure import Drive, Step
from reach.site import Site
from reach.timing import chance_words, draws_of, settled

NAME = "unpowered"
IDS = ("L4",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each clock of the procedure."""
    if not outing.steps:
        return []
    return [
        found
        for name, clock in outing.procedure.clocks.items()
        for found in _of_clock(outing, name, clock)
    ]


def _of_clock(outing: Outing, name: str, clock: Clock) -> list[Finding]:
    """Return one finding for each time that a clock is started, once it has been stopped."""
    start, found = step_of(outing, clock.start), []
    if start is None:
        last, said = outing.steps[-1].name, clock.title or name
        return [unasked(NAME, last, (name,), f"Nothing starts the clock '{said}'.", "s")]
    while start is not None:
        stop = _stop_of(outing, clock, start)
        found.append(_finding(outing, name, clock, start, stop))
        if stop is None:
            break
        begin = outing.spans[start.name].end
        # What starts and stops in one step may start again right after it.
        since = begin if stop is start else outing.spans[stop.name].end - 2.0 * SAME
        start = step_of(outing, clock.start, max(begin, since))
    return found


def _stop_of(outing: Outing, clock: Clock, start: Step) -> Step | None:
    """Return the step that stops a clock: it may be the very step that starts it."""
    marks = [one.fastener for one in start.actions if isinstance(one, Drive)]
    if clock.start in marks and clock.stop in (*marks[marks.index(clock.start) :], start.name):
        return start
    return step_of(outing, clock.stop, outing.spans[start.name].end)


def _finding(outing: Outing, name: str, clock: Clock, start: Step, stop: Step | None) -> Finding:
    said = clock.title or name
    subject = said[:1].upper() + said[1:]
    begin = outing.spans[start.name].end if stop is not start else outing.spans[start.name].begin
    end = outing.end if stop is None else outing.spans[stop.name].end
    gap = Gap(Moment(begin, start.name), Moment(end, stop.name if stop else "the end of all"))
    margin = settled(gap.margin(clock.limit))
    if stop is None and margin >= 0.0:
        because = f"Nothing stops the clock '{said}' within its limit and this outing."
        return unasked(NAME, start.name, (name,), because, "s")
    since: Literal["begin", "end"] = "begin" if stop is start else "end"
    until = f"step '{stop.name}'" if stop else "the outing, and nothing stops it before that"
    because = (
        f"{subject}: {minutes_text(gap.length)} from the {since} of step '{start.name}' "
        f"({clock_text(begin)}) to that of {until} ({clock_text(end)}); the most is "
        f"{minutes_text(clock.limit)}"
    )
    numbers: dict[str, Any] = {"elapsed": gap.length, "limit": clock.limit}
    draws = draws_of(outing)
    if draws is not None and stop is not None:
        begins, ends = draws.at(Event(start.name, since)), draws.at(stop.name)
        took = np.subtract(ends, begins)
        words, told = chance_words(took <= clock.limit + SAME)
        because += f", which is kept {words}"
        numbers["probability"] = (told.low, told.high)
    about = (start.lane, clock.start, clock.stop)
    where = stop or max(outing.steps, key=lambda step: outing.spans[step.name].end)
    return finding_in(
        NAME, where.name, about, f"{because}.", margin, "s",
        fix=_fix(outing, clock, start, stop, -margin), **numbers,
    )  # fmt: skip


def step_of(outing: Outing, name: str, since: float = -1.0) -> Step | None:
    """Return the step of some name, or that turns a fastener of that name, that ends first by then.

    A step that begins later in another lane may end sooner: it is the end that counts.
    """
    found = [
        step
        for step in outing.steps
        if step.name == name
        or any(isinstance(a, Drive) and a.fastener == name for a in step.actions)
    ]
    ends = {step.name: outing.spans[step.name].end for step in found}
    found = [step for step in found if ends[step.name] > since + SAME]
    return min(found, key=lambda step: ends[step.name], default=None)


def _fix(outing: Outing, clock: Clock, start: Step, stop: Step | None, late: float) -> str:
    later = clock_text(outing.spans[start.name].begin + late)
    ways = [f"Begin step '{start.name}' at {later} at the earliest"]
    if stop is not None:
        by = clock_text(outing.spans[stop.name].end - late)
        ways.append(f"end step '{stop.name}' by {by}")
    else:
        ways.append(f"do {clock.stop} by {clock_text(outing.end - late)}")
    return f"{', or '.join(ways)}: {minutes_text(late)} are to be saved."
