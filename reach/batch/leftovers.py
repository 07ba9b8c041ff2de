"""Half-written files of a batch that was killed, told from those of one that still runs."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def tidied(folder: Path, leftovers: Callable[[], Iterable[Path]]) -> Iterator[None]:
    """Take leftovers away, unless another batch works in the folder, and mark it as in use.

    The mark is a lock on the folder itself: it needs no file, and ends with the process
    however that ends.  Where folders cannot be locked, leftovers stay.

    Parameters
    ----------
    folder : Path
        Is there.
    leftovers : callable
        Gives the files; only asked when nobody else is at work.
    """
    mark = _opened(folder)
    try:
        if mark is not None:
            _tidy(mark, leftovers)
        yield
    finally:
        if mark is not None:
            os.close(mark)


def _opened(folder: Path) -> int | None:
    try:
        return os.open(folder, os.O_RDONLY)
    except OSError:  # some systems do not open folders
        return None


def _tidy(mark: int, leftovers: Callable[[], Iterable[Path]]) -> None:
    try:
        import fcntl
    except ImportError:
        return
    with suppress(OSError):  # another batch is at work: its files are no leftovers
        fcntl.flock(mark, fcntl.LOCK_EX | fcntl.LOCK_NB)
        for path in list(leftovers()):
            path.unlink(missing_ok=True)
    with suppress(OSError):
        fcntl.flock(mark, fcntl.LOCK_SH)
