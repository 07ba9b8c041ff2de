"""Variations made: records of a scene and a procedure in, new records out.

No variation takes a name away, so every reference that the loaders checked still leads somewhere;
a value that is typed goes through the rules of its record.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import astuple
from typing import Any, TypeVar

from reach.files.problem import Problem, unknown
from reach.files.records import read_record
from reach.model.limits import LIMITS, WrittenLimit, limit_of
from reach.model.procedure import Procedure, Translate
from reach.model.record import Record
from reach.model.scene import Scene, Worker
from reach.model.travel import Tether
from reach.units import quantity
from reach.varying.variation import (
    Handed,
    Limited,
    Marked,
    Reeled,
    Shifted,
    Sized,
    Swap,
    Variation,
    words_of,
)

Entry = TypeVar("Entry", bound=Record)

SOURCE = "what if"
"""Source of a limit that a variation sets."""


class UnfitError(ValueError):
    """Variations that cannot be read or had; ``messages`` holds every reason."""

    def __init__(self, *messages: str) -> None:
        super().__init__("; ".join(messages))
        self.messages = messages


def varied(
    scene: Scene, procedure: Procedure, variations: Iterable[Variation]
) -> tuple[Scene, Procedure]:
    """Return a scene and a procedure with variations, one after the other as they are given.

    Parameters
    ----------
    scene, procedure : Scene, Procedure
        Are left as they are.
    variations : iterable of Variation

    Raises
    ------
    UnfitError
        With every reason why one of them cannot be had.

    Examples
    --------
    >>> scene = Scene(format=1, sockets={"SK1": {"at": (0, 0, 0), "axis": (0, 0, 1),
    ...     "zero": (1, 0, 0)}})
    >>> procedure = Procedure(format=1, lanes={"C": "crane"})
    >>> varied(scene, procedure, [Marked("SK1", "blocked")])[0].sockets["SK1"].status
    'blocked'
    """
    messages: list[str] = []
    seen: set[Hashable] = set()
    for one in variations:
        if _aspect(one) in seen:
            messages.append(f"{words_of(one)!r}: the same is varied twice")
            continue
        seen.add(_aspect(one))
        try:
            scene, procedure = _with(scene, procedure, one)
        except UnfitError as error:
            messages += [f"{words_of(one)!r}: {message}" for message in error.messages]
    if messages:
        raise UnfitError(*messages)
    return scene, procedure


def idle(scene: Scene, procedure: Procedure, variations: Iterable[Variation]) -> list[Variation]:
    """Return the variations that change nothing, since it is so already.

    Raises
    ------
    UnfitError
        If one of them cannot be had.
    """
    found = []
    for one in variations:
        before = scene, procedure
        scene, procedure = _with(scene, procedure, one)
        if (scene, procedure) == before:
            found.append(one)
    return found


def _aspect(variation: Variation) -> Hashable:
    """Return what is varied: two variations of one aspect contradict each other."""
    if isinstance(variation, Swap):
        return frozenset((variation.first, variation.second))
    return type(variation), astuple(variation)[0]


def _with(scene: Scene, procedure: Procedure, variation: Variation) -> tuple[Scene, Procedure]:
    match variation:
        case Swap():
            return _swapped(scene, variation), procedure
        case Sized():
            return _sized(scene, variation), procedure
        case Handed():
            return _handed(scene, variation), procedure
        case Marked():
            return _marked(scene, procedure, variation), procedure
        case Reeled():
            return _reeled(scene, variation), procedure
        case Limited():
            return _limited(scene, variation), procedure
        case Shifted():
            return scene, _shifted(procedure, variation)


def _swapped(scene: Scene, swap: Swap) -> Scene:
    names = (swap.first, swap.second)
    wrong = [unknown("worker", name, scene.workers) for name in names if name not in scene.workers]
    if not wrong and swap.first == swap.second:
        wrong = ["a swap takes two workers"]
    _refuse(wrong)
    exchanged = {swap.first: scene.workers[swap.second], swap.second: scene.workers[swap.first]}
    return scene.model_copy(update={"workers": scene.workers | exchanged})


def _sized(scene: Scene, sized: Sized) -> Scene:
    wrong = []
    if sized.worker not in scene.workers:
        wrong.append(unknown("worker", sized.worker, scene.workers))
    if sized.size not in scene.sizes:
        known = [*scene.sizes, "left-handed", "right-handed"]
        wrong.append(unknown("size class or hand", sized.size, known))
    _refuse(wrong)
    mine = scene.workers[sized.worker]
    body = Worker(size=sized.size, hand=mine.hand, suit=mine.suit, title=mine.title)
    return _put(scene, "workers", sized.worker, body)


def _handed(scene: Scene, handed: Handed) -> Scene:
    if handed.worker not in scene.workers:
        raise UnfitError(unknown("worker", handed.worker, scene.workers))
    worker = _changed(scene.workers[handed.worker], hand=handed.hand)
    return _put(scene, "workers", handed.worker, worker)


def _marked(scene: Scene, procedure: Procedure, marked: Marked) -> Scene:
    name, status = marked.name, marked.status
    if name in scene.sockets:
        if status == "gone":
            raise UnfitError(f"is a socket; write '{name} blocked'")
        return _put(scene, "sockets", name, _changed(scene.sockets[name], status=status))
    for table in ("handrails", "handholds"):
        if name in getattr(scene, table):
            if status != "free":
                _refuse(_relied_on(procedure, name))
            bar: Record = getattr(scene, table)[name]
            return _put(scene, table, name, _changed(bar, condition=status))
    known = [*scene.sockets, *scene.handrails, *scene.handholds]
    raise UnfitError(unknown("socket, handrail or handhold", name, known))


def _relied_on(procedure: Procedure, name: str) -> list[str]:
    """Return why a rail cannot be lost: what is no way relies on it, and no check would notice."""
    rest = procedure.model_dump(exclude={"steps"})
    where = [f"the procedure under {key!r}" for key, data in rest.items() if _names(data, name)]
    for step in procedure.steps:
        for action in step.actions:
            ways = {"to", "start"} if isinstance(action, Translate) else set()
            if _names(action.model_dump(exclude=ways), name):
                where.append(f"step {step.name!r} to {action.do}")
    if not where:
        return []
    return [
        f"it is named by {', '.join(dict.fromkeys(where))}, where no check asks whether it may be "
        "held; name something else there first"
    ]


def _names(data: object, name: str) -> bool:
    """Return whether a text in data is the name, or a place on the rail of that name."""
    if isinstance(data, Mapping):
        return any(_names(each, name) for each in data.values())
    if isinstance(data, list | tuple):
        return any(_names(each, name) for each in data)
    return isinstance(data, str) and (data == name or data.startswith(f"{name}@"))


def _reeled(scene: Scene, reeled: Reeled) -> Scene:
    if reeled.tether not in scene.tethers:
        raise UnfitError(unknown("tether", reeled.tether, scene.tethers))
    problems: list[Problem] = []
    data = {"length": _number(reeled.length)}
    read = read_record(Tether, data, lambda _, told: Problem("", "", None, told), problems)
    if read is None:
        raise UnfitError(*(problem.message for problem in problems))
    line = _changed(scene.tethers[reeled.tether], length=read.length)
    return _put(scene, "tethers", reeled.tether, line)


def _limited(scene: Scene, limited: Limited) -> Scene:
    if limited.limit not in LIMITS:
        raise UnfitError(unknown("limit", limited.limit, LIMITS))
    written = WrittenLimit(value=_number(limited.value), source=SOURCE)
    try:
        limit = limit_of(limited.limit, written)
    except ValueError as error:
        raise UnfitError(str(error)) from None
    return _put(scene, "limits", limited.limit, limit)


def _shifted(procedure: Procedure, shifted: Shifted) -> Procedure:
    windows: Mapping[str, Any] = getattr(procedure, "windows", None) or {}
    wrong, by = [], 0.0
    if not windows:
        wrong.append("the procedure has no windows")
    elif shifted.window and shifted.window not in windows:
        wrong.append(unknown("window", shifted.window, windows))
    try:
        by = quantity(_number(shifted.by), "time")
    except ValueError as error:
        wrong.append(str(error))
    _refuse(wrong)
    names = [shifted.window] if shifted.window else list(windows)
    spans = {name: _later(windows[name].spans, by) for name in names}
    _refuse(
        f"window {name!r} would be over before the procedure begins"
        for name in names
        if windows[name].spans and not spans[name]
    )
    moved = {name: _changed(windows[name], spans=spans[name]) for name in names}
    return procedure.model_copy(update={"windows": {**windows, **moved}})


def _later(spans: Iterable[tuple[float, float]], by: float) -> tuple[tuple[float, float], ...]:
    moved = ((begins + by, ends + by) for begins, ends in spans)
    return tuple((max(0.0, begins), ends) for begins, ends in moved if ends > 0.0)


def _refuse(wrong: Iterable[str]) -> None:
    messages = tuple(wrong)
    if messages:
        raise UnfitError(*messages)


def _put(scene: Scene, table: str, name: str, entry: Record) -> Scene:
    return scene.model_copy(update={table: getattr(scene, table) | {name: entry}})


def _changed(entry: Entry, **changes: object) -> Entry:
    """Return a copy with values that are known to be good for their keys."""
    return entry.model_copy(update=changes)


def _number(text: str) -> float | str:
    """Return a plain number, which is SI, as one; anything else as it is, to be read."""
    try:
        return float(text)
    except ValueError:
        return text
