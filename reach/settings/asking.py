"""What a search for settings is asked: restraint, sockets and targets that fit the scene."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reach.files.problem import Gathered, InputError, Problem, listed, unknown
from reach.files.procedure import LoadedProcedure
from reach.files.question import COMMAND_LINE, questions, usual_way
from reach.files.scene import LoadedScene
from reach.model.scene import Scene


@dataclass(frozen=True, eq=False, slots=True)
class Asking:
    """The restraint that is set, the sockets looked at, and one step for each target."""

    restraint: str
    sockets: tuple[str, ...]
    targets: tuple[str, ...]
    steps: LoadedProcedure


def asking_of(
    loaded: LoadedScene,
    targets: Sequence[str],
    restraint: str | None,
    sockets: Sequence[str] | None,
    procedure: LoadedProcedure | None,
    **asked: Any,
) -> Asking:
    """Return what a search is asked.

    Parameters
    ----------
    loaded : LoadedScene
    targets : sequence of str
    restraint : str, optional
        The only foot restraint with joints that there is, when left out.
    sockets : sequence of str, optional
        All free ones when left out.
    procedure : LoadedProcedure, optional
        How targets are turned where ``asked`` does not say it.
    **asked
        What `reach.files.question.question` takes.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    told = Gathered()
    name = told.of(_restraint, loaded.scene, restraint)
    names = told.of(_sockets, loaded.scene, sockets)
    kept = tuple(dict.fromkeys(targets))
    worker = asked.get("worker")
    usual = usual_way(loaded, procedure.procedure, worker, kept) if procedure else {}
    # Where the restraint is missing another one stands in while the rest is looked at.
    stand_in = name or next(iter(_kinds(loaded.scene)), None)
    steps = told.of(questions, loaded, kept, usual, restraint=stand_in, **asked)
    told.tell()
    assert name is not None
    assert names is not None
    assert steps is not None
    return Asking(name, names, kept, steps)


def _kinds(scene: Scene) -> list[str]:
    """Return the foot restraints with joints: pieces of them first, then the kinds."""
    feet = {n for n, one in scene.restraints.items() if one.kind == "foot restraint" and one.joints}
    return [*(n for n, item in scene.items.items() if item.kind in feet), *sorted(feet)]


def _restraint(scene: Scene, name: str | None) -> str:
    """Return the restraint to set: the one given, or the only kind there is."""
    if name is not None:
        return name
    known = _kinds(scene)
    kinds = {scene.items[n].kind for n in known if n in scene.items} or set(known)
    if len(kinds) == 1:
        return known[0]
    message = f"is missing; there are {listed(known)}"
    raise InputError([Problem(COMMAND_LINE, "restraint", None, message)])


def _sockets(scene: Scene, names: Sequence[str] | None) -> tuple[str, ...]:
    known = scene.free_sockets
    problems = [unknown("free socket", name, known) for name in names or () if name not in known]
    if problems:
        raise InputError([Problem(COMMAND_LINE, "sockets", None, text) for text in problems])
    return tuple(dict.fromkeys(names or known))
