"""Machine code kept on the disk: each file with a hash in front, and never in the way of an answer.

Numba trusts what it finds.  A file cut short would end a run, one with a wrong bit could answer
wrongly, and a program killed between two writes could leave old code under a new entry.  Here
what is not whole counts as not kept, and what cannot be written is compiled again another time.
"""

from __future__ import annotations

import hashlib
import os
import pickle
from contextlib import suppress
from pathlib import Path
from typing import Any

from numba.core.caching import IndexDataCacheFile

_N = 32


class WholeCacheFile(IndexDataCacheFile):
    """Index and code of one routine, for the place of Numba's own."""

    def _load_index(self) -> dict[Any, str]:
        """Return which code stands in which file; empty where that is old or not whole."""
        held = _read(Path(self._index_path))
        if held is None or held[:2] != (self._version, self._source_stamp):
            return {}
        return dict(held[2])

    def _save_index(self, overloads: dict[Any, str]) -> None:
        # The last name is new here, but may be that of a file with code of an older program,
        # which must be gone before the index speaks of it: this program may end at any moment.
        for name in list(overloads.values())[-1:]:
            Path(self._data_path(name)).unlink(missing_ok=True)
        self._write(self._index_path, (self._version, self._source_stamp, overloads))

    def _load_data(self, name: str) -> Any:
        return _read(Path(self._data_path(name)))

    def _save_data(self, name: str, data: Any) -> None:
        self._write(self._data_path(name), data)

    def _write(self, path: str, data: Any) -> None:
        content = self._dump(data)
        with self._open_for_write(path) as file:
            file.write(hashlib.sha256(content).digest() + content)


def _read(path: Path) -> Any:
    """Return what a file holds; None where it is not there or not whole."""
    try:
        content = path.read_bytes()
        if hashlib.sha256(content[_N:]).digest() == content[:_N]:
            return pickle.loads(content[_N:])
    except Exception:  # code of another library may fail to load in ways of its own
        return None
    return None


def guard(cache: Any) -> None:
    """Have a cache of Numba keep whole files only, and go on where it cannot write.

    Parameters
    ----------
    cache : numba.core.caching.FunctionCache
    """
    old, save, load = cache._cache_file, cache.save_overload, cache.load_overload
    name = os.path.basename(old._index_path).removesuffix(".nbi")
    cache._cache_file = WholeCacheFile(cache._cache_path, name, old._source_stamp)

    def save_overload(signature: Any, data: Any) -> None:
        with suppress(OSError):  # a full disk, a folder that has become read-only
            save(signature, data)

    def load_overload(signature: Any, context: Any) -> Any:
        try:
            return load(signature, context)
        except Exception:  # whole, but nothing that this Numba can take in
            return None

    cache.save_overload, cache.load_overload = save_overload, load_overload
