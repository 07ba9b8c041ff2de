"""How near what is moved comes to everyone else, who stands, works or is on the way meanwhile.

Whoever stands is at rest in their place, arms folded; whoever is on the way, or has come to the
end of it, is the straight body of `reach.travel.stance` without its arms.  On the way they keep a
constant pace along the axis of the corridor for as long as their step lasts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree
from reach.payload.bodies import body_facets, body_of
from reach.payload.clock import moments, place_at
from reach.payload.courses import Course, course_of, meeting, resting_course
from reach.payload.facets import capsule_facets, kept_tree
from reach.payload.parts import farthest_of, parts_of
from reach.payload.records import Part
from reach.payload.struck import struck
from reach.payload.track import Track, track_of
from reach.site import Bystander, Carriage, Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.sides import corridor_of

Array = NDArray[np.float64]


ON_THE_SPOT = 1e-6
"""Share of the time that a turn on the spot takes."""


@dataclass(frozen=True, eq=False, slots=True)
class Near:
    """How near what is moved comes to one other worker.

    Attributes
    ----------
    worker : str
    part, piece : str
        What comes nearest, and which solid or part of a body of it.
    low, high : float, m
        Bracket of the gap; infinite ``high`` where it is not known or far.
    at : float
        Where on its way the carriage is then: leg number plus time; nan without a witness.
    stay : Bystander
        What the worker does then.
    how : str
        How the worker is taken to be: ``"at rest at SK1"``, ``"on the way along RL04"``.
    on_part, on_worker : ndarray, shape (3,), m, world
    unknown : str
        Why it is not known where the worker is; empty where it is.
    """

    worker: str
    part: str
    piece: str
    low: float
    high: float
    at: float
    stay: Bystander
    how: str
    on_part: Array
    on_worker: Array
    unknown: str = ""


Plain = tuple[int, tuple[str, str, str, float, float, float], tuple[str, Array, Array, str]]
"""The place of a stay among all of a motion, and the fields of `Near` before and after it."""


@dataclass(frozen=True, eq=False, slots=True)
class _Other:
    """A body that stands by: its facets and capsules, its course, how it is; excess in m."""

    tree: Tree
    capsules: Array
    course: Course
    excess: float
    how: str
    is_free: bool = False


def others_of(carriage: Carriage) -> dict[str, list[Bystander]]:
    """Return the stays of everyone who neither rides nor holds what is moved, by worker.

    Who may have let go of it counts: it is moved away from them.
    """
    rider = carriage.rider.worker if carriage.rider is not None else ""
    found: dict[str, list[Bystander]] = {}
    for stay in carriage.bystanders:
        grasp = carriage.holds.get(stay.worker)
        holds = grasp is not None and grasp.holds(carriage.payload)
        if stay.worker != rider and (not holds or stay.worker in carriage.parted):
            found.setdefault(stay.worker, []).append(stay)
    return found


def moves(stay: Bystander) -> bool:
    """Return whether somebody is on the way, or may be."""
    return stay.situation.passage is not None and (stay.way is not None or is_anywhere(stay))


def is_if_late(stay: Bystander) -> bool:
    """Return whether somebody is there during a motion only if steps begin later than written."""
    return stay.is_later and stay.begins > 0.0


def is_anywhere(stay: Bystander) -> bool:
    """Return whether somebody may be anywhere on their way: where times are not written."""
    one = stay.situation
    is_timed = stay.is_timed and one.start is not None and bool(one.longest)
    return one.passage is not None and not is_timed


def nearest_of(site: Site, carriage: Carriage) -> tuple[Near, ...]:
    """Return how near what is moved comes to each other worker (kept on the site).

    One answer for the time in which they stand and one for that in which they are on the way.
    Empty where the motions are not known.
    """
    key = ("bystanders", carriage)
    if key not in site.memo:
        stays = carriage.bystanders
        site.memo[key] = tuple(
            Near(*before, stays[place], *after) for place, before, after in _found(site, carriage)
        )
    found: tuple[Near, ...] = site.memo[key]
    return found


def _found(site: Site, carriage: Carriage) -> tuple[Plain, ...]:
    """Return what comes near as plain data, which belongs to no run."""
    key = ("standing by", carriage)
    if key not in site.memo:
        track = track_of(site, carriage)
        stays = carriage.bystanders
        near = () if track is None else tuple(
            _nearest(site, carriage, track, some)
            for mine in others_of(carriage).values()
            for some in _told_apart(mine)
            if some
        )  # fmt: skip
        site.memo[key] = tuple(
            (
                next(k for k, stay in enumerate(stays) if stay is one.stay),
                (one.worker, one.part, one.piece, one.low, one.high, one.at),
                (one.how, one.on_part, one.on_worker, one.unknown),
            )
            for one in near
        )
    found: tuple[Plain, ...] = site.memo[key]
    return found


def _told_apart(stays: list[Bystander]) -> tuple[list[Bystander], ...]:
    """Return those who stand, who move, and who are there only if steps are late: no proof."""
    late = [stay for stay in stays if is_if_late(stay)]
    others = [stay for stay in stays if not is_if_late(stay)]
    return [s for s in others if not moves(s)], [s for s in others if moves(s)], late


def _nearest(site: Site, carriage: Carriage, track: Track, stays: list[Bystander]) -> Near:
    best: Near | None = None
    for stay in stays:
        best = _stay(site, carriage, track, stay, best)
    assert best is not None
    return best


def _stay(site: Site, carriage: Carriage, track: Track, stay: Bystander, best: Near | None) -> Near:
    """Return the nearer of what was known and of one stay; what is not known wins."""
    other = _other_of(site, stay)
    nowhere = np.full(3, np.nan)
    if isinstance(other, str):
        if best is not None and best.high <= 0.0:
            return best
        unknown = Near(stay.worker, "", "", 0.0, math.inf, math.nan, stay, "", nowhere,
                       nowhere, other)  # fmt: skip
        return unknown if best is None else replace(best, low=0.0, unknown=other)
    ends = moments(carriage, farthest_of(site, carriage))
    for part in parts_of(site, carriage):
        found = _meeting(track, ends, part, stay, other, best)
        if best is None:
            best = found
        elif found.high < best.high:
            best = replace(found, low=min(best.low, found.low), unknown=best.unknown)
        else:
            best = replace(best, low=min(best.low, found.low))
    assert best is not None
    return best


def _meeting(
    track: Track, ends: Array, part: Part, stay: Bystander, other: _Other, best: Near | None
) -> Near:
    far = float(np.linalg.norm(part.tree.tri.reshape(-1, 3), axis=1).max())
    course = course_of(track.poses, track.about, _times(track, ends), far)
    span = (stay.begins, stay.ends) if stay.is_timed else (0.0, 1.0)
    free = (0.0, 1.0) if other.is_free else None
    beyond = math.inf if best is None else best.high
    found = meeting((part.tree, course), (other.tree, other.course), span, free, beyond)
    off = track.off_of(part)
    low = max(found.low - part.error - off, 0.0)
    has_witness = found.face >= 0
    high = found.high + part.excess + other.excess + off if has_witness else math.inf
    # Where it is not known when they are where, that they meet is no proof.
    if has_witness and found.high <= 0.0 and free is None:
        mine = (part.tree, course)
        hit = struck(mine, other.capsules, other.course, span, part.excess + off)
        if hit is not None:
            return Near(
                stay.worker, part.name, part.names[int(part.name_of[hit.face])], 0.0, 0.0,
                place_at(ends, hit.moment), stay, other.how, hit.on_one, hit.on_other,
            )  # fmt: skip
    return Near(
        stay.worker,
        part.name,
        part.names[int(part.name_of[found.face])] if has_witness else "",
        low,
        high,
        place_at(ends, found.moment) if has_witness else math.nan,
        stay,
        other.how,
        found.on_one,
        found.on_other,
    )


def _times(track: Track, ends: Array) -> Array:
    """Return when each pose of a track is reached, share of the time, shape (k,)."""
    places = np.arange(len(ends) + 1)
    times = np.concatenate([[0.0], ends])
    return np.asarray(np.interp(track.places, places, times), float)


def _other_of(site: Site, stay: Bystander) -> _Other | str:
    """Return the body of a stay, or why it is not known where it is."""
    key = ("stood by", stay)
    if key not in site.memo:
        site.memo[key] = (
            _standing(site, stay.situation)
            if stay.situation.passage is None
            else _moving(site, stay)
        )
    found: _Other | str = site.memo[key]
    return found


def _standing(site: Site, situation: Situation) -> _Other | str:
    place = situation.place
    if place is None or place.world_from_boots is None:
        return f"where {situation.worker} stands in step {situation.step} is not known"
    sets, _, excess = body_facets(site, situation, np.eye(4))
    return _Other(
        kept_tree(np.concatenate(sets)),
        body_of(site, situation)[0],
        resting_course(place.world_from_boots),
        excess,
        f"at rest at {place.name}",
    )


def _moving(site: Site, stay: Bystander) -> _Other | str:
    situation = stay.situation
    assert situation.passage is not None
    corridor = corridor_of(site, situation)
    if corridor is None:
        return f"the way of {situation.worker} in step {situation.step} follows no rail"
    mover = corridor.mover
    rows = np.column_stack([mover.p, mover.q, mover.radius])
    facets = [capsule_facets(row) for row in rows]
    tree = kept_tree(np.concatenate([one for one, _ in facets]))
    excess = max(one for _, one in facets)
    poses, shares = _body_poses(corridor)
    stop = situation.passage.stop
    if stay.way is None and not is_anywhere(stay):
        return _Other(tree, rows, resting_course(poses[-1]), excess, f"on the rails at {stop}")
    far = float(np.linalg.norm(tree.tri.reshape(-1, 3), axis=1).max())
    knots = shares
    if stay.way is not None and not is_anywhere(stay):
        first, last = stay.way
        knots = stay.begins + (shares - first) / (last - first) * (stay.ends - stay.begins)
    course = course_of(poses, np.zeros((len(poses) - 1, 3)), knots, far)
    return _Other(tree, rows, course, excess, f"on the way to {stop}", is_free=is_anywhere(stay))


def _body_poses(corridor: Corridor) -> tuple[Array, Array]:
    """Return poses of a body along its corridor, and the share of the time of each."""
    starts, stops = corridor.poses
    axis, _ = corridor.pieces
    lengths = np.linalg.norm(axis[:, 1] - axis[:, 0], axis=1)
    total = float(lengths.sum())
    poses, shares, done = [starts[0]], [0.0], 0.0
    for start, stop, length in zip(starts, stops, lengths, strict=True):
        if not np.allclose(start, poses[-1], atol=1e-9):
            # A turn on the spot takes next to no time, but some: it is looked at as it goes.
            poses.append(start)
            done += ON_THE_SPOT
            shares.append(done)
        done += float(length) / total if total > 0.0 else 0.0
        poses.append(stop)
        shares.append(done)
    return np.array(poses), np.array(shares) / done if done > 0.0 else np.array(shares)
