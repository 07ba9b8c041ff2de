"""Compile routines once, keep the machine code, and run batches on every core.

Every routine marked with :func:`compiled` is kept on disk next to its source
(or in ``NUMBA_CACHE_DIR``).  Numba itself only watches the file a routine
stands in, so a change in a routine that it *calls* would go unseen and old
machine code would answer; here the stamp covers every file of the folder the
routine stands in, and of those it may call into.

Batches are cut into chunks which plain threads take in turn: compiled routines
let go of the interpreter, the answer of a query never depends on its
neighbours, and unlike Numba's own thread layer this may be called from several
threads at once and in a forked process.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

from reach.geometry.machine_code import guard

_Routine = TypeVar("_Routine", bound=Callable[..., Any])

CHUNK = 512
"""Queries a thread takes at a time: some milliseconds of work."""

_LAYERS = ("geometry", "worker", "table")
"""Folders with compiled routines; each calls into itself and those before it."""

_PACKAGE = Path(__file__).parents[1]


@lru_cache
def _folder_digest(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.py")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def compiled(routine: _Routine) -> _Routine:
    """Return `routine` compiled on its first call, or read from the disk.

    Plain IEEE arithmetic: nothing is reassociated or contracted, a division by
    zero gives ``inf`` or ``nan`` as in numpy.

    Parameters
    ----------
    routine : callable
        Written in the part of Python that Numba compiles.

    Returns
    -------
    routine : callable
        With the same signature; may be called from compiled code.
    """
    return _kept(routine, False)


def inlined(routine: _Routine) -> _Routine:
    """Return what :func:`compiled` does, always built into its compiled callers.

    For routines of a few operations in the innermost loops.

    Parameters
    ----------
    routine : callable
        Written in the part of Python that Numba compiles.

    Returns
    -------
    routine : callable
        With the same signature.
    """
    return _kept(routine, True)


def _kept(routine: _Routine, inline: bool) -> _Routine:
    dispatcher = numba.njit(nogil=True, error_model="numpy", forceinline=inline)(routine)
    with suppress(RuntimeError):  # there is no folder to keep it in: it is compiled each time
        dispatcher.enable_caching()
    cache: Any = getattr(dispatcher, "_cache", None)
    if hasattr(cache, "_cache_file"):
        guard(cache)
        cache._cache_file._source_stamp = _stamp(Path(routine.__code__.co_filename).parent)
    return cast(_Routine, dispatcher)


def _stamp(home: Path) -> tuple[str, ...]:
    """Return what changes when a routine in the folder ``home`` may have to be compiled again."""
    n = _LAYERS.index(home.name) if home.parent == _PACKAGE and home.name in _LAYERS else 1
    return tuple(_folder_digest(folder) for folder in [*(_PACKAGE / x for x in _LAYERS[:n]), home])


def is_cached(routine: Callable[..., Any]) -> bool:
    """Return whether a compiled routine can run without being compiled.

    Costs one small file read.

    Parameters
    ----------
    routine : callable
        Made by :func:`compiled`.

    Returns
    -------
    cached : bool
        ``False`` also when that cannot be found out.
    """
    dispatcher = cast(Any, routine)
    if getattr(dispatcher, "signatures", None):
        return True
    try:
        return bool(dispatcher._cache._cache_file._load_index())
    except (AttributeError, OSError, ValueError, EOFError):
        return False


def n_threads() -> int:
    """Return how many threads batches run on: Numba's number."""
    return int(numba.get_num_threads())


def in_chunks(kernel: Callable[..., Any], n: int, *arguments: Any, chunk: int = CHUNK) -> None:
    """Run ``kernel(start, stop, *arguments)`` over ``range(n)`` on all cores.

    The number of threads is Numba's (``numba.set_num_threads``,
    ``NUMBA_NUM_THREADS``).  The answer does not depend on it as long as the
    kernel writes only to rows ``start`` to ``stop`` of its output arrays.

    Parameters
    ----------
    kernel : callable
        Made by :func:`compiled`.
    n : int
        Number of queries.
    *arguments
        Passed on as they are.
    chunk : int
        Queries a thread takes at a time; small where one query is much work.
    """
    n_threads = min(numba.get_num_threads(), n // chunk) if n > chunk else 1
    if n_threads == 1:
        kernel(0, n, *arguments)
        return
    starts = count(0, chunk)
    failures: list[BaseException] = []

    def work() -> None:
        try:
            while (start := next(starts)) < n:
                kernel(start, min(start + chunk, n), *arguments)
        except BaseException as failure:
            failures.append(failure)

    threads = [threading.Thread(target=work) for _ in range(n_threads - 1)]
    for thread in threads:
        thread.start()
    work()
    for thread in threads:
        thread.join()
    if failures:
        raise failures[0]
