"""A way asked for on the command line, as a small procedure checked against its scene."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from reach.files.lines import Place, dotted
from reach.files.problem import InputError, Problem, listed, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.question import COMMAND_LINE
from reach.files.records import read_record, readable_part
from reach.files.scene import LoadedScene
from reach.files.steps import step_problems
from reach.model.procedure import Aside, Procedure, Step, Translate

STEP = "way"
"""Name of the step of a question; ways found are numbered."""


@dataclass(frozen=True, slots=True)
class MoveQuestion:
    """From where to where, by whom, with what.

    Attributes
    ----------
    start, stop : str
        Places.
    worker : str or None
        May be left out where there is one.
    carrying, in_hand : tuple of str
        Items on the suit and in a hand.
    avoid : tuple of str
        Rails that are not to be used.
    tether, anchor : str or None
        The safety line worn; the worker's own where left out.
    placed : dict of str -> str
        Payload -> pose.
    """

    start: str
    stop: str
    worker: str | None = None
    carrying: tuple[str, ...] = ()
    in_hand: tuple[str, ...] = ()
    avoid: tuple[str, ...] = ()
    tether: str | None = None
    anchor: str | None = None
    placed: Mapping[str, str] = field(default_factory=dict)


def move_question(loaded: LoadedScene, asked: MoveQuestion) -> LoadedProcedure:
    """Return a way that is asked for as a procedure of one step whose route is blank.

    Parameters
    ----------
    loaded : LoadedScene
    asked : MoveQuestion

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    found: list[Problem] = []
    scene = loaded.scene
    worker = asked.worker
    if worker is None and len(scene.workers) == 1:
        worker = next(iter(scene.workers))
    if worker is None:
        found.append(_report(("worker",), f"is missing; there are {listed(list(scene.workers))}"))
    elif worker not in scene.workers:
        found.append(_report(("worker",), unknown("worker", worker, scene.workers)))
    rails = [*scene.handrails, *scene.handholds]
    found += [
        _report(("avoid",), unknown("handrail or handhold", name, rails))
        for name in asked.avoid
        if name not in rails
    ]
    if asked.start == asked.stop:
        found.append(_report(("to",), f"is where the way begins: {asked.stop!r}"))
    line = scene.tethers.get(asked.tether or "")
    if line is not None and line.anchor is None and asked.anchor is None:
        found.append(_report(("anchor",), f"is missing: {asked.tether} names none of its own"))
    # A worker who is missing is told above; the rest is looked at all the same.
    data = _step(asked, worker or next(iter(scene.workers), "nobody"))
    step = read_record(Step, data, _report, found) or readable_part(Step, data)
    if step is not None:
        found += step_problems([(step, _report)], {step.lane: "worker"}, scene)
    if found or step is None:
        raise InputError(found)
    return _loaded((step,), f"from {asked.start} to {asked.stop}")


def with_ways(
    asked: LoadedProcedure, ways: Sequence[tuple[tuple[str, ...], Mapping[str, Aside]]]
) -> LoadedProcedure:
    """Return a question with one step for each way: its rails, and the sides of the body."""
    (step,) = asked.procedure.steps
    (action,) = step.actions
    assert isinstance(action, Translate)
    steps = tuple(
        step.model_copy(
            update={
                "name": f"{STEP} {number}",
                "route": rails,
                "actions": (action.model_copy(update={"body": dict(body)}),),
            }
        )
        for number, (rails, body) in enumerate(ways, 1)
    )
    return _loaded(steps, asked.procedure.title)


def home_question(loaded: LoadedScene, workers: Sequence[str]) -> LoadedProcedure:
    """Return a procedure in which each worker is at the first hatch, to stand for their bodies.

    Raises
    ------
    InputError
        If the scene has no hatch to come home to, or a worker is unknown.
    """
    scene = loaded.scene
    problems = [
        _report(("worker",), unknown("worker", worker, scene.workers))
        for worker in workers
        if worker not in scene.workers
    ]
    if not scene.hatches:
        problems.append(Problem(loaded.file, "hatches", None, "is empty: there is no way home"))
    if problems:
        raise InputError(problems)
    hatch = next(iter(scene.hatches))
    action = Translate(do="translate", to=hatch, **{"from": hatch})
    steps = tuple(Step(name=f"{worker} home", lane=worker, actions=(action,)) for worker in workers)
    return _loaded(steps, "the way home")


def _step(asked: MoveQuestion, worker: str) -> dict[str, Any]:
    action: dict[str, Any] = {"do": "translate", "from": asked.start, "to": asked.stop}
    more = {
        "carrying": list(asked.carrying), "in_hand": list(asked.in_hand),
        "tether": asked.tether, "anchor": asked.anchor,
    }  # fmt: skip
    action |= {key: value for key, value in more.items() if value}
    return {"name": STEP, "lane": worker, "placed": dict(asked.placed), "actions": [action]}


def _report(place: Place, message: str) -> Problem:
    asked = tuple(part for part in place if part not in ("actions", 0))
    return Problem(COMMAND_LINE, dotted(asked), None, message)


def _loaded(steps: tuple[Step, ...], title: str) -> LoadedProcedure:
    lanes = {step.lane: "worker" for step in steps}
    procedure = Procedure.model_validate({"format": 1, "title": title, "lanes": lanes}).model_copy(
        update={"steps": steps}
    )
    text = json.dumps([step.model_dump(mode="json") for step in steps], sort_keys=True)
    return LoadedProcedure(procedure, COMMAND_LINE, hashlib.sha256(text.encode()).hexdigest())
