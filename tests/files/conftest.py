"""A small scene in a folder of its own, to be changed by a test."""

from pathlib import Path

import pytest

from reach.files.starter import write_starter


@pytest.fixture
def starter(tmp_path: Path) -> Path:
    """Return the folder of a fresh starter scene."""
    write_starter(tmp_path / "site")
    return tmp_path / "site"


@pytest.fixture
def scene_file(tmp_path: Path):
    """Return a function that writes a scene with the given text and returns its folder."""

    def write(text: str, name: str = "scene.toml") -> Path:
        folder = tmp_path / "site"
        folder.mkdir(exist_ok=True)
        (folder / name).write_text(f"format = 1\n{text}", encoding="utf-8")
        return folder

    return write
