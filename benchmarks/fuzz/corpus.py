"""Sound files to spoil: scenes, procedures, tables, meshes and an arm, in a folder each."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import trimesh

from benchmarks.fuzz.step_seed import step_text
from reach.files.shipped import shipped_path, shipped_scenes
from reach.files.starter import write_starter

_MESH_SCENE = """\
format = 1
title = "mesh"
use = ["shipped:tools", "shipped:restraints", "shipped:sizes", "shipped:suits"]

[solids.part]
at = [3, 0, 0]
mesh = {{ file = "{file}", unit = "{unit}", up = "z" }}
"""


_FRAME = ["0 0 0", "4 0 0", "4 4 0", "0 4 0", "1 1 0", "1 3 0", "3 3 0", "3 1 0"]
_ROUND = [0, 1, 2, 3, 0, 4, 5, 6, 7, 4]
"""A plate with a window: round the outside, in to the hole, round that and back."""
_OBJ = (
    "".join(f"v {one}\n" for one in _FRAME)
    + f"f {' '.join(str(k + 1) for k in _ROUND)}\n"
    + "f -8/1 -5/2 -6/3 -7/4 # its back\n"
)
_PLY = (
    "ply\nformat ascii 1.0\nelement vertex 8\nproperty float x\nproperty float y\n"
    "property float z\nelement face 2\nproperty list uchar int vertex_indices\nend_header\n"
    + "".join(f"{one}\n" for one in _FRAME)
    + f"10 {' '.join(map(str, _ROUND))}\n4 0 3 2 1\n"
)


@dataclass(frozen=True, slots=True)
class Seed:
    """One file of a folder that is to be spoilt.

    Attributes
    ----------
    kind : str
        ``"scene"``, ``"procedure"``, ``"table"``, ``"mesh"`` or ``"arm"``.
    folder, file : Path
        The folder of the scene and the file in it, relative to the folder.
    is_quick : bool
        Whether a whole check of it takes but a second.
    """

    kind: str
    folder: Path
    file: Path
    is_quick: bool = False

    @property
    def name(self) -> str:
        """Folder and file, which no other has."""
        return f"{self.folder.name}/{self.file.as_posix()}"

    @property
    def procedure(self) -> str | None:
        """The procedure that is spoilt, if it is one."""
        return str(self.file) if self.kind == "procedure" else None


def kept_name(name: str, number: str) -> str:
    """Return the name of a file in which a spoilt one is kept.

    Examples
    --------
    >>> kept_name("starter/scene.toml", "1-3061")
    'starter--scene--1-3061.toml'
    """
    path = Path(name)
    return f"{path.parent.name}--{path.stem}--{number}{path.suffix}"


def seed_of(kept: str, seeds: list[Seed]) -> Seed:
    """Return what a kept file was before it was spoilt."""
    folder, stem, _ = kept.split("--", 2)
    name = f"{folder}/{stem}{Path(kept).suffix}"
    return next(one for one in seeds if one.name == name)


def corpus(into: Path) -> list[Seed]:
    """Write sound scenes below a folder and return what can be spoilt of them."""
    starter = into / "starter"
    write_starter(starter)
    seeds = [
        Seed("scene", starter, Path("scene.toml"), True),
        Seed("procedure", starter, Path("procedure.toml"), True),
    ]
    for name in ("brackenfall", "tallowmere"):
        folder = into / name
        shutil.copytree(shipped_scenes() / name, folder)
        for path in sorted(folder.iterdir()):
            if path.name == "expected.csv":
                continue
            kind = "table" if path.suffix == ".csv" else "procedure"
            kind = "scene" if path.name == "scene.toml" else kind
            seeds.append(Seed(kind, folder, Path(path.name)))
    return seeds + _meshes(into) + _arm(into)


def _meshes(into: Path) -> list[Seed]:
    box = trimesh.creation.box((0.4, 0.3, 0.2))
    seeds = []
    for suffix in ("stl", "obj", "ply", "glb", "gltf"):
        folder = into / f"mesh-{suffix}"
        folder.mkdir()
        exported = box.export(file_type=suffix)
        if isinstance(exported, dict):  # a gltf is several files
            for name, content in exported.items():
                (folder / name).write_bytes(content)
            file = next(name for name in exported if name.endswith(".gltf"))
        else:
            file = f"part.{suffix}"
            content = exported.encode() if isinstance(exported, str) else exported
            (folder / file).write_bytes(content)
        (folder / "scene.toml").write_text(_MESH_SCENE.format(file=file, unit="m", up="z"))
        seeds.append(Seed("mesh", folder, Path(file)))
    words = {
        "frame.obj": _OBJ,
        "frame.ply": _PLY,
        "words.stl": box.export(file_type="stl_ascii"),
        "box.step": step_text(),
    }
    for file, text in words.items():
        folder = into / file.replace(".", "-")
        folder.mkdir()
        (folder / file).write_text(text)
        (folder / "scene.toml").write_text(_MESH_SCENE.format(file=file, unit="m", up="z"))
        seeds.append(Seed("mesh", folder, Path(file)))
    return seeds


def _arm(into: Path) -> list[Seed]:
    folder = into / "arm"
    folder.mkdir()
    shutil.copy(shipped_path("cranes/brackenfall.urdf"), folder / "arm.urdf")
    (folder / "scene.toml").write_text(
        _MESH_SCENE.split("[solids")[0].format(file="", unit="")
        + '[cranes.Crane]\nat = [0, 0, 0]\narm = "arm.urdf"\n'
    )
    return [Seed("arm", folder, Path("arm.urdf"))]
