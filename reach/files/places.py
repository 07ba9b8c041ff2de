"""Which file is meant: a scene by folder, file or shipped name, and files named inside it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath

from reach.files.problem import InputError, Problem, nearest, unknown
from reach.files.shipped import shipped_path, shipped_scenes

SCENE_FILE = "scene.toml"
_SHIPPED = "shipped:"


@dataclass(frozen=True, slots=True)
class ScenePlace:
    """Where a scene is: its file, its folder, and the folder's name as shown."""

    file: Path
    folder: Path
    name: str

    def shown(self, path: Path) -> str:
        """Return a file of this scene as people see it: from the scene's folder name on."""
        inside = path.resolve().relative_to(self.folder.resolve())
        return f"{self.name}/{inside.as_posix()}"


def scene_place(where: str | Path) -> ScenePlace:
    """Return the place of a scene.

    Parameters
    ----------
    where : str or Path
        A folder that holds scene.toml, a .toml file, or the name of a shipped scene.

    Raises
    ------
    InputError
        If there is no such scene; the message names the nearest shipped one.
    """
    path = Path(where)
    if (path / SCENE_FILE).is_file():
        return _place(path / SCENE_FILE)
    if path.is_file():
        return _place(path)
    names = shipped_scene_names()
    if str(where) in names:
        return _place(shipped_scenes() / str(where) / SCENE_FILE)
    if path.is_dir():
        raise InputError([Problem(str(where), "", None, f"the folder holds no {SCENE_FILE}")])
    if path.suffix == ".toml" or len(path.parts) > 1:
        raise InputError([Problem(str(where), "", None, "there is no such file or folder")])
    raise InputError([Problem("", "", None, unknown("scene", str(where), names))])


def shipped_scene_names() -> list[str]:
    """Return the names of the scenes that come with the package."""
    return sorted(file.parent.name for file in shipped_scenes().glob(f"*/{SCENE_FILE}"))


def _place(file: Path) -> ScenePlace:
    if not file.resolve().is_relative_to(file.parent.resolve()):
        message = f"is a link to {str(file.resolve())!r}; name that file itself"
        raise InputError([Problem(str(file), "", None, message)])
    return ScenePlace(file=file, folder=file.parent, name=file.parent.resolve().name)


def inside(folder: Path, name: str) -> Path:
    """Return the file called ``name`` in ``folder`` or below it.

    Raises
    ------
    ValueError
        If the name leaves the folder, by "..", as an absolute path or by a link; or if
        there is no such file, with the nearest one there is.
    """
    if "\\" in name and not PureWindowsPath(name).is_absolute():
        raise ValueError(f"write / between folders, found {name!r}")
    whole = PurePosixPath(name).is_absolute() or PureWindowsPath(name).is_absolute()
    if not name or whole or ".." in PurePosixPath(name).parts:
        raise ValueError(f"leaves the scene's folder: {name!r}; put the file into it")
    try:
        _check_plain(folder, name)
    except OSError as error:  # a part of more than 255 bytes, a loop of links, no permission
        raise ValueError(f"cannot be looked for: {error.strerror}: {name!r}") from None
    return folder / name


def _check_plain(folder: Path, name: str) -> None:
    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()):
        raise ValueError(f"leaves the scene's folder by a link: {name!r}; put the file into it")
    if path.is_dir():
        raise ValueError(f"is a folder, not a file: {name!r}")
    if not path.exists():
        raise ValueError(_no_such_file(folder, name))
    if not path.is_file():
        raise ValueError(f"is no plain file: {name!r}")


def used_file(place: ScenePlace, name: str) -> tuple[Path, str]:
    """Return the path and shown name of an entry of ``use``.

    ``"shipped:tools"`` is a model file of the package, anything else a file in the
    scene's folder.

    Raises
    ------
    ValueError
        If there is no such file or it leaves the folder.
    """
    if not name.startswith(_SHIPPED):
        path = inside(place.folder, name)
        return path, place.shown(path)
    names = shipped_model_names()
    model = name.removeprefix(_SHIPPED)
    if model not in names:
        raise ValueError(unknown("shipped file", name, [_SHIPPED + known for known in names]))
    return shipped_path(f"{model}.toml"), f"models/{model}.toml"


def shipped_model_names() -> list[str]:
    """Return what can follow "shipped:" in ``use``."""
    return [name for name in _MERGED if shipped_model(name).is_file()]


def shipped_model(name: str) -> Path:
    """Return the path a shipped model file has or would have."""
    return shipped_path() / f"{name}.toml"


_MERGED = ("limits", "restraints", "sizes", "suits", "tools")
"""Model files that hold tables of a scene."""


def _no_such_file(folder: Path, name: str) -> str:
    suffix = PurePosixPath(name).suffix.casefold()
    files = (path for path in folder.rglob("*") if path.is_file())
    others = [p.relative_to(folder).as_posix() for p in files if p.suffix.casefold() == suffix]
    near = nearest(name, sorted(others))
    hint = f"; did you mean {near!r}?" if near else ""
    return f"there is no file {name!r} in the scene's folder{hint}"
