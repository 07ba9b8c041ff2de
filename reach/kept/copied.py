"""One piece of work in a copy of this process, while this one goes on with another."""

from __future__ import annotations

import os
import pickle
import signal
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from reach.kept.beside import can_be_beside
from reach.orphan import end_with

Result = TypeVar("Result")


@contextmanager
def in_copy(work: Callable[[], Result] | None) -> Iterator[Callable[[], Result]]:
    """Do work in a copy of this process while the block runs; give what waits for its result.

    Where there can be no copy, or it fails, the work is done here when its result is asked for,
    and fails here if it has to.

    Parameters
    ----------
    work : callable or None
        Its result must be plain data; it must neither print nor write files.  None does nothing.
    """
    if work is None or not can_be_beside():
        yield _here(work)
        return
    reading, writing = os.pipe()
    parent = os.getpid()
    with warnings.catch_warnings():
        # A thread may be drawing a bar of progress; the copy does not touch what it uses.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        os.close(reading)
        end_with(parent)
        _copy(work, writing)
    os.close(writing)
    ended = False

    def result() -> Result:
        nonlocal ended
        with os.fdopen(reading, "rb", closefd=False) as file:
            content = file.read()
        os.waitpid(child, 0)
        ended = True
        if content:
            found: Result = pickle.loads(content)
            return found
        return _here(work)()

    try:
        yield result
    finally:
        os.close(reading)
        if not ended:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)


def _here(work: Callable[[], Result] | None) -> Callable[[], Result]:
    def result() -> Result:
        if work is None:
            raise ValueError("there is no work")
        return work()

    return result


def _copy(work: Callable[[], object], writing: int) -> None:
    """Work, write the result and end; nothing of the first process goes on in this one."""
    code = 1
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        content = pickle.dumps(work(), pickle.HIGHEST_PROTOCOL)
        with os.fdopen(writing, "wb") as file:
            file.write(content)
        code = 0
    finally:
        os._exit(code)
