"""What the clock is asked about: tasks in lanes, how long they take, and moments of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

SAME = 1e-6
"""Moments closer than this are the same, s: far above rounding, far below any timetable."""

At = Literal["low", "likely", "high"]
"""Which of the three durations of a spread to take."""


class Span(NamedTuple):
    """An interval of time, s.

    Attributes
    ----------
    begin, end : float, s
    """

    begin: float
    end: float


@dataclass(frozen=True)
class Spread:
    """How long something takes: at least, most likely, at most.

    Attributes
    ----------
    low, likely, high : float, s
        0 <= low <= likely <= high.

    Raises
    ------
    ValueError
        If they are not finite or not in that order.

    Examples
    --------
    >>> Spread.of(360.0)
    Spread(low=360.0, likely=360.0, high=360.0)
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        finite = all(math.isfinite(one) for one in (self.low, self.likely, self.high))
        if not finite or not 0.0 <= self.low <= self.likely <= self.high:
            raise ValueError(f"needs 0 <= low <= likely <= high, found {self}")

    @classmethod
    def of(cls, duration: Spread | float) -> Spread:
        """Return a duration as a spread; a number is all three."""
        if isinstance(duration, Spread):
            return duration
        return cls(float(duration), float(duration), float(duration))


@dataclass(frozen=True)
class Task:
    """One piece of work in one lane, or in several at once.

    Tasks of a lane follow each other in the order in which they are written.

    Attributes
    ----------
    name : str
        No other task has it.
    lane : str or tuple of str
        Who does it.  Several lanes: all of them are busy from its begin to its end.
    duration : Spread or float, s
    after : tuple of str
        Tasks of any lane that must have ended before it begins.
    start : float or None, s
        Written start, counted from the start of the outing, >= 0: not before.
    with_ : tuple of str
        Tasks that begin when it begins.  It is enough if one of them says so.
    fixed : bool
        The written start is not to be moved: later is as wrong as earlier.

    Raises
    ------
    ValueError
        If the duration or the start makes no sense, there is no lane, or a start is
        fixed that is not written.
    """

    name: str
    lane: str | tuple[str, ...]
    duration: Spread | float
    after: tuple[str, ...] = ()
    start: float | None = None
    with_: tuple[str, ...] = ()
    fixed: bool = False

    def __post_init__(self) -> None:
        if not self.lanes or len(set(self.lanes)) < len(self.lanes):
            raise ValueError(f"{self.name}: needs lanes, each once, found {self.lane!r}")
        if self.start is not None and not 0.0 <= self.start < math.inf:
            raise ValueError(f"{self.name}: a start is a time >= 0, found {self.start!r}")
        if self.fixed and self.start is None:
            raise ValueError(f"{self.name}: its start is fixed, but not written")
        try:
            Spread.of(self.duration)
        except ValueError as problem:
            raise ValueError(f"{self.name}: {problem}") from None

    @property
    def lanes(self) -> tuple[str, ...]:
        """The lanes it is in, one or several."""
        return (self.lane,) if isinstance(self.lane, str) else self.lane

    @property
    def spread(self) -> Spread:
        """Its duration as a spread, s."""
        return Spread.of(self.duration)


@dataclass(frozen=True)
class Event:
    """A moment of a task.

    Attributes
    ----------
    task : str
    edge : {'end', 'begin'}
    """

    task: str
    edge: Literal["end", "begin"] = "end"


def moment(event: Event | str, spans: Mapping[str, Span]) -> float:
    """Return when an event is, s; a name is the end of that task.

    Raises
    ------
    ValueError
        If there is no such task.

    Examples
    --------
    >>> moment("check", {"check": Span(60.0, 120.0)})
    120.0
    """
    event = Event(event) if isinstance(event, str) else event
    if event.task not in spans:
        raise ValueError(f"there is no task {event.task!r}")
    span = spans[event.task]
    return span.end if event.edge == "end" else span.begin


def unwritten(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """Return the tasks without the written starts that are not fixed: free to move up."""
    return tuple(task if task.fixed else replace(task, start=None) for task in tasks)
