"""Part of a run's work in a process beside it: what that finds is taken over as what was kept.

Each answer taken over is looked at like any other that was kept, so what is found does not depend
on whether there was a second process, or on how far it came.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from reach.kept.keeping import Kept
from reach.orphan import end_with


def can_be_beside() -> bool:
    """Return whether a second process can be had, and a processor for it.

    It is a copy of this one (a fork): routines need not be loaded again.  Elsewhere than on Linux
    that is not safe with the numeric libraries.
    """
    return sys.platform == "linux" and len(os.sched_getaffinity(0)) > 1


@contextmanager
def beside(work: Callable[[], object], kept: Kept) -> Iterator[None]:
    """Do work in a copy of this process while the block runs; wait for it at the end.

    Parameters
    ----------
    work : callable
        Keeps what it finds in ``kept``; it must neither print nor write files.
    kept : Kept
        Takes over what the copy has kept.
    """
    reading, writing = os.pipe()
    parent = os.getpid()
    with warnings.catch_warnings():
        # A thread may be drawing a bar of progress; the copy does not touch what it uses.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        os.close(reading)
        end_with(parent)
        _copy(work, kept, writing)
    os.close(writing)
    try:
        yield
    except BaseException:
        os.kill(child, signal.SIGKILL)
        os.close(reading)
        os.waitpid(child, 0)
        raise
    with os.fdopen(reading, "rb") as file:
        content = file.read()
    os.waitpid(child, 0)
    # A copy that failed gives nothing: its work is done here, and fails here if it has to.
    for question, entry, most in pickle.loads(content) if content else ():
        kept.keep(question, entry, most)


def _copy(work: Callable[[], object], kept: Kept, writing: int) -> None:
    """Work, write what was kept and end; nothing of the first process goes on in this one."""
    code = 1
    try:
        kept.made = []
        work()
        content = pickle.dumps(kept.made, pickle.HIGHEST_PROTOCOL)
        with os.fdopen(writing, "wb") as file:
            file.write(content)
        code = 0
    finally:
        os._exit(code)
