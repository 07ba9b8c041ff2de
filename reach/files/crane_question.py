"""A crane asked for on the command line, as a small procedure checked against its scene."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from reach.files.lines import Place, dotted
from reach.files.problem import InputError, Problem, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.question import COMMAND_LINE
from reach.files.records import read_record
from reach.files.scene import LoadedScene
from reach.files.steps import step_problems
from reach.model.procedure import Procedure, Step
from reach.model.scene import Scene

ABOARD, STEP, STAND = "aboard", "crane", "stand"
"""Names of the steps of a question: who gets on, the crane's motion, who stands there."""


@dataclass(frozen=True, slots=True)
class CraneQuestion:
    """Where a crane's tip is to be, with whom, and where it comes from.

    Attributes
    ----------
    station : str
        A station on a crane.
    start : str or None
        The station that it comes from.
    worker : str or None
        Who stands on its plate; nobody where left out.
    placed : dict of str -> str
        Payload -> pose.
    """

    station: str
    start: str | None = None
    worker: str | None = None
    placed: Mapping[str, str] = field(default_factory=dict)


def crane_question(loaded: LoadedScene, asked: CraneQuestion) -> LoadedProcedure:
    """Return a question for a crane as a procedure: its motion, and who stands on the plate.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    scene = loaded.scene
    found: list[Problem] = []
    for key, name in (("station", asked.station), ("from", asked.start)):
        if name is not None:
            found += _station(scene, key, name)
    if asked.worker is not None and asked.worker not in scene.workers:
        found.append(_problem("worker", unknown("worker", asked.worker, scene.workers)))
    if asked.start == asked.station:
        found.append(_problem("from", f"is where it goes: {asked.station!r}"))
    cranes = [scene.stations[n].on for n in (asked.station, asked.start) if n in scene.stations]
    if len(cranes) == 2 and None not in cranes and cranes[0] != cranes[1]:
        message = f"{asked.start} is on {cranes[1]}, {asked.station} on {cranes[0]}"
        found.append(_problem("from", message))
    lane = _lane(scene)
    crane = cranes[0] if cranes and cranes[0] else next(iter(scene.cranes), "")
    steps = []
    for data in _steps(asked, crane, lane):
        step = read_record(Step, data, _report, found)
        if step is not None:
            steps.append(step)
    lanes = {lane: "crane"} | ({asked.worker: "worker"} if asked.worker else {})
    if not found:
        found += step_problems([(step, _report) for step in steps], lanes, scene)
    elif steps and asked.placed:
        # What is wrong with poses is told beside the rest.
        bare = Step(name=STEP, lane=lane, placed=dict(asked.placed))
        found += step_problems([(bare, _report)], lanes, scene)
    if found:
        raise InputError(list(dict.fromkeys(found)))
    to = f"{asked.start} to {asked.station}" if asked.start else f"at {asked.station}"
    return _loaded(tuple(steps), lanes, f"the crane {to}")


def _station(scene: Scene, key: str, name: str) -> list[Problem]:
    known = {one: None for one, station in scene.stations.items() if station.on is not None}
    if name not in scene.stations:
        return [_problem(key, unknown("station on a crane", name, known))]
    if name not in known:
        words = ", ".join(known) or "no station is"
        return [_problem(key, f"{name} is on no crane; on cranes: {words}")]
    return []


def _steps(asked: CraneQuestion, crane: str, lane: str) -> list[dict[str, Any]]:
    move: dict[str, Any] = {"do": "move crane", "crane": crane, "to": asked.station}
    if asked.start:
        move["from"] = asked.start
    placed = dict(asked.placed)
    steps = [{"name": STEP, "lane": lane, "placed": placed, "actions": [move]}]
    if asked.worker:
        stand = {"lane": asked.worker, "actions": [{"do": "ingress"}]}
        first = asked.start or asked.station
        name = ABOARD if asked.start else STAND
        steps.insert(0, {**stand, "name": name, "where": first, "placed": placed})
        if asked.start:
            steps.append({**stand, "name": STAND})
    return steps


def _lane(scene: Scene) -> str:
    """Return a name for the operator's lane that no worker has."""
    name = "operator"
    while name in scene.workers:
        name += " of the crane"
    return name


def _problem(key: str, message: str) -> Problem:
    return Problem(COMMAND_LINE, key, None, message)


def _report(place: Place, message: str) -> Problem:
    asked = tuple(part for part in place if part not in ("actions", 0))
    renamed = tuple("station" if part in ("to", "where") else part for part in asked)
    return Problem(COMMAND_LINE, dotted(renamed), None, message)


def _loaded(steps: tuple[Step, ...], lanes: Mapping[str, str], title: str) -> LoadedProcedure:
    procedure = Procedure.model_validate(
        {"format": 1, "title": title, "lanes": dict(lanes)}
    ).model_copy(update={"steps": steps})
    text = json.dumps([step.model_dump(mode="json") for step in steps], sort_keys=True)
    return LoadedProcedure(procedure, COMMAND_LINE, hashlib.sha256(text.encode()).hexdigest())
