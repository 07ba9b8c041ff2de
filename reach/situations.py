"""From steps to situations: who stands where, in which body, doing what, every name resolved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.model.arm import Arm
from reach.model.population import Population
from reach.model.population_draw import PopulationDraw
from reach.model.procedure import (
    Action,
    Drive,
    HandOver,
    Hold,
    Inspect,
    MoveCrane,
    Moving,
    Procedure,
    Step,
    Translate,
)
from reach.model.scene import Fastener, Scene, Size, Worker
from reach.motions import Started, carriages_of, crane_of, goal_of, started
from reach.passage import Line, Parked, Passage
from reach.placing import frames_of, head_of, held_of, place_of, surroundings_of
from reach.site import Grasp, Place, Site, Situation, Surroundings
from reach.worker.body import Body, measured_body, percentile_body
from reach.worker.crowd import Crowd, crowd_of

Meshes = Mapping[str, NDArray[np.float64]]


@dataclass(slots=True)
class _State:
    """What steps hand on to later ones: where lanes and payloads are, lines worn and left.

    ``plates`` holds the boots on a crane's tip (world) that a payload's path has taken along,
    ``tips`` the station that a crane's tip is at.
    """

    standing: dict[str, tuple[str, str | None, dict[str, float] | None]] = field(
        default_factory=dict
    )
    placed: dict[str, str] = field(default_factory=dict)
    at: dict[str, str] = field(default_factory=dict)
    lines: dict[str, Line] = field(default_factory=dict)
    trails: dict[str, tuple[Parked, ...]] = field(default_factory=dict)
    holds: dict[str, Grasp] = field(default_factory=dict)
    plates: dict[str, NDArray[np.float64]] = field(default_factory=dict)
    tips: dict[str, str] = field(default_factory=dict)


def resolve(
    scene: Scene,
    meshes: Meshes,
    procedure: Procedure,
    population_of: Callable[[str], Population],
    sizes: Sequence[str] | None = None,
    population: PopulationDraw | None = None,
    arms: Mapping[str, Arm] | None = None,
) -> tuple[Site, tuple[Situation, ...]]:
    """Return the site and one situation for each action, worker and body.

    Parameters
    ----------
    scene, procedure : Scene, Procedure
        Already checked: every name in them exists.
    meshes : mapping of str -> ndarray, shape (n, 3, 3), m
        Triangles of the solids and hazards that come from files.
    population_of : callable
        Statistics of a sex.
    sizes : sequence of str, optional
        Size classes to run instead of each worker's own body.
    population : PopulationDraw, optional
        People that each worker may be, beside their own body; else those of the worker.
    arms : mapping of str -> Arm, optional
        Of the scene's cranes.

    Raises
    ------
    ValueError
        If a size class is unknown.
    """
    limits = {
        name: Limit(name, record.value, record.unit, record.source)
        for name, record in scene.limits.items()
    }
    for name in sizes or ():
        if name not in scene.sizes:
            raise ValueError(f"no size {name!r}; there are {', '.join(scene.sizes)}")
    state = _State(lines=_first_lines(scene))
    around: dict[Any, tuple[Surroundings, dict[str, NDArray[np.float64]]]] = {}

    def surroundings() -> tuple[Surroundings, dict[str, NDArray[np.float64]]]:
        placed = tuple(sorted(state.placed.items()))
        key = (placed, tuple((name, pose.tobytes()) for name, pose in state.plates.items()))
        if key not in around:
            world_from = frames_of(scene, state.placed) | state.plates
            around[key] = (surroundings_of(scene, world_from, dict(meshes)), world_from)
        return around[key]

    bodies: dict[tuple[str, str], Body] = {}
    crowds: dict[PopulationDraw, Crowd] = {}

    def crowd(asked: PopulationDraw | None) -> Crowd | None:
        if asked is not None and asked not in crowds:
            crowds[asked] = crowd_of(asked, population_of)
        return None if asked is None else crowds[asked]

    situations: list[Situation] = []
    motions: list[Started] = []
    site = Site(scene, limits, frames_of(scene, {}))
    for step in procedure.steps:
        state.placed |= step.placed
        place = _place(scene, surroundings()[1], step, state)
        for action in step.actions:
            if isinstance(action, Moving):
                motions.append(_motion(scene, step, action, state, surroundings, len(situations)))
            if procedure.lanes[step.lane] != "worker":
                continue
            worker = scene.workers[step.lane]
            passage = _passage(scene, step, action, state)
            for case in sizes or [own_case(worker)]:
                if (step.lane, case) not in bodies:
                    own = crowd(None if sizes else worker.population)
                    bodies[step.lane, case] = (
                        own.middle if own else _body(scene, worker, case, sizes, population_of)
                    )
                situations.append(
                    _situation(
                        site,
                        step,
                        action,
                        worker,
                        case,
                        bodies[step.lane, case],
                        place,
                        surroundings(),
                        crowd(population or worker.population),
                        passage,
                        state,
                    )
                )
            _grasp(scene, step, action, state)
    site = replace(
        site,
        asked=tuple(situations),
        carriages=carriages_of(motions, situations, sizes),
        arms=dict(arms or {}),
    )
    return site, tuple(situations)


def _motion(
    scene: Scene,
    step: Step,
    action: Moving,
    state: _State,
    surroundings: Callable[[], tuple[Surroundings, dict[str, NDArray[np.float64]]]],
    written: int,
) -> Started:
    """Return a motion, and note where it leaves payload, crane and rider."""
    payload, goal = goal_of(scene, step, action)
    crane = crane_of(scene, action) if isinstance(action, MoveCrane) else ""
    around, world_from = surroundings()
    rider = next((lane for lane in state.standing if _rides(scene, state, lane) == crane), "")
    rider = rider if crane else ""
    place = _standing_place(scene, world_from, state, rider) if rider else None
    now = state.tips.get(crane, "") or (state.at.get(rider, "") if rider else "")
    if payload:
        now = state.placed.get(payload) or next(iter(scene.payloads[payload].poses))
    motion = started(scene, step, action, now, around, rider, place, dict(state.holds), written)
    if payload:
        state.placed[payload] = goal
    if crane and not payload:
        assert isinstance(action, MoveCrane)
        state.tips[crane] = action.to or ""
        if rider and action.to:
            _, restraint, setting = state.standing[rider]
            state.standing[rider] = (action.to, restraint, setting)
            state.at[rider] = action.to
            state.plates.pop(tip_name(crane), None)
    elif rider and motion.carriage.payload_from_boots is not None:
        name = tip_name(crane)
        end = frames_of(scene, state.placed)[payload]
        state.plates[name] = end @ motion.carriage.payload_from_boots
        _, restraint, setting = state.standing[rider]
        state.standing[rider] = (name, restraint or _restraint_of(scene, place), setting)
        state.at[rider] = name
        state.tips.pop(crane, None)
    return motion


def tip_name(crane: str) -> str:
    """Return the name of the place on a crane's tip that a payload's path has taken along."""
    return f"{crane} tip"


def _restraint_of(scene: Scene, place: Place | None) -> str | None:
    return None if place is None else place.restraint_name


def _rides(scene: Scene, state: _State, lane: str) -> str:
    """Return the crane on whose tip the worker of a lane stands, or nothing."""
    where = state.standing[lane][0]
    if where in scene.stations:
        return scene.stations[where].on or ""
    return next((crane for crane in scene.cranes if where == tip_name(crane)), "")


def _standing_place(
    scene: Scene, world_from: dict[str, NDArray[np.float64]], state: _State, lane: str
) -> Place:
    where, restraint, setting = state.standing[lane]
    return place_of(scene, world_from, where, restraint, setting)


def _grasp(scene: Scene, step: Step, action: Action, state: _State) -> None:
    """Note what is held after an action."""
    if isinstance(action, Hold):
        state.holds[step.lane] = Grasp(scene.payload_of(action.grips[0]), action.grips)
    elif isinstance(action, HandOver):
        given = state.holds.pop(step.lane, None)
        payload = scene.payload_of(action.grips[0]) or (given.payload if given else "")
        state.holds[action.to] = Grasp(payload, action.grips)


def _place(
    scene: Scene, world_from: dict[str, NDArray[np.float64]], step: Step, state: _State
) -> Place | None:
    """Return where the step's lane stands, carrying on what the step leaves out."""
    before = state.standing.get(step.lane)
    where, restraint, setting = step.where, step.restraint, step.setting
    if where is None:
        if before is None:
            return None
        where, restraint, setting = before[0], restraint or before[1], setting or before[2]
    elif before is not None and before[0] == where:
        restraint, setting = restraint or before[1], setting or before[2]
    state.standing[step.lane] = (where, restraint, setting)
    state.at[step.lane] = where
    return place_of(scene, world_from, where, restraint, setting)


def _first_lines(scene: Scene) -> dict[str, Line]:
    """Return the line that each worker wears at first: the first that names both ends."""
    lines: dict[str, Line] = {}
    for name, tether in scene.tethers.items():
        if tether.worker and tether.anchor:
            lines.setdefault(tether.worker, Line(name, tether.anchor, tether.length))
    return lines


def _passage(scene: Scene, step: Step, action: Action, state: _State) -> Passage | None:
    """Return a move with its names looked up, and note where it leaves the worker."""
    if not isinstance(action, Translate):
        return None
    passage = Passage(
        start=action.start or state.at[step.lane],
        stop=action.to,
        written=step.route,
        carrying={name: scene.items[name] for name in action.carrying},
        in_hand={name: scene.items[name] for name in action.in_hand},
        body=action.body,
    )
    state.at[step.lane] = action.to
    state.standing.pop(step.lane, None)
    if action.tether is not None:
        tether = scene.tethers[action.tether]
        anchor = action.anchor or tether.anchor
        if anchor is not None:
            _change(state, step.lane, Line(action.tether, anchor, tether.length), passage.start)
    elif action.anchor is not None and step.lane in state.lines:
        state.lines[step.lane] = replace(state.lines[step.lane], anchor=action.anchor)
    return passage


def _change(state: _State, lane: str, line: Line, at: str) -> None:
    """Put another line on; the one worn before is left where the move begins."""
    old = state.lines.get(lane)
    trail = state.trails.get(lane, ())
    if old is not None and old.tether != line.tether:
        trail = (*trail, Parked(old, at))
    state.trails[lane] = tuple(one for one in trail if one.line.tether != line.tether)
    state.lines[lane] = line


def _body(
    scene: Scene,
    worker: Worker,
    case: str,
    sizes: Sequence[str] | None,
    population_of: Callable[[str], Population],
) -> Body:
    if sizes or worker.size:
        size = scene.sizes[case]
    elif worker.measurements:
        return measured_body(population_of(str(worker.sex)), worker.measurements)
    else:
        assert worker.sex is not None
        assert worker.percentile is not None
        size = Size(sex=worker.sex, percentile=worker.percentile)
    return percentile_body(population_of(size.sex), size.percentile)


def _situation(
    site: Site,
    step: Step,
    action: Action,
    worker: Worker,
    case: str,
    body: Body,
    place: Place | None,
    around: tuple[Surroundings, dict[str, NDArray[np.float64]]],
    crowd: Crowd | None,
    passage: Passage | None,
    state: _State,
) -> Situation:
    scene = site.scene
    head = held = None
    torque: float | None = None
    if isinstance(action, Drive | Inspect):
        head = head_of(scene, around[1], action.fastener, site.limit("head_radius").value)
    if isinstance(action, Drive):
        held = held_of(scene, action)
        assert head is not None
        torque = _wanted_torque(action, head.record)
    return Situation(
        step=step.name,
        action=action,
        worker=step.lane,
        case=case,
        body=body,
        suit=scene.suits[worker.suit],
        own_hand=worker.hand,
        place=None if passage else place,
        head=head,
        held=held,
        surroundings=around[0],
        wanted_torque=torque,
        sets_restraint=step.setting is not None and passage is None,
        crowd=None if passage else crowd,
        passage=passage,
        at=state.at.get(step.lane, ""),
        others={
            lane: at for lane, at in state.at.items() if lane != step.lane and lane in scene.workers
        },
        lines=dict(state.lines),
        trail=state.trails.get(step.lane, ()),
        start=step.start,
        duration=step.duration,
        holds=dict(state.holds),
    )


def _wanted_torque(action: Drive, record: Fastener) -> float | None:
    """Return the largest torque asked: the step's own, else the fastener's, breakaway included.

    A fastener that only says how much it bears is taken at that.
    """
    asked = action.torque if action.torque is not None else record.torque
    known = [value for value in (asked, record.breakaway) if value is not None]
    return max(known) if known else record.most_torque


def own_case(worker: Worker) -> str:
    """Return the size-class word of a worker's own body."""
    if worker.size:
        return worker.size
    if worker.measurements:
        return "own measurements"
    if worker.population:
        return "middle person"
    return f"{worker.sex} P{worker.percentile:g}"
