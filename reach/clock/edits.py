"""What an edit moves: the tasks whose times are not what they were."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.clock.network import network
from reach.clock.tasks import SAME, At, Span, Task
from reach.clock.timetable import timetable


@dataclass(frozen=True)
class Moved:
    """One task whose times changed.

    Attributes
    ----------
    task : str
    was, is_ : Span, s
        At the earliest, before and after the edit.
    """

    task: str
    was: Span
    is_: Span


@dataclass(frozen=True)
class Edit:
    """What is different between two versions of a procedure.

    Attributes
    ----------
    edited : tuple of str
        Tasks whose own record differs, and those that wait for others than they did.
    moved : tuple of Moved
        Tasks of both versions that begin or end at another time.
    added, removed : tuple of str
    slack : tuple of str
        Tasks of both versions whose slack differs, moved or not.
    end : tuple of float, s
        The end of all before and after.
    """

    edited: tuple[str, ...]
    moved: tuple[Moved, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    slack: tuple[str, ...]
    end: tuple[float, float]

    @property
    def touched(self) -> tuple[str, ...]:
        """All that is to be checked again for its time or its own record, each once."""
        moved = (one.task for one in self.moved)
        return tuple(dict.fromkeys((*self.edited, *moved, *self.added)))


def edit(before: Sequence[Task], after: Sequence[Task], at: At = "likely") -> Edit:
    """Return which tasks' times change from one version to another.

    Tasks are the same by name.

    Parameters
    ----------
    before, after : sequence of Task
    at : {'low', 'likely', 'high'}
        Which durations to take.

    Raises
    ------
    ValueError
        As `timetable`.
    """
    was, now = timetable(before, at), timetable(after, at)
    both = [name for name in now.times if name in was.times]
    records = {task.name: task for task in before}
    waits_were, waits_are = _waits(before), _waits(after)
    spans_were, spans_are = was.spans, now.spans
    return Edit(
        edited=tuple(
            task.name
            for task in after
            if task.name in records
            and (task != records[task.name] or waits_were[task.name] != waits_are[task.name])
        ),
        moved=tuple(
            Moved(name, spans_were[name], spans_are[name])
            for name in both
            if _differ(spans_were[name], spans_are[name])
        ),
        added=tuple(name for name in now.times if name not in was.times),
        removed=tuple(name for name in was.times if name not in now.times),
        slack=tuple(
            name for name in both if abs(was.times[name].slack - now.times[name].slack) > SAME
        ),
        end=(was.end, now.end),
    )


def _waits(tasks: Sequence[Task]) -> dict[str, frozenset[str]]:
    """Return what each task waits for and begins with, by name."""
    net = network(tasks)
    return {
        task.name: frozenset(
            [*(tasks[j].name for j in net.before[i])]
            + [f"with {tasks[j].name}" for j in net.members[net.knot[i]]]
        )
        for i, task in enumerate(tasks)
    }


def _differ(a: Span, b: Span) -> bool:
    return abs(a.begin - b.begin) > SAME or abs(a.end - b.end) > SAME
