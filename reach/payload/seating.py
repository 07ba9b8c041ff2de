"""How a payload comes to its seat: how fast, what it meets first, and how far off hands keep it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import SweptGap, inverse, path_gap, transform_points
from reach.geometry.motion_chain import chain_of
from reach.payload.asked import asked_by, guide_of, is_meant, seat_of
from reach.payload.clock import moments
from reach.payload.gaps import gap_on
from reach.payload.parts import farthest_of, parts_of
from reach.payload.records import Part, PartGap, Thing
from reach.payload.things import things_of
from reach.payload.track import Track, track_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

EARLIEST = 1e-3
"""The first contact with the seat is found to this share of the last piece of the way."""


@dataclass(frozen=True, slots=True)
class Speed:
    """How fast any part of a payload goes on the last leg, m/s: bracket of the fastest part."""

    low: float
    high: float


def last_speed(site: Site, carriage: Carriage) -> Speed | None:
    """Return how fast a payload comes to its seat; None where nothing says how long it takes.

    By the duration of the step, at most by the shortest that it may have, shared out over the legs
    by their length; else what its path allows, at most. What may take no time may be as fast as
    can be.
    """
    if not carriage.legs:
        return None
    leg = len(carriage.legs) - 1
    if carriage.shortest is None:
        return None if carriage.speed is None else Speed(0.0, carriage.speed)
    far = farthest_of(site, carriage)
    ends = moments(carriage, far)
    share = float(ends[-1] - (ends[-2] if leg else 0.0))
    about = np.asarray(carriage.legs[leg].about or (0.0, 0.0, 0.0), float)
    _, _, step, _, angle = chain_of(carriage.poses[leg:], about).motions
    way, turn = float(np.linalg.norm(step[0])), float(angle[0])
    most = way + turn * (far + float(np.linalg.norm(about)))
    if most <= 0.0:
        return Speed(0.0, 0.0)
    likely = 0.0 if not carriage.duration else way / (carriage.duration * share)
    least = carriage.shortest * share
    fastest = most / least if least > 0.0 else math.inf
    # Without a likely time it may be as fast as its path allows, too.
    return Speed(
        likely, max(fastest, (carriage.speed or 0.0) if carriage.duration is None else 0.0)
    )


def last_gaps(site: Site, carriage: Carriage) -> list[PartGap]:
    """Return the gap of every part to everything it must keep off on the last leg alone."""
    track, leg = track_of(site, carriage), len(carriage.legs) - 1
    if track is None:
        return []
    return [
        gap_on(track, part, thing, stand_off, (leg,))
        for part in parts_of(site, carriage)
        for thing in things_of(site, carriage)
        for stand_off, legs in asked_by(site, carriage, part, thing)
        if leg in legs and not is_meant(site, carriage, part, thing, leg)
    ]


@dataclass(frozen=True, eq=False, slots=True)
class Early:
    """What of its seat a payload meets before it is there.

    Attributes
    ----------
    thing, piece : str
    before : float, m
        How long the way is still, of any part at most, where it is met first.
    at : float
        Leg number plus time.
    point : ndarray, shape (3,), m, world
    """

    thing: str
    piece: str
    before: float
    at: float
    point: Array


def early_contact(site: Site, carriage: Carriage, beyond: float = 0.0) -> Early | None:
    """Return the first contact with the seat that is farther from it than the guide takes in.

    Farther by more than ``beyond`` (m), proved by a witness; None where there is none up to the
    ``offset`` of the guide and as much more, proved by a bound on all of the way up to there.
    """
    name, track = guide_of(site.scene, carriage), track_of(site, carriage)
    if not name or track is None:
        return None
    leg, offset = len(carriage.legs) - 1, max(0.0, site.scene.guides[name].offset + beyond)
    about = track.about[-1]
    _, _, step, _, angle = chain_of(track.poses[-2:], about).motions
    arm = farthest_of(site, carriage) + float(np.linalg.norm(about))
    length = float(np.linalg.norm(step[0])) + float(angle[0]) * arm
    if length <= offset:
        return None
    poses = np.array([track.poses[-2], track.pose_on(len(track.about) - 1, 1.0 - offset / length)])
    seats = seat_of(site, carriage)
    found: Early | None = None
    for part in parts_of(site, carriage):
        for thing in things_of(site, carriage):
            if part.kind != "payload" or thing.name not in seats:
                continue
            if carriage.legs[leg].stand_off.get(thing.name) == 0.0:
                continue
            gap = path_gap(thing.tree, part.tree, poses, beyond=1.0, about=about).gap
            if gap.high > 0.0:
                continue
            gap, time = _first_contact(thing, part, track, gap, 1.0 - offset / length)
            before = length * (1.0 - time)
            if found is None or before > found.before:
                piece = part.names[int(part.name_of[gap.face_payload])]
                found = Early(thing.name, piece, before, leg + time, gap.on_scene)
    return found


def begins_in_seat(site: Site, carriage: Carriage) -> str:
    """Return what of its seat a payload touches as its last leg begins, or nothing.

    Unless that leg is written to touch it.  How deep it is then in it no motion tells.
    """
    track = track_of(site, carriage)
    if track is None:
        return ""
    pose, leg = track.poses[-2], carriage.legs[-1]
    seats = seat_of(site, carriage)
    for part in parts_of(site, carriage):
        for thing in things_of(site, carriage):
            if part.kind != "payload" or thing.name not in seats:
                continue
            if leg.stand_off.get(thing.name) == 0.0:
                continue
            if path_gap(thing.tree, part.tree, np.array([pose, pose]), beyond=1.0).gap.high <= 0.0:
                return thing.name
    return ""


def _first_contact(
    thing: Thing, part: Part, track: Track, gap: SweptGap, until: float
) -> tuple[SweptGap, float]:
    """Return the earliest contact found on the last piece up to a time, and its time.

    Halved until what lies before it is clear but for less than a thousandth of the piece.
    """
    clear, touched = 0.0, gap.time * until
    while touched - clear > EARLIEST:
        middle = 0.5 * (clear + touched)
        poses = np.array([track.poses[-2], track.pose_on(len(track.about) - 1, middle)])
        tried = path_gap(thing.tree, part.tree, poses, beyond=1.0, about=track.about[-1]).gap
        if tried.high <= 0.0:
            gap, touched = tried, tried.time * middle
        else:
            clear = middle
    return gap, touched


@dataclass(frozen=True, eq=False, slots=True)
class Capture:
    """How far off the guide hands may keep a payload, beside what the guide takes in.

    Attributes
    ----------
    guide : str
    grips : tuple of str
    lever : float, m
        From the middle of the grips to the guide.
    offset, angle : float, m and rad
        At worst, at the guide.
    on_grips, on_guide : ndarray, shape (3,), m, world, where the payload is seated
    holders : tuple of str
        Whose grips these are.
    """

    guide: str
    grips: tuple[str, ...]
    lever: float
    offset: float
    angle: float
    on_grips: Array
    on_guide: Array
    holders: tuple[str, ...] = ()


def capture_of(site: Site, carriage: Carriage, surely: bool = False) -> Capture | None:
    """Return how far off a payload comes to its guide; None where nobody holds it.

    ``surely`` leaves out those from whom it is moved away: they may have let go.

    All that hold it, wherever their grips are, keep its grips' middle within ``hand_offset`` and
    let it be askew by ``hand_angle`` about that.
    """
    name, scene = guide_of(site.scene, carriage), site.scene
    holds = {
        one: mine
        for one, grasp in carriage.holds.items()
        if (mine := grasp.grips_on(carriage.payload))
        if not (surely and one in carriage.parted)
    }
    grips = [grip for some in holds.values() for grip in some]
    if not name or not grips:
        return None
    guide = scene.guides[name]
    world_from = carriage.surroundings.world_from
    payload_from_world = inverse(world_from[carriage.payload])
    points = []
    for grip in grips:
        rail = scene.handrails.get(grip)
        if rail is not None:
            local, frame = 0.5 * (np.asarray(rail.start) + np.asarray(rail.end)), rail.frame
        else:
            hold = scene.handholds[grip]
            local, frame = np.asarray(hold.at, float), hold.frame
        points.append(transform_points(payload_from_world @ world_from[frame], local[None])[0])
    middle, at = np.mean(points, axis=0), np.asarray(guide.at, float)
    lever = float(np.linalg.norm(at - middle))
    angle = site.limit("hand_angle").value
    offset = site.limit("hand_offset").value + 2.0 * math.sin(0.5 * min(angle, math.pi)) * lever
    seated = carriage.poses[-1]
    ends = transform_points(seated, np.array([middle, at]))
    return Capture(name, tuple(grips), lever, offset, angle, ends[0], ends[1], holders=tuple(holds))
