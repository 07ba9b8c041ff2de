"""Steps of one person that are written for the same time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from reach.files.problem import Problem
from reach.files.records import Report
from reach.files.references import circle_from
from reach.model.procedure import Step, written_order
from reach.units import text_of

ROUNDING = 1e-6
"""Steps that overlap by no more than this (s) follow one another."""


def lane_circles(steps: Sequence[tuple[Step, Report]]) -> list[Problem]:
    """Return a step that waits for one that its own lane, or one of its lanes, does later."""
    report = {step.name: one for step, one in steps}
    waits: dict[str, list[str]] = {step.name: list(step.after) for step, _ in steps}
    last: dict[str, str] = {}
    for step in written_order([step for step, _ in steps]):
        for lane in (step.lane, *step.others):
            if lane in last:
                waits[step.name].append(last[lane])
            last[lane] = step.name
    for step, _ in steps:
        circle = circle_from(step.name, waits) if step.after else []
        if circle and not circle_from(step.name, {one.name: one.after for one, _ in steps}):
            path = " after ".join([*circle, circle[0]])
            words = f"steps wait for each other, as lanes do theirs by their starts: {path}"
            return [report[step.name](("after",), words)]
    return []


def overlap_problems(
    steps: Sequence[tuple[Step, Report]], lanes: Mapping[str, str]
) -> list[Problem]:
    """Return every pair of steps that have one person at one time, by how much they overlap.

    Only steps with start and duration are looked at: where others lie is not known yet.
    A step is in its own lane and in those that it is done ``with``.  A crane that is asked to be
    in two places is not a slip of the pen but a plan that fails: no problem of the file.

    Parameters
    ----------
    steps : sequence of (Step, report)
        In the order in which they are written; the later of two is told.
    lanes : mapping of lane -> kind
    """
    problems = []
    for (first, _), (second, report) in combinations(steps, 2):
        shared = [lane for lane in _lanes(second) if lane in _lanes(first)]
        shared = [lane for lane in shared if lanes.get(lane) != "crane"]
        overlap = overlap_of(first, second) if shared else 0.0
        if overlap > ROUNDING:
            where = f"lane{'s' if len(shared) > 1 else ''} {', '.join(shared)}"
            message = f"overlaps {first.name!r} by {_time(overlap)} in {where}"
            problems.append(report(("start",), message))
    return problems


def overlap_of(first: Step, second: Step) -> float:
    """Return for how long (s) two steps are at once; 0 where a start or duration is not written.

    Examples
    --------
    >>> one = Step(name="a", lane="W1", start="00:10", duration="6 min")
    >>> overlap_of(one, Step(name="b", lane="W1", start="00:14", duration="6 min"))
    120.0
    """
    if first.start is None or first.duration is None:
        return 0.0
    if second.start is None or second.duration is None:
        return 0.0
    end = min(first.start + first.duration, second.start + second.duration)
    return max(0.0, end - max(first.start, second.start))


def _lanes(step: Step) -> list[str]:
    return list(dict.fromkeys((step.lane, *step.others)))


def _time(seconds: float) -> str:
    return f"{seconds / 60.0:g} min" if seconds >= 60.0 else text_of(seconds, "s")
