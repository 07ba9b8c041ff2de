"""From steps to situations: who stands where, in which body, doing what, every name resolved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.model.population import Population
from reach.model.population_draw import PopulationDraw
from reach.model.procedure import Action, Drive, Inspect, Procedure, Step, Translate
from reach.model.scene import Fastener, Scene, Size, Worker
from reach.passage import Line, Parked, Passage
from reach.site import (
    Place,
    Site,
    Situation,
    Surroundings,
    frames_of,
    head_of,
    held_of,
    place_of,
    surroundings_of,
)
from reach.worker.body import Body, measured_body, percentile_body
from reach.worker.crowd import Crowd, crowd_of

Meshes = Mapping[str, NDArray[np.float64]]


@dataclass(slots=True)
class _State:
    """What steps hand on to later ones: where lanes and payloads are, lines worn and left."""

    standing: dict[str, tuple[str, str | None, dict[str, float] | None]] = field(
        default_factory=dict
    )
    placed: dict[str, str] = field(default_factory=dict)
    at: dict[str, str] = field(default_factory=dict)
    lines: dict[str, Line] = field(default_factory=dict)
    trails: dict[str, tuple[Parked, ...]] = field(default_factory=dict)


def resolve(
    scene: Scene,
    meshes: Meshes,
    procedure: Procedure,
    population_of: Callable[[str], Population],
    sizes: Sequence[str] | None = None,
    population: PopulationDraw | None = None,
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
    around: dict[
        tuple[tuple[str, str], ...], tuple[Surroundings, dict[str, NDArray[np.float64]]]
    ] = {}
    bodies: dict[tuple[str, str], Body] = {}
    crowds: dict[PopulationDraw, Crowd] = {}

    def crowd(asked: PopulationDraw | None) -> Crowd | None:
        if asked is not None and asked not in crowds:
            crowds[asked] = crowd_of(asked, population_of)
        return None if asked is None else crowds[asked]

    situations: list[Situation] = []
    site = Site(scene, limits, frames_of(scene, {}))
    for step in procedure.steps:
        state.placed |= step.placed
        key = tuple(sorted(state.placed.items()))
        if key not in around:
            world_from = frames_of(scene, state.placed)
            around[key] = (surroundings_of(scene, world_from, dict(meshes)), world_from)
        place = _place(scene, around[key][1], step, state)
        if procedure.lanes[step.lane] != "worker":
            continue
        worker = scene.workers[step.lane]
        for action in step.actions:
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
                        around[key],
                        crowd(population or worker.population),
                        passage,
                        state,
                    )
                )
    return replace(site, asked=tuple(situations)), tuple(situations)


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
