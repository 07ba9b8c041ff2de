"""Question. Are each worker's gloves and suit looked at often enough while they are outside?

Margin. Seconds between the limit and the longest time from coming out to the first check, from
one check to the next, and from the last check until the worker is in. A check is made at the end
of its step.

Limit. ``glove_check``. Exact.

Blind spots. Times are taken as written. That a check is made well, and what is found, is not
looked at.
"""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Gap, Moment, gaps
from reach.clock.tasks import SAME
from reach.finding import Finding, Limit
from reach.ledger import Outing
from reach.site import Site
from reach.timing import glove_moments, out_of, settled

NAME = "glove-check"
IDS = ("T2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return for each worker a finding for every gap that is too long, else one for the longest."""
    if not outing.is_declared:
        return []
    return [found for worker in outing.workers for found in _about(site, outing, worker)]


def _about(site: Site, outing: Outing, worker: str) -> Iterator[Finding]:
    out = out_of(outing, worker)
    if out is None:
        return
    limit = site.limit("glove_check")
    checks = glove_moments(outing, worker)
    begin, end = Moment(out.begin, out.first), Moment(out.end, out.last)
    told = gaps([one for one in checks if out.begin < one.time < out.end], begin, end)
    too_long = [gap for gap in told if settled(gap.margin(limit.value)) < 0.0]
    for gap in too_long or [max(told, key=lambda gap: gap.length)]:
        yield _finding(outing, worker, gap, limit, (begin, end))


def _finding(
    outing: Outing, worker: str, gap: Gap, limit: Limit, ends: tuple[Moment, Moment]
) -> Finding:
    margin = settled(gap.margin(limit.value))
    since = "coming out in" if gap.first is ends[0] else "the check at the end of"
    until = "going in with" if gap.second is ends[1] else "that at the end of"
    because = (
        f"The gloves of {worker} are not looked at for {minutes_text(gap.length)}, from {since} "
        f"step '{gap.first.name}' ({clock_text(gap.first.time)}) to {until} step "
        f"'{gap.second.name}' ({clock_text(gap.second.time)}); the most is "
        f"{minutes_text(limit.value)}."
    )
    return finding_in(
        NAME, gap.second.name, (worker,), because, margin, "s", limits=(limit,),
        fix=_fix(outing, worker, gap, limit.value) if margin < 0.0 else "",
        gap=gap.length, since=gap.first.time, until=gap.second.time,
        missing=gap.missing(limit.value) if limit.value > 0.0 else None,
    )  # fmt: skip


def _fix(outing: Outing, worker: str, gap: Gap, limit: float) -> str:
    """Name the latest moments of the checks that are missing, and ends of steps that do."""
    if not limit > 0.0:
        return "Give glove_check a limit above zero."
    said: list[str] = []
    since = gap.first.time
    for _ in range(gap.missing(limit)):
        latest = since + limit
        ends = [
            (outing.spans[step.name].end, step.name)
            for step in outing.steps
            if worker in (step.lane, *step.others)
            and since + SAME < outing.spans[step.name].end <= latest + SAME
        ]
        end, name = max(ends, default=(latest, ""))
        # A check at an earlier end must not ask for one more later on.
        fits = name and gap.second.time - end <= (gap.missing(limit) - len(said)) * limit + SAME
        if fits and end < latest - SAME:
            said.append(f"{clock_text(end)} (end of '{name}'), {clock_text(latest)} at the latest")
        else:
            said.append(clock_text(latest))
        since = end if fits else latest
    return f"Glove check of {worker} at {'; at '.join(said)}."
