"""What was edited between two versions: steps, other parts of a procedure, records of a scene."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel

from reach.comparing.changes import Change, changes, same
from reach.comparing.steps import out_of_order, renamed_steps
from reach.comparing.wording import NOTHING, hint_of, inner, words
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.model.procedure import Procedure, Step
from reach.model.record import Record

Kind = Literal["added", "removed", "renamed", "moved", "edited"]
ORDER = "order"
"""Key of a change of the place of a step in the list; no record has a field of that name."""
TIMES = ("start", "after", ORDER)
"""Keys of a step that say when it is done: a change of these alone moves it."""
WORDING = ("title", "note", "tables", "use", "procedure", "source", "sources", "name")
"""Keys that say nothing a check asks: where only they differ, no answer can."""


@dataclass(frozen=True, slots=True)
class Version:
    """A scene with a procedure of it, as loaded."""

    scene: LoadedScene
    asked: LoadedProcedure


class Edit(Record):
    """What was done to one step, one record of a scene or one key of either.

    Attributes
    ----------
    part : str
        ``"step"``, ``"procedure"`` or ``"scene"``.
    kinds : tuple of str
        Added, removed, renamed, moved (in order or time), edited; several for one step.
    table : str
        Table of the scene or of the procedure; empty for steps.
    name : str
        Name in the new version, or in the old one where it is removed; of a key the key.
    was : str
        The name in the old version where it is another one, else empty.
    changes : tuple of Change
        Empty where the whole is added, removed or renamed.
    """

    part: Literal["step", "procedure", "scene"]
    kinds: tuple[Kind, ...]
    table: str = ""
    name: str
    was: str = ""
    changes: tuple[Change, ...] = ()

    @property
    def title(self) -> str:
        """The step or record in words."""
        if self.part == "step":
            return f"step {self.name}"
        return f"{self.table} {self.name}".strip() or self.part

    @property
    def old_name(self) -> str:
        """The name that it has in the old version."""
        return self.was or self.name

    @property
    def fields(self) -> tuple[str, ...]:
        """Keys of the step or record that differ, in order, each once."""
        return tuple(dict.fromkeys(change.field for change in self.changes))

    @property
    def asks(self) -> tuple[str, ...]:
        """The keys among `fields` that an answer can hang on."""
        return tuple(field for field in self.fields if field not in WORDING)

    @property
    def is_wording(self) -> bool:
        """Whether no answer can hang on it."""
        if self.part != "step" and (self.table or self.name) in WORDING:
            return True
        whole = {"added", "removed"} & set(self.kinds)
        return not (whole or self.asks or self._renames_a_record)

    @property
    def _renames_a_record(self) -> bool:
        return "renamed" in self.kinds and self.part != "step"

    def only(self, fields: Iterable[str]) -> Edit:
        """Return the same edit with the changes of some keys alone."""
        kept = tuple(change for change in self.changes if change.field in set(fields))
        return self.model_copy(update={"changes": kept})


def edits_between(old: Version, new: Version) -> tuple[Edit, ...]:
    """Return every edit that leads from one version to another: scene, procedure, steps."""
    return (
        *scene_edits(old.scene, new.scene),
        *procedure_edits(old.asked.procedure, new.asked.procedure),
    )


def procedure_edits(old: Procedure, new: Procedure) -> tuple[Edit, ...]:
    """Return the edits of a procedure: its own keys first, then its steps in the new order."""
    head = _fields("procedure", old, new, ("format", "steps"))
    return (*head, *_step_edits(old, new))


def scene_edits(old: LoadedScene, new: LoadedScene) -> tuple[Edit, ...]:
    """Return the edits of a scene, table by table; of meshes and arms the content counts."""
    if old is new:
        return ()
    found = {
        (edit.table, edit.name): edit
        for edit in _fields("scene", old.scene, new.scene, ("format",))
    }
    for table, name, change in _contents(old, new):
        known = found.get((table, name))
        if known is None:
            known = Edit(part="scene", kinds=("edited",), table=table, name=name)
        if not {"added", "removed"} & set(known.kinds):
            more = (*known.changes, change)
            found[table, name] = known.model_copy(update={"changes": more})
    return tuple(found.values())


def _fields(
    part: Literal["procedure", "scene"], old: BaseModel, new: BaseModel, apart: tuple[str, ...]
) -> Iterator[Edit]:
    """Yield the edits of every key of a scene or procedure; of a table, name by name."""
    for key, field in type(new).model_fields.items():
        a, b = getattr(old, key), getattr(new, key)
        if key in apart or same(a, b):
            continue
        hint = hint_of(field)
        if isinstance(a, dict) and isinstance(b, dict):
            yield from _tabled(part, key, a, b, hint)
        else:
            told = tuple(changes(a, b, hint, key))
            yield Edit(part=part, kinds=("edited",), name=key, changes=told)


def _tabled(
    part: Literal["procedure", "scene"],
    table: str,
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    hint: Any,
) -> Iterator[Edit]:
    came = [name for name in new if name not in old]
    renamed: dict[str, str] = {}
    for name in (name for name in old if name not in new):
        again = [n for n in came if n not in renamed.values() and same(old[name], new[n])]
        if again and isinstance(old[name], BaseModel):
            renamed[name] = again[0]
    for name, value in old.items():
        if name in renamed:
            again_name = renamed[name]
            yield Edit(part=part, kinds=("renamed",), table=table, name=again_name, was=name)
        elif name not in new:
            yield Edit(part=part, kinds=("removed",), table=table, name=name)
        elif not same(value, new[name]):
            one = inner(hint, name)
            told = changes(value, new[name], one, "" if _is_deep(value, new[name]) else "value")
            yield Edit(part=part, kinds=("edited",), table=table, name=name, changes=_keyed(told))
    for name in came:
        if name not in renamed.values():
            value = Change(key="value", old=NOTHING, new=words(new[name], inner(hint, name)))
            plain = () if isinstance(new[name], BaseModel) else (value,)
            yield Edit(part=part, kinds=("added",), table=table, name=name, changes=plain)


def _is_deep(old: Any, new: Any) -> bool:
    return isinstance(old, BaseModel) and type(old) is type(new)


def _keyed(told: list[Change]) -> tuple[Change, ...]:
    """Return changes with a key each: that of a value with its unit is its value."""
    return tuple(
        change if change.key else change.model_copy(update={"key": "value"}) for change in told
    )


def _contents(old: LoadedScene, new: LoadedScene) -> Iterator[tuple[str, str, Change]]:
    """Yield table, name and change where a file that a record names holds something else."""
    for name, mesh in new.meshes.items():
        before = old.meshes.get(name)
        if before is not None and not np.array_equal(before, mesh):
            table = "solids" if name in new.scene.solids else "hazards"
            was, now = f"{len(before)} triangles", f"{len(mesh)} other triangles"
            yield table, name, Change(key="mesh.content", old=was, new=now)
    for name, arm in new.arms.items():
        known = old.arms.get(name)
        if known is not None and known.sha256 != arm.sha256:
            change = Change(key="arm.content", old=known.sha256[:12], new=arm.sha256[:12])
            yield "cranes", name, change


# ---- steps -----------------------------------------------------------------------------


def _step_edits(old: Procedure, new: Procedure) -> Iterator[Edit]:
    renamed = renamed_steps(old.steps, new.steps)
    before = {renamed.get(step.name, step.name): step for step in old.steps}
    names = {step.name for step in new.steps}
    for step in old.steps:
        if renamed.get(step.name, step.name) not in names:
            yield Edit(part="step", kinds=("removed",), name=step.name)
    order = _order_changes(old, new, renamed)
    for step in new.steps:
        if step.name not in before:
            yield Edit(part="step", kinds=("added",), name=step.name)
            continue
        was = before[step.name]
        told = [*order.get(step.name, ()), *_step_changes(was, step, renamed)]
        other_name = was.name if was.name != step.name else ""
        if told or other_name:
            yield Edit(
                part="step",
                kinds=_kinds(told, bool(other_name)),
                name=step.name,
                was=other_name,
                changes=tuple(told),
            )


def _kinds(told: list[Change], renamed: bool) -> tuple[Kind, ...]:
    kinds: list[Kind] = ["renamed"] if renamed else []
    fields = {change.field for change in told}
    if fields & set(TIMES):
        kinds.append("moved")
    if fields - set(TIMES):
        kinds.append("edited")
    return tuple(kinds)


def _step_changes(old: Step, new: Step, renamed: Mapping[str, str]) -> list[Change]:
    after = tuple(renamed.get(name, name) for name in old.after)
    return changes(old.model_copy(update={"name": new.name, "after": after}), new)


def _order_changes(
    old: Procedure, new: Procedure, renamed: Mapping[str, str]
) -> dict[str, list[Change]]:
    """Return the change of order of each step that has to move, as few of them as there can be."""
    places = {renamed.get(step.name, step.name): k for k, step in enumerate(old.steps)}
    kept = [step.name for step in new.steps if step.name in places]
    moved = {kept[k] for k in out_of_order([places[name] for name in kept])}
    was = [renamed.get(step.name, step.name) for step in old.steps]
    now = [step.name for step in new.steps]
    return {name: [_order_change(name, was, now)] for name in moved}


def _order_change(name: str, was: list[str], now: list[str]) -> Change:
    """Return where a step stood and stands: by the step before it, else by the one behind it."""
    told = Change(key=ORDER, old=_behind(was, name), new=_behind(now, name))
    if told.old != told.new:
        return told
    was, now = was[::-1], now[::-1]
    ends = (_behind(names, name, "before", "last") for names in (was, now))
    return Change(key=ORDER, old=next(ends), new=next(ends))


def _behind(names: list[str], name: str, word: str = "after", end: str = "first") -> str:
    k = names.index(name)
    return f"{word} {names[k - 1]}" if k else end
