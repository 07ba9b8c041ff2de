"""Reach tables kept from run to run, in a cache folder that may be deleted at any time.

A file is named by what decides its contents: the figure, the grid and the sources that make
the table.  A file that is short, damaged or of something else is made again, and where nothing
can be written the table is made in memory.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import sys
from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np

from reach.files.writing import replacing
from reach.table.table import N_DIRECTIONS, STEP, ReachTable, build_table
from reach.worker.figure import Figure

FOLDER = "REACH_CACHE"
"""Environment variable that names the cache folder."""

MOST_FILES = 64
"""Tables kept on the disk; beyond that the longest unused one goes."""

MOST_HELD = 16
"""Tables held in memory, some 10 MB each."""

_SOURCES = ("worker", "table")
_held: OrderedDict[bytes, ReachTable] = OrderedDict()


def table_of(
    figure: Figure,
    say: Callable[[str], None] | None = None,
    step: float = STEP,
    n_directions: int = N_DIRECTIONS,
) -> ReachTable:
    """Return the table of a figure: from memory, from the cache, or made now and kept.

    Parameters
    ----------
    figure : Figure
    say : callable, optional
        Told how far a table is that has to be made.
    step : float, m
    n_directions : int
        See `reach.table.table.build_table`.
    """
    name = _name(figure.key, step, n_directions)
    if name in _held:
        _held.move_to_end(name)
        return _held[name]
    folder = cache_folder()
    path = folder / "tables" / f"{name.hex()}.table" if folder else None
    table = _read(path, figure.key) if path else None
    if table is None:
        table = build_table(figure, say, step, n_directions)
        if path:
            _write(path, table)
    _held[name] = table
    while len(_held) > MOST_HELD:
        _held.popitem(last=False)
    return table


def is_kept(figure: Figure, step: float = STEP, n_directions: int = N_DIRECTIONS) -> bool:
    """Return whether a table can be had without making it, as far as its file's name tells."""
    name = _name(figure.key, step, n_directions)
    folder = cache_folder()
    with contextlib.suppress(OSError):
        return name in _held or (
            folder is not None and (folder / "tables" / f"{name.hex()}.table").is_file()
        )
    return False


def cache_folder() -> Path | None:
    """Return the user's folder for what may be deleted, by platform habit; None without a home.

    `FOLDER` overrides it.  Nothing is created.
    """
    if named := os.environ.get(FOLDER):
        return Path(named)
    try:
        if sys.platform == "win32":
            local = os.environ.get("LOCALAPPDATA")
            return Path(local or Path.home() / "AppData" / "Local") / "reach" / "cache"
        if sys.platform == "darwin":
            return Path.home() / "Library" / "Caches" / "reach"
        return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "reach"
    except RuntimeError:
        return None


def _name(key: bytes, step: float, n_directions: int) -> bytes:
    stated = f"{step!r} {n_directions} {_sources()}".encode()
    return hashlib.sha256(key + stated).digest()


@lru_cache
def _sources() -> str:
    """Return a digest of the sources that decide what a table holds."""
    digest, package = hashlib.sha256(), Path(__file__).parents[1]
    for folder in _SOURCES:
        for path in sorted((package / folder).glob("*.py")):
            digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()


def _read(path: Path, key: bytes) -> ReachTable | None:
    """Return the table in a file, or None if there is none or it is not whole."""
    try:
        content = path.read_bytes()
        if hashlib.sha256(content[32:]).digest() != content[:32]:
            return None
        with np.load(io.BytesIO(content[32:]), allow_pickle=False) as kept:
            table = ReachTable(
                kept["figure_key"].tobytes(), float(kept["step"]), kept["directions"],
                kept["low"], kept["depth"], float(kept["radius"]),
            )  # fmt: skip
        os.utime(path)
    except Exception:  # a foreign file may fail in ways of its own
        return None
    return table if table.figure_key == key and _is_sound(table) else None


def _is_sound(table: ReachTable) -> bool:
    """Return whether the parts of a table fit each other."""
    shapes = (table.directions.ndim, table.depth.ndim, table.low.shape)
    return shapes == (2, 4, (3,)) and table.directions.shape == (len(table.depth), 3)


def _write(path: Path, table: ReachTable) -> None:
    """Write a table whole or not at all; a folder that cannot be written is no error."""
    content = io.BytesIO()
    np.savez(
        content, figure_key=np.frombuffer(table.figure_key, np.uint8), step=table.step,
        directions=table.directions, low=table.low, depth=table.depth, radius=table.radius,
    )  # fmt: skip
    payload = content.getvalue()
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with replacing(path, is_lasting=False) as part:
            part.write_bytes(hashlib.sha256(payload).digest() + payload)
        _tidy(path.parent)


def _tidy(folder: Path) -> None:
    """Remove the longest unused tables beyond `MOST_FILES`."""
    files = sorted(folder.glob("*.table"), key=lambda file: file.stat().st_mtime)
    for file in files[:-MOST_FILES]:
        file.unlink(missing_ok=True)
