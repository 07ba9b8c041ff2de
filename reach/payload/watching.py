"""Who sees the gaps that matter while something is moved: cameras, and the clear-caller's eyes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import (
    Tree,
    any_hit,
    build,
    inverse,
    pose_gap,
    transform_directions,
    transform_points,
)
from reach.payload.clock import lengths_of, moments
from reach.payload.courses import course_of
from reach.payload.gaps import gaps_of
from reach.payload.lookouts import NEVER, Seer, seers_of
from reach.payload.parts import farthest_of, parts_of
from reach.payload.records import Part, Thing
from reach.payload.things import things_of
from reach.payload.track import Track, track_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

STEP = 0.05
"""What is moved is looked at in steps of its way of so much at most (m)."""

SHORT = 0.01
"""A line of sight ends this far before the middle of a gap (m): surfaces near it do not hide it."""


AHEAD = 0.5
"""Gaps are measured so much farther than they matter (m): the next places then need no look."""


@dataclass(frozen=True, eq=False, slots=True)
class Watched:
    """What is seen of the gaps that matter.

    Attributes
    ----------
    seers : tuple of str
        Who looks, for sure at some time.
    stretches : list of (first place, last place, least length, most length)
        In which a gap matters and nobody sees it for sure: leg number plus time, and m of the
        way; the longest first.
    least : float, m
        What goes unseen at a stretch in one course that the written times allow: the longest.
    near : float, m
        How much of the way has a gap that matters, at most.
    worst : (place, part, thing, ndarray, ndarray) or None
        In the middle of the longest stretch: the gap there, and its points on part and thing.
    seen_by : dict of str -> float
        Share of the moments that matter that each sees.
    """

    seers: tuple[str, ...]
    stretches: list[tuple[float, float, float, float]]
    least: float
    near: float
    worst: tuple[float, str, str, Array, Array] | None
    seen_by: dict[str, float]


def watched(site: Site, carriage: Carriage) -> Watched | None:
    """Return what is seen of all gaps under ``watched_gap``; None where there is none.

    Contact that is meant does not count, and of several gaps at one moment the nearest does.
    """
    key = ("watched", carriage)
    if key not in site.memo:
        site.memo[key] = _watched(site, carriage)
    found: Watched | None = site.memo[key]
    return found


def _watched(site: Site, carriage: Carriage) -> Watched | None:
    limit, track = site.limit("watched_gap").value, track_of(site, carriage)
    near = [gap for gap in gaps_of(site, carriage) if gap.low < limit and not gap.is_contact_meant]
    if track is None or not near:
        return None
    places, way, gone = _places(site, carriage, track)
    seers = seers_of(site, carriage)
    ends = moments(carriage, farthest_of(site, carriage))
    times = np.interp(places, np.arange(len(ends) + 1), np.concatenate([[0.0], ends]))
    things = {thing.name: thing for thing in things_of(site, carriage)}
    solid = _merged(site, carriage, [one for one in things.values() if not one.is_hazard])
    parts = sorted(parts_of(site, carriage), key=lambda one: one.tree.n_triangles)
    known = {part.name: (0.0, 0.0) for part in parts}
    offs = {part.name: track.off_of(part) for part in parts}
    found: list[_Gap | None] = []
    seen = np.zeros((len(places), len(seers)), bool)
    looks = np.zeros((len(places), len(seers)), bool)
    for k, seer in enumerate(seers):
        for span in (seer.sure, *seer.courses):
            looks[:, k] |= _within(times, span)
    poses = track.poses_at(places)
    for i, place in enumerate(places):
        pose = poses[i]
        leg = track.leg_of(track.piece_at(float(place))[0])
        nearest = None
        # The one that was nearest first: what is farther for sure then need not be measured.
        for part in sorted(parts, key=lambda one: known[one.name][0] + known[one.name][1]):
            mine = [things[g.thing] for g in near if g.part == part.name and leg in g.legs]
            # A gap shrinks by no more than what is moved has come since it was measured.
            low, when = known[part.name]
            low -= gone[i] - when
            least = limit if nearest is None else nearest.gap
            if mine and low < least:
                merged = _merged(site, carriage, mine)
                nearest, low = _nearer(nearest, part, merged, pose, least, offs[part.name])
                known[part.name] = low, gone[i]
            if places[i] == int(places[i]):  # another leg may ask about other things
                known[part.name] = 0.0, gone[i]
        found.append(nearest)
        if nearest is not None:
            target = 0.5 * (nearest.on_part + nearest.on_thing)
            for k, seer in enumerate(seers):
                if looks[i, k]:
                    seen[i, k] = _sees(site, carriage, seer, pose, target, solid)
    matters = np.array([one is not None for one in found])
    least = _least(way, times, matters, seen, seers)
    return _told(places, way, found, seen & _there(times, seers), seers, least)


def _within(times: Array, span: tuple[float, float]) -> NDArray[np.bool_]:
    return np.asarray((span[0] - 1e-9 <= times) & (times <= span[1] + 1e-9))


def _there(times: Array, seers: Sequence[Seer], course: int | None = None) -> NDArray[np.bool_]:
    """Return who looks at which moments, for sure or in a course, shape (moments, seers)."""
    out = np.ones((len(times), len(seers)), bool)
    for k, seer in enumerate(seers):
        if course is None:
            out[:, k] = _within(times, seer.sure)
        elif seer.courses:
            out[:, k] = _within(times, seer.courses[course])
    return out


def _least(
    way: Array, times: Array, matters: NDArray[np.bool_], seen: NDArray[np.bool_],
    seers: Sequence[Seer],
) -> float:  # fmt: skip
    """Return the longest stretch unseen in any one course, m."""
    n_courses = max((len(one.courses) for one in seers), default=0)
    longest = 0.0
    for course in range(max(n_courses, 1)):
        blind = matters & ~(seen & _there(times, seers, course)).any(axis=1)
        longest = max([longest, *(float(way[j] - way[i]) for i, j in _runs(blind))])
    return longest


def _runs(blind: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and last of each run of true ones."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], blind, [False]]).astype(int)))
    return [(int(i), int(j) - 1) for i, j in edges.reshape(-1, 2)]


def _places(site: Site, carriage: Carriage, track: Track) -> tuple[Array, Array, Array]:
    """Return places at most `STEP` apart, the way to each, and how far any point goes to it (m)."""
    far = farthest_of(site, carriage)
    done = np.concatenate([[0.0], np.cumsum(lengths_of(track.poses, track.about, far))])
    # No point of what is moved goes farther between two of them.
    course = course_of(track.poses, track.about, track.places, far)
    places = [0.0]
    for k in range(len(track.about)):
        n = max(1, math.ceil(float(course.travel[k + 1] - course.travel[k]) / STEP))
        before, after = track.places[k], track.places[k + 1]
        places += list(before + (after - before) * np.arange(1, n + 1) / n)
    at = np.array(places)
    return (
        at,
        np.interp(at, track.places, done),
        np.interp(at, course.knots, course.travel),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Gap:
    """A gap in one pose, m, with its points in the world."""

    gap: float
    part: str
    thing: str
    on_part: Array
    on_thing: Array


@dataclass(frozen=True, eq=False, slots=True)
class _Merged:
    """Several things as one tree; ``thing_of`` says which a triangle is of; error in m."""

    tree: Tree | None
    names: tuple[str, ...]
    thing_of: NDArray[np.int64]
    error: float


def _merged(site: Site, carriage: Carriage, things: Sequence[Thing]) -> _Merged:
    names = tuple(thing.name for thing in things)
    key = ("merged", id(carriage.surroundings), names)
    if key not in site.memo:
        rows = [thing.tree.tri.reshape(-1, 3, 3) for thing in things]
        site.memo[key] = (
            carriage.surroundings,
            _Merged(
                build(np.concatenate(rows)) if rows else None,
                names,
                np.repeat(np.arange(len(rows)), [len(one) for one in rows]),
                max((thing.error for thing in things), default=0.0),
            ),
        )
    found: _Merged = site.memo[key][1]
    return found


def _nearer(
    best: _Gap | None, part: Part, things: _Merged, pose: Array, least: float, off: float
) -> tuple[_Gap | None, float]:
    """Return the nearer of a gap and that of one part in one pose, and a bound of the latter."""
    assert things.tree is not None
    slack = part.error + things.error + off
    gap = pose_gap(things.tree, part.tree, pose, beyond=least + slack + AHEAD)
    now = max(gap.high - slack, 0.0)
    if gap.face_payload < 0 or now >= least:
        return best, gap.low - slack
    thing = things.names[int(things.thing_of[gap.face_scene])]
    found = _Gap(now, part.name, thing, gap.on_payload, gap.on_scene)
    return found, gap.low - slack


def _sees(
    site: Site, carriage: Carriage, seer: Seer, pose: Array, target: Array, solid: _Merged
) -> bool:
    """Return whether a point is in the field of an eye, with nothing in between."""
    at = transform_points(pose, seer.at[None])[0] if seer.rides else seer.at
    look = transform_directions(pose, seer.look[None])[0] if seer.rides else seer.look
    to = target - at
    distance = float(np.linalg.norm(to))
    if distance <= SHORT:
        return True
    cosine = float(to @ look) / distance
    if math.acos(min(1.0, max(-1.0, cosine))) > seer.field:
        return False
    share = 1.0 - SHORT / distance
    if solid.tree is not None and bool(any_hit(solid.tree, at[None], to[None], share)[0]):
        return False
    back = inverse(pose)
    start, way = transform_points(back, at[None]), transform_directions(back, to[None])
    return not any(
        bool(any_hit(part.tree, start, way, share)[0])
        for part in parts_of(site, carriage)
        if part.name != seer.worker
    )


def _told(
    places: Array,
    way: Array,
    found: Sequence[_Gap | None],
    seen: NDArray[np.bool_],
    seers: Sequence[Seer],
    least: float,
) -> Watched:
    matters = np.array([one is not None for one in found])
    blind = matters & ~seen.any(axis=1)
    stretches, last = [], len(places) - 1
    for i, j in _runs(blind):
        most = float(way[min(j + 1, last)] - way[max(i - 1, 0)])
        stretches.append((float(places[i]), float(places[j]), float(way[j] - way[i]), most))
    stretches.sort(key=lambda one: -one[2])
    worst = None
    if stretches:
        inside = (places >= stretches[0][0]) & (places <= stretches[0][1])
        rows = np.flatnonzero(inside)
        k = int(rows[len(rows) // 2])
        one = found[k]
        assert one is not None
        worst = float(places[k]), one.part, one.thing, one.on_part, one.on_thing
    steps = np.diff(way, prepend=way[0])
    near = float(steps[matters].sum())
    shares: dict[str, float] = {}
    for k, seer in enumerate(seers):
        share = float(seen[matters, k].mean()) if matters.any() else 0.0
        shares[seer.name] = max(shares.get(seer.name, 0.0), share)
    names = tuple(dict.fromkeys(one.name for one in seers if one.sure != NEVER))
    return Watched(names, stretches, least, near, worst, shares)
