"""Whether two workers' lines cross as the workers move, when, where, and whose is outside.

Proved: where the count of :func:`reach.lines.entangling.seen_crossings` differs
between two moments, an end has passed over or under the other line between
them (or the moves as given pull one line through the other, a change by 2),
however the lines were moved in between.  The time and place of it are those of
the moves as :class:`reach.lines.moving.MovingLine` makes them.

Blind spots: a change that is undone between two looks is not seen; lines on
one rail have no order there, the second is taken as outside; the count is that
of one view, and who passes behind the structure is counted as if it were not
there.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import segment_pair_distance
from reach.lines.edges import nearest_points
from reach.lines.entangling import Crossings, seen_crossings
from reach.lines.moving import MovingLine

Floats = NDArray[np.float64]
Moments = Sequence[tuple[float, ArrayLike]]


class Crossing(NamedTuple):
    """One change of how two lines lie about each other.

    Attributes
    ----------
    since, until : float, s
        It comes about between them.
    change : int
        Of the count: 1 or -1 when an end passes the other line; 2 or -2 when
        the moves as given would pull one line through the other.
    on_a, on_b : ndarray, shape (3,), m
        Where both lines cross as seen.
    outside : str
        "a" or "b": whose line lies outside there.
    undone : float, s
        When a later change takes it back; ``nan`` if none does.
    """

    since: float
    until: float
    change: int
    on_a: Floats
    on_b: Floats
    outside: str
    undone: float


class Approach(NamedTuple):
    """One stretch of time in which two lines come near each other.

    Attributes
    ----------
    since, until : float, s
        First and last look that finds them nearer than asked, or perhaps so.
    time : float, s
        Of the nearest look.
    low, high : float, m
        Least distance in that stretch: what may happen between looks is taken
        off ``low``.
    on_a, on_b : ndarray, shape (3,), m
        The nearest points at ``time``.
    """

    since: float
    until: float
    time: float
    low: float
    high: float
    on_a: Floats
    on_b: Floats


def crossings(
    line_a: Moments, line_b: Moments, outward: ArrayLike, step: float = 0.25, within: float = 0.1
) -> list[Crossing]:
    """Return every change of the count of crossings, in order of time.

    Parameters
    ----------
    line_a, line_b : sequence of (time in s, array_like of shape (k, 3) in m, world)
        Each from anchor to worker.  At rest before the first and after the last.
    outward : array_like, shape (3,)
        From the structure toward who looks.
    step : float, m
        Looks are so close in time that no point of a line moves farther between.
    within : float, s
        How closely the time is found.

    Returns
    -------
    crossings : list of Crossing
        Where the lines cross for good, one with ``undone`` nan stands among them.

    Raises
    ------
    ValueError
        If a shape does not fit, a time does not rise or a number is not positive.
    """
    a, b = MovingLine(line_a), MovingLine(line_b)
    times = _looks(a, b, step)
    if not within > 0.0:
        raise ValueError(f"within must be more than 0, not {within}")

    def seen(time: float) -> Crossings:
        return seen_crossings(a.shape(time), b.shape(time), outward)

    found: list[Crossing] = []
    looks = [seen(time) for time in times]
    for k in range(len(times) - 1):
        todo = [(float(times[k]), float(times[k + 1]), looks[k], looks[k + 1])]
        while todo:
            since, until, first, last = todo.pop()
            if first.count == last.count:
                continue
            if until - since <= within:
                found.append(_crossing(since, until, first, last, a, b))
                continue
            time = 0.5 * (since + until)
            middle = seen(time)
            todo += [(time, until, middle, last), (since, time, first, middle)]
    return _with_undone(found)


def approaches(
    line_a: Moments, line_b: Moments, distance: float, step: float = 0.25
) -> list[Approach]:
    """Return when two lines come within a distance of each other, or may do so.

    Parameters
    ----------
    line_a, line_b, step
        As for :func:`crossings`.
    distance : float, m

    Returns
    -------
    approaches : list of Approach
        Never nearer than `distance` outside them, for the moves as made here.

    Raises
    ------
    ValueError
        As for :func:`crossings`, or if `distance` is negative.
    """
    a, b = MovingLine(line_a), MovingLine(line_b)
    times = _looks(a, b, step)
    if not distance >= 0.0:
        raise ValueError(f"distance must be 0 or more, not {distance}")
    looks = [_nearest(a.shape(time), b.shape(time)) for time in times]
    high = np.array([look[0] for look in looks])
    spans = np.diff(times)
    travel = np.array([a.speed(t) + b.speed(t) for t in times[:-1]]) * spans
    loss = np.maximum(np.append(travel, 0.0), np.insert(travel, 0, 0.0)) / 2.0
    near = np.flatnonzero(high - loss <= distance)
    found = []
    for run in np.split(near, np.flatnonzero(np.diff(near) > 1) + 1):
        if len(run):
            best = run[int(np.argmin(high[run]))]
            low = max(float((high - loss)[run].min()) - 1e-9, 0.0)
            since, until, time = (float(times[i]) for i in (run[0], run[-1], best))
            found.append(Approach(since, until, time, low, *looks[best]))
    return found


def _looks(a: MovingLine, b: MovingLine, step: float) -> Floats:
    """Return the times to look at: every given one, and between them as `step` asks."""
    if not step > 0.0:
        raise ValueError(f"step must be more than 0, not {step}")
    given = np.unique(np.concatenate([a.times, b.times]))
    times = [given[:1]]
    for since, until in pairwise(given):
        travel = max(a.speed(since), b.speed(since)) * (until - since)
        times.append(np.linspace(since, until, max(int(np.ceil(travel / step)), 1) + 1)[1:])
    return np.concatenate(times)


def _nearest(a: Floats, b: Floats) -> tuple[float, Floats, Floats]:
    a, b = (x if len(x) > 1 else np.repeat(x, 2, axis=0) for x in (a, b))
    i, j = (k.ravel() for k in np.indices((len(a) - 1, len(b) - 1)))
    distance = segment_pair_distance(a[i], a[i + 1], b[j], b[j + 1])
    k = int(np.argmin(distance))
    return float(distance[k]), *nearest_points(a[i[k]], a[i[k] + 1], b[j[k]], b[j[k] + 1])


def _crossing(
    since: float, until: float, first: Crossings, last: Crossings, a: MovingLine, b: MovingLine
) -> Crossing:
    """Return the change: at the crossing nearest to an end, in the look that has more of them."""
    new = len(last.sign) >= len(first.sign)
    look, time = (last, until) if new else (first, since)
    p, q = a.shape(time), b.shape(time)
    from_end = [
        np.linalg.norm(points - end, axis=1)
        for points, line in ((look.on_a, p), (look.on_b, q))
        for end in (line[0], line[-1])
    ]
    i = int(np.argmin(np.min(from_end, axis=0)))
    outside = "a" if look.outside_a[i] else "b"
    change = last.count - first.count
    return Crossing(since, until, change, look.on_a[i], look.on_b[i], outside, np.nan)


def _with_undone(found: list[Crossing]) -> list[Crossing]:
    """Return the changes, each marked with the later one that takes it back."""
    standing: list[int] = []
    done = list(found)
    for i, one in enumerate(found):
        match = next((k for k in reversed(standing) if found[k].change == -one.change), None)
        if match is None:
            standing.append(i)
        else:
            standing.remove(match)
            done[match] = done[match]._replace(undone=one.until)
            done[i] = one._replace(undone=one.until)
    return done
