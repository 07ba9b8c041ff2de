"""From steps to motions of payloads and cranes: every pose chained, who rides and who stands by."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse
from reach.grasp import Grasp
from reach.lateness import SAME
from reach.legs import legs_in_between, placed_pose
from reach.model.carrying import Leg, Path
from reach.model.procedure import Align, MoveCrane, Moving, Step
from reach.model.scene import Scene
from reach.placing import station_pose
from reach.site import SOON, Bystander, Carriage, Place, Situation, Surroundings

Array = NDArray[np.float64]

STRAIGHT = Leg(about=(0.0, 0.0, 0.0))
"""A leg on which the payload's origin runs straight."""


@dataclass(frozen=True, slots=True, eq=False)
class Started:
    """A motion where its step comes to it, before who stands by is known.

    ``rider`` and ``place`` say who stands on the crane's tip, and where; ``written`` counts the
    situations made before it; ``waits`` names the steps that begin when it is over.
    """

    carriage: Carriage
    rider: str
    place: Place | None
    written: int
    waits: frozenset[str] = frozenset()


def crane_of(scene: Scene, action: MoveCrane) -> str:
    """Return the crane of an action: the one it names, or the only one there is."""
    return action.crane or next(iter(scene.cranes))


def tip_name(crane: str) -> str:
    """Return the name of the place on a crane's tip that a payload's path has taken along."""
    return f"{crane} tip"


def is_on(scene: Scene, payload: str, place: str) -> bool:
    """Return whether a station, a socket or a rail is on a payload."""
    at = scene.stations.get(place) or scene.sockets.get(place)
    return scene.payload_of(place) == payload or (
        at is not None and scene.rides_on(at.frame) == payload
    )


def goal_of(scene: Scene, step: Step, action: Moving) -> tuple[str, str]:
    """Return which payload is moved, and the pose it ends in; empty without a payload."""
    if isinstance(action, Align):
        guide = scene.guides[action.guide]
        return guide.payload, guide.pose
    payload = action.payload or ""
    if payload and step.path is not None:
        return payload, scene.payloads[payload].paths[step.path].through[-1]
    return payload, (action.to or "") if payload else ""


def started(
    scene: Scene,
    step: Step,
    action: Moving,
    now: str,
    around: Surroundings,
    rider: str = "",
    place: Place | None = None,
    holds: Mapping[str, Grasp] | None = None,
    written: int = 0,
) -> Started:
    """Return one motion with its poses in the world.

    Parameters
    ----------
    now : str
        Pose of the payload before it, or station of the crane; empty where it is not known.
    around : Surroundings
        As the motion begins.
    rider, place
        Who stands on the crane's tip, and where.
    holds : mapping of worker -> Grasp, optional
    written : int
        How many situations there are by then.
    """
    payload, goal = goal_of(scene, step, action)
    crane = crane_of(scene, action) if isinstance(action, MoveCrane) else ""
    path_name = step.path or "" if payload else ""
    speed = None
    is_blank = False
    if payload:
        path = _path(scene, payload, path_name, now, goal)
        is_blank = not path_name and not isinstance(action, Align)
        names, poses, legs = _chained(scene, payload, path, around)
        speed = path.speed
    else:
        assert isinstance(action, MoveCrane)
        stations = [name for name in (action.start or now, action.to) if name]
        names = tuple(dict.fromkeys(stations))
        poses = np.array([_plate(scene, name, around) for name in names])
        legs = (STRAIGHT,) * (len(names) - 1)
    from_boots = None
    if crane and place is not None and place.world_from_boots is not None and payload:
        from_boots = inverse(poses[0]) @ place.world_from_boots
    return Started(
        Carriage(
            step=step.name,
            lane=step.lane,
            action=action,
            case="",
            payload=payload,
            crane=crane,
            path=path_name,
            names=names,
            poses=poses,
            legs=legs,
            is_blank=is_blank,
            surroundings=around,
            speed=speed,
            payload_from_tip=_tip(scene, payload, crane, from_boots),
            payload_from_boots=from_boots if payload else (np.eye(4) if crane else None),
            holds=dict(holds or {}),
            start=step.start,
            duration=step.duration,
            shortest=step.shortest,
            longest=step.longest,
        ),
        rider,
        place,
        written,
    )


def _plate(scene: Scene, name: str, around: Surroundings) -> Array:
    """Return where the boot plate is at a station, or where a payload's path has left it."""
    if name in scene.stations:
        return station_pose(scene.stations[name], around.world_from)
    return around.world_from[name]


def _path(scene: Scene, payload: str, name: str, now: str, goal: str) -> Path:
    if name:
        return scene.payloads[payload].paths[name]
    return Path(through=(now, goal))


def _chained(
    scene: Scene, payload: str, path: Path, around: Surroundings
) -> tuple[tuple[str, ...], Array, tuple[Leg, ...]]:
    """Return pose names ("" for those put in between), poses in the world and legs."""
    record = scene.payloads[payload]
    world = [
        around.world_from[record.poses[name].frame] @ placed_pose(record.poses[name])
        for name in path.through
    ]
    names, poses, legs = [path.through[0]], [world[0]], []
    for name, before, after in zip(path.through[1:], world, world[1:], strict=False):
        leg = path.legs.get(name, Leg())
        leg = leg.model_copy(update={"about": leg.about or path.about})
        between = legs_in_between(before, after, leg)
        names += [*[""] * (len(between) - 2), name]
        poses += list(between[1:])
        legs += [leg] * (len(between) - 1)
    return tuple(names), np.array(poses), tuple(legs)


def _tip(scene: Scene, payload: str, crane: str, from_boots: Array | None) -> Array | None:
    """Return payload_from_tip: by the boots of the rider, else by the payload's grapple."""
    if not crane:
        return None
    boots_from_tip = inverse(placed_pose(scene.cranes[crane].plate))
    if not payload:
        return boots_from_tip
    if from_boots is not None:
        return from_boots @ boots_from_tip
    grapple = scene.payloads[payload].grapple
    return None if grapple is None else placed_pose(grapple)


def plate_on(scene: Scene, carriage: Carriage, world_from_payload: Array) -> Array | None:
    """Return where the plate on a crane's tip is with its payload somewhere; None if not known."""
    held = carriage.payload_from_tip
    if held is None:
        return None
    return np.asarray(world_from_payload @ held @ placed_pose(scene.cranes[carriage.crane].plate))


def carriages_of(
    motions: Sequence[Started], situations: Sequence[Situation], sizes: Sequence[str] | None
) -> tuple[Carriage, ...]:
    """Return the motions, one for each body asked, with who rides and who stands by.

    Parameters
    ----------
    motions : sequence of Started
    situations : sequence of Situation
        All of the procedure, as written.
    sizes : sequence of str or None
        Size classes that are run instead of own bodies.
    """
    carriages = []
    rank = {id(one): i for i, one in enumerate(situations)}
    lanes = list(dict.fromkeys(one.worker for one in situations))
    for motion in motions:
        for case in sizes or [""]:
            mine = [one for one in situations if not case or one.case == case]
            rider = _rider(motion, [one for one in mine if rank[id(one)] < motion.written])
            others = [
                stay
                for lane in lanes
                if lane != motion.rider
                for stay in _stays(motion, lane, mine, rank)
            ]
            shown = case or (rider.case if rider else "")
            # Each motion has its own copies: what is read of them is read of the motion.
            stays = tuple(replace(one, situation=replace(one.situation)) for one in others)
            carriages.append(replace(motion.carriage, case=shown, rider=rider, bystanders=stays))
    return tuple(carriages)


def _rider(motion: Started, before: Sequence[Situation]) -> Situation | None:
    """Return the rider as last seen, standing where the motion finds them."""
    seen = [one for one in before if one.worker == motion.rider]
    if not seen or motion.place is None:
        return None
    return replace(
        seen[-1],
        step=motion.carriage.step,
        place=motion.place,
        passage=None,
        head=None,
        held=None,
        surroundings=motion.carriage.surroundings,
        holds=motion.carriage.holds,
    )


def _stays(
    motion: Started, lane: str, mine: Sequence[Situation], rank: Mapping[int, int]
) -> list[Bystander]:
    """Return the stays and moves of one other worker while a motion lasts, or may."""
    of_lane = [one for one in mine if one.worker == lane]
    found = _written_stays(motion, of_lane, rank)
    return [*found, *_late_stays(motion, of_lane, found)]


def _late_stays(
    motion: Started, of_lane: Sequence[Situation], found: Sequence[Bystander]
) -> list[Bystander]:
    """Return where somebody may be beside that, where steps or the motion begin late."""
    carriage = motion.carriage
    if carriage.start is None or carriage.latest is None or not carriage.duration:
        return []
    over = carriage.latest + (carriage.longest or carriage.duration)
    steps: dict[str, list[Situation]] = {}
    for one in of_lane:
        steps.setdefault(one.step, []).append(one)
    known = {id(one.situation) for one in found if one.begins <= SOON and one.ends >= 1.0 - SOON}
    more: list[Bystander] = []
    for asked, then in zip(steps.values(), [*list(steps.values())[1:], None], strict=True):
        first, goes = asked[0], None if then is None else then[0]
        if first.step in motion.waits:
            break
        if first.start is None or first.step == carriage.step:
            continue
        if goes is not None and goes.step in carriage.before:
            continue
        until = math.inf if goes is None or goes.latest is None else goes.latest
        is_late = carriage.latest > carriage.start + SAME or _is_late(first)
        if (is_late or (goes is not None and _is_late(goes))) and (
            first.start < over and until > carriage.start + SAME
        ):
            more += [
                Bystander(one, SOON, 1.0, is_timed=False, is_later=True)
                for one in _told_apart(asked)
                if id(one) not in known
            ]
    return more


def _is_late(one: Situation) -> bool:
    """Return whether a step may begin later than written."""
    return one.start is not None and one.latest is not None and one.latest > one.start + SAME


def _written_stays(
    motion: Started, of_lane: Sequence[Situation], rank: Mapping[int, int]
) -> list[Bystander]:
    """Return the stays and moves of one other worker while a motion lasts, as written."""
    before = [one for one in of_lane if rank[id(one)] < motion.written]
    carriage = motion.carriage
    if carriage.start is None or not carriage.duration:
        some = before[-1:] or of_lane[:1]
        return [Bystander(one, is_timed=False, is_later=not before) for one in some]
    begins, lasts = carriage.start, carriage.longest or carriage.duration
    found: list[Bystander] = []
    steps: dict[str, list[Situation]] = {}
    for one in of_lane:
        steps.setdefault(one.step, []).append(one)
    for asked in steps.values():
        first, duration = asked[0].start, asked[0].longest
        if first is None or first >= begins + lasts:
            continue
        if not duration:
            if not _is_followed(of_lane, first, begins):
                found += [Bystander(one, max(first - begins, 0.0) / lasts, is_timed=False)
                          for one in _told_apart(asked)]  # fmt: skip
            continue
        low, high = max(first, begins), min(first + duration, begins + lasts)
        if high <= low:
            continue
        way = ((low - first) / duration, (high - first) / duration)
        span = ((low - begins) / lasts, (high - begins) / lasts)
        if asked[0].duration and first + asked[0].duration <= begins:
            # Most likely gone by then: that it is near is no proof.
            span = (max(span[0], SOON), span[1])
        chosen = _told_apart(asked)
        # Of several moves of one step it is not known when each is made, nor when anything is
        # of which the duration is given as between two.
        is_sure = all(one.longest == one.duration for one in (carriage, asked[0]))
        is_timed = is_sure and sum(one.passage is not None for one in chosen) <= 1
        found += [
            Bystander(one, *span, way if one.passage and is_timed else None,
                      is_timed if one.passage else is_sure)
            for one in chosen
        ]  # fmt: skip
    found.sort(key=lambda stay: stay.begins)
    last = _last_known([one for one in of_lane if _is_over(one, begins)], before, rank)
    return _with_gaps(found, last, of_lane)


def _told_apart(some: Sequence[Situation]) -> list[Situation]:
    """Return the situations of one step in which somebody may be elsewhere: moves, then a stand."""
    moves = [one for one in some if one.passage is not None]
    stands = [one for one in some if one.passage is None]
    if not moves:
        return stands[:1]
    # Who stands in the same step before or after a move may stand all the while.
    return [*moves, *stands[-1:]]


def _is_over(one: Situation, moment: float) -> bool:
    """Return whether a step with times is over by a moment, or without duration has begun."""
    return one.start is not None and one.start + (one.duration or 0.0) <= moment


def _is_followed(of_lane: Sequence[Situation], start: float, moment: float) -> bool:
    """Return whether another step of the lane begins after one, by a moment."""
    return any(one.start is not None and start < one.start <= moment for one in of_lane)


def _last_known(
    over: Sequence[Situation], before: Sequence[Situation], rank: Mapping[int, int]
) -> Situation | None:
    """Return where somebody was left: the last step that is over, or one without times after it."""
    last = max(over, key=lambda one: (one.start or 0.0, rank[id(one)]), default=None)
    written = before[-1] if before else None
    if last is None or (
        written is not None and written.start is None and rank[id(written)] > rank[id(last)]
    ):
        return written
    return last


def _with_gaps(
    found: list[Bystander], last: Situation | None, of_lane: Sequence[Situation]
) -> list[Bystander]:
    """Fill the time between stays: whoever is asked nothing stays where they were."""
    out: list[Bystander] = []
    now = 0.0
    for stay in found:
        if stay.begins > now + 1e-9 and last is not None:
            out.append(_waiting(last, now, stay.begins))
        out.append(stay)
        last, now = stay.situation, max(now, stay.ends)
    if now < 1.0 - 1e-9:
        if last is not None:
            out.append(_waiting(last, now, 1.0))
        elif of_lane:
            out.append(Bystander(of_lane[0], now, 1.0, is_timed=False, is_later=True))
    return out


def _waiting(last: Situation, begins: float, ends: float) -> Bystander:
    """Return whoever stays where their last step left them: timed where that step is."""
    return Bystander(last, begins, ends, is_timed=last.start is not None and bool(last.duration))
