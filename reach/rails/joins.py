"""Where two rails are joined by one span of the hands, and where a place meets the rails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.rails.closest import Floats, Ints, closest, counting, near_pairs, near_points, share
from reach.rails.records import HANDHOLD

PARALLEL = 0.01
"""Rails whose directions differ by less (rad, about 0.6 degrees) run side by side."""

TOUCH = 1e-9
"""Two lengths (m) that differ by less are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """The axes of all rails, and the grips at most ``pitch`` apart along each.

    Attributes
    ----------
    start, along : ndarray, shape (n, 3), m
        First end, and the way from there to the other one.
    length : ndarray, shape (n,), m
    counts : ndarray, shape (n,)
        Number of pitch grips of each rail, both ends among them; 1 for a handhold.
    """

    start: Floats
    along: Floats
    length: Floats
    counts: Ints

    def at(self, rail: Ints, s: Floats) -> Floats:
        """Return the points ``s`` (m) along the rails of these indices."""
        divisor = np.where(self.length > 0.0, self.length, 1.0)
        return np.asarray(self.start[rail] + (s / divisor[rail])[:, None] * self.along[rail])

    def grips(self, rails: Ints) -> tuple[Ints, Floats, Ints]:
        """Return rail, distance along it (m) and row in ``rails`` of all pitch grips of rails."""
        counts = self.counts[rails]
        row = np.repeat(np.arange(len(rails)), counts)
        step = self.length[rails] / np.maximum(1, counts - 1)
        return rails[row], counting(counts) * step[row], row


@dataclass(frozen=True, slots=True, eq=False)
class Joins:
    """Pairs of points that a span of the hands joins: rails and distances along them (m)."""

    rail: Ints
    s: Floats
    other: Ints
    t: Floats


def joins_within(lines: Lines, usable: Ints, gap: float) -> Joins:
    """Return the joins of all ``usable`` rails that are at most ``gap`` (m) apart."""
    start = lines.start[usable]
    pairs = usable[near_pairs(start, start + lines.along[usable], gap)]
    return joins_of(lines, pairs.reshape(-1, 2), gap)


def joins_of(lines: Lines, pairs: Ints, gap: float) -> Joins:
    """Return the joins of these ``pairs`` (shape (m, 2)) of rails, as far as ``gap`` (m) allows.

    Two rails are joined where they come closest; those that run side by side are joined at
    every pitch grip of either that has the other rail right beside it.
    """
    i, j = pairs[:, 0], pairs[:, 1]
    s, t, distance = closest(lines.start[i], lines.along[i], lines.start[j], lines.along[j])
    near = distance <= gap + TOUCH
    i, j, s, t = i[near], j[near], s[near] * lines.length[i[near]], t[near] * lines.length[j[near]]
    beside = np.flatnonzero(_side_by_side(lines, i, j))
    ahead, back = _across(lines, i[beside], j[beside]), _across(lines, j[beside], i[beside])
    # Side by side, many pairs of points may be equally close: those at the grips stand for them,
    # unless no grip is right beside the other rail, or a slight slant comes closer in between.
    best = np.full(len(i), np.inf)
    for across in (ahead, back):
        np.minimum.at(best, beside[across.row], across.distance)
    alone = distance[near] < best - TOUCH
    sides = [_within(ahead, gap), _within(back, gap)]
    return Joins(
        np.concatenate([i[alone], *(each.rail for each in sides)]),
        np.concatenate([s[alone], *(each.s for each in sides)]),
        np.concatenate([j[alone], *(each.other for each in sides)]),
        np.concatenate([t[alone], *(each.t for each in sides)]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Across:
    """Pitch grips of rails and the points of the other rails right beside them."""

    row: Ints
    rail: Ints
    s: Floats
    other: Ints
    t: Floats
    distance: Floats


def _across(lines: Lines, i: Ints, j: Ints) -> _Across:
    """Return the grips of rails ``i`` that have a point of the rail ``j`` of their row beside."""
    rail, s, row = lines.grips(i)
    other = j[row]
    points = lines.at(rail, s)
    t = share(points - lines.start[other], lines.along[other]) * lines.length[other]
    apart = points - lines.at(other, t)
    # Right beside: the foot of the perpendicular lies on the rail, its ends included.
    lean = np.abs(np.einsum("ij,ij->i", apart, lines.along[other]))
    on = lean <= TOUCH * lines.length[other] * 10.0
    distance = np.linalg.norm(apart, axis=1)
    return _Across(row[on], rail[on], s[on], other[on], t[on], distance[on])


def _within(found: _Across, gap: float) -> _Across:
    keep = found.distance <= gap + TOUCH
    return _Across(
        found.row[keep], found.rail[keep], found.s[keep], found.other[keep], found.t[keep],
        found.distance[keep],
    )  # fmt: skip


def _side_by_side(lines: Lines, i: Ints, j: Ints) -> NDArray[np.bool_]:
    """Return which pairs of rails run within `PARALLEL` of each other's direction."""
    crossed = np.linalg.norm(np.cross(lines.along[i], lines.along[j]), axis=1)
    product = lines.length[i] * lines.length[j]
    return np.asarray((crossed <= PARALLEL * product) & (product > 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class Holds:
    """Points of rails in span of a place: place, rail, distance along it (m)."""

    spot: Ints
    rail: Ints
    s: Floats


def holds_of(lines: Lines, usable: Ints, points: Floats, spans: Floats) -> Holds:
    """Return the points of ``usable`` rails that each place's span lets a hand hold.

    They are the rail's nearest point, its pitch grips in span (both ends among them), and
    the two points just in span.  A place on a rail is joined to it there and nowhere else:
    from there on the rail itself is the way.

    Parameters
    ----------
    points : ndarray, shape (n, 3), m
    spans : ndarray, shape (n,), m
    """
    start = lines.start[usable]
    pairs = near_points(start, start + lines.along[usable], points, spans)
    spot, rail = pairs[:, 0], usable[pairs[:, 1]]
    nearest = share(points[spot] - lines.start[rail], lines.along[rail]) * lines.length[rail]
    distance = np.linalg.norm(points[spot] - lines.at(rail, nearest), axis=1)
    near = distance <= spans[spot] + TOUCH
    spot, rail, nearest, distance = spot[near], rail[near], nearest[near], distance[near]
    off = distance > HANDHOLD
    far_spot, far_rail = spot[off], rail[off]
    of, s, row = lines.grips(far_rail)
    sides = _just_in_span(lines, far_rail, points[far_spot], spans[far_spot])
    spots = np.concatenate([far_spot[row], far_spot, far_spot])
    rails, along = np.concatenate([of, far_rail, far_rail]), np.concatenate([s, *sides])
    gap = np.linalg.norm(points[spots] - lines.at(rails, np.nan_to_num(along)), axis=1)
    keep = np.isfinite(along) & (gap <= spans[spots] + TOUCH)
    return Holds(
        np.concatenate([spot, spots[keep]]),
        np.concatenate([rail, rails[keep]]),
        np.concatenate([nearest, along[keep]]),
    )


def _just_in_span(lines: Lines, rail: Ints, points: Floats, spans: Floats) -> tuple[Floats, Floats]:
    """Return the two distances along rails (m) at which a point is ``spans`` away, or nan."""
    length = np.where(lines.length[rail] > 0.0, lines.length[rail], 1.0)
    way = lines.along[rail] / length[:, None]
    foot = np.einsum("ij,ij->i", points - lines.start[rail], way)
    across = np.linalg.norm(points - lines.start[rail] - foot[:, None] * way, axis=1)
    half = np.sqrt(np.maximum(0.0, spans**2 - across**2))
    ends = [np.asarray(foot + sign * half) for sign in (-1.0, 1.0)]
    on = [(end >= 0.0) & (end <= lines.length[rail]) for end in ends]
    return np.where(on[0], ends[0], np.nan), np.where(on[1], ends[1], np.nan)
