"""A second process that works for the page, so that the page goes on answering meanwhile.

It does one job at a time.  A job that is stopped ends at its next word of progress; one that says
nothing for a while is ended with its process, and a new one takes its place.
"""

from __future__ import annotations

import asyncio
import gc
import multiprocessing
import os
import signal
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

from reach.files.problem import InputError
from reach.orphan import end_with
from reach.viewer.answers import JOBS, Inputs

_PATIENT = 5
"""Niceness of the process: below that of the page, which answers at once."""

PATIENCE = 1.5
"""So long a job that is stopped may take to the next word of progress, s."""


class StoppedError(Exception):
    """The job is not wanted any more."""


@dataclass(slots=True)
class Job:
    """One job and who is told about it; everything is called in the page's own thread."""

    name: str
    args: tuple[Any, ...]
    done: Callable[[Any], None]
    failed: Callable[[str], None]
    say: Callable[[int, int, str], None] | None = None
    part: Callable[[Any], None] | None = None
    stopped: Callable[[], None] | None = None
    number: int = 0


class Workshop:
    """Runs jobs in a process of its own, the latest wish of each name first.

    Parameters
    ----------
    names : tuple
        Scene, procedure and other version, as `reach.viewer.answers.Inputs` takes them.
    """

    def __init__(self, names: tuple[str, str | None, str | None]) -> None:
        self.names = names
        self._context = multiprocessing.get_context("spawn")
        self._process: Any = None
        self._pipe: Connection | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._job: Job | None = None
        self._waiting: list[Job] = []
        self._number = 0
        self._halt: Any = None

    @property
    def is_busy(self) -> bool:
        """Whether a job is under way or waits."""
        return self._job is not None or bool(self._waiting)

    def start(self) -> None:
        """Start the process; it loads the scene at once."""
        if self._process is not None:
            return
        mine, theirs = self._context.Pipe()
        self._halt = self._context.Event()
        self._process = self._context.Process(
            target=_work, args=(theirs, self._halt, self.names, os.getpid()), daemon=True
        )
        self._process.start()
        theirs.close()
        self._pipe = mine

    def listen(self) -> None:
        """Have answers taken in by the running loop."""
        self._loop = asyncio.get_running_loop()
        if self._pipe is not None:
            self._loop.add_reader(self._pipe.fileno(), self._hear)

    def ask(self, job: Job) -> None:
        """Have a job done; one of the same name that waits or is under way is given up for it."""
        self._waiting = [one for one in self._waiting if one.name != job.name]
        self._number += 1
        job.number = self._number
        self._waiting.append(job)
        if self._process is None:
            self.start()
            self.listen()
        self._halt_job(job.name)
        self._next()

    def stop(self, name: str) -> None:
        """Stop the job of a name; one under way ends at its next word, or with its process."""
        for job in [one for one in self._waiting if one.name == name]:
            self._waiting.remove(job)
            if job.stopped is not None:
                job.stopped()
        self._halt_job(name)

    def _halt_job(self, name: str) -> None:
        job = self._job
        if job is None or job.name != name:
            return
        self._halt.set()
        if self._loop is not None:
            self._loop.call_later(PATIENCE, self._end_if_still, job.number)

    def renew(self) -> None:
        """Give up all that is asked for; what is asked next is worked out from the files anew."""
        given_up = [*([self._job] if self._job is not None else []), *self._waiting]
        self._job, self._waiting = None, []
        self.kill()
        self.close()
        for job in given_up:
            if job.stopped is not None:
                job.stopped()

    def close(self) -> None:
        """End the process."""
        if self._pipe is not None:
            if self._loop is not None and not self._loop.is_closed():
                with suppress(ValueError, OSError):
                    self._loop.remove_reader(self._pipe.fileno())
            self._pipe.close()
            self._pipe = None
        if self._process is not None:
            self._process.terminate()
            self._process.join(5.0)
            self._process = None

    def kill(self) -> None:
        """End the process at once, from whatever thread; nothing else is tidied up."""
        if self._process is not None:
            self._process.kill()

    def _end_if_still(self, number: int) -> None:
        job = self._job
        if job is None or job.number != number:
            return
        self.close()
        self._job = None
        self.start()
        self.listen()
        if job.stopped is not None:
            job.stopped()
        self._next()

    def _next(self) -> None:
        if self._job is not None or not self._waiting or self._pipe is None:
            return
        self._job = self._waiting.pop(0)
        self._halt.clear()
        self._pipe.send((self._job.number, self._job.name, self._job.args))

    def _hear(self) -> None:
        assert self._pipe is not None
        try:
            while self._pipe is not None and self._pipe.poll():
                self._take(*self._pipe.recv())
        except (EOFError, OSError):
            self._died()

    def _died(self) -> None:
        job, self._job = self._job, None
        self.close()
        if job is None:
            return  # a new one is started when there is something to do
        self.start()
        self.listen()
        job.failed("The process that worked it out has ended unexpectedly.")
        self._next()

    def _take(self, number: int, kind: str, content: Any) -> None:
        job = self._job
        if job is None or job.number != number:
            return
        if kind == "say" and job.say is not None:
            job.say(*content)
        elif kind == "part" and job.part is not None:
            job.part(content)
        elif kind in ("done", "failed", "stopped"):
            self._job = None
            if kind == "done":
                job.done(content)
            elif kind == "failed":
                job.failed(content)
            elif job.stopped is not None:
                job.stopped()
            self._next()


def _work(
    pipe: Connection, halt: Any, names: tuple[str, str | None, str | None], parent: int
) -> None:
    """Do jobs until the pipe is closed or the page's own process has gone."""
    end_with(parent)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(_PATIENT)  # the page and the browser come first
    inputs = Inputs(*names)
    gc.collect()
    gc.freeze()  # what is loaded stays: it need not be looked through again
    _serve(inputs, halt, pipe)


def _serve(inputs: Inputs, halt: Any, pipe: Connection) -> None:
    """Do one job after the other until the pipe is closed."""
    while True:
        try:
            number, name, args = pipe.recv()
        except (EOFError, OSError):
            return
        with suppress(BrokenPipeError, OSError):
            pipe.send((number, *_done(inputs, halt, pipe, number, name, args)))
        # Records that know each other hold trees and tables; by itself Python looks for such
        # circles so seldom that they pile up to some hundred megabytes.
        gc.collect()


def _done(
    inputs: Inputs, halt: Any, pipe: Connection, number: int, name: str, args: tuple[Any, ...]
) -> tuple[str, Any]:
    def tell(kind: str, content: Any) -> None:
        if halt.is_set():
            raise StoppedError
        pipe.send((number, kind, content))

    try:
        say = lambda *words: tell("say", words)  # noqa: E731
        return "done", JOBS[name](inputs, say, lambda one: tell("part", one), *args)
    except StoppedError:
        return "stopped", None
    except InputError as error:
        return "failed", "; ".join(problem.message for problem in error.problems)
    except Exception:
        return "failed", traceback.format_exc()
