"""The same tasks on a Dask scheduler: sent a few at a time, kept here as they come back."""

from __future__ import annotations

import queue
import warnings
from collections.abc import Callable, Generator, Iterator
from typing import Any

from reach.batch.perform import perform
from reach.batch.scheduler import Connected, cluster_problem
from reach.batch.task import Ended, OtherProgramError, Task
from reach.files.problem import InputError

_LOOK = 0.5
_LOST_AFTER = 30.0
_CLOSED = ("closing", "closed")
_AHEAD = 2
"""Tasks under way for each thread of the cluster, so that none waits for this computer."""


def run(
    tasks: Iterator[Task | None], scheduler: Connected, tell: Callable[[str], None]
) -> Generator[Ended | None, None, None]:
    """Run tasks on a scheduler and yield how each ended, in any order.

    ``tell`` is told when there are no workers to wait for yet.

    Raises
    ------
    InputError
        If the scheduler stops answering, or has workers with another version of this
        program; whatever was yielded before stays good.
    """
    yield from _Cluster(scheduler.client, scheduler.address, tell).run(tasks)


class _Cluster:
    """Tasks under way on a scheduler."""

    def __init__(self, client: Any, address: str, tell: Callable[[str], None]) -> None:
        self.client = client
        self.address = address
        self.under_way: dict[str, Any] = {}
        self.ended: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.silent = 0.0
        self.tell = tell
        self.is_told = False

    def run(self, tasks: Iterator[Task | None]) -> Iterator[Ended | None]:
        more = True
        while more or self.under_way:
            while more and len(self.under_way) < self._most():
                try:
                    task = next(tasks)
                except StopIteration:
                    more = False
                else:
                    if task is not None:
                        self._send(task)
                    yield None
            yield from self._next()

    def _most(self) -> int:
        """Return how many tasks may be under way; it follows workers that come and go."""
        return max(_AHEAD, _AHEAD * self._threads())

    def _threads(self) -> int:
        workers = self.client.scheduler_info(n_workers=-1).get("workers", {})
        return sum(int(worker["nthreads"]) for worker in workers.values())

    def _send(self, task: Task) -> None:
        if self.client.status in _CLOSED:
            raise self._gone()
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Sending large graph")
            future = self.client.submit(perform, task, key=f"reach-{task.key}", pure=False)
        self.under_way[task.key] = future
        future.add_done_callback(lambda _, key=task.key: self.ended.put(key))

    def _next(self) -> Iterator[Ended]:
        """Yield how the next task ended, if one does within a moment."""
        if not self.under_way:
            return
        try:
            key = self.ended.get(timeout=_LOOK)
        except queue.Empty:
            self._listen()
            return
        self.silent = 0.0
        yield self._result(key, self.under_way.pop(key))

    def _listen(self) -> None:
        self.silent = 0.0 if self.client.status == "running" else self.silent + _LOOK
        if self.silent >= _LOST_AFTER or self.client.status in _CLOSED:
            raise self._gone()
        if not self.is_told and not self.silent and self._threads() == 0:
            self.tell(f"waiting for workers: start some with 'dask worker {self.address}'")
            self.is_told = True

    def _gone(self) -> InputError:
        return cluster_problem(
            f"the scheduler at {self.address!r} no longer answers. What was done is kept; the "
            "same command goes on from there."
        )

    def _result(self, key: str, future: Any) -> Ended:
        from distributed import KilledWorker

        if future.status in ("cancelled", "lost"):
            raise self._gone()
        if future.status == "finished":
            ended = future.result()
            assert isinstance(ended, Ended)
            return ended
        error = future.exception()
        if isinstance(error, OtherProgramError):
            raise cluster_problem(f"at {self.address!r}: {error}; install the same there")
        if isinstance(error, KilledWorker):
            return Ended(key, "lost", "Its worker process ended, several times.")
        return Ended(key, "lost", f"Its worker failed: {type(error).__name__}: {error}")
