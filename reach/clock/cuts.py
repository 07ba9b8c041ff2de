"""The cut order: which optional tasks to leave out so that the end comes in time.

What is saved is found by timing the rest again, not by adding durations: a task
with slack saves nothing.  Leaving a task out never makes the end later, so one
can go from the most important option down and keep what can be kept if
everything less important goes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, groupby
from typing import NamedTuple

from reach.clock.network import network
from reach.clock.tasks import Task
from reach.clock.timetable import end_of

MOST_TRIES = 5_000
"""Timetables tried for options of equal priority before the order of the list decides."""


class Option(NamedTuple):
    """Tasks that can be left out, together.

    Attributes
    ----------
    tasks : tuple of str
    priority : float
        The higher, the longer they are kept.
    """

    tasks: tuple[str, ...]
    priority: float


@dataclass(frozen=True)
class Cut:
    """One option that is cut.

    Attributes
    ----------
    option : Option
    end : float, s
        When all ends with this one and those before it cut.
    saved : float, s
        How much earlier that is than without this cut.
    """

    option: Option
    end: float
    saved: float


@dataclass(frozen=True)
class CutOrder:
    """What to cut, least important first.

    Attributes
    ----------
    end : float, s
        When all ends with nothing cut.
    cuts : tuple of Cut
        Empty where the end is in time; every option where nothing helps.
    margin : float, s
        What the end with these cuts is before the limit; >= 0 is good.
    smallest : bool
        Of each priority, from the highest, as few options are cut as can be, for sure.
        False where there were too many of one priority to try all.
    """

    end: float
    cuts: tuple[Cut, ...]
    margin: float
    smallest: bool


def without(tasks: Sequence[Task], cut: Collection[str]) -> tuple[Task, ...]:
    """Return the tasks without some of them.

    What was to come `after` one that is cut comes after what that one was to come after;
    lanes close up; what began with it is let go.

    Raises
    ------
    ValueError
        If no task has one of the names.
    """
    after = {task.name: task.after for task in tasks}
    unknown = sorted(set(cut) - set(after))
    if unknown:
        raise ValueError(f"there is no task {', '.join(map(repr, unknown))}")
    return tuple(
        replace(
            task,
            after=_kept(task.after, after, cut),
            with_=tuple(name for name in task.with_ if name not in cut),
        )
        for task in tasks
        if task.name not in cut
    )


def _kept(
    names: Sequence[str], after: Mapping[str, Sequence[str]], cut: Collection[str]
) -> tuple[str, ...]:
    """Return names, each that is cut replaced by those it comes after, and so on."""
    found: list[str] = []
    seen: set[str] = set()
    stack = list(reversed(names))
    while stack:
        name = stack.pop()
        if name in seen:
            continue
        seen.add(name)
        if name in cut:
            stack += reversed(after[name])
        else:
            found.append(name)
    return tuple(found)


def cut_order(tasks: Sequence[Task], options: Sequence[Option], limit: float) -> CutOrder:
    """Return which optional tasks to cut, in order, so that all ends by a limit.

    Of the most important options as few as possible are cut, then of the next, and so on
    down; of several such choices the one that ends earliest.  With a priority of its own
    for each option no choice is left.  Likely durations count.  Written starts count too:
    pass `unwritten` tasks if the rest is to move up.

    Parameters
    ----------
    tasks : sequence of Task
    options : sequence of Option
        Tasks in none of them stay.  Among equals the first is kept longest.
    limit : float, s

    Raises
    ------
    ValueError
        If an option names a task that is not there, or the tasks make no network.
    """
    network(tasks)
    everything = frozenset(range(len(options)))
    search = _Search(tasks, options, limit)
    if not search.fits(everything):
        return _in_order(tasks, options, everything, limit, True)
    choices = [frozenset[int]()]
    smallest = True
    ranked = sorted(everything, key=lambda i: (-options[i].priority, i))
    for _, equals in groupby(ranked, key=lambda i: options[i].priority):
        group = tuple(equals)
        below = frozenset(ranked[ranked.index(group[-1]) + 1 :])
        found = _fewest(search, choices, group, below)
        if found is None:
            smallest = False
            found = [_one_by_one(search, choices[0], group, below)]
        choices = found
    best = min(choices, key=lambda cut: (search.end(cut), sorted(cut)))
    return _in_order(tasks, options, best, limit, smallest)


class _Search:
    """Ends of the tasks without some options, each found once."""

    def __init__(self, tasks: Sequence[Task], options: Sequence[Option], limit: float) -> None:
        self.tasks, self.options, self.limit = tasks, options, limit
        self.ends: dict[frozenset[int], float] = {}

    def end(self, cut: frozenset[int]) -> float:
        if cut not in self.ends:
            self.ends[cut] = end_of(without(self.tasks, _names(self.options, cut)))
        return self.ends[cut]

    def fits(self, cut: frozenset[int]) -> bool:
        return self.end(cut) <= self.limit


def _names(options: Sequence[Option], cut: Iterable[int]) -> frozenset[str]:
    return frozenset(name for i in cut for name in options[i].tasks)


def _fewest(
    search: _Search,
    choices: Sequence[frozenset[int]],
    group: tuple[int, ...],
    below: frozenset[int],
) -> list[frozenset[int]] | None:
    """Return all choices that cut the fewest of a group; None if it takes too many tries."""
    tries = 0
    for n in range(len(group) + 1):
        found = []
        for base in choices:
            for more in combinations(reversed(group), n):
                tries += 1
                if tries > MOST_TRIES:
                    return None
                if search.fits(base | frozenset(more) | below):
                    found.append(base | frozenset(more))
        if found:
            return found
    raise AssertionError("cutting all of them was found to fit")


def _one_by_one(
    search: _Search, base: frozenset[int], group: tuple[int, ...], below: frozenset[int]
) -> frozenset[int]:
    """Keep what can be kept of a group, the first first."""
    cut = base
    for at, one in enumerate(group):
        rest = frozenset(group[at + 1 :]) | below
        if not search.fits(cut | rest):
            cut |= {one}
    return cut


def _in_order(
    tasks: Sequence[Task],
    options: Sequence[Option],
    cut: frozenset[int],
    limit: float,
    smallest: bool,
) -> CutOrder:
    first = end = end_of(tasks)
    cuts: list[Cut] = []
    done: list[int] = []
    for i in sorted(cut, key=lambda i: (options[i].priority, -i)):
        done.append(i)
        now = end_of(without(tasks, _names(options, done)))
        cuts.append(Cut(options[i], now, end - now))
        end = now
    return CutOrder(first, tuple(cuts), limit - end, smallest)
