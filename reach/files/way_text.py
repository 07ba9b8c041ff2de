"""A way that was found as text of a scene file: its poses and the path through them."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from reach.files.lines import dotted
from reach.files.problem import InputError, Problem
from reach.files.results import check_writable, refuse_inputs, write_whole
from reach.files.scene import LoadedScene, load_scene, read_files
from reach.files.toml import read_text

Array = NDArray[np.float64]

REMARK = "# Found by a search; every motion between two poses is proved."
"""Stands over what is added."""


@dataclass(frozen=True, eq=False, slots=True)
class FoundWay:
    """A way with names that the scene does not have yet.

    Attributes
    ----------
    payload, path : str
    through : tuple of str
        Poses in order: the first and the last are the scene's.
    places : ndarray, shape (k - 2, 3), m, world
        Where the payload's origin is in the poses between, which are new.
    turns : tuple of (axis, angle)
        How it is turned there: a unit axis of the world and rad.
    about : (x, y, z), m, payload
        The point that runs straight.
    """

    payload: str
    path: str
    through: tuple[str, ...]
    places: Array
    turns: tuple[tuple[Array, float], ...]
    about: tuple[float, float, float]

    def text(self) -> str:
        """Return poses and path as a scene file holds them: every digit, for they are proved."""
        above = ("payloads", self.payload)
        parts = []
        new = zip(self.through[1:-1], self.places, self.turns, strict=True)
        for name, place, (axis, angle) in new:
            lines = [f"[{_table(*above, 'poses', name)}]", f"at = {_numbers(place)}"]
            if angle > 0.0:
                turn = f"axis = {_numbers(axis)}, angle = {angle!r}"
                lines.append(f"turn = [{{ {turn} }}]")
            parts.append("\n".join(lines))
        names = ", ".join(_quoted(name) for name in self.through)
        lines = [f"[{_table(*above, 'paths', self.path)}]", f"through = [{names}]"]
        if any(self.about):
            lines.append(f"about = {_numbers(np.asarray(self.about))}")
        parts.append("\n".join(lines))
        return "\n\n".join(parts) + "\n"


def free_names(
    loaded: LoadedScene, payload: str, n: int, others: Sequence[FoundWay] = ()
) -> tuple[str, tuple[str, ...]]:
    """Return names for a found path of a payload and its n new poses that nothing has yet.

    ``others`` are ways that were found beside it.
    """
    record = loaded.scene.payloads[payload]
    mine = [way for way in others if way.payload == payload]
    path = _free("found-way", {*record.paths, *(way.path for way in mine)})
    taken = {*record.poses, *(name for way in mine for name in way.through)}
    between: list[str] = []
    for k in range(1, n + 1):
        between.append(_free(f"{path}-{k}", {*taken, *between}))
    return path, tuple(between)


def check_scene_copy(loaded: LoadedScene, target: Path) -> None:
    """Refuse a copy of the scene file that could not be written, or read where it is.

    Raises
    ------
    InputError
    """
    check_writable(target)
    refuse_inputs(target, read_files(loaded))
    if target.parent.resolve() != loaded.folder.resolve() and len(read_files(loaded)) > 1:
        message = f"must be in the folder of the scene, {loaded.folder}: the copy names its files"
        raise InputError([Problem(str(target), "", None, message)])


def write_with_ways(loaded: LoadedScene, target: Path, ways: Sequence[FoundWay]) -> Path:
    """Write a copy of the scene file with ways added at its end; return it.

    Raises
    ------
    InputError
        If the payload is written in a form that takes no more tables, or the copy cannot be
        written; then nothing is.
    """
    check_scene_copy(loaded, target)
    text, _ = read_text(scene_file(loaded), loaded.file)
    end = "\r\n" if "\r\n" in text else "\n"
    added = "".join(f"\n{REMARK}\n{way.text()}" for way in ways)
    body = text if text.endswith("\n") else text + end
    whole = body + added.replace("\n", end)
    try:
        tomllib.loads(whole)
    except tomllib.TOMLDecodeError as error:
        place = dotted(("payloads", ways[0].payload))
        message = f"write it as [{place}] tables, not in one line, to have a way added ({error})"
        raise InputError([Problem(loaded.file, place, None, message)]) from None
    write_whole(target, whole)
    load_scene(target)
    return target


def scene_file(loaded: LoadedScene) -> Path:
    """Return the file that a scene was read from."""
    return loaded.folder / loaded.file.removeprefix(f"{loaded.name}/")


def _free(name: str, taken: Collection[str]) -> str:
    k = 1
    found = name
    while found in taken:
        k += 1
        found = f"{name}-{k}"
    return found


def _numbers(values: Array) -> str:
    # Adding 0 makes of -0.0, which reads oddly, 0.0.
    return "[" + ", ".join(repr(float(v) + 0.0) for v in values) + "]"


def _table(*names: str) -> str:
    return ".".join(_key(name) for name in names)


def _key(name: str) -> str:
    bare = name.replace("-", "").replace("_", "")
    return name if bare.isascii() and bare.isalnum() else _quoted(name)


def _quoted(name: str) -> str:
    return json.dumps(name, ensure_ascii=False)
