"""Windows that a task must lie in, and what part of it is in the light."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reach.clock.tasks import Span


@dataclass(frozen=True)
class Window:
    """A stretch of time in which something is allowed, such as one night.

    Attributes
    ----------
    begin, end : float, s
        begin < end.
    name : str

    Raises
    ------
    ValueError
        If it does not end after it begins.
    """

    begin: float
    end: float
    name: str = ""

    def __post_init__(self) -> None:
        if not self.begin < self.end:
            raise ValueError(f"a window begins before it ends, found {self.begin} and {self.end}")


@dataclass(frozen=True)
class Opening:
    """A moment at which a task fits a window.

    Attributes
    ----------
    window : Window
    start : float, s
    """

    window: Window
    start: float


@dataclass(frozen=True)
class Fit:
    """How a task lies in the window that it fits best.

    Attributes
    ----------
    window : Window or None
        The one with the best margin, the first of equals; None if there is no window.
    margin : float, s
        The smaller of the next two.  >= 0: the task fits.  Minus infinity without a window.
    margin_begin, margin_end : float, s
        From the begin of the window, and to its end, less what is to be kept there.
    too_long : float, s
        What the task is longer than the most roomy window has room for; > 0: it fits none,
        whenever it starts.  Infinite without a window.
    sooner, later : Opening or None
        The last start not after, and the first not before, the one asked, at which the
        task fits.  Both are the one asked where it fits.
    """

    window: Window | None
    margin: float
    margin_begin: float
    margin_end: float
    too_long: float
    sooner: Opening | None
    later: Opening | None


def fit(span: Span, windows: Sequence[Window], before: float = 0.0, after: float = 0.0) -> Fit:
    """Return how a task lies in the best of several windows.

    Parameters
    ----------
    span : Span, s
        When the task is.
    windows : sequence of Window
        A task must lie in one of them.  Windows that touch are not joined.
    before, after : float, s
        To be kept from the begin and to the end of a window, >= 0.

    Raises
    ------
    ValueError
        If the task ends before it begins, or what is to be kept is negative.

    Examples
    --------
    >>> answer = fit(Span(20.0, 60.0), [Window(0.0, 50.0), Window(100.0, 150.0)], 5.0, 5.0)
    >>> answer.margin, answer.sooner.start, answer.later.start
    (-15.0, 5.0, 105.0)
    """
    length = span.end - span.begin
    if not length >= 0.0 or min(before, after) < 0.0:
        raise ValueError(f"needs a task that begins first and margins >= 0: {span, before, after}")
    if not windows:
        return Fit(None, -math.inf, -math.inf, -math.inf, math.inf, None, None)
    margins = [(span.begin - w.begin - before, w.end - after - span.end) for w in windows]
    best = max(range(len(windows)), key=lambda i: min(margins[i]))
    rooms = [(w.begin + before, w.end - after - length, w) for w in windows]
    sooner = [
        Opening(w, min(last, span.begin))
        for first, last, w in rooms
        if first <= last and first <= span.begin
    ]
    later = [
        Opening(w, max(first, span.begin))
        for first, last, w in rooms
        if first <= last and span.begin <= last
    ]
    return Fit(
        window=windows[best],
        margin=min(margins[best]),
        margin_begin=margins[best][0],
        margin_end=margins[best][1],
        too_long=min(first - last for first, last, _ in rooms),
        sooner=max(sooner, key=lambda one: one.start, default=None),
        later=min(later, key=lambda one: one.start, default=None),
    )


def nights(sunrises: Sequence[float], sunsets: Sequence[float]) -> tuple[Window, ...]:
    """Return the nights between listed sunsets and sunrises, s.

    A night of which only one end is listed is left out.

    Raises
    ------
    ValueError
        If sunrises and sunsets do not take turns.
    """
    turns = _turns(sunrises, sunsets)
    return tuple(Window(a, b, "night") for (a, dark), (b, _) in pairwise(turns) if dark)


def days(sunrises: Sequence[float], sunsets: Sequence[float]) -> tuple[Window, ...]:
    """Return the days between listed sunrises and sunsets, s; as `nights`."""
    turns = _turns(sunrises, sunsets)
    return tuple(Window(a, b, "day") for (a, dark), (b, _) in pairwise(turns) if not dark)


@dataclass(frozen=True)
class Stretch:
    """A part of a task that is all light or all dark.

    Attributes
    ----------
    span : Span, s
    dark : bool
    """

    span: Span
    dark: bool


@dataclass(frozen=True)
class Lighting:
    """A task split at sunrises and sunsets.

    Attributes
    ----------
    stretches : tuple of Stretch
        In order, none of no length.
    """

    stretches: tuple[Stretch, ...]

    @property
    def light(self) -> float:
        """How long it is light, s."""
        return math.fsum(s.span.end - s.span.begin for s in self.stretches if not s.dark)

    @property
    def dark(self) -> float:
        """How long it is dark, s."""
        return math.fsum(s.span.end - s.span.begin for s in self.stretches if s.dark)

    @property
    def crosses(self) -> bool:
        """Whether it crosses a sunrise or a sunset."""
        return len(self.stretches) > 1


def lighting(span: Span, sunrises: Sequence[float], sunsets: Sequence[float]) -> Lighting:
    """Return what of a task is in the light and what in the dark.

    Parameters
    ----------
    span : Span, s
    sunrises, sunsets : sequence of float, s
        They take turns, and the first and the last of all enclose the task.

    Raises
    ------
    ValueError
        If they do not take turns, or the task reaches beyond them: what the light is
        there is not known.

    Examples
    --------
    >>> split = lighting(Span(40.0, 70.0), [0.0, 90.0], [45.0])
    >>> split.light, split.dark
    (5.0, 25.0)
    """
    turns = _turns(sunrises, sunsets)
    if not turns or span.begin < turns[0][0] or span.end > turns[-1][0]:
        raise ValueError(f"the light from {span.begin} to {span.end} s is not listed")
    found = []
    for (a, dark), (b, _) in pairwise(turns):
        begin, end = max(a, span.begin), min(b, span.end)
        if begin < end:
            found.append(Stretch(Span(begin, end), dark))
    return Lighting(tuple(found))


def _turns(sunrises: Sequence[float], sunsets: Sequence[float]) -> list[tuple[float, bool]]:
    """Return moments and whether it is dark from then on, in order."""
    turns = sorted([*((t, False) for t in sunrises), *((t, True) for t in sunsets)])
    for (a, was), (b, dark) in pairwise(turns):
        if was == dark or a == b:
            what = "sunset" if dark else "sunrise"
            raise ValueError(f"sunrises and sunsets take turns: the {what} at {b} s does not")
    return turns
