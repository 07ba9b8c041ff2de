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

Numba takes half a second to import and as long again for its first routine, and a command
that only reads files, or finds all its answers kept, calls none.  So until the first call a
marked routine is a :class:`Waiting`; that call wakes all of them (:func:`awake`).
"""

from __future__ import annotations

import functools
import hashlib
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import Any, TypeVar, cast

_Routine = TypeVar("_Routine", bound=Callable[..., Any])

CHUNK = 512
"""Queries a thread takes at a time: some milliseconds of work."""

_LAYERS = ("geometry", "worker", "table")
"""Folders with compiled routines; each calls into itself and those before it."""

_PACKAGE = Path(__file__).parents[1]

_alone: ContextVar[bool] = ContextVar("_alone", default=False)
"""Whether batches run on one core; answers do not depend on it."""


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


class Waiting:
    """A marked routine before the first call of any: called or looked into, it wakes all."""

    def __init__(self, routine: Callable[..., Any], inline: bool) -> None:
        """Put off what `_dispatcher` does with these."""
        self._asked = routine, inline
        functools.update_wrapper(self, routine)

    @functools.cached_property
    def _awake(self) -> Any:
        return _dispatcher(*self._asked)

    def __call__(self, *arguments: Any) -> Any:
        """Call the compiled routine."""
        awake()
        return self._awake(*arguments)

    def __getattr__(self, name: str) -> Any:
        """Return an attribute of the compiled routine."""
        if name.startswith("__"):
            raise AttributeError(name)
        awake()
        return getattr(self._awake, name)


_waiting: list[Waiting] = []
_acts: list[Callable[[], object]] = []
_lock = threading.RLock()


def _kept(routine: _Routine, inline: bool) -> _Routine:
    if "numba" in sys.modules and not _waiting:
        return cast(_Routine, _dispatcher(routine, inline))
    waiting = Waiting(routine, inline)
    _waiting.append(waiting)
    return cast(_Routine, waiting)


def awake() -> None:
    """Import Numba and put its routines in the place of those that wait for their first call.

    Compiled code looks its callees up in the modules when it is compiled, so all are exchanged
    there at once, under whatever names modules hold them.  Does nothing the second time.
    """
    if not _waiting:
        return
    with _lock:
        for module in list(sys.modules.values()):
            names: dict[str, Any] = getattr(module, "__dict__", {})
            for name, value in list(names.items()):
                if type(value) is Waiting:
                    names[name] = value._awake
        _waiting.clear()
        for act in _acts:
            act()
        _acts.clear()


def on_waking(act: Callable[[], object]) -> None:
    """Do something before the first compiled routine is called: now, if some are already."""
    if _waiting:
        _acts.append(act)
    else:
        act()


def _dispatcher(routine: Callable[..., Any], inline: bool) -> Any:
    import numba  # see above

    from reach.geometry.machine_code import guard

    dispatcher = numba.njit(nogil=True, error_model="numpy", forceinline=inline)(routine)
    with suppress(RuntimeError):  # there is no folder to keep it in: it is compiled each time
        dispatcher.enable_caching()
    cache: Any = getattr(dispatcher, "_cache", None)
    if hasattr(cache, "_cache_file"):
        guard(cache)
        cache._cache_file._source_stamp = _stamp(Path(routine.__code__.co_filename).parent)
    return dispatcher


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
    awake()
    dispatcher = cast(Any, routine)
    dispatcher = dispatcher._awake if isinstance(dispatcher, Waiting) else dispatcher
    if getattr(dispatcher, "signatures", None):
        return True
    try:
        return bool(dispatcher._cache._cache_file._load_index())
    except (AttributeError, OSError, ValueError, EOFError):
        return False


def n_threads() -> int:
    """Return how many threads batches run on: Numba's number."""
    import numba

    return int(numba.get_num_threads())


@contextmanager
def on_one_core() -> Iterator[None]:
    """Run batches on one core meanwhile: another process of the same run has the others."""
    token = _alone.set(True)
    try:
        yield
    finally:
        _alone.reset(token)


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
    some = min(n_threads(), n // chunk) if n > chunk and not _alone.get() else 1
    if some == 1:
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

    threads = [threading.Thread(target=work) for _ in range(some - 1)]
    for thread in threads:
        thread.start()
    work()
    for thread in threads:
        thread.join()
    if failures:
        raise failures[0]
