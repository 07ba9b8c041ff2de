"""What steps hand on to later ones: places, poses of payloads, lines worn, what is held."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from reach.grasp import Grasp
from reach.model.handling import Adjust, Egress
from reach.model.outing import Start
from reach.model.plugged import note_plugged, plugged_first
from reach.model.procedure import (
    Action,
    Drive,
    HandOver,
    Hold,
    Ingress,
    MoveCrane,
    Moving,
    Release,
    Step,
    Translate,
    hatch_passed,
)
from reach.model.scene import Scene
from reach.motions import Started, crane_of, goal_of, is_on, plate_on, started, tip_name
from reach.passage import Line, Parked, Passage
from reach.placing import frames_of, place_of
from reach.site import Place, Surroundings

Array = NDArray[np.float64]
Around = tuple[Surroundings, dict[str, NDArray[np.float64]]]
"""Structure for one placement of the payloads, and where every frame is."""


@dataclass(slots=True)
class Progress:
    """What steps hand on to later ones: where lanes and payloads are, lines worn and left.

    ``plates`` holds the boots on a crane's tip (world) that a payload's path has taken along,
    ``tips`` the station that a crane's tip is at; ``plugged`` the restraint in a socket, ``left``
    how one was left set since it was plugged in there.  ``since`` holds the places that a worker
    has been at since an action asked something of their body, ``more`` lines worn beside those in
    ``lines``, ``inside`` who is in the lock, ``dials`` what tools are set to (N m).
    """

    standing: dict[str, tuple[str, str | None, dict[str, float] | None]] = field(
        default_factory=dict
    )
    placed: dict[str, str] = field(default_factory=dict)
    at: dict[str, str] = field(default_factory=dict)
    lines: dict[str, Line] = field(default_factory=dict)
    more: dict[str, tuple[Line, ...]] = field(default_factory=dict)
    trails: dict[str, tuple[Parked, ...]] = field(default_factory=dict)
    holds: dict[str, Grasp] = field(default_factory=dict)
    plates: dict[str, NDArray[np.float64]] = field(default_factory=dict)
    tips: dict[str, str] = field(default_factory=dict)
    plugged: dict[str, str] = field(default_factory=dict)
    left: dict[str, dict[str, float]] = field(default_factory=dict)
    since: dict[str, tuple[str, ...]] = field(default_factory=dict)
    inside: frozenset[str] = frozenset()
    dials: dict[str, float] = field(default_factory=dict)


def motion_of(
    scene: Scene,
    step: Step,
    action: Moving,
    state: Progress,
    surroundings: Callable[[], Around],
    written: int,
) -> Started:
    """Return a motion, and note where it leaves payload, crane and rider."""
    payload, goal = goal_of(scene, step, action)
    crane = crane_of(scene, action) if isinstance(action, MoveCrane) else ""
    around, world_from = surroundings()
    for lane, at in state.at.items():
        # Who has come to the tip and is asked nothing there rides along all the same.
        if crane and lane not in state.standing and crane_on(scene, at) == crane:
            state.standing[lane] = (at, None, None)
    rider = next((lane for lane in state.standing if rides_on_tip(scene, state, lane) == crane), "")
    rider = rider if crane else ""
    place = _standing_place(scene, world_from, state, rider) if rider else None
    now = state.tips.get(crane, "") or (state.at.get(rider, "") if rider else "")
    if payload:
        now = state.placed.get(payload) or next(iter(scene.payloads[payload].poses))
    motion = started(scene, step, action, now, around, rider, place, dict(state.holds), written)
    if payload:
        note_parted(scene, state, payload, {step.lane}, crane)
        parted = tuple(
            lane
            for lane, one in state.holds.items()
            if one.holds(payload) and not one.holds_surely(payload)
        )
        motion = replace(motion, carriage=replace(motion.carriage, parted=parted))
    if isinstance(action, MoveCrane):
        for lane in _taken_away(scene, state, crane, None if payload else action.to):
            _keep(state, lane, [payload] if payload else [])
    if payload:
        state.placed[payload] = goal
    if crane and not payload:
        assert isinstance(action, MoveCrane)
        state.tips[crane] = action.to or ""
        if rider and action.to:
            _taken_to(scene, state, crane, action.to)
        state.plates.pop(tip_name(crane), None)
    elif crane:
        _leave_tip(scene, state, motion, frames_of(scene, state.placed)[payload])
    return motion


def note_placed(scene: Scene, step: Step, state: Progress) -> None:
    """Note where a step says that payloads are: somebody moved those that were elsewhere."""
    for payload, pose in step.placed.items():
        if (state.placed.get(payload) or next(iter(scene.payloads[payload].poses))) != pose:
            note_parted(scene, state, payload, {step.lane})
        state.placed[payload] = pose


def note_parted(
    scene: Scene, state: Progress, payload: str, movers: Collection[str], crane: str = ""
) -> None:
    """Note from whom a payload goes away: from all but who moves it or is taken along.

    Who stands on it goes away from all other payloads.  The ledger has the same rule.
    """
    for lane, grasp in state.holds.items():
        at = state.at.get(lane, "")
        if is_on(scene, payload, at):
            state.holds[lane] = grasp.parting([one for one in grasp.payloads if one != payload])
        elif lane not in movers and not (crane and crane_on(scene, at) == crane):
            state.holds[lane] = grasp.parting([payload])


def _taken_away(scene: Scene, state: Progress, crane: str, to: str | None) -> list[str]:
    """Return who stands on a crane's tip and is not where it goes to (None: along a path)."""
    riders = [lane for lane in state.standing if rides_on_tip(scene, state, lane) == crane]
    return [lane for lane in riders if to is None or state.at.get(lane) != to]


def _leave_tip(scene: Scene, state: Progress, motion: Started, world_from_payload: Array) -> None:
    """Note where a payload's path leaves the tip of a crane, and who stands on it."""
    crane = motion.carriage.crane
    plate, name = plate_on(scene, motion.carriage, world_from_payload), tip_name(crane)
    if plate is None:
        state.tips.pop(crane, None)
        return
    state.plates[name] = plate
    state.tips[crane] = name
    if motion.rider:
        _taken_to(scene, state, crane, name, _restraint_of(scene, motion.place))


def _restraint_of(scene: Scene, place: Place | None) -> str | None:
    return None if place is None else place.restraint_name


def _taken_to(
    scene: Scene, state: Progress, crane: str, place: str, restraint: str | None = None
) -> None:
    """Note where everyone on a crane's tip has been taken."""
    for lane, (_, own, setting) in tuple(state.standing.items()):
        if rides_on_tip(scene, state, lane) == crane:
            state.standing[lane] = (place, own or restraint, setting)
            state.at[lane] = place


def note_places(state: Progress) -> None:
    """Note where everyone is by now, after all places since something was asked of them."""
    for lane, at in state.at.items():
        before = state.since.get(lane, ())
        if before[-1:] != (at,):
            state.since[lane] = (*before, at)


def rides_on_tip(scene: Scene, state: Progress, lane: str) -> str:
    """Return the crane on whose tip the worker of a lane stands, or nothing."""
    return crane_on(scene, state.standing[lane][0])


def crane_on(scene: Scene, place: str) -> str:
    """Return the crane on whose tip a place is, or nothing."""
    if place in scene.stations:
        return scene.stations[place].on or ""
    return next((crane for crane in scene.cranes if place == tip_name(crane)), "")


def _standing_place(
    scene: Scene, world_from: dict[str, NDArray[np.float64]], state: Progress, lane: str
) -> Place:
    where, restraint, setting = state.standing[lane]
    return place_of(scene, world_from, where, restraint, setting)


def begun(scene: Scene, begin: Start | None) -> Progress:
    """Return how everything is when a procedure begins: by what it declares, else by the scene."""
    if begin is None:
        lines, more = first_lines(scene)
        return Progress(lines=lines, more=more)
    inside = frozenset(lane for lane, at in begin.workers.items() if at in scene.hatches)
    dials = {tool: dial.torque for tool, dial in begin.tools.items() if dial.torque is not None}
    return Progress(
        plugged=plugged_first(scene, begin),
        left=dict(begin.settings),
        inside=inside,
        dials=dials,
    )


def note_dial(action: Action, state: Progress) -> None:
    """Note what a tool is set to by an action, beforehand or as it is used."""
    if isinstance(action, Adjust | Drive) and action.torque is not None:
        state.dials[action.tool] = action.torque


def note_restraints(step: Step, state: Progress) -> None:
    """Note the restraints that a step plugs in or takes out: they are set anew then."""
    for action in step.actions:
        state.left.pop(note_plugged(state.plugged, action), None)


def note_hatch(step: Step, action: Action, state: Progress) -> None:
    """Note that the worker of a step has come out of the lock, or gone in: both at a hatch.

    Hands let go where boots come out of a restraint, and in the lock.
    """
    if isinstance(action, Egress | Ingress):
        state.holds.pop(step.lane, None)
    if (hatch := hatch_passed(action)) is not None:
        state.at[step.lane] = hatch
        state.standing.pop(step.lane, None)
        is_in = isinstance(action, Ingress)
        state.inside = state.inside | {step.lane} if is_in else state.inside - {step.lane}


def note_grasp(scene: Scene, step: Step, action: Action, state: Progress) -> None:
    """Note what is held after an action."""
    if isinstance(action, Hold):
        more = Grasp.of(scene, action.grips)
        before = state.holds.get(step.lane)
        state.holds[step.lane] = more if before is None else before.and_then(more)
    elif isinstance(action, Release) and action.what is None:
        state.holds.pop(step.lane, None)
    elif isinstance(action, HandOver):
        more = Grasp.of(scene, action.grips)
        given, before = state.holds.get(step.lane), state.holds.get(action.to)
        if given is not None:
            _keep(state, step.lane, [one for one in given.payloads if one not in more.on])
        state.holds[action.to] = more if before is None else before.taking(more)


def _keep(state: Progress, lane: str, payloads: Sequence[str]) -> None:
    """Note that a worker goes on holding these payloads and nothing else."""
    held = state.holds.pop(lane, None)
    left = None if held is None else held.keeping(payloads)
    if left is not None:
        state.holds[lane] = left


def place_of_step(
    scene: Scene, world_from: dict[str, NDArray[np.float64]], step: Step, state: Progress
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
    crane, was = crane_on(scene, where), state.at.get(step.lane, "")
    if where != was and not (crane and crane_on(scene, was) == crane):
        state.holds.pop(step.lane, None)  # hands have gone along rails
    # What is in the socket is what was plugged in there, set as it was left.
    restraint = restraint or state.plugged.get(where)
    if restraint is not None and restraint == state.plugged.get(where):
        setting = setting or state.left.get(restraint)
        if setting:
            state.left[restraint] = setting
    state.standing[step.lane] = (where, restraint, setting)
    state.at[step.lane] = where
    state.inside -= {step.lane}
    return place_of(scene, world_from, where, restraint, setting)


def first_lines(scene: Scene) -> tuple[dict[str, Line], dict[str, tuple[Line, ...]]]:
    """Return the line that each worker wears at first, the first that names both ends; the rest."""
    lines: dict[str, Line] = {}
    more: dict[str, tuple[Line, ...]] = {}
    for name, tether in scene.tethers.items():
        if tether.worker and tether.anchor:
            line = Line(name, tether.anchor, tether.length)
            if lines.setdefault(tether.worker, line) is not line:
                more[tether.worker] = (*more.get(tether.worker, ()), line)
    return lines, more


def wear(scene: Scene, state: Progress, lane: str, tether: str, anchor: str) -> None:
    """Note which safety line a worker wears by now, and on which anchor; none if it is empty."""
    old = state.lines.get(lane)
    if not tether:
        if old is not None:
            at = state.at.get(lane, "")
            state.trails[lane] = (*state.trails.get(lane, ()), Parked(old, at))
            del state.lines[lane]
    elif old is None or old.tether != tether:
        line = Line(tether, anchor, scene.tethers[tether].length)
        _change(state, lane, line, state.at.get(lane, ""))
    elif old.anchor != anchor:
        state.lines[lane] = replace(old, anchor=anchor)


def passage_of(
    scene: Scene,
    step: Step,
    action: Action,
    state: Progress,
    on_suit: Sequence[str] = (),
    hook: str | None = None,
) -> Passage | None:
    """Return a move with its names looked up, and note where it leaves the worker.

    ``on_suit`` names what the worker has by then, beside what the move says; ``hook`` where the
    line that it names is hooked, empty for nowhere; None if that is not known but by the scene.
    """
    if not isinstance(action, Translate):
        return None
    passage = Passage(
        start=action.start or state.at[step.lane],
        stop=action.to,
        written=step.route,
        carrying={
            name: scene.items[name]
            for name in dict.fromkeys((*action.carrying, *on_suit))
            if name not in action.in_hand
        },
        in_hand={name: scene.items[name] for name in action.in_hand},
        body=action.body,
    )
    state.at[step.lane] = action.to
    state.inside -= {step.lane}
    state.standing.pop(step.lane, None)
    # Hands that go along rails have let go of what they held.
    state.holds.pop(step.lane, None)
    if action.tether is not None:
        tether = scene.tethers[action.tether]
        anchor = action.anchor or tether.anchor if hook is None else hook
        if anchor:
            line = Line(action.tether, anchor, tether.length)
            if not _brought_forward(state, step.lane, line):
                _change(state, step.lane, line, passage.start)
    elif action.anchor is not None and step.lane in state.lines:
        state.lines[step.lane] = replace(state.lines[step.lane], anchor=action.anchor)
    return passage


def _brought_forward(state: Progress, lane: str, line: Line) -> bool:
    """Return whether a line was on the suit already: then the others stay there, after it."""
    beside, old = state.more.get(lane, ()), state.lines.get(lane)
    if all(one.tether != line.tether for one in beside):
        return False
    others = tuple(one for one in beside if one.tether != line.tether)
    state.more[lane] = others if old is None else (old, *others)
    state.lines[lane] = line
    return True


def _change(state: Progress, lane: str, line: Line, at: str) -> None:
    """Put another line on; the one worn before is left where the move begins."""
    old = state.lines.get(lane)
    trail = state.trails.get(lane, ())
    if old is not None and old.tether != line.tether:
        trail = (*trail, Parked(old, at))
    state.trails[lane] = trail
    for other, several in state.trails.items():
        state.trails[other] = tuple(one for one in several if one.line.tether != line.tether)
    for other, beside in state.more.items():
        state.more[other] = tuple(one for one in beside if one.tether != line.tether)
    for other, worn in list(state.lines.items()):
        if other != lane and worn.tether == line.tether:
            _take_off(state, other)
    state.lines[lane] = line


def _take_off(state: Progress, lane: str) -> None:
    """Note that the line put on last is on the suit no more: the next one is, if there is one."""
    first, *rest = state.more.get(lane, ()) or (None,)
    if first is None:
        del state.lines[lane]
    else:
        state.lines[lane], state.more[lane] = first, tuple(rest)
