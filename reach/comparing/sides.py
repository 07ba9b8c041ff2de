"""OLD and NEW as typed: a procedure of one scene, or a scene with a procedure of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from reach.comparing.edits import Version
from reach.files.places import SCENE_FILE, scene_place, shipped_scene_names
from reach.files.problem import Gathered, InputError, Problem
from reach.files.procedure import load_procedure
from reach.files.scene import LoadedScene, load_scene
from reach.files.toml import read_toml

PROCEDURE_KEYS = ("lanes", "steps")
"""Keys that only a procedure has; a scene has none of them."""


@dataclass(frozen=True, slots=True)
class Side:
    """What one side stands for: where its scene is, and its procedure (None: the scene's own)."""

    typed: str
    scene: str
    procedure: str | None


def versions(
    old: str, new: str, scene: str | None = None, procedure: str | None = None
) -> tuple[Version, Version]:
    """Return two versions, loaded; what both have in common is loaded once.

    Parameters
    ----------
    old, new : str
        Each a procedure file, of ``scene`` or of the scene in its folder; or a scene (folder, file
        or shipped name) with the procedure that it names.
    scene : str, optional
        The scene of the procedures.
    procedure : str, optional
        The procedure of the scenes.

    Raises
    ------
    InputError
        With every problem of both sides.
    """
    told = Gathered()
    sides = [told.of(_side, typed, scene, procedure) for typed in (old, new)]
    both = [side for side in sides if side is not None]
    if len(both) == len(sides):
        told.of(_check_options, both, scene, procedure)
    told.tell()
    scenes: dict[Path, LoadedScene] = {}
    found = [told.of(_loaded, side, scenes) for side in both]
    told.tell()
    first, second = found
    assert first is not None
    assert second is not None
    return first, second


def is_procedure(path: Path, shown: str = "") -> bool:
    """Return whether a TOML file is a procedure, by what it holds.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    data: Mapping[str, object] = read_toml(path, shown or path.name).data
    return any(key in data for key in PROCEDURE_KEYS)


def _side(typed: str, scene: str | None, procedure: str | None) -> Side:
    path = Path(typed)
    if path.is_dir() or (not path.exists() and typed in shipped_scene_names()):
        return Side(typed, typed, procedure)
    file = _file(typed, scene)
    if file is None:
        more = "" if scene else "; with --scene also a procedure of that scene's folder"
        raise _wrong(typed, f"there is no such file, folder or shipped scene{more}")
    if not is_procedure(file, typed):
        return Side(typed, typed, procedure)
    if scene is not None:
        return Side(typed, scene, typed)
    if not (file.parent / SCENE_FILE).is_file():
        raise _wrong(typed, "is a procedure with no scene in its folder; name one with --scene")
    return Side(typed, str(file.parent), typed)


def _file(typed: str, scene: str | None) -> Path | None:
    """Return the file that is meant: as typed, or in the folder of the scene."""
    if Path(typed).is_file():
        return Path(typed)
    if scene is None:
        return None
    inside = scene_place(scene).folder / typed
    return inside if inside.is_file() else None


def _check_options(sides: list[Side], scene: str | None, procedure: str | None) -> None:
    """Refuse options that say nothing of what was typed."""
    problems = []
    are_procedures = [side.procedure == side.typed for side in sides]
    if scene is not None and not any(are_procedures):
        message = "is the scene of procedures, but OLD and NEW are scenes"
        problems.append(Problem("command line", "--scene", None, message))
    if procedure is not None and all(are_procedures):
        message = "is the procedure of scenes, but OLD and NEW are procedures"
        problems.append(Problem("command line", "--procedure", None, message))
    if problems:
        raise InputError(problems)


def _loaded(side: Side, scenes: dict[Path, LoadedScene]) -> Version:
    where = scene_place(side.scene).file.resolve()
    if where not in scenes:
        scenes[where] = load_scene(side.scene)
    scene = scenes[where]
    return Version(scene, load_procedure(side.procedure, scene))


def _wrong(typed: str, message: str) -> InputError:
    return InputError([Problem(typed, "", None, message)])
