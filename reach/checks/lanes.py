"""Question. Is anyone asked to do two steps at once, or to begin before what they wait for ends?

Margin. Seconds by which the steps of a lane are apart at least, as written: below zero two are at
once, or one begins before a step that it waits for is over. That all workers wait at once is a
note: it is told, and does not decide.

Limit. None; waits of all workers that are longer than ``idle_time`` are told. Exact.

Blind spots. Cranes are left to the check on devices. Short steps of many actions can be too full
all the same.
"""

from __future__ import annotations

from itertools import pairwise

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Clash, Span, Wait, clashes, idle, waits
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Outing
from reach.site import Site

NAME = "lanes"
IDS = ("T4",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return a finding for every clash, else one for each worker with their waits."""
    if not outing.is_declared:
        return []
    cranes = [lane for lane, kind in outing.procedure.lanes.items() if kind == "crane"]
    told = [
        one
        for one in clashes(outing.tasks, outing.spans)
        if one.kind in ("lane", "after") and one.lane not in cranes
    ]
    found = [_clash(outing, one) for one in told]
    busy = {one.lane for one in told if one.kind == "lane"}
    free = [worker for worker in outing.workers if worker not in busy]
    return found + [_apart(site, outing, worker) for worker in free if _steps(outing, worker)]


def _steps(outing: Outing, lane: str) -> list[str]:
    return [step.name for step in outing.steps if lane in (step.lane, *step.others)]


def _clash(outing: Outing, one: Clash) -> Finding:
    second = outing.step(one.second)
    begin, end = outing.spans[one.second].begin, outing.spans[one.first].end
    if one.kind == "lane":
        what = f"{one.lane} is asked to do two steps at once"
    else:
        what = f"step '{one.second}' begins before a step that it waits for is over"
    because = (
        f"{what}: '{one.second}' begins at {clock_text(begin)}, and '{one.first}' ends at "
        f"{clock_text(end)}."
    )
    return finding_in(
        NAME, one.second, (one.lane or second.lane, one.first), because, -one.by, "s",
        fix=f"Begin step '{one.second}' at {clock_text(end)}, {minutes_text(one.by)} later.",
    )  # fmt: skip


def _apart(site: Site, outing: Outing, worker: str) -> Finding:
    mine = sorted(outing.spans[name] for name in _steps(outing, worker))
    apart = [later.begin - span.end for span, later in pairwise(mine)]
    own = [one for one in waits(outing.tasks, outing.spans) if one.lane == worker]
    limit = site.limit("idle_time")
    together = [
        span
        for span in idle(outing.tasks, outing.spans, outing.workers)
        if span.end - span.begin > limit.value + SAME
    ]
    because = f"{worker} is asked for one step at a time; {_waits(own)}"
    if together:
        because += f"; all workers wait {_spans(together)}"
    last = _steps(outing, worker)[-1]
    return finding_in(
        NAME, last, (worker,), f"{because}.", max(min(apart, default=0.0), 0.0), "s",
        limits=(limit,), waits=sum(one.span.end - one.span.begin for one in own),
        together=[tuple(span) for span in together],
    )  # fmt: skip


def _waits(own: list[Wait]) -> str:
    if not own:
        return "no wait between steps"
    total = sum(one.span.end - one.span.begin for one in own)
    longest = max(own, key=lambda one: one.span.end - one.span.begin)
    return (
        f"waits are {minutes_text(total)} in all, the longest "
        f"{minutes_text(longest.span.end - longest.span.begin)} from "
        f"{clock_text(longest.span.begin)} before step '{longest.next_}'"
    )


def _spans(some: list[Span]) -> str:
    said = [f"{minutes_text(one.end - one.begin)} from {clock_text(one.begin)}" for one in some]
    return " and ".join(said)
