"""Questions typed on the command line, as small procedures checked against their scene."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from reach.files.lines import Place, dotted
from reach.files.problem import InputError, Problem, listed, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.records import read_record, readable_part
from reach.files.scene import LoadedScene
from reach.files.steps import fitting_bits, hardware, step_problems
from reach.model.procedure import Hands, Procedure, Step

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
    if worker is None and len(scene.workers) == 1:
        worker = next(iter(scene.workers))
    if tool is None and fastener in scene.fasteners:
        tools = scene.fasteners[fastener].tools
        tool = tools[0] if len(tools) == 1 else None
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
        drive = {"fastener": fastener, "tool": tool, "bit": bit, "extension": extension}
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
    return _asked(step, loaded)


def questions(loaded: LoadedScene, targets: Sequence[str], **same: Any) -> LoadedProcedure:
    """Return one step a target, each named after it, at a socket whose setting is blank.

    Parameters
    ----------
    loaded : LoadedScene
    targets : sequence of str
        Fasteners.
    **same
        What `question` takes beside place and fastener.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    free = [name for name, socket in loaded.scene.sockets.items() if socket.status == "free"]
    problems: dict[Problem, None] = {}
    if not free:
        problems[Problem(COMMAND_LINE, "", None, "the scene has no free socket to look at")] = None
    if not targets:
        message = f"is missing; there are {listed(list(loaded.scene.fasteners))}"
        problems[Problem(COMMAND_LINE, "targets", None, message)] = None
    steps = []
    for target in targets if free else ():
        try:
            asked = question(loaded, where=free[0], fastener=target, **same)
            steps.append(asked.procedure.steps[0].model_copy(update={"name": target}))
        except InputError as error:
            problems |= dict.fromkeys(error.problems)
    if problems:
        raise InputError(problems)
    text = json.dumps([step.model_dump(mode="json") for step in steps], sort_keys=True)
    procedure = Procedure(
        format=1, title="a setting is looked for", lanes={steps[0].lane: "worker"},
        steps=tuple(steps),
    )  # fmt: skip
    return LoadedProcedure(procedure, COMMAND_LINE, hashlib.sha256(text.encode()).hexdigest())


def _asked(data: dict[str, Any], loaded: LoadedScene) -> LoadedProcedure:
    def report(place: Place, message: str) -> Problem:
        asked = tuple(part for part in place if part not in ("actions", 0))
        return Problem(COMMAND_LINE, dotted(asked), None, message)

    problems: list[Problem] = []
    worker = data["lane"]
    if worker is None:
        raise InputError(
            [report(("worker",), f"is missing; there are {listed(list(loaded.scene.workers))}")]
        )
    if worker not in loaded.scene.workers:
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
