"""From steps to situations: who stands where, in which body, doing what, every name resolved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.lateness import all_before, latest_begins, links_of, strays
from reach.ledger import Outing, names, outing_of
from reach.model.arm import Arm
from reach.model.population import Population
from reach.model.population_draw import PopulationDraw
from reach.model.procedure import (
    Action,
    Drive,
    Inspect,
    Moving,
    Procedure,
    Step,
    Translate,
    is_bodily,
    written_order,
)
from reach.model.scene import Fastener, Scene, Size, Worker
from reach.motions import Started, carriages_of
from reach.orders import Value
from reach.passage import Line, Parked, Passage
from reach.placing import frames_of, head_of, held_of, surroundings_of
from reach.progress import (
    Around,
    Progress,
    begun,
    motion_of,
    note_dial,
    note_grasp,
    note_hatch,
    note_placed,
    note_places,
    note_restraints,
    passage_of,
    place_of_step,
    wear,
)
from reach.site import Place, Site, Situation
from reach.worker.body import Body, measured_body, percentile_body
from reach.worker.crowd import Crowd, crowd_of

Meshes = Mapping[str, NDArray[np.float64]]


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
    outing = outing_of(scene, procedure) if procedure.begin is not None else None
    state = begun(scene, procedure.begin)
    if outing is not None:
        _note_lines(scene, state, outing.start)
    around: dict[Any, Around] = {}

    def surroundings() -> Around:
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
    state.at |= procedure.begin.workers if procedure.begin else {}
    note_places(state)
    # In order of time, as the ledger has them: files may tell one lane after the other.
    steps = written_order(procedure.steps)
    links = links_of(steps)
    late = latest_begins(steps, links)
    for step in steps:
        note_placed(scene, step, state)
        note_restraints(step, state)
        place = place_of_step(scene, surroundings()[1], step, state)
        note_places(state)
        for i, action in enumerate(step.actions):
            note_dial(action, state)
            if isinstance(action, Moving):
                motions.append(motion_of(scene, step, action, state, surroundings, len(situations)))
                note_places(state)
            before, after = ({}, {}) if outing is None else outing.around(step.name, i)
            if outing is not None:
                _note_lines(scene, state, after)
                state.inside = frozenset(
                    one for one in scene.workers if before.get(names.outside(one)) is False
                )
            if procedure.lanes[step.lane] != "worker" or not is_bodily(action):
                note_hatch(step, action, state)
                note_places(state)
                continue
            worker = scene.workers[step.lane]
            on_suit = _on_suit(scene, before, step.lane)
            hook = None if outing is None else _hook_of(scene, outing, action, after)
            passage = passage_of(scene, step, action, state, on_suit, hook)
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
                        late[step.name],
                    )
                )
            note_grasp(scene, step, action, state)
            state.since.pop(step.lane, None)
            note_places(state)
    earlier = {name: frozenset(all_before(name, links)) for name in links} if motions else {}
    site = replace(
        site,
        asked=tuple(situations),
        carriages=carriages_of(
            [_on_the_clock(procedure, earlier, late, one) for one in motions], situations, sizes
        ),
        arms=dict(arms or {}),
    )
    return site, tuple(situations)


def _on_the_clock(
    procedure: Procedure,
    earlier: Mapping[str, frozenset[str]],
    late: Mapping[str, float],
    one: Started,
) -> Started:
    """Return a motion with what comes before and after it, and why its clear-caller may stray.

    ``earlier`` names all that each step comes after, ``late`` is when each begins at the latest, s.
    """
    carriage = one.carriage
    caller, name = carriage.action.clear_caller, carriage.step
    motion = next(step for step in procedure.steps if step.name == name)
    clocked = replace(
        carriage,
        latest=None if motion.start is None else late[name],
        before=earlier[name],
        strays=strays(procedure.steps, motion, caller) if caller else "",
    )
    waits = frozenset(step for step, over in earlier.items() if name in over)
    return replace(one, carriage=clocked, waits=waits)


def _note_lines(scene: Scene, state: Progress, values: Mapping[str, Value]) -> None:
    """Note the safety lines that workers wear by the ledger, where they lead from an anchor."""
    for lane in scene.workers:
        tether = values.get(names.worn(lane)) or ""
        anchor = values.get(names.hook(str(tether)))
        on_anchor = isinstance(anchor, str) and anchor in scene.anchors
        wear(scene, state, lane, str(tether) if on_anchor else "", str(anchor))
        state.more[lane] = tuple(
            Line(name, str(values[names.hook(name)]), one.length)
            for name, one in scene.tethers.items()
            if name != tether
            and values.get(names.reel(name)) == lane
            and values.get(names.hook(name)) in scene.anchors
        )
    for lane, trail in state.trails.items():
        state.trails[lane] = tuple(one for one in trail if _lies(scene, one, lane, values))


def _hook_of(
    scene: Scene, outing: Outing, action: Action, values: Mapping[str, Value]
) -> str | None:
    """Return where the line that a move names is hooked; None if nothing says where it ever is."""
    line = action.tether if isinstance(action, Translate) else None
    if line is None or not any(outing.ever(names.hook(line))):
        return None
    at = values.get(names.hook(line))
    return at if isinstance(at, str) and at in scene.anchors else ""


def _left(state: Progress, lane: str) -> tuple[Parked, ...]:
    """Return the lines that a worker has left by now: one put on before may be on the suit yet."""
    worn = {one.tether for one in state.more.get(lane, ())}
    worn |= {one.tether for name, one in state.lines.items() if name == lane}
    return tuple(one for one in state.trails.get(lane, ()) if one.line.tether not in worn)


def _lies(scene: Scene, parked: Parked, lane: str, values: Mapping[str, Value]) -> bool:
    """Return whether a line still lies where somebody left it: nobody has taken up an end since."""
    line = parked.line
    reel, hook = values.get(names.reel(line.tether)), values.get(names.hook(line.tether))
    taken = reel in scene.workers and reel != lane
    return hook == line.anchor and reel != names.ADRIFT and not taken


def _on_suit(scene: Scene, values: Mapping[str, Value], lane: str) -> list[str]:
    """Return what hangs on a worker by the ledger and has a size."""
    held = values.get(names.contents(lane), frozenset())
    assert isinstance(held, frozenset)
    sized = [name for name in held if scene.items[name].size or scene.items[name].bulky]
    return sorted(sized)


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
    around: Around,
    crowd: Crowd | None,
    passage: Passage | None,
    state: Progress,
    latest: float,
) -> Situation:
    scene = site.scene
    head = held = None
    torque: float | None = None
    if isinstance(action, Drive | Inspect):
        head = head_of(scene, around[1], action.fastener, site.limit("head_radius").value)
    if isinstance(action, Drive):
        held = held_of(scene, action)
        assert head is not None
        torque = _wanted_torque(action, head.record, state.dials.get(action.tool))
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
        since=state.since.get(step.lane, ()),
        others={
            lane: at
            for lane, at in state.at.items()
            if lane != step.lane and lane in scene.workers and lane not in state.inside
        },
        lines=dict(state.lines),
        more=dict(state.more),
        trail=_left(state, step.lane),
        start=step.start,
        latest=None if step.start is None else latest,
        duration=step.duration,
        longest=step.longest,
        holds=dict(state.holds),
        inside=state.inside - {step.lane},
    )


def _wanted_torque(action: Drive, record: Fastener, set_to: float | None) -> float | None:
    """Return the largest torque asked: the step's own, else the fastener's, breakaway included.

    A fastener that only says how much it bears is taken at that. What is done up turns until the
    tool stops: at what it was set to beforehand, where that is more.
    """
    asked = action.torque if action.torque is not None else record.torque
    known = [value for value in (asked, record.breakaway) if value is not None]
    most = max(known) if known else record.most_torque
    if action.torque is not None or action.undoes or set_to is None:
        return most
    return set_to if most is None else max(most, set_to)


def own_case(worker: Worker) -> str:
    """Return the size-class word of a worker's own body."""
    if worker.size:
        return worker.size
    if worker.measurements:
        return "own measurements"
    if worker.population:
        return "middle person"
    return f"{worker.sex} P{worker.percentile:g}"
