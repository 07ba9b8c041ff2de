"""Lanes on the clock: what runs into each other, who waits, and when nobody works."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from reach.clock.network import network
from reach.clock.tasks import SAME, At, Span, Task


@dataclass(frozen=True)
class Clash:
    """Two tasks whose times go against what binds them.

    Attributes
    ----------
    kind : {'lane', 'after', 'with'}
        One lane is asked to do both at once; the second waits for the first and begins
        before it ends; or they are to begin together and do not.
    first, second : str
        In the order in which they are to be done; of two that are to begin together the
        second is the one that begins too early.
    by : float, s
        How much later the second must begin, > 0.
    lane : str or None
        The lane, for kind 'lane'.
    """

    kind: Literal["lane", "after", "with"]
    first: str
    second: str
    by: float
    lane: str | None = None


@dataclass(frozen=True)
class Wait:
    """A stretch in which a lane has nothing to do between two of its tasks.

    Attributes
    ----------
    lane, last, next_ : str
        Lane, the task it has done and the one it waits for.
    span : Span, s
    """

    lane: str
    last: str
    next_: str
    span: Span


def lanes_of(tasks: Sequence[Task]) -> dict[str, tuple[Task, ...]]:
    """Return the tasks of every lane in the order in which they are written."""
    lanes: dict[str, list[Task]] = {}
    for task in tasks:
        for lane in task.lanes:
            lanes.setdefault(lane, []).append(task)
    return {lane: tuple(held) for lane, held in lanes.items()}


def as_written(tasks: Sequence[Task], at: At = "likely") -> dict[str, Span]:
    """Return when each task is if written starts are taken at their word, s.

    A task without a written start begins with those it begins with, if they have one,
    else as soon as what it waits for has ended, as written.  Nothing is moved, so tasks may
    run into each other (`clashes`).
    """
    net = network(tasks)
    spans: dict[str, Span] = {}
    for one in net.order:
        group = [net.tasks[i] for i in net.members[one]]
        begin = net.floor[one]
        if all(task.start is None for task in group):
            waits = [net.tasks[j].name for i in net.members[one] for j in net.before[i]]
            begin = max([begin, *(spans[name].end for name in waits)])
        for task in group:
            start = begin if task.start is None else task.start
            spans[task.name] = Span(start, start + getattr(task.spread, at))
    return {task.name: spans[task.name] for task in tasks}


def clashes(tasks: Sequence[Task], spans: Mapping[str, Span]) -> tuple[Clash, ...]:
    """Return all that goes against lanes, `after` and `with_`, as tasks are placed.

    Parameters
    ----------
    tasks : sequence of Task
    spans : mapping of str to Span, s
        When each of them is.

    Returns
    -------
    tuple of Clash
        By lanes first, all pairs of a lane, then by `after`, then by `with_`.
    """
    return (*_in_lanes(tasks, spans), *_by_after(tasks, spans), *_by_with(tasks, spans))


def _in_lanes(tasks: Sequence[Task], spans: Mapping[str, Span]) -> Iterator[Clash]:
    for lane, held in lanes_of(tasks).items():
        for j, second in enumerate(held):
            for first in held[:j]:
                by = spans[first.name].end - spans[second.name].begin
                if by > SAME:
                    yield Clash("lane", first.name, second.name, by, lane)


def _by_after(tasks: Sequence[Task], spans: Mapping[str, Span]) -> Iterator[Clash]:
    for task in tasks:
        for name in task.after:
            by = spans[name].end - spans[task.name].begin
            if by > SAME:
                yield Clash("after", name, task.name, by)


def _by_with(tasks: Sequence[Task], spans: Mapping[str, Span]) -> Iterator[Clash]:
    for task in tasks:
        for name in task.with_:
            by = spans[name].begin - spans[task.name].begin
            if abs(by) > SAME:
                pair = (name, task.name) if by > 0.0 else (task.name, name)
                yield Clash("with", *pair, abs(by))


def waits(tasks: Sequence[Task], spans: Mapping[str, Span]) -> tuple[Wait, ...]:
    """Return the stretches in which lanes wait between two tasks, lane by lane."""
    found = []
    for lane, held in lanes_of(tasks).items():
        ordered = sorted(held, key=lambda task: spans[task.name])
        busy, last = -float("inf"), ""
        for task in ordered:
            span = spans[task.name]
            if last and span.begin - busy > SAME:
                found.append(Wait(lane, last, task.name, Span(busy, span.begin)))
            if span.end >= busy:
                busy, last = span.end, task.name
    return tuple(found)


def idle(
    tasks: Sequence[Task], spans: Mapping[str, Span], lanes: Sequence[str] | None = None
) -> tuple[Span, ...]:
    """Return the stretches in which none of some lanes does anything.

    Parameters
    ----------
    tasks : sequence of Task
    spans : mapping of str to Span, s
    lanes : sequence of str, optional
        All lanes, if not given.

    Returns
    -------
    tuple of Span, s
        Between the first begin and the last end of these lanes.
    """
    wanted = set(lanes_of(tasks) if lanes is None else lanes)
    busy = sorted(spans[task.name] for task in tasks if wanted & set(task.lanes))
    found = []
    until = busy[0].begin if busy else 0.0
    for span in busy:
        if span.begin - until > SAME:
            found.append(Span(until, span.begin))
        until = max(until, span.end)
    return tuple(found)
