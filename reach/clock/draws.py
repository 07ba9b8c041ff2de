"""The chance of being in time when tasks take between their least and their most.

Durations are drawn from the triangular distribution on low, likely and high:
the plainest one with those three numbers, and a choice, not a finding.  They are
drawn independently; where one slow hour makes the next one slow too, ends spread
wider than is said here.

Draws are made from raw 64-bit output of a counter of its own for each task's name,
by the inverse of the distribution, with operations that are exact or correctly rounded:
the same everywhere, and a task keeps its draws when others are added or moved.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.clock.network import Network, network
from reach.clock.tasks import Event, Spread, Task
from reach.proportion import LEVEL, interval

Floats = NDArray[np.float64]

N_DRAWS = 10_000
"""Timetables that are drawn: near 1/2 the chance is then known to within 0.01."""


@dataclass(frozen=True)
class Draws:
    """Timetables with drawn durations.

    Attributes
    ----------
    names : tuple of str
    starts, ends : ndarray, shape (n_tasks, n_draws), s
        At the earliest, written starts kept as 'not before'.
    """

    names: tuple[str, ...]
    starts: Floats
    ends: Floats

    def at(self, event: Event | str | None = None) -> Floats:
        """Return when an event is in each draw, shape (n_draws,), s.

        A name is the end of that task, None the end of all.  Moments of one draw belong
        together: `share_of(d.at("mate") - d.at("demate") <= limit)`.

        Raises
        ------
        ValueError
            If there is no such task.
        """
        if event is None:
            last: Floats = np.max(self.ends, axis=0)
            return last
        event = Event(event) if isinstance(event, str) else event
        if event.task not in self.names:
            raise ValueError(f"there is no task {event.task!r}")
        rows = self.ends if event.edge == "end" else self.starts
        row: Floats = rows[self.names.index(event.task)]
        return row


@dataclass(frozen=True)
class Chance:
    """A probability counted on draws.

    Attributes
    ----------
    share : float
        Of the draws in which it is so.
    low, high : float
        The probability lies between them with confidence `level`.
    n_draws : int
    level : float
    """

    share: float
    low: float
    high: float
    n_draws: int
    level: float


def draw(tasks: Sequence[Task], n: int = N_DRAWS, seed: int = 0) -> Draws:
    """Return timetables with drawn durations.

    Parameters
    ----------
    tasks : sequence of Task
        At least one.
    n : int
        How many timetables, >= 1.
    seed : int
        >= 0.

    Raises
    ------
    ValueError
        If there is no task or no draw, or the tasks make no network.
    """
    if not tasks or n < 1 or seed < 0:
        raise ValueError(f"needs tasks, draws and a seed >= 0: {len(tasks), n, seed}")
    net = network(tasks)
    took = np.empty((len(tasks), n))
    for row, task in zip(took, tasks, strict=True):
        row[:] = triangular(task.spread, _uniform(task.name, n, seed))
    starts = _earliest(net, took)
    return Draws(tuple(task.name for task in tasks), starts, starts + took)


def chance(
    tasks: Sequence[Task],
    event: Event | str | None,
    by: float,
    n: int = N_DRAWS,
    seed: int = 0,
    level: float = LEVEL,
) -> Chance:
    """Return the probability that an event is no later than a moment.

    Parameters
    ----------
    tasks : sequence of Task
    event : Event, str or None
        A name is the end of that task, None the end of all.
    by : float, s
    n, seed : int
        As for `draw`.
    level : float
        Confidence of the interval.

    Examples
    --------
    >>> told = chance([Task("mate", "W1", Spread(0.0, 60.0, 120.0))], "mate", 60.0)
    >>> told.low < 0.5 < told.high
    True
    """
    return share_of(draw(tasks, n, seed).at(event) <= by, level)


def share_of(true: NDArray[np.bool_], level: float = LEVEL) -> Chance:
    """Return the probability of anything told draw by draw, such as a task in its window.

    Parameters
    ----------
    true : ndarray of bool, shape (n_draws,)
    level : float
    """
    hits, n = int(np.count_nonzero(true)), len(true)
    low, high = interval(hits, n, level)
    return Chance(hits / n, low, high, n, level)


def triangular(spread: Spread, u: Floats) -> Floats:
    """Return the quantiles of a triangular distribution, s.

    Parameters
    ----------
    spread : Spread
    u : ndarray
        Probabilities, 0 <= u <= 1.
    """
    low, likely, high = spread.low, spread.likely, spread.high
    width = high - low
    if width == 0.0:
        return np.full_like(u, likely)
    rising = low + np.sqrt(u * width * (likely - low))
    falling = high - np.sqrt((1.0 - u) * width * (high - likely))
    return np.where(u * width < likely - low, rising, falling)


def _uniform(name: str, n: int, seed: int) -> Floats:
    """Return n numbers in [0, 1), evenly spread, the same for a name and a seed."""
    words = np.frombuffer(hashlib.sha256(name.encode()).digest(), dtype="<u4")
    source = np.random.PCG64(np.random.SeedSequence([seed, *words.tolist()]))
    return (source.random_raw(n) >> np.uint64(11)).astype(np.float64) * 2.0**-53


def _earliest(net: Network, took: Floats) -> Floats:
    """Return when tasks begin at the earliest, draw by draw: `network.earliest` on rows."""
    starts, ends = np.empty_like(took), np.empty_like(took)
    for one in net.order:
        begin = np.full(took.shape[1], net.floor[one])
        for i in net.members[one]:
            for j in net.before[i]:
                np.maximum(begin, ends[j], out=begin)
        for i in net.members[one]:
            starts[i] = begin
            ends[i] = begin + took[i]
    return starts
