"""Two things that move at once: the least gap between them, by halving time where it matters.

Of a slice of time both are looked at in its middle; no point of either gets farther from there
than its course is long up to an end of the slice.  What they are apart in the middle less both
is a bound for the whole slice.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, inverse, path_gap, pose_gap, transform_points
from reach.geometry.motion_chain import Chain, chain_of, steps_of

Array = NDArray[np.float64]

NARROW = 0.02
"""A bracket this narrow (m) is not narrowed further."""

MOST = 2_000
"""Moments that are looked at for one pair, at most."""

_FIRST = 8


@dataclass(frozen=True, eq=False, slots=True)
class Course:
    """The way of a rigid thing, with when it is where.

    Attributes
    ----------
    poses : ndarray, shape (k, 4, 4), world_from_thing
        One alone for a thing at rest.
    about : ndarray, shape (k - 1, 3), m, of the thing
        The point that runs straight from pose to pose.
    knots : ndarray, shape (k,)
        When each pose is reached, share of the time 0 to 1, or of the way; rising wherever
        anything moves, be it by little.
    travel : ndarray, shape (k,), m
        How far any point may have come by then, never falling.
    """

    poses: Array
    about: Array
    knots: Array
    travel: Array
    _chains: dict[int, Chain] = field(default_factory=dict, init=False, repr=False)

    @property
    def rests(self) -> bool:
        """Whether it does not move at all."""
        return float(self.travel[-1]) <= 0.0

    def pose_at(self, moment: float) -> Array:
        """Return world_from_thing at a moment, shape (4, 4)."""
        if len(self.poses) == 1:
            return np.array(self.poses[0])
        piece = int(np.searchsorted(self.knots, moment, side="right")) - 1
        piece = min(max(piece, 0), len(self.about) - 1)
        before, after = float(self.knots[piece]), float(self.knots[piece + 1])
        time = min(max((moment - before) / (after - before), 0.0), 1.0) if after > before else 0.0
        if piece not in self._chains:
            self._chains[piece] = chain_of(self.poses[piece : piece + 2], self.about[piece])
        return np.asarray(self._chains[piece].poses_at(0, np.array([time]))[0])

    def stray(self, start: float, middle: float, stop: float) -> float:
        """Return how far any point gets from where it is in the middle of a slice, m."""
        low, high = self._travelled(middle)
        return max(self._travelled(stop)[1] - low, high - self._travelled(start)[0])

    def _travelled(self, moment: float) -> tuple[float, float]:
        """Return how far any point may have come before and after a moment: turns on the spot."""
        first = int(np.searchsorted(self.knots, moment, side="left"))
        last = int(np.searchsorted(self.knots, moment, side="right")) - 1
        if last >= first:
            return float(self.travel[first]), float(self.travel[last])
        between = float(np.interp(moment, self.knots, self.travel))
        return between, between


def course_of(poses: Array, about: Array, knots: Array, farthest: float) -> Course:
    """Return the course of a thing whose points are within ``farthest`` (m) of its origin."""
    travel = [0.0]
    if len(poses) > 1:
        for point, step, angle in zip(about, *steps_of(poses, about), strict=True):
            arm = farthest + float(np.linalg.norm(point))
            travel.append(travel[-1] + float(np.linalg.norm(step)) + float(angle) * arm)
    return Course(poses, about, knots, np.array(travel))


def resting_course(pose: Array) -> Course:
    """Return the course of a thing that stays."""
    return Course(pose[None], np.empty((0, 3)), np.zeros(1), np.zeros(1))


@dataclass(frozen=True, eq=False, slots=True)
class Meeting:
    """The least gap of two things that move.

    Attributes
    ----------
    low, high : float, m
        Bracket of the gap of their facets.
    moment, other : float
        When the one and the other are where it is ``high``; nan without a witness.
    on_one, on_other : ndarray, shape (3,), m, world
    face : int
        Row of the triangle of the one that is nearest, -1 without a witness.
    """

    low: float
    high: float
    moment: float
    other: float
    on_one: Array
    on_other: Array
    face: int


def meeting(
    one: tuple[Tree, Course],
    other: tuple[Tree, Course],
    span: tuple[float, float],
    other_span: tuple[float, float] | None = None,
    beyond: float = math.inf,
) -> Meeting:
    """Return the least gap of two things over a span of time.

    Parameters
    ----------
    one, other : (Tree, Course)
        Each tree in the frame of its thing.
    span : (float, float)
        Moments of both; where ``other_span`` is given the one goes its whole course.
    other_span : (float, float), optional
        Where it is not known when the other is where: it may be anywhere on this span of its
        course at any moment.
    beyond : float, m
        Gaps larger than this count as this large.
    """
    if other_span is None:
        return _Search(one, other, beyond).run(_cut(span))
    search = _FreeSearch(one, other, beyond)
    return search.run([other_span] if other[1].rests else _cut(other_span))


def _cut(span: tuple[float, float]) -> list[tuple[float, float]]:
    edges = np.linspace(span[0], span[1], _FIRST + 1)
    return [(float(a), float(b)) for a, b in pairwise(edges)]


Cell = tuple[float, float]


class _Search:
    """Branch and bound over slices of time, the one with the lowest bound first."""

    def __init__(self, one: tuple[Tree, Course], other: tuple[Tree, Course], beyond: float) -> None:
        self.tree, self.course = one
        self.other_tree, self.other = other
        nowhere = np.full(3, np.nan)
        self.best = Meeting(0.0, beyond, math.nan, math.nan, nowhere, nowhere.copy(), -1)

    def run(self, cells: Sequence[Cell]) -> Meeting:
        """Return what is found, starting from cells that cover all that is asked."""
        heap: list[tuple[float, int, Cell]] = []
        count = 0
        settled = math.inf
        waiting = list(cells)
        while True:
            for cell in waiting:
                low = self._look(cell)
                count += 1
                if low < self.best.high - NARROW:
                    heapq.heappush(heap, (low, count, cell))
                else:
                    settled = min(settled, low)
            # No gap is less than none: a bracket [0, high] may be narrow already.
            done = not heap or max(heap[0][0], 0.0) >= self.best.high - NARROW
            if done or count >= MOST:
                break
            a, b = heapq.heappop(heap)[2]
            middle = 0.5 * (a + b)
            waiting = [(a, middle), (middle, b)]
        low = min([settled, self.best.high, *(one[0] for one in heap)])
        return replace(self.best, low=max(low, 0.0))

    def _look(self, cell: Cell) -> float:
        """Return a bound of the gap in a slice, and note what is found in its middle."""
        start, stop = cell
        t = 0.5 * (start + stop)
        stray = self.course.stray(start, t, stop) + self.other.stray(start, t, stop)
        return self._gap(self.course.pose_at(t)[None], None, (t, t), t, stray) - stray

    def _gap(
        self, poses: Array, about: Array | None, times: tuple[float, float], other: float,
        stray: float,
    ) -> float:  # fmt: skip
        """Return a bound of the gap on one or two poses of the one, to the other at one moment."""
        world_from_other = self.other.pose_at(other)
        seen = inverse(world_from_other) @ poses
        # Nothing is gained by knowing a gap that leaves the slice beyond the best one.
        cap = min(self.best.high + stray, 1e9)
        if about is None:
            gap = pose_gap(self.other_tree, self.tree, seen[0], 1e-3, cap)
        else:
            gap = path_gap(self.other_tree, self.tree, seen, 1e-3, cap, None, about).gap
        if gap.face_payload >= 0 and gap.high < self.best.high:
            ends = transform_points(world_from_other, np.array([gap.on_payload, gap.on_scene]))
            moment = times[0] + gap.time * (times[1] - times[0])
            self.best = Meeting(0.0, gap.high, moment, other, ends[0], ends[1], gap.face_payload)
        return gap.low


class _FreeSearch(_Search):
    """As `_Search`, with the other anywhere on its course at any moment of the one.

    Slices are of the other's course; over the whole of the one's the gap is that of its motions.
    """

    def _look(self, cell: Cell) -> float:
        start, stop = cell
        v = 0.5 * (start + stop)
        stray, course = self.other.stray(start, v, stop), self.course
        if len(course.poses) == 1:
            return self._gap(course.poses, None, (0.0, 0.0), v, stray) - stray
        lows = [
            self._gap(
                course.poses[k : k + 2], course.about[k],
                (float(course.knots[k]), float(course.knots[k + 1])), v, stray,
            )
            for k in range(len(course.about))
        ]  # fmt: skip
        return min(lows) - stray
