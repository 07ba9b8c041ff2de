"""Where the data files that come with the package are, installed or in a working copy."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def _folder(name: str) -> Path:
    installed = _PACKAGE / "shipped" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name


def shipped_path(*parts: str) -> Path:
    """Return the path of a shipped model file or folder.

    Raises
    ------
    FileNotFoundError
        If no such file comes with the package.

    Examples
    --------
    >>> shipped_path("people/male-statistics.csv").name
    'male-statistics.csv'
    """
    path = _folder("models").joinpath(*parts)
    if not path.exists():
        raise FileNotFoundError(f"no shipped model {'/'.join(parts)!r} in {_folder('models')}")
    return path


def shipped_scenes() -> Path:
    """Return the folder of the scenes and procedures that come with the package."""
    return _folder("scenes")
