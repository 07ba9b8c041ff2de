"""Worker processes on this computer: a task each, replaced when they die.

The standard pool is not used because a process that is killed takes every task in flight of
that pool with it and does not say which one was its own; here the pipe tells.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import Counter, deque
from collections.abc import Generator, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from reach.batch.task import Ended, Task
from reach.orphan import end_with

TRIES = 2
"""A task whose process dies is tried once more, then given up and told."""

_THREADS = (
    "NUMBA_NUM_THREADS",
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
)


def cores() -> int:
    """Return the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def run(tasks: Iterator[Task | None], jobs: int) -> Generator[Ended | None, None, None]:
    """Run tasks in ``jobs`` processes and yield how each ended, in the order of ending.

    Parameters
    ----------
    tasks : iterator
        Is asked for more only as processes come free; None where there is nothing to run
        yet, which is passed on.
    jobs : int
        Processes; each has its share of the cores.
    """
    crew = _Crew(jobs, max(1, cores() // jobs))
    waiting: deque[Task] = deque()
    more = True
    try:
        while more or waiting or crew.busy:
            if more and len(waiting) < jobs:
                try:
                    task = next(tasks)
                except StopIteration:
                    more = False
                else:
                    if task is not None:
                        waiting.append(task)
                    yield None
            while waiting and crew.is_free:
                crew.start(waiting.popleft())
            # With something left to prepare, only look; else sleep until a process is done.
            yield from crew.ended(0.0 if more and len(waiting) < jobs else None)
    finally:
        crew.end()


class _Crew:
    """The processes: each is idle or has one task."""

    def __init__(self, jobs: int, threads: int) -> None:
        self.jobs = jobs
        self.threads = threads
        self.idle: dict[Connection, BaseProcess] = {}
        self.busy: dict[Connection, tuple[BaseProcess, Task]] = {}
        self.again: deque[Task] = deque()
        self.deaths: Counter[str] = Counter()

    @property
    def is_free(self) -> bool:
        return len(self.busy) < self.jobs

    def start(self, task: Task) -> None:
        """Give a task to an idle process, or to a new one."""
        while self.idle:
            pipe, process = self.idle.popitem()
            try:
                pipe.send(task)
            except OSError:  # it died while idle
                self._bury(pipe, process)
                continue
            self.busy[pipe] = (process, task)
            return
        pipe, process = _hired(self.threads)
        self.busy[pipe] = (process, task)
        with suppress(OSError):  # when it died at once, its end of the pipe says so in a moment
            pipe.send(task)

    def ended(self, timeout: float | None) -> Iterator[Ended]:
        """Yield how tasks ended; wait for the first of them at most ``timeout`` s."""
        if not self.busy:
            return
        for pipe in wait(list(self.busy), timeout):
            assert isinstance(pipe, Connection)
            process, task = self.busy.pop(pipe)
            try:
                result = pipe.recv()
            except (EOFError, OSError):
                how = self._bury(pipe, process)
                self.deaths[task.key] += 1
                if self.deaths[task.key] < TRIES:
                    self.start(task)
                else:
                    yield Ended(task.key, "lost", f"Its process {how}, {TRIES} times.")
            else:
                self.idle[pipe] = process
                yield result

    def _bury(self, pipe: Connection, process: BaseProcess) -> str:
        pipe.close()
        process.join(5.0)
        code = process.exitcode
        if code is not None and code < 0:
            return f"was ended by signal {-code}"
        return f"ended with exit code {code}"

    def end(self) -> None:
        """End every process at once; what they were doing is done again another time."""
        everyone = {**self.idle, **{pipe: process for pipe, (process, _) in self.busy.items()}}
        for process in everyone.values():
            process.kill()
        for pipe, process in everyone.items():
            process.join(5.0)
            pipe.close()


def _hired(threads: int) -> tuple[Connection, BaseProcess]:
    """Return a new process and our end of its pipe."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, threads, os.getpid()), daemon=True)
    with _deaf_to_interrupts():
        process.start()
    theirs.close()
    return ours, process


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Hold Ctrl-C back: processes started meanwhile never hear it, the one that starts them does.

    A terminal sends it to all of them; only the parent is to act on it.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(pipe: Connection, threads: int, parent: int) -> None:
    """Be a worker process: take tasks from the pipe until it closes or nobody is at its end."""
    end_with(parent)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ |= dict.fromkeys(_THREADS, str(threads))
    while True:
        try:
            task = pipe.recv()
            from reach.batch.perform import perform  # heavy, and takes its threads from above

            pipe.send(perform(task))
        except (EOFError, OSError):
            return
