"""A worker's line over time: known at some moments, moved between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import segment_pair_distance
from reach.lines.entangling import line_of

Floats = NDArray[np.float64]

_SAME = 1e-6
"""Points as near as this (m) are one."""


@dataclass(frozen=True, eq=False, slots=True)
class _Move:
    """What stays, and what turns from one shape into another; both tails begin where it ends."""

    kept: Floats
    before: Floats
    after: Floats

    def shape(self, share: float) -> Floats:
        """Return the line after a share of the move, 0 to 1."""
        if len(self.before) == 1:
            tail = _first_part(self.after, share)
        elif len(self.after) == 1:
            tail = _first_part(self.before, 1.0 - share)
        else:
            tail = (1.0 - share) * self.before + share * self.after
        return np.concatenate([self.kept, tail])

    def travel(self) -> float:
        """Return how far no point of the line moves farther, m."""
        if len(self.before) == len(self.after):
            return float(np.linalg.norm(self.after - self.before, axis=1).max())
        return float(max(_along(self.before)[-1], _along(self.after)[-1]))


class MovingLine:
    """A line at every moment between the first and the last it is given for.

    What two shapes have in common from the anchor on stays.  The rest is paid
    out or taken in along itself, at an even pace, when one shape only adds to
    the other; otherwise points at equal shares of its length go straight from
    one shape to the other.

    Parameters
    ----------
    moments : sequence of (time in s, array_like of shape (k, 3) in m)
        Times must rise.

    Raises
    ------
    ValueError
        If there is none, a time does not rise or a shape does not fit.
    """

    def __init__(self, moments: Sequence[tuple[float, ArrayLike]]) -> None:
        if not moments:
            raise ValueError("a moving line needs at least one moment")
        self.times = np.array([time for time, _ in moments], dtype=np.float64)
        if not np.isfinite(self.times).all() or (np.diff(self.times) <= 0.0).any():
            raise ValueError("the times of a moving line must be finite and rise")
        shapes = [line_of(f"the line at {time} s", points) for time, points in moments]
        self._last = shapes[-1]
        self._moves = [_move(p, q) for p, q in pairwise(shapes)]

    def shape(self, time: float) -> Floats:
        """Return the line at a time (s), shape (k, 3), m; at rest before and after."""
        if time >= self.times[-1]:
            return self._last
        i = max(int(np.searchsorted(self.times, time, side="right")) - 1, 0)
        span = self.times[i + 1] - self.times[i]
        return self._moves[i].shape(max(float((time - self.times[i]) / span), 0.0))

    def speed(self, time: float) -> float:
        """Return how fast no point of the line is faster at a time, m/s."""
        i = int(np.searchsorted(self.times, time, side="right")) - 1
        if not 0 <= i < len(self._moves):
            return 0.0
        return self._moves[i].travel() / float(self.times[i + 1] - self.times[i])


def _along(line: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])


def _at(line: Floats, lengths: Floats) -> Floats:
    """Return the points at lengths along a line, shape (n, 3)."""
    along = _along(line)
    return np.column_stack([np.interp(lengths, along, line[:, k]) for k in range(3)])


def _first_part(line: Floats, share: float) -> Floats:
    along = _along(line)
    end = share * along[-1]
    inner = line[(along > 0.0) & (along < end)]
    return np.concatenate([line[:1], inner, _at(line, np.array([end]))])


def _move(p: Floats, q: Floats) -> _Move:
    p, q = _split_at(p, q[-1]), _split_at(q, p[-1])
    n = 0
    while n < min(len(p), len(q)) and np.linalg.norm(p[n] - q[n]) <= _SAME:
        n += 1
    if n == 0:
        return _Move(np.empty((0, 3)), *_same_shares(p, q))
    before, after = p[n - 1 :], q[n - 1 :]
    if len(before) > 1 and len(after) > 1:
        before, after = _same_shares(before, after)
    return _Move(p[: n - 1], before, after)


def _split_at(line: Floats, x: Floats) -> Floats:
    """Return the line with `x` as a corner, if it lies on it."""
    if len(line) < 2 or (np.linalg.norm(line - x, axis=1) <= _SAME).any():
        return line
    every = np.tile(x, (len(line) - 1, 1))
    on = np.flatnonzero(segment_pair_distance(line[:-1], line[1:], every, every) <= _SAME)
    return np.insert(line, on[-1] + 1, x, axis=0) if len(on) else line


def _same_shares(p: Floats, q: Floats) -> tuple[Floats, Floats]:
    """Return both lines with corners at the same shares of their lengths."""
    along_p, along_q = _along(p), _along(q)
    share_p = along_p / max(along_p[-1], 1e-300)
    share_q = along_q / max(along_q[-1], 1e-300)
    shares = np.unique(np.concatenate([[0.0], share_p, share_q]))
    return _at(p, shares * along_p[-1]), _at(q, shares * along_q[-1])
