"""Ends a process of ours soon after the one that started it has gone, however that went.

A parent that is killed cannot tell its children.  Without this they would work on for nobody.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
import time

PERIOD = 0.5
"""How often it is looked whether the parent is there, s."""


def end_with(parent: int) -> None:
    """Have this process ended once its parent is gone; returns at once.

    Parameters
    ----------
    parent : int
        Id of the process that started this one, as that one knew it.

    Notes
    -----
    What a process of ours writes is written whole or not at all, so it may end at any moment.
    """
    threading.Thread(target=_watch, args=(parent,), name="parent", daemon=True).start()


def _watch(parent: int) -> None:
    started_by = multiprocessing.parent_process()
    if os.name == "nt" and started_by is not None:  # there the parent's id never changes
        started_by.join()
        os._exit(1)
    while os.getppid() == parent:
        time.sleep(PERIOD)
    os._exit(1)
