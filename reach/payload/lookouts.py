"""Who looks on while something is moved, from where and when: cameras, and the clear-caller's eyes.

When the clear-caller is where is not one thing where steps may last longer or shorter.  What they
see for sure counts for a pass; that something goes unseen is shown by one course that the written
times allow: each step lasting as long as is likely, or as it may at most, with a motion that
lasts as long as is likely, or as it may at least or at most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, transform_directions, transform_points
from reach.payload.bystanders import moves
from reach.site import SOON, Bystander, Carriage, Site, Situation
from reach.travel.near import at_rest
from reach.worker.chain import trunk_fk

Array = NDArray[np.float64]
Span = tuple[float, float]

ALWAYS: Span = (0.0, 1.0)
NEVER: Span = (1.0, 0.0)


@dataclass(frozen=True, eq=False, slots=True)
class Seer:
    """An eye: a camera, or the clear-caller's.

    Attributes
    ----------
    name : str
    at, look : ndarray, shape (3,), m and unit vector
        In the world, or in the frame of what is moved where it ``rides``.
    field : float, rad
        From the middle of what it sees to its edge; pi for a head that turns.
    rides : bool
        Whether it moves along.
    sure : (float, float)
        The part of the motion's time in which it looks for sure, 0 to 1; `NEVER` if in none.
    courses : tuple of (float, float)
        The part in which it looks in each of some courses that the written times allow, the same
        ones for all eyes of a motion; empty for one that looks all the time in each.
    worker : str
        Whose eye it is; their own body does not hide anything from it.
    """

    name: str
    at: Array
    look: Array
    field: float
    rides: bool = False
    sure: Span = ALWAYS
    courses: tuple[Span, ...] = ()
    worker: str = ""

    @property
    def may_look(self) -> bool:
        """Whether it looks at any time in any course."""
        return any(until >= since for since, until in (self.sure, *self.courses))


def seers_of(site: Site, carriage: Carriage) -> list[Seer]:
    """Return the cameras that an action names, and the eyes of its clear-caller.

    A clear-caller looks while they stand, head and body turned as they need: the helmet is left
    out.  Whoever is on the way along rails does not look.
    """
    scene, around = site.scene, carriage.surroundings
    found = []
    for name in carriage.action.cameras:
        camera = scene.cameras[name]
        pose = around.world_from[camera.frame]
        rides = bool(carriage.payload) and scene.rides_on(camera.frame) == carriage.payload
        if rides:
            pose = inverse(around.world_from[carriage.payload]) @ pose
        at = transform_points(pose, np.asarray(camera.at, float)[None])[0]
        look = transform_directions(pose, np.asarray(camera.look, float)[None])[0]
        found.append(Seer(name, at, look / np.linalg.norm(look), camera.field, rides))
    caller = carriage.action.clear_caller
    if caller:
        found += _eyes(site, carriage, caller)
    return found


def _eyes(site: Site, carriage: Carriage, worker: str) -> list[Seer]:
    ahead = np.array([1.0, 0.0, 0.0])
    rider, from_boots = carriage.rider, carriage.payload_from_boots
    if rider is not None and rider.worker == worker and from_boots is not None:
        boots = rider.place.world_from_boots if rider.place is not None else None
        if boots is None:
            return []
        world = _eye(site, rider)
        at = transform_points(from_boots @ inverse(boots), world[None])[0]
        return [Seer(worker, at, ahead, math.pi, True, worker=worker)]
    found = []
    stays = [one for one in carriage.bystanders if one.worker == worker and not one.is_late]
    courses = _courses(carriage, stays)
    for k, stay in enumerate(stays):
        place = stay.situation.place
        # Who is not there yet sees nothing.
        if not _stands(stay) or place is None or place.world_from_boots is None:
            continue
        spans = tuple(one[k] for one in courses)
        # A step that begins late for those before it may make all the later ones late.
        sure = _in_all([_surely_there(stay, stays), *spans])
        if carriage.strays:
            sure = NEVER
        eye = Seer(worker, ahead, ahead, math.pi, False, sure, spans, worker)
        if eye.may_look:
            at = _eye(site, stay.situation)
            found.append(Seer(worker, at, ahead, math.pi, False, sure, spans, worker))
    return found


def _stands(stay: Bystander) -> bool:
    return not (moves(stay) or stay.situation.passage is not None or stay.is_later)


def _surely_there(stay: Bystander, stays: Sequence[Bystander]) -> Span:
    """Return the part of a motion's time in which somebody can be nowhere else, 0 to 1.

    Stays overlap where a step may last longer than until the next one begins, and where a
    move and a stand are of one step: then it is not known where they are.
    """
    # Nor who comes at a moment that is not known. Whose step is likely over stays on until the
    # next one begins.
    if not stay.is_timed and stay.begins > SOON:
        return NEVER
    since, until = stay.begins, stay.ends
    for other in stays:
        if other is stay or _is_same_place(stay, other):
            continue
        if other.begins <= stay.begins:
            since = max(since, other.ends)
        else:
            until = min(until, other.begins)
    return since, until


def _in_all(spans: Sequence[Span]) -> Span:
    since, until = max(one[0] for one in spans), min(one[1] for one in spans)
    return (since, until) if until > since else NEVER


def _courses(carriage: Carriage, stays: Sequence[Bystander]) -> list[list[Span]]:
    """Return when each stay is in each course, one list a course; shares of the motion's time."""
    start, likely = carriage.start, carriage.duration
    if start is None or not likely:
        return [[(stay.begins, stay.ends) for stay in stays]]
    lasting = [one for one in (likely, carriage.shortest, carriage.longest) if one]
    began = [_begun(stay, start, carriage.longest or likely) for stay in stays]
    out = []
    for lasts in dict.fromkeys(lasting):
        for is_late in (False, True):
            spans = _one_after_another(stays, began, is_late)
            out.append([((a - start) / lasts, (b - start) / lasts) for a, b in spans])
    return out


def _begun(stay: Bystander, start: float, longest: float) -> float:
    """Return when a stay begins as written, s; who waits has been there since their last step."""
    written = stay.situation.start
    return start + stay.begins * longest if written is None else written


def _one_after_another(
    stays: Sequence[Bystander], began: Sequence[float], is_late: bool
) -> list[Span]:
    """Return from when to when each stay lasts, s, if none begins before the last one is over.

    Whoever is asked nothing stays where they were.  Of a step with moves in it the moves take
    all the time.
    """
    order = sorted(range(len(stays)), key=lambda k: (began[k], _stands(stays[k]), k))
    spans: list[Span] = [(math.inf, -math.inf)] * len(stays)
    free, step, here = -math.inf, "", list[int]()
    for k in order:
        stay, is_same_step = stays[k], stays[k].situation.step == step
        is_same_place = any(_is_same_place(stays[i], stay) for i in here)
        since = spans[here[0]][0] if is_same_place else max(began[k], free)
        if not is_same_place:
            for i in here:
                spans[i] = spans[i][0], since
            here = []
        if not is_same_step:
            lasts = stay.situation.longest if is_late else stay.situation.duration
            free, step = max(began[k], free) + (lasts or 0.0), stay.situation.step
        here.append(k)
        spans[k] = since, math.inf
    return spans


def _is_same_place(one: Bystander, other: Bystander) -> bool:
    if one.situation.passage is not None or other.situation.passage is not None:
        return False
    boots = [
        stay.situation.place.world_from_boots
        for stay in (one, other)
        if stay.situation.place is not None and stay.situation.place.world_from_boots is not None
    ]
    return len(boots) == 2 and np.array_equal(boots[0], boots[1])


def _eye(site: Site, situation: Situation) -> Array:
    """Return the eye of a worker at rest in their place, shape (3,), m, world."""
    rest = at_rest(site, situation)
    turn, shoulder = np.empty((3, 3)), np.empty(3)
    hip = np.array(trunk_fk(rest.figure.p, rest.trunk, turn, shoulder))
    sizes = rest.bulk.sizes
    eye = hip + turn @ np.array([sizes[5], 0.0, sizes[6]])
    return np.asarray(transform_points(rest.world_from_boots, eye[None])[0])
