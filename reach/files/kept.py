"""What earlier runs found, kept on the disk in the user's cache; it may be deleted at any time.

The answers about one kind of step, or the ways of one kind, stand in one file, named by what they
rest on and by the program that found them.  A file that is short, damaged or of another program is
passed over, and where nothing can be written nothing is kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import pickle
from dataclasses import is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from reach.files.program import program
from reach.files.tables import cache_folder
from reach.files.writing import replacing
from reach.kept.keeping import MOST_VARIANTS, Entry, Kept
from reach.kept.noting import Name

MOST_BYTES = 256_000_000
"""What is kept on the disk; beyond that the longest unused files go."""

_SUFFIX = ".kept"
_FORM = b"reach-kept-1"
_OTHERS = {
    ("builtins", "set"), ("builtins", "frozenset"), ("builtins", "complex"),
    ("collections", "OrderedDict"),
    *(("numpy", name) for name in ("ndarray", "dtype")),
    *((f"numpy.{core}.multiarray", name)
      for core in ("_core", "core") for name in ("_reconstruct", "scalar")),
    *((f"numpy.{core}.numeric", "_frombuffer") for core in ("_core", "core")),
}  # fmt: skip
"""What a kept file may hold besides this project's own records."""


class KeptOnDisk(Kept):
    """What was found, read from the disk as it is asked for and written by `write`.

    Parameters
    ----------
    folder : Path, optional
        Else one in the user's cache, see `reach.files.tables.cache_folder`.
    """

    def __init__(self, folder: Path | None = None) -> None:
        super().__init__()
        cache = cache_folder()
        self._folder = folder or (cache / "findings" if cache else None)
        self._read: dict[str, tuple[Path | None, set[Name]]] = {}
        self._changed: set[str] = set()

    def of(self, question: Name) -> tuple[Entry, ...]:
        """Return what is kept of a question, the latest first."""
        self._shelf(question)
        return super().of(question)

    def keep(self, question: Name, entry: Entry, most: int = MOST_VARIANTS) -> None:
        """Keep an answer in front of those that saw something else."""
        shelf = self._shelf(question)
        self._changed.add(shelf)
        self._read[shelf][1].add(question)
        super().keep(question, entry, most)

    def write(self) -> None:
        """Write what was changed; what cannot be written is not kept, which is no error."""
        with contextlib.suppress(OSError):
            for shelf in sorted(self._changed):
                path, questions = self._read[shelf]
                if path is not None:
                    asked = sorted(questions, key=repr)
                    _write(path, {one: self._entries.get(one, ()) for one in asked})
            if self._changed and self._folder is not None:
                _tidy(self._folder)
        self._changed = set()

    def _shelf(self, question: Name) -> str:
        """Return the name of the file of a question, read by now."""
        shelf = hashlib.sha256(repr((question[:2], program())).encode()).hexdigest()
        if shelf not in self._read:
            path = self._folder / f"{shelf[:40]}{_SUFFIX}" if self._folder else None
            known = _held(path) if path else {}
            self._read[shelf] = (path, set(known))
            for one, entries in known.items():
                self._entries[one] = entries
        return shelf


class _Careful(pickle.Unpickler):
    """Reads records of this project and arrays, nothing else."""

    def find_class(self, module: str, name: str) -> Any:
        """Return a class that may stand in a kept file."""
        if (module, name) in _OTHERS:
            return super().find_class(module, name)
        if module.startswith("reach.") and "." not in name:
            found = super().find_class(module, name)
            if found.__module__ == module and _is_record(found):  # not what it imports
                return found
        raise pickle.UnpicklingError(f"{module}.{name} does not belong into a kept file")


def _is_record(found: object) -> bool:
    """Return whether something is a kind of plain data: making one does nothing else."""
    if not isinstance(found, type):
        return False
    return is_dataclass(found) or issubclass(found, Enum | tuple | BaseModel)


def _held(path: Path) -> dict[Name, tuple[Entry, ...]]:
    """Return what a file holds; nothing if there is none or it is not whole."""
    try:
        if path.stat().st_size > MOST_BYTES:
            return {}
        content = path.read_bytes()
        if hashlib.sha256(content[32:]).digest() != content[:32]:
            return {}
        form, held = _Careful(io.BytesIO(content[32:])).load()
        os.utime(path)
        if form == _FORM and all(isinstance(x, Entry) for some in held.values() for x in some):
            return dict(held)
    except Exception:  # a foreign file may fail in ways of its own
        return {}
    return {}


def _write(path: Path, held: dict[Name, tuple[Entry, ...]]) -> None:
    """Write a file whole or not at all."""
    payload = pickle.dumps((_FORM, held), pickle.HIGHEST_PROTOCOL)
    path.parent.mkdir(parents=True, exist_ok=True)
    with replacing(path, is_lasting=False) as part:
        part.write_bytes(hashlib.sha256(payload).digest() + payload)


def _tidy(folder: Path) -> None:
    """Remove the longest unused files beyond `MOST_BYTES`."""
    files = [(one.stat().st_mtime, one.stat().st_size, one) for one in folder.glob(f"*{_SUFFIX}")]
    left = sum(size for _, size, _ in files) - MOST_BYTES
    for _, size, file in sorted(files):
        if left <= 0:
            break
        file.unlink(missing_ok=True)
        left -= size
