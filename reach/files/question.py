"""Questions typed on the command line, as small procedures checked against their scene."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from reach.files.kit import fitting_bits, hardware
from reach.files.lines import Place, dotted
from reach.files.problem import InputError, Problem, listed, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.records import read_record, readable_part
from reach.files.scene import LoadedScene
from reach.files.steps import step_problems
from reach.model.procedure import Drive, Hands, Procedure, Step

COMMAND_LINE = "command line"


def question(
    loaded: LoadedScene,
    *,
    where: str,
    worker: str | None = None,
    restraint: str | None = None,
    setting: Mapping[str, int | float | str] | None = None,
    fastener: str | None = None,
    tool: str | None = None,
    bit: str | None = None,
    extension: str | None = None,
    hand: Hands = "own",
    placed: Mapping[str, str] | None = None,
    torque: float | None = None,
    force: float | None = None,
) -> LoadedProcedure:
    """Return a question as a procedure of one step.

    Where it leaves no doubt what is left out is filled in: the only worker, the only tool
    the fastener allows, the bit that fits its head, 0 for joints of the restraint that the
    setting does not name.  Without a fastener the worker only stands there.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    scene = loaded.scene
    problems = []
    if worker is None and len(scene.workers) == 1:
        worker = next(iter(scene.workers))
    if tool is None and fastener in scene.fasteners:
        tools = scene.fasteners[fastener].tools
        tool = tools[0] if tools else None  # one of several stands in while the rest is looked at
        if len(tools) > 1:
            message = f"is missing; {fastener} takes {listed(tools)}"
            problems.append(Problem(COMMAND_LINE, "tool", None, message))
    found = hardware(scene, "tools", tool) if tool else None
    if bit is None and fastener and found is not None and found.takes_bits:
        fitting = fitting_bits(scene, fastener)
        bit = fitting[0] if len(fitting) == 1 else None
    kind = hardware(scene, "restraints", restraint) if restraint else None
    if setting is not None and kind is not None:
        setting = {joint.name: 0 if joint.numbered else 0.0 for joint in kind.joints} | dict(
            setting
        )
    action: dict[str, Any] = {"do": "drive" if fastener else "ingress"}
    if fastener:
        drive = {
            "fastener": fastener, "tool": tool, "bit": bit, "extension": extension,
            "torque": torque, "force": force,
        }  # fmt: skip
        action |= {key: value for key, value in drive.items() if value is not None}
        action["hand"] = hand
    step = {
        "name": "question",
        "lane": worker,
        "where": where,
        "restraint": restraint,
        "setting": None if setting is None else dict(setting),
        "placed": dict(placed or {}),
        "actions": [action],
    }
    return _asked(step, loaded, problems)


def questions(
    loaded: LoadedScene,
    targets: Sequence[str],
    usual: Mapping[str, Mapping[str, Any]] | None = None,
    **same: Any,
) -> LoadedProcedure:
    """Return one step a target, each named after it, at a socket whose setting is blank.

    Parameters
    ----------
    loaded : LoadedScene
    targets : sequence of str
        Fasteners.
    usual : mapping, optional
        Target -> what `question` takes, where ``same`` leaves it out.
    **same
        What `question` takes beside place and fastener, for all targets; None leaves it out.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    free = loaded.scene.free_sockets
    problems: dict[Problem, None] = {}
    if not free:
        problems[Problem(COMMAND_LINE, "", None, "the scene has no free socket to look at")] = None
    if not targets:
        message = f"is missing; there are {listed(list(loaded.scene.fasteners))}"
        problems[Problem(COMMAND_LINE, "targets", None, message)] = None
    fasteners = loaded.scene.fasteners
    for target in targets:
        if target not in fasteners:
            message = unknown("fastener", target, fasteners)
            problems[Problem(COMMAND_LINE, "targets", None, message)] = None
    steps = []
    for target in [name for name in targets if free and name in fasteners]:
        try:
            said = {key: value for key, value in same.items() if value is not None}
            ways = {**(usual or {}).get(target, {}), **said}
            asked = question(loaded, where=free[0], fastener=target, **ways)
            steps.append(asked.procedure.steps[0].model_copy(update={"name": target}))
        except InputError as error:
            problems |= dict.fromkeys(_of_target(target, each) for each in error.problems)
    if problems:
        raise InputError(problems)
    text = json.dumps([step.model_dump(mode="json") for step in steps], sort_keys=True)
    procedure = Procedure(
        format=1, title="a setting is looked for", lanes={steps[0].lane: "worker"},
        steps=tuple(steps),
    )  # fmt: skip
    return LoadedProcedure(procedure, COMMAND_LINE, hashlib.sha256(text.encode()).hexdigest())


def usual_way(
    loaded: LoadedScene, procedure: Procedure, worker: str | None, targets: Sequence[str]
) -> dict[str, dict[str, Any]]:
    """Return how a procedure has targets turned: tool, hand, torque, force, payloads' poses.

    The first time in the lane of the worker counts, else the first time in any.
    """
    placed = {name: next(iter(one.poses)) for name, one in loaded.scene.payloads.items()}
    found: dict[str, tuple[bool, dict[str, Any]]] = {}
    for step in procedure.steps:
        placed |= step.placed
        for action in step.actions:
            if not isinstance(action, Drive) or action.fastener not in targets:
                continue
            own = worker is None or step.lane == worker
            if action.fastener not in found or (own and not found[action.fastener][0]):
                found[action.fastener] = own, {
                    "tool": action.tool, "bit": action.bit, "extension": action.extension,
                    "hand": action.hand, "placed": dict(placed),
                    "torque": action.torque, "force": action.force,
                }  # fmt: skip
    return {target: way for target, (_, way) in found.items()}


def _of_target(target: str, problem: Problem) -> Problem:
    """Return a problem of one of several questions, with what it is about where that counts."""
    if problem.place in ("worker", "restraint") or problem.place.startswith("placed"):
        return problem
    place = "targets" if problem.place == "fastener" else f"targets.{target}"
    key = "" if problem.place in ("", "fastener") else f"{problem.place}: "
    return Problem(problem.file, place, problem.line, f"{key}{problem.message}")


def _asked(data: dict[str, Any], loaded: LoadedScene, problems: list[Problem]) -> LoadedProcedure:
    def report(place: Place, message: str) -> Problem:
        asked = tuple(part for part in place if part not in ("actions", 0))
        return Problem(COMMAND_LINE, dotted(asked), None, message)

    worker, workers = data["lane"], list(loaded.scene.workers)
    if worker is None:
        problems.append(report(("worker",), f"is missing; there are {listed(workers)}"))
        worker = workers[0] if workers else ""
        data["lane"] = worker  # stands in while the rest is looked at
    elif worker not in workers:
        problems.append(report(("worker",), unknown("worker", worker, loaded.scene.workers)))
    step = read_record(Step, data, report, problems) or readable_part(Step, data)
    lanes = {worker: "worker"}
    if step is not None:
        problems += step_problems([(step, report)], lanes, loaded.scene)
    if problems or step is None:
        raise InputError(problems)
    procedure = Procedure(
        format=1, title="one question", lanes={step.lane: "worker"}, steps=(step,)
    )
    text = json.dumps(data, sort_keys=True)
    return LoadedProcedure(procedure, COMMAND_LINE, hashlib.sha256(text.encode()).hexdigest())


def setting_of(text: str) -> dict[str, int | str]:
    """Return a restraint setting typed as ``"clocking=1, pitch=30 deg"``.

    Raises
    ------
    ValueError
        If a part is not a joint name, ``=`` and a value.

    Examples
    --------
    >>> setting_of("clocking=1, pitch=30 deg")
    {'clocking': 1, 'pitch': '30 deg'}
    """
    setting: dict[str, int | str] = {}
    for part in filter(None, (each.strip() for each in text.split(","))):
        name, equals, value = (each.strip() for each in part.partition("="))
        if not (name and equals and value):
            raise ValueError(f"needs joint=value, found {part!r}")
        if name in setting:
            raise ValueError(f"joint {name!r} is given twice")
        try:
            setting[name] = int(value)
        except ValueError:
            setting[name] = value
    return setting
