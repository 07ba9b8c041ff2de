"""Versions of the rigger's demo, made by changing words in its files."""

from __future__ import annotations

import shutil
from pathlib import Path

from reach.comparing.edits import Version
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene

MAST = Path(__file__).parents[2] / "scenes" / "tallowmere"
BRACKET = (MAST / "bracket.toml").read_text()


def changed(text: str, *words: tuple[str, str]) -> str:
    """A text with words replaced that stand in it once."""
    for old, new in words:
        assert text.count(old) == 1, (old, text.count(old))
        text = text.replace(old, new)
    return text


def mast(folder: Path, name: str, *words: tuple[str, str], procedure: str = BRACKET) -> Path:
    """A copy of the mast with other words in its scene file."""
    there = folder / name
    shutil.copytree(MAST, there)
    (there / "scene.toml").write_text(changed((MAST / "scene.toml").read_text(), *words))
    (there / "bracket.toml").write_text(procedure)
    return there


def step_of(name: str, text: str = BRACKET) -> str:
    """The lines of one step."""
    parts = text.split("[[steps]]\n")
    (found,) = [part for part in parts if part.startswith(f'name = "{name}"')]
    return f"[[steps]]\n{found}"


def versions(folder: Path, *texts: str) -> list[Version]:
    """Versions of the mast's procedure, all of one scene."""
    scene = load_scene(MAST)
    found = []
    for k, text in enumerate(texts):
        path = folder / f"version-{k}.toml"
        path.write_text(text)
        found.append(Version(scene, load_procedure(path, scene)))
    return found
