"""The outing on the clock: who is out when, checks of gloves, windows, and what can be cut.

What a procedure declares becomes what `reach.clock` takes; checks and the timetable share it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.clock import (
    Chance,
    CutOrder,
    Draws,
    Moment,
    Option,
    Span,
    Task,
    Window,
    cut_order,
    draw,
    end_of,
    share_of,
    unwritten,
)
from reach.clock.tasks import SAME
from reach.ledger import Deed, Outing, names
from reach.model.handling import GloveCheck
from reach.model.outing import Windows
from reach.model.procedure import Drive


def settled(margin: float) -> float:
    """Return a margin of time; 0 where it is nothing but rounding.

    Examples
    --------
    >>> settled(-1e-9), settled(-60.0)
    (0.0, -60.0)
    """
    return 0.0 if abs(margin) <= SAME else margin


class Out(NamedTuple):
    """When a worker is outside, s.

    From the begin of the step in which they come out to the end of the one in which they go in.
    """

    begin: float
    end: float
    first: str
    last: str


def out_of(outing: Outing, worker: str) -> Out | None:
    """Return when a worker is outside; None where they never are.

    Who begins outside is out from the start, also without a step of their own; who never goes in
    until all is over.
    """
    name, spans = names.outside(worker), outing.spans
    steps = [step.name for step in outing.steps if worker in (step.lane, *step.others)]
    if not steps and not outing.start[name]:
        return None
    steps = steps or [step.name for step in outing.steps]
    turns = [deed for deed in outing.deeds if deed.event.effect(name) is not None]
    goes_out = [d for d in turns if not outing.before(d)[name] and _after(outing, d)[name]]
    goes_in = [d for d in turns if outing.before(d)[name] and not _after(outing, d)[name]]
    if not outing.start[name] and not goes_out:
        return None
    first = steps[0] if outing.start[name] else goes_out[0].step.name
    begin = 0.0 if outing.start[name] else spans[first].begin
    if outing.finally_[name] or not goes_in:
        return Out(begin, outing.end, first, steps[-1])
    last = goes_in[-1].step.name
    return Out(begin, spans[last].end, first, last)


def _after(outing: Outing, deed: Deed) -> dict[str, object]:
    return dict(outing.states[outing.rank(deed) + 1])


def glove_moments(outing: Outing, worker: str) -> tuple[Moment, ...]:
    """Return when the gloves of a worker are looked at: at the end of the step that says so."""
    found = []
    for step in outing.steps:
        for action in step.actions:
            if isinstance(action, GloveCheck) and worker in (action.of or (step.lane,)):
                found.append(Moment(outing.spans[step.name].end, step.name))
    return tuple(dict.fromkeys(found))


def windowed(outing: Outing) -> Iterator[tuple[Deed, str]]:
    """Yield what is turned in a window only, with the window's name."""
    for deed in outing.deeds:
        if isinstance(deed.action, Drive) and deed.is_last:
            guard = outing.procedure.guards.get(deed.action.fastener)
            if guard is not None and guard.window is not None:
                yield deed, guard.window


def windows_of(record: Windows, name: str) -> tuple[Window, ...]:
    """Return the stretches of some windows as the clock takes them."""
    return tuple(Window(begin, end, name) for begin, end in record.spans)


def draws_of(outing: Outing) -> Draws | None:
    """Return timetables with drawn durations; None where every duration is one number."""
    if not any(task.spread.low < task.spread.high for task in outing.tasks):
        return None
    if "draws" not in outing.memo:
        outing.memo["draws"] = draw(outing.tasks)
    found: Draws = outing.memo["draws"]
    return found


def chance_words(true: NDArray[np.bool_]) -> tuple[str, Chance]:
    """Return how likely something is that is told draw by draw, in words, and the numbers.

    Examples
    --------
    >>> chance_words(np.array([True] * 10_000))[0]
    'with a probability of 99.9 to 100.0 %'
    """
    told = share_of(true)
    low, high = np.floor(told.low * 1000.0) / 10.0, np.ceil(told.high * 1000.0) / 10.0
    return f"with a probability of {low:.1f} to {high:.1f} %", told


def closed_up(outing: Outing) -> tuple[Task, ...]:
    """Return the tasks free to move up in their written order.

    A step waits for all that had ended by the time at which it is written to begin, whatever
    their lanes; what is turned in a window keeps its written start as 'not before'.
    """
    kept = {deed.step.name for deed, _ in windowed(outing)}
    tasks, spans = outing.tasks, outing.spans
    free = tuple(
        task if task.name in kept else one
        for task, one in zip(tasks, unwritten(tasks), strict=True)
    )
    waits = waits_of([spans[task.name] for task in free])
    ordered = [
        replace(task, after=tuple(dict.fromkeys((*task.after, *(free[j].name for j in before)))))
        for task, before in zip(free, waits, strict=True)
    ]
    try:
        end_of(ordered)
    except ValueError:  # what is written goes against its own lanes: those alone count then
        return free
    return tuple(ordered)


def waits_of(spans: Sequence[Span]) -> list[list[int]]:
    """Return for each span, in the order of the steps, which others it comes after, as written.

    Those that it comes after by way of another are left out: of a thousand steps in a row each
    waits for a few, not for hundreds.
    """
    begin, end = (np.array([getattr(one, which) for one in spans]) for which in ("begin", "end"))
    rank, found = np.arange(len(spans)), []

    def before(i: int) -> NDArray[np.bool_]:
        ended = (end < begin[i] - SAME) | ((rank < i) & (end <= begin[i]))
        ended[i] = False
        return np.asarray(ended)

    for i in range(len(spans)):
        mine = np.flatnonzero(before(i))
        if len(mine):
            # What had ended when the last of them began is waited for by that one.
            last = int(mine[begin[mine].argmax()])
            mine = mine[~before(last)[mine]]
        found.append(mine.tolist())
    return found


def options_of(outing: Outing) -> tuple[Option, ...]:
    """Return what may be cut: steps of one priority together, in the order of the steps."""
    found: dict[float, list[str]] = {}
    for step in outing.steps:
        if step.optional is not None:
            found.setdefault(step.optional, []).append(step.name)
    return tuple(Option(tuple(steps), priority) for priority, steps in found.items())


def cuts_of(outing: Outing, limit: float) -> CutOrder:
    """Return what to cut so that all ends by a limit (s), the rest closed up in its order."""
    return cut_order(closed_up(outing), options_of(outing), limit)


def quoted(steps: tuple[str, ...] | list[str]) -> str:
    """Return names of steps in quotes, with commas and a last 'and'.

    Examples
    --------
    >>> quoted(["a", "b", "c"])
    "'a', 'b' and 'c'"
    """
    said = [f"'{step}'" for step in steps]
    return " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)
