"""The way of a payload asked for on the command line, as a procedure checked against its scene."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from reach.files.lines import Place, dotted
from reach.files.problem import InputError, Problem, listed, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.question import COMMAND_LINE
from reach.files.records import read_record, readable_part
from reach.files.scene import LoadedScene
from reach.files.steps import step_problems
from reach.model.procedure import Align, Move, MoveCrane, Procedure, Step

MOVED, CRANE = "what is moved", "the crane"
"""Lanes of a question: of a payload that moves by itself, and of a crane."""

BLANK = "way"
"""Name of the step of a way that is to be found."""

_OPTIONS: Mapping[str, str] = {"where": "--station", "lane": "--worker", "path": "--path"}


@dataclass(frozen=True, slots=True)
class CarryQuestion:
    """Which payload, along which path or from where to where, carried how.

    Attributes
    ----------
    payload : str
    path : str or None
    start, stop : str or None
        Poses between which the way is blank; ``start`` is where the payload is, if left out.
    crane : str or None
        What carries it; the one that the station is on, if left out.
    worker, station : str or None
        Who rides on the crane's tip, and where that is as the motion begins.
    placed : dict of str -> str
        Payload -> pose.
    """

    payload: str
    path: str | None = None
    start: str | None = None
    stop: str | None = None
    crane: str | None = None
    worker: str | None = None
    station: str | None = None
    placed: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_blank(self) -> bool:
        """Whether the way is to be found."""
        return self.start is not None or self.stop is not None

    @property
    def stands_alone(self) -> bool:
        """Whether it says itself what carries the payload, so that no procedure does."""
        return bool(self.is_blank or self.crane or self.worker or self.station or self.placed)


@dataclass(frozen=True, slots=True)
class Asked:
    """A procedure, and the steps of it that are asked about.

    ``is_written`` says whether it is a procedure of the scene, not made of the question.
    """

    procedure: LoadedProcedure
    steps: tuple[str, ...]
    is_written: bool


def carry_question(
    loaded: LoadedScene, asked: CarryQuestion, written: LoadedProcedure | None = None
) -> Asked:
    """Return the motions that are asked about, in a procedure that has them.

    Parameters
    ----------
    loaded : LoadedScene
    asked : CarryQuestion
    written : LoadedProcedure, optional
        A procedure of the scene.  Where it moves the payload along the path asked for (along any,
        if none is), it is taken whole: with who rides, who stands by, and when.  Else the payload
        moves by itself along the path, or along each of its paths.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    found = _contradictions(loaded, asked)
    if found:
        raise InputError(found)
    if written is not None and not asked.stands_alone:
        steps = moving_steps(loaded, written.procedure, asked)
        if steps:
            return Asked(written, steps, True)
    data = _data(loaded, asked)
    lanes = {MOVED: "inside lead"}
    if _crane(loaded, asked):
        lanes = {CRANE: "crane"}
    if asked.worker:
        lanes[asked.worker] = "worker"
    read = [read_record(Step, one, _report, found) for one in data]
    known = [step or readable_part(Step, one) for step, one in zip(read, data, strict=True)]
    found += step_problems([(s, _report) for s in known if s is not None], lanes, loaded.scene)
    if found:
        raise InputError(found)
    made = tuple(step for step in read if step is not None)
    names = tuple(step.name for step in made if any(a.do != "ingress" for a in step.actions))
    return Asked(_loaded(made, lanes, asked), names, False)


def moving_steps(
    loaded: LoadedScene, procedure: Procedure, asked: CarryQuestion
) -> tuple[str, ...]:
    """Return the steps in which a procedure moves the payload, along the path if one is asked."""
    return tuple(
        step.name
        for step in procedure.steps
        if (asked.path is None or step.path == asked.path)
        and any(_payload_of(loaded, action) == asked.payload for action in step.actions)
    )


def _payload_of(loaded: LoadedScene, action: object) -> str | None:
    if isinstance(action, Align):
        return loaded.scene.guides[action.guide].payload
    return action.payload if isinstance(action, Move | MoveCrane) else None


def _contradictions(loaded: LoadedScene, asked: CarryQuestion) -> list[Problem]:
    """Return what cannot be meant, every name that is not there included."""
    scene = loaded.scene
    found: list[Problem] = []

    def add(option: str, message: str) -> None:
        found.append(Problem(COMMAND_LINE, option, None, message))

    payload = scene.payloads.get(asked.payload)
    if payload is None:
        add("PAYLOAD", unknown("payload", asked.payload, scene.payloads))
    elif asked.path is not None and asked.path not in payload.paths:
        add("--path", unknown(f"path of {asked.payload}", asked.path, payload.paths))
    elif not payload.paths and asked.path is None and not asked.is_blank:
        add("--path", f"{asked.payload} has no path; ask for a way with --from and --to")
    if payload is not None:
        for option, pose in (("--from", asked.start), ("--to", asked.stop)):
            if pose is not None and pose not in payload.poses:
                add(option, unknown("pose", pose, payload.poses))
    if asked.path is not None and asked.is_blank:
        add("--path", "is a way already: leave it out, or --from and --to")
    if asked.start is not None and asked.stop is None:
        add("--to", "is missing: the pose in which the way ends")
    if asked.crane is not None and asked.crane not in scene.cranes:
        add("--crane", unknown("crane", asked.crane, scene.cranes))
    if asked.worker is not None and asked.worker not in scene.workers:
        add("--worker", unknown("worker", asked.worker, scene.workers))
    if asked.worker is not None and asked.station is None:
        known = [name for name, one in scene.stations.items() if one.on is not None]
        add("--station", f"is missing: where {asked.worker} stands; there are {listed(known)}")
    if asked.station is not None:
        found += _station_problems(loaded, asked)
    return found


def _station_problems(loaded: LoadedScene, asked: CarryQuestion) -> list[Problem]:
    scene, name = loaded.scene, asked.station
    on_cranes = {n: s.on for n, s in scene.stations.items() if s.on is not None}
    if name not in scene.stations:
        message = unknown("station", name or "", on_cranes)
    elif name not in on_cranes:
        message = f"{name} is on no crane; there are {listed(list(on_cranes))}"
    elif asked.crane is not None and asked.crane != on_cranes[name]:
        message = f"{name} is on {on_cranes[name]}, not on {asked.crane}"
    elif asked.worker is None:
        return [Problem(COMMAND_LINE, "--worker", None, f"is missing: who stands at {name}")]
    else:
        return []
    return [Problem(COMMAND_LINE, "--station", None, message)]


def _crane(loaded: LoadedScene, asked: CarryQuestion) -> str | None:
    if asked.crane is not None or asked.station is None:
        return asked.crane
    return loaded.scene.stations[asked.station].on


def _data(loaded: LoadedScene, asked: CarryQuestion) -> list[dict[str, Any]]:
    """Return the steps of a question as files hold them, one for each path."""
    payload = loaded.scene.payloads[asked.payload]
    crane = _crane(loaded, asked)
    action: dict[str, Any] = {"do": "move", "payload": asked.payload}
    if crane is not None:
        action = {"do": "move crane", "payload": asked.payload, "crane": crane}
    ways: list[tuple[str, str | None, str]]
    if asked.is_blank:
        first = asked.start or asked.placed.get(asked.payload) or next(iter(payload.poses))
        ways = [(BLANK, None, first)]
        action["to"] = asked.stop
    else:
        names = [asked.path] if asked.path is not None else list(payload.paths)
        ways = [(name, name, payload.paths[name].through[0]) for name in names]
    data: list[dict[str, Any]] = []
    for name, path, first in ways:
        placed = {asked.payload: first} | dict(asked.placed)
        if asked.worker is not None:
            # Whoever rides is on the tip anew before each way.
            data.append(
                {"name": f"{name}, {asked.worker} on the tip", "lane": asked.worker,
                 "where": asked.station, "placed": placed, "actions": [{"do": "ingress"}]}
            )  # fmt: skip
        lane = MOVED if crane is None else CRANE
        step = {"name": name, "lane": lane, "placed": placed, "actions": [dict(action)]}
        data.append(step if path is None else step | {"path": path})
    return data


def _report(place: Place, message: str) -> Problem:
    said = dotted(tuple(part for part in place if part not in ("actions", 0)))
    return Problem(COMMAND_LINE, _OPTIONS.get(said, f"--{said}" if said else ""), None, message)


def _loaded(
    steps: tuple[Step, ...], lanes: Mapping[str, str], asked: CarryQuestion
) -> LoadedProcedure:
    title = f"the way of {asked.payload}"
    procedure = Procedure.model_validate(
        {"format": 1, "title": title, "lanes": dict(lanes)}
    ).model_copy(update={"steps": steps})
    text = json.dumps([step.model_dump(mode="json") for step in steps], sort_keys=True)
    return LoadedProcedure(procedure, COMMAND_LINE, hashlib.sha256(text.encode()).hexdigest())
