"""Which task waits for which: the network behind a timetable.

Tasks that begin together are one *knot*.  Knots and the links between them form
a graph without circles, or there is no timetable.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from reach.clock.tasks import Task

if TYPE_CHECKING:
    from scipy.sparse import coo_array

Link = tuple[int, int]


@dataclass(frozen=True)
class Network:
    """Tasks by number, and what they wait for.

    Attributes
    ----------
    tasks : tuple of Task
    before : tuple of tuple of int
        For each task, those that must have ended: the last of each of its lanes, and
        those it names.
    behind : tuple of tuple of int
        For each task, those that wait for its end.
    knot : tuple of int
        For each task, the knot it is in.
    members : tuple of tuple of int
        For each knot, its tasks.
    floor : tuple of float, s
        For each knot, the moment before which it does not begin: its written start, or 0.
    order : tuple of int
        Knots, each behind all that it waits for.
    """

    tasks: tuple[Task, ...]
    before: tuple[tuple[int, ...], ...]
    behind: tuple[tuple[int, ...], ...]
    knot: tuple[int, ...]
    members: tuple[tuple[int, ...], ...]
    floor: tuple[float, ...]
    order: tuple[int, ...]


def network(tasks: Sequence[Task]) -> Network:
    """Return the network of some tasks.

    Raises
    ------
    ValueError
        With all that is wrong: names given twice, names that no task has, and circles (of
        tasks that wait for each other in several ways, one circle).
    """
    number = {task.name: i for i, task in enumerate(tasks)}
    problems = _wrong_names(tasks, number)
    before = _waited_for(tasks, number)
    knot, members = _knots(tasks, number)
    links = [(i, j) for j, waits in enumerate(before) for i in waits]
    order = _order(len(members), {(knot[i], knot[j]) for i, j in links})
    if len(order) < len(members):
        problems += _circles(tasks, knot, links, set(range(len(members))) - set(order))
    if problems:
        raise ValueError("; ".join(problems))
    behind: list[list[int]] = [[] for _ in tasks]
    for i, j in links:
        behind[i].append(j)
    return Network(
        tasks=tuple(tasks),
        before=before,
        behind=tuple(map(tuple, behind)),
        knot=knot,
        members=members,
        floor=tuple(max(tasks[i].start or 0.0 for i in group) for group in members),
        order=tuple(order),
    )


def earliest(net: Network, durations: Sequence[float]) -> list[float]:
    """Return when each task begins at the earliest, s.

    Parameters
    ----------
    net : Network
    durations : sequence of float, s
        One a task.
    """
    ends = [0.0] * len(net.tasks)
    starts = [0.0] * len(net.tasks)
    for one in net.order:
        begin = net.floor[one]
        for task in net.members[one]:
            for other in net.before[task]:
                if ends[other] > begin:
                    begin = ends[other]
        for task in net.members[one]:
            starts[task] = begin
            ends[task] = begin + durations[task]
    return starts


def downstream(tasks: Sequence[Task], name: str) -> tuple[str, ...]:
    """Return all tasks whose times can depend on one task, itself first.

    They are those that wait for it, through others too, and all that begin together
    with any of them.

    Raises
    ------
    ValueError
        If there is no such task, or the tasks make no network.
    """
    net = network(tasks)
    names = [task.name for task in tasks]
    if name not in names:
        raise ValueError(f"there is no task {name!r}")
    first = names.index(name)
    seen, queue = {net.knot[first]}, deque([net.knot[first]])
    while queue:
        for task in net.members[queue.popleft()]:
            fresh = {net.knot[other] for other in net.behind[task]} - seen
            seen |= fresh
            queue.extend(sorted(fresh))
    others = [names[i] for i in range(len(names)) if net.knot[i] in seen and i != first]
    return (name, *others)


def _wrong_names(tasks: Sequence[Task], number: dict[str, int]) -> list[str]:
    counts = Counter(task.name for task in tasks)
    problems = [f"{n} tasks are called {name!r}" for name, n in counts.items() if n > 1]
    for task in tasks:
        for other in (*task.after, *task.with_):
            if other not in number:
                problems.append(f"{task.name}: there is no task {other!r}")
    return problems


def _waited_for(tasks: Sequence[Task], number: dict[str, int]) -> tuple[tuple[int, ...], ...]:
    last: dict[str, int] = {}
    before = []
    for i, task in enumerate(tasks):
        waits = [last[lane] for lane in task.lanes if lane in last]
        waits += [number[name] for name in task.after if name in number]
        before.append(tuple(sorted(set(waits))))
        last.update(dict.fromkeys(task.lanes, i))
    return tuple(before)


def _knots(
    tasks: Sequence[Task], number: dict[str, int]
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
    label = list(range(len(tasks)))
    for i, task in enumerate(tasks):
        for name in task.with_:
            other = number.get(name, i)
            if label[other] != label[i]:
                old, new = label[other], label[i]
                label = [new if one == old else one for one in label]
    numbered: dict[int, int] = {}
    knot = tuple(numbered.setdefault(one, len(numbered)) for one in label)
    members: list[list[int]] = [[] for _ in numbered]
    for i, one in enumerate(knot):
        members[one].append(i)
    return knot, tuple(map(tuple, members))


def _graph(links: Sequence[Link], n: int) -> coo_array:
    ends = np.array(links, dtype=np.int64).reshape(-1, 2)
    from scipy.sparse import coo_array

    return coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(n, n))


def _order(n: int, links: set[Link]) -> list[int]:
    waits = Counter(j for _, j in links)
    nexts: list[list[int]] = [[] for _ in range(n)]
    for i, j in sorted(links):
        nexts[i].append(j)
    ready = deque(i for i in range(n) if not waits[i])
    order = []
    while ready:
        order.append(one := ready.popleft())
        for other in nexts[one]:
            waits[other] -= 1
            if not waits[other]:
                ready.append(other)
    return order


def _circles(
    tasks: Sequence[Task], knot: tuple[int, ...], links: Sequence[Link], stuck: set[int]
) -> list[str]:
    """Say one circle of every set of knots that all wait for each other."""
    between = {(knot[i], knot[j]): (i, j) for i, j in reversed(links)}
    from scipy.sparse.csgraph import connected_components

    _, labels = connected_components(_graph(list(between), max(knot) + 1), connection="strong")
    problems = []
    for label in dict.fromkeys(int(labels[one]) for one in sorted(stuck)):
        inside = [one for one in sorted(stuck) if labels[one] == label]
        circle = _circle(inside, between)
        if circle:
            problems.append("tasks wait for each other: " + _said(tasks, circle))
    return problems


def _circle(inside: Sequence[int], between: dict[Link, Link]) -> list[Link]:
    """Return the links of a shortest circle through the first knot, by breadth first."""
    first = inside[0]
    came: dict[int, int] = {}
    queue = deque([first])
    while queue:
        one = queue.popleft()
        for other in inside:
            if (one, other) in between and other not in came:
                came[other] = one
                queue.append(other)
    if first not in came:
        return []
    trail = [first]
    while len(trail) == 1 or trail[-1] != first:
        trail.append(came[trail[-1]])
    trail.reverse()
    return [between[pair] for pair in pairwise(trail)]


def _said(tasks: Sequence[Task], circle: Sequence[Link]) -> str:
    parts = []
    for (i, j), (then, _) in zip(circle, [*circle[1:], circle[0]], strict=True):
        parts.append(f"{tasks[i].name} before {tasks[j].name}")
        if then != j:
            parts.append(f"{tasks[j].name} begins with {tasks[then].name}")
    return ", ".join(parts)
