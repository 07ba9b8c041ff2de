"""When tasks are at the earliest and at the latest, what slack they have, and what sets the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from reach.clock.lanes import Clash, Wait, as_written, clashes, idle, waits
from reach.clock.network import Network, earliest, network
from reach.clock.tasks import SAME, At, Span, Task

MOST_PATHS = 100
"""Critical paths that are listed; there can be very many that share most of their tasks."""


@dataclass(frozen=True)
class Times:
    """When one task is.

    Attributes
    ----------
    name : str
    start, end : float, s
        At the earliest.
    latest_start : float, s
        Begun at this moment it moves neither the end of all nor a fixed start.
    latest_end : float, s
        Ended at this moment it moves neither.  More than `latest_start` and the duration
        where a task that begins with it may wait less.
    slack : float, s
        Total slack: how much later it may begin so.  >= 0.
    free_slack : float, s
        How much later it may begin so that no task begins later except those that begin
        with it.  0 <= free slack <= slack.
    held_by : tuple of str
        Tasks at whose end it begins; empty where its written start, or nothing, holds it.
    """

    name: str
    start: float
    end: float
    latest_start: float
    latest_end: float
    slack: float
    free_slack: float
    held_by: tuple[str, ...]


@dataclass(frozen=True)
class Late:
    """A written start that cannot be kept.

    Attributes
    ----------
    task : str
    written, earliest : float, s
    fixed : bool
    """

    task: str
    written: float
    earliest: float
    fixed: bool

    @property
    def by(self) -> float:
        """How much later than written it begins at the earliest, s."""
        return self.earliest - self.written


@dataclass(frozen=True)
class Timetable:
    """A procedure on the clock.

    Attributes
    ----------
    tasks : tuple of Task
    times : dict of str to Times
        In the order of the tasks.
    end : float, s
        When the last task ends, at the earliest.
    critical : tuple of str
        Tasks without slack.
    paths : tuple of tuple of str
        Chains of tasks that set the end, each from its first task on; at most `MOST_PATHS`.
        Where a task begins with another that is held up, the chain goes from what holds
        them up straight to it.
    more_paths : bool
        There are more.
    late : tuple of Late
        Written starts that cannot be kept, by all that goes before.
    written : dict of str to Span, s
        When tasks are if written starts are taken at their word.
    clashes : tuple of Clash
        What runs into each other in `written`.
    waits : tuple of Wait
        Stretches in which lanes wait between two tasks, at the earliest times.
    """

    tasks: tuple[Task, ...]
    times: dict[str, Times]
    end: float
    critical: tuple[str, ...]
    paths: tuple[tuple[str, ...], ...]
    more_paths: bool
    late: tuple[Late, ...]
    written: dict[str, Span]
    clashes: tuple[Clash, ...]
    waits: tuple[Wait, ...]

    @property
    def spans(self) -> dict[str, Span]:
        """When tasks are at the earliest, s."""
        return {name: Span(one.start, one.end) for name, one in self.times.items()}

    @property
    def overlaps(self) -> tuple[Clash, ...]:
        """Written starts before the end of an earlier task of the same lane."""
        return tuple(clash for clash in self.clashes if clash.kind == "lane")

    def idle(self, lanes: Sequence[str] | None = None) -> tuple[Span, ...]:
        """Return stretches in which none of some lanes (or of all) works, s."""
        return idle(self.tasks, self.spans, lanes)


def timetable(tasks: Sequence[Task], at: At = "likely") -> Timetable:
    """Return when tasks are, what slack they have and what sets the end.

    Parameters
    ----------
    tasks : sequence of Task
        At least one.
    at : {'low', 'likely', 'high'}
        Which durations to take.  The end lies between those of 'low' and 'high' for sure.

    Raises
    ------
    ValueError
        If there is no task, names are wrong or tasks wait for each other (`network`).

    Examples
    --------
    >>> plan = timetable([Task("out", "W1", 480.0), Task("out too", "W2", 360.0, after=("out",))])
    >>> plan.end, plan.paths
    (840.0, (('out', 'out too'),))
    """
    if not tasks:
        raise ValueError("there is no task")
    net = network(tasks)
    durations = [getattr(task.spread, at) for task in tasks]
    starts = earliest(net, durations)
    ends = [start + took for start, took in zip(starts, durations, strict=True)]
    times = _times(net, durations, starts, ends)
    written = as_written(tasks, at)
    paths = tuple(islice(_paths(net, starts, ends), MOST_PATHS + 1))
    return Timetable(
        tasks=tuple(tasks),
        times=times,
        end=max(ends),
        critical=tuple(name for name, one in times.items() if one.slack <= SAME),
        paths=paths[:MOST_PATHS],
        more_paths=len(paths) > MOST_PATHS,
        late=tuple(_late(tasks, starts)),
        written=written,
        clashes=clashes(tasks, written),
        waits=waits(tasks, {name: Span(one.start, one.end) for name, one in times.items()}),
    )


def end_of(tasks: Sequence[Task]) -> float:
    """Return when the last task ends by likely durations, s; 0 where there is none."""
    net = network(tasks)
    durations = [task.spread.likely for task in tasks]
    starts = earliest(net, durations)
    return max((s + d for s, d in zip(starts, durations, strict=True)), default=0.0)


def _times(
    net: Network, durations: Sequence[float], starts: Sequence[float], ends: Sequence[float]
) -> dict[str, Times]:
    latest_starts, latest_ends = _latest(net, durations, starts, max(ends))
    slacks = [max(late - s, 0.0) for late, s in zip(latest_starts, starts, strict=True)]
    found = {}
    for i, task in enumerate(net.tasks):
        together = net.members[net.knot[i]]
        room = [starts[k] - ends[j] for j in together for k in net.behind[j]]
        found[task.name] = Times(
            name=task.name,
            start=starts[i],
            end=ends[i],
            latest_start=starts[i] + slacks[i],
            latest_end=latest_ends[i],
            slack=slacks[i],
            free_slack=max(min([slacks[i], *room]), 0.0),
            held_by=tuple(net.tasks[j].name for j in _holders(net, starts, ends, net.knot[i])),
        )
    return found


def _latest(
    net: Network, durations: Sequence[float], starts: Sequence[float], end: float
) -> tuple[list[float], list[float]]:
    latest_starts, latest_ends = [end] * len(net.tasks), [end] * len(net.tasks)
    for one in reversed(net.order):
        for i in net.members[one]:
            latest_ends[i] = min([end, *(latest_starts[k] for k in net.behind[i])])
        last = min(latest_ends[i] - durations[i] for i in net.members[one])
        if any(net.tasks[i].fixed for i in net.members[one]):  # one that is late stays as it is
            last = min(last, starts[net.members[one][0]])
        for i in net.members[one]:
            latest_starts[i] = last
    return latest_starts, latest_ends


def _holders(
    net: Network, starts: Sequence[float], ends: Sequence[float], one: int
) -> tuple[int, ...]:
    """Return the tasks at whose end a knot begins."""
    waited = sorted({j for i in net.members[one] for j in net.before[i]})
    begin = starts[net.members[one][0]]
    return tuple(j for j in waited if begin - ends[j] <= SAME)


def _paths(
    net: Network, starts: Sequence[float], ends: Sequence[float]
) -> Iterator[tuple[str, ...]]:
    """Go back from the last ends, in depth, without recursion: paths can be long."""
    last = max(ends)
    stack: list[tuple[int, ...]] = [
        (i,) for i in reversed(range(len(ends))) if last - ends[i] <= SAME
    ]
    while stack:
        path = stack.pop()
        holders = _holders(net, starts, ends, net.knot[path[0]])
        if not holders:
            yield tuple(net.tasks[i].name for i in path)
        stack += [(j, *path) for j in reversed(holders)]


def _late(tasks: Sequence[Task], starts: Sequence[float]) -> Iterator[Late]:
    for task, start in zip(tasks, starts, strict=True):
        if task.start is not None and start - task.start > SAME:
            yield Late(task.name, task.start, start, task.fixed)
