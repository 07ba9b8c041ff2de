"""Question. Does anything take longer than it may, such as the time that something is unpowered?

Margin. Seconds between the limit and the time from the end of one step to the end of another, or
to the end of the outing where the other never comes.

Limit. Each clock's own, in the procedure. Exact. Where steps say how long they take at least and
at most, the probability is told as well; it does not decide.

Blind spots. What it does to warm up or cool down is in the limit, not reckoned here.
"""

from __future__ import annotations

from typing import Any

from reach.checks.ruling import clock_text, finding_in, minutes_text, unasked
from reach.clock import Gap, Moment
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
    return [_finding(outing, name, one) for name, one in outing.procedure.clocks.items()]


def _finding(outing: Outing, name: str, clock: Clock) -> Finding:
    said = clock.title or name
    subject = said[:1].upper() + said[1:]
    start = step_of(outing, clock.start)
    if start is None:
        last = outing.steps[-1].name
        return unasked(NAME, last, (name,), f"Nothing starts the clock '{said}'.", "s")
    begin = outing.spans[start.name].end
    stop = step_of(outing, clock.stop, begin)
    end = outing.end if stop is None else outing.spans[stop.name].end
    gap = Gap(Moment(begin, start.name), Moment(end, stop.name if stop else "the end of all"))
    margin = settled(gap.margin(clock.limit))
    if stop is None and margin >= 0.0:
        because = f"Nothing stops the clock '{said}' within its limit and this outing."
        return unasked(NAME, start.name, (name,), because, "s")
    until = f"step '{stop.name}'" if stop else "the outing, and nothing stops it before that"
    because = (
        f"{subject}: {minutes_text(gap.length)} from the end of step '{start.name}' "
        f"({clock_text(begin)}) to that of {until} ({clock_text(end)}); the most is "
        f"{minutes_text(clock.limit)}"
    )
    numbers: dict[str, Any] = {"elapsed": gap.length, "limit": clock.limit}
    draws = draws_of(outing)
    if draws is not None and stop is not None:
        took = draws.at(stop.name) - draws.at(start.name)
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
    """Return the first step of some name, or that turns a fastener of that name, by then."""
    for step in outing.steps:
        turned = any(isinstance(a, Drive) and a.fastener == name for a in step.actions)
        if (step.name == name or turned) and outing.spans[step.name].end > since + SAME:
            return step
    return None


def _fix(outing: Outing, clock: Clock, start: Step, stop: Step | None, late: float) -> str:
    later = clock_text(outing.spans[start.name].begin + late)
    ways = [f"Begin step '{start.name}' at {later} at the earliest"]
    if stop is not None:
        by = clock_text(outing.spans[stop.name].end - late)
        ways.append(f"end step '{stop.name}' by {by}")
    else:
        ways.append(f"do {clock.stop} by {clock_text(outing.end - late)}")
    return f"{', or '.join(ways)}: {minutes_text(late)} are to be saved."
