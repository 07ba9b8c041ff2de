"""The old version with some of the edits: what it would be had nothing else been changed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pydantic import BaseModel, ValidationError

from reach.comparing.edits import ORDER, Edit, Version
from reach.files.lines import Place, dotted
from reach.files.outing import outing_problems
from reach.files.overlaps import lane_circles, overlap_problems
from reach.files.problem import InputError, Problem
from reach.files.procedure import LoadedProcedure
from reach.files.records import Report
from reach.files.references import scene_reference_problems
from reach.files.scene import ENTRIES, LoadedScene
from reach.files.steps import step_problems
from reach.model.procedure import Procedure, Step
from reach.model.scene import Scene

HYBRID = "the old version with some edits"


def hybrid(old: Version, new: Version, edits: Sequence[Edit]) -> Version:
    """Return the old version with some of the edits that lead to the new one.

    Parameters
    ----------
    old, new : Version
    edits : sequence of Edit
        Of a step or record those keys are taken over that the edit lists.

    Raises
    ------
    InputError
        With every problem where the edits make no sense without others.
    """
    scene = _scene(old.scene, new.scene, [edit for edit in edits if edit.part == "scene"])
    mine = [edit for edit in edits if edit.part != "scene"]
    procedure = _procedure(old.asked.procedure, new.asked.procedure, mine)
    problems = _procedure_problems(procedure, scene.scene)
    if scene is not old.scene:
        problems = [*_scene_problems(scene), *problems]
    if problems:
        raise InputError(problems)
    text = procedure.model_dump_json(by_alias=True)
    asked = LoadedProcedure(procedure, HYBRID, hashlib.sha256(text.encode()).hexdigest())
    return Version(scene, asked)


def _with(record: Any, new: Any, fields: Iterable[str]) -> Any:
    """Return a record with the values that another has at some keys, as files name them."""
    names = {field.alias or name: name for name, field in type(record).model_fields.items()}
    taken = [names[field] for field in fields if field in names]
    changed = record.model_copy(update={name: getattr(new, name) for name in taken})
    written = record.model_fields_set | {n for n in taken if n in new.model_fields_set}
    changed.__pydantic_fields_set__.clear()
    changed.__pydantic_fields_set__.update(written)
    return changed


# ---- procedure -------------------------------------------------------------------------


def _procedure(old: Procedure, new: Procedure, edits: Sequence[Edit]) -> Procedure:
    head = _tables(old, new, [edit for edit in edits if edit.part == "procedure"])
    of_steps = [edit for edit in edits if edit.part == "step"]
    steps = _ordered(*_steps(old, new, of_steps), [step.name for step in new.steps])
    found: Procedure = head.model_copy(update={"steps": _waiting(steps, of_steps)})
    return found


def _tables(old: Any, new: Any, edits: Iterable[Edit]) -> Any:
    """Return a procedure or scene with edits of its keys and tables."""
    update: dict[str, Any] = {}
    for edit in edits:
        if not edit.table:
            update[edit.name] = getattr(new, edit.name)
            continue
        table = dict(update.get(edit.table, getattr(old, edit.table)))
        there = getattr(new, edit.table)
        if "removed" in edit.kinds or "renamed" in edit.kinds:
            table.pop(edit.old_name, None)
        if {"added", "renamed"} & set(edit.kinds):
            table[edit.name] = there[edit.name]
        elif "edited" in edit.kinds:
            table[edit.name] = _entry(table[edit.name], there[edit.name], edit)
        update[edit.table] = table
    return old.model_copy(update=update)


def _entry(old: Any, new: Any, edit: Edit) -> Any:
    if isinstance(old, BaseModel) and type(old) is type(new) and "value" not in edit.fields:
        return _with(old, new, edit.fields)
    return new


def _steps(
    old: Procedure, new: Procedure, edits: Iterable[Edit]
) -> tuple[list[Step], dict[str, Step]]:
    """Return the old steps with what is edited in place, and those to put in by the new order."""
    theirs = {step.name: step for step in new.steps}
    mine = {step.name: step for step in old.steps}
    put_in: dict[str, Step] = {}
    for edit in edits:
        if "removed" in edit.kinds:
            del mine[edit.name]
        elif "added" in edit.kinds:
            put_in[edit.name] = theirs[edit.name]
        else:
            target = theirs[edit.name]
            changed = _with(mine[edit.old_name], target, (*edit.fields, "name"))
            if ORDER in edit.fields:
                del mine[edit.old_name]
                put_in[edit.name] = changed
            else:
                mine[edit.old_name] = changed
    return list(mine.values()), put_in


def _ordered(steps: list[Step], put_in: Mapping[str, Step], order: Sequence[str]) -> list[Step]:
    """Return steps with others put in, each behind the nearest step that it follows in ``order``.

    A step that goes by its old name yet is not where ``order`` has it: what follows it stands
    behind the one before.
    """
    for k, name in enumerate(order):
        if name not in put_in:
            continue
        names = [step.name for step in steps]
        before = next((n for n in reversed(order[:k]) if n in names), None)
        at = 0 if before is None else names.index(before) + 1
        steps.insert(at, put_in[name])
    return steps


def _waiting(steps: Iterable[Step], edits: Iterable[Edit]) -> tuple[Step, ...]:
    """Return steps that wait for others by the name that these have."""
    known = list(steps)
    names = {step.name for step in known}
    other = {edit.was: edit.name for edit in edits if edit.was}
    other |= {new: old for old, new in other.items()}
    return tuple(
        step.model_copy(update={"after": after})
        if (after := tuple(n if n in names else other.get(n, n) for n in step.after)) != step.after
        else step
        for step in known
    )


def _procedure_problems(procedure: Procedure, scene: Scene) -> list[Problem]:
    """Return what load_procedure would say of it, and what its own record does not allow."""
    written = [(step, _report(("steps", step.name))) for step in procedure.steps]
    problems = [
        *step_problems(written, procedure.lanes, scene, procedure.begin, tuple(procedure.inhibits)),
        *overlap_problems(written, procedure.lanes),
        *lane_circles(written),
        *outing_problems(procedure, procedure.lanes, scene, _report(())),
    ]
    for lane, kind in procedure.lanes.items():
        if kind == "worker" and lane not in scene.workers:
            problems.append(_report(("lanes", lane))((), "lane of a worker who is not there"))
    return problems or _record_problems(procedure, ())


def _record_problems(record: BaseModel, place: Place) -> list[Problem]:
    try:
        type(record).model_validate(record.model_dump(by_alias=True, exclude_unset=True))
    except ValidationError as error:
        return [_report(place)(tuple(each["loc"]), each["msg"]) for each in error.errors()]
    return []


# ---- scene -----------------------------------------------------------------------------


def _scene(old: LoadedScene, new: LoadedScene, edits: Sequence[Edit]) -> LoadedScene:
    if not edits:
        return old
    scene = _tables(old.scene, new.scene, edits)
    written, origins = dict(old.written), dict(old.origins)
    meshes, arms = dict(old.meshes), dict(old.arms)
    for edit in edits:
        for name in (edit.old_name, edit.name):
            _take(written, new.written, (edit.table, name))
            _take(origins, new.origins, (edit.table, name))
            if edit.table in ("solids", "hazards"):
                _take(meshes, new.meshes, name)
            if edit.table == "cranes":
                _take(arms, new.arms, name)
    return replace(old, scene=scene, written=written, origins=origins, meshes=meshes, arms=arms)


def _take(mine: dict[Any, Any], theirs: Mapping[Any, Any], key: Any) -> None:
    mine.pop(key, None)
    if key in theirs:
        mine[key] = theirs[key]


@dataclass(frozen=True, slots=True)
class _Names:
    """A scene as the reference checks see it."""

    records: Mapping[str, Mapping[str, Any]]

    @property
    def names(self) -> Mapping[str, Mapping[str, Any]]:
        return self.records

    def problem(self, table: str, name: str, place: Place, message: str) -> Problem:
        return _report((table, name))(place, message)


def _scene_problems(loaded: LoadedScene) -> list[Problem]:
    return scene_reference_problems(
        _Names({table: getattr(loaded.scene, table) for table in ENTRIES})
    )


def _report(above: Place) -> Report:
    def report(place: Place, message: str) -> Problem:
        return Problem(HYBRID, dotted((*above, *place)), None, message)

    return report
