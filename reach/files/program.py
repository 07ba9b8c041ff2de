"""Which program this is: a hash of all that may move the last digit of a finding."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version
from pathlib import Path

from reach.files.shipped import shipped_path

_NUMERIC = ("numpy", "scipy", "numba", "trimesh")
"""Libraries that may move the last digit of a number."""


@cache
def program() -> str:
    """Return a hash of this program's sources and models and of the libraries it computes with."""
    package = Path(__file__).parents[1]
    models = shipped_path()
    digest = hashlib.sha256(" ".join(f"{name} {version(name)}" for name in _NUMERIC).encode())
    for folder, pattern in ((package, "*.py"), (models, "*")):
        for path in _files(folder, pattern):
            digest.update(path.relative_to(folder).as_posix().encode())
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def _files(folder: Path, pattern: str) -> list[Path]:
    return sorted(path for path in folder.rglob(pattern) if path.is_file())
