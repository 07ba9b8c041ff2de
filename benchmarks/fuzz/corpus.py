"""Sound files to spoil: scenes, procedures, tables, meshes and an arm, in a folder each."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import trimesh

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
