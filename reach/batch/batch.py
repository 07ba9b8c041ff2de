"""A whole batch: plan, run what is missing, keep it, tell it in one table and a summary."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import gettempdir

from reach.batch import cluster, local
from reach.batch.plan import Defaults, Entry, planned
from reach.batch.scheduler import Connected
from reach.batch.store import Store
from reach.batch.tables import BROKEN, LOST, FindingsTable, has_parquet, write_parquet
from reach.batch.task import Ended, Task
from reach.files.problem import InputError, Problem
from reach.files.results import Together, whole
from reach.files.runs import LoadedRuns
from reach.finding import Verdict, code_of
from reach.reports.summary import Summary

UNREADABLE = 2
UNFINISHED = 70


@dataclass(slots=True)
class Progress:
    """How far a batch has come.

    Attributes
    ----------
    n_runs, planned : int
        Runs of the batch, and how many of them have been read.
    tasks, kept, done, failed : int
        Tasks known so far; those that were there from before; those run now; those that
        ended without findings.  A run whose input cannot be used counts as one that failed.
    last : str
        The task that ended last, with what came of it, or what is waited for.
    """

    n_runs: int = 0
    planned: int = 0
    tasks: int = 0
    kept: int = 0
    done: int = 0
    failed: int = 0
    last: str = ""


Say = Callable[[Progress], None]


@dataclass(frozen=True, slots=True)
class Told:
    """What came of a batch.

    Attributes
    ----------
    exit_code : int
        70 when a task was not finished, 2 when an input could not be used, else as for one
        run: 1 something fails, 3 not everything is known, 0 all passes.
    files : tuple of Path
        The tables and the summary that were written.
    progress : Progress
    """

    exit_code: int
    files: tuple[Path, ...]
    progress: Progress


@dataclass(slots=True)
class _Batch:
    """A batch under way."""

    runs: LoadedRuns
    defaults: Defaults
    store: Store
    say: Say
    progress: Progress = field(default_factory=Progress)
    names: dict[str, str] = field(default_factory=dict)
    failed: dict[str, Ended] = field(default_factory=dict)

    def tasks(self, plan: Path) -> Iterator[Task | None]:
        """Yield what is missing, None for each step that needs nothing; write the plan."""
        with plan.open("w", encoding="utf-8", newline="\n") as lines:
            for listed in self.runs.runs:
                for entry, task in planned(listed, self.defaults):
                    lines.write(entry.line())
                    yield self.wanted(entry, task)
                self.progress.planned += 1

    def wanted(self, entry: Entry, task: Task | None) -> Task | None:
        self.progress.tasks += 1
        if task is None:
            self.progress.failed += 1
            self.tell_of(entry.run, BROKEN)
        elif task.key in self.names:
            self.progress.tasks -= 1  # the same task under another name, under way already
        elif self.store.has(task.key):
            self.progress.kept += 1
        else:
            self.names[task.key] = ", ".join((entry.run, entry.variation))
            return task
        return None

    def keep(self, ended: Ended) -> None:
        name = self.names.pop(ended.key)
        if ended.ending == "done":
            self.store.write(ended.key, ended.text)
            self.progress.done += 1
        else:
            self.failed[ended.key] = ended
            self.progress.failed += 1
        self.tell_of(name, {"done": "done", "broken": BROKEN, "lost": LOST}[ended.ending])

    def tell_of(self, name: str, word: str) -> None:
        self.tell(f"{name}: {word}")

    def tell(self, text: str) -> None:
        self.progress.last = text
        self.say(self.progress)

    def run(self, plan: Path, jobs: int, scheduler: Connected | None) -> None:
        tasks = self.tasks(plan)
        if scheduler is None:
            running = local.run(tasks, jobs)
        else:
            running = cluster.run(tasks, scheduler, self.tell)
        with closing(running) as endings:
            for ended in endings:
                if ended is not None:
                    self.keep(ended)


def run_batch(
    runs: LoadedRuns,
    folder: str | Path,
    *,
    defaults: Defaults | None = None,
    jobs: int | None = None,
    scheduler: Connected | None = None,
    say: Say | None = None,
) -> Told:
    """Run what is missing of a batch and write its table and summary.

    Each task is kept as soon as it is done: whatever ends the batch early, the same call
    goes on from there.  The files do not depend on how many jobs there are or where they run.

    Parameters
    ----------
    runs : LoadedRuns
    folder : str or Path
        Is made if need be.
    defaults : Defaults, optional
        Sizes, checks, population and variations of runs that do not give their own.
    jobs : int, optional
        Processes on this computer, else one a core.
    scheduler : Connected, optional
        A Dask scheduler that takes the tasks instead, from `reach.batch.scheduler.connected`.
    say : callable, optional
        Told the `Progress` when a task ends, and when workers are waited for.

    Raises
    ------
    InputError
        If the folder cannot be written to or the scheduler stops answering.
    """
    store = Store(Path(folder))
    batch = _Batch(runs, defaults or Defaults(), store, say or (lambda _: None))
    batch.progress.n_runs = len(runs.runs)
    store.prepare()
    with whole(store.plan) as plan:
        batch.run(plan, jobs or local.cores(), scheduler)
    return _told(batch)


def _told(batch: _Batch) -> Told:
    """Gather every task in the order of the plan and write the tables."""
    store, words = batch.store, Counter[str]()
    summary = Summary(batch.runs.left_out)
    csv, text = store.folder / "findings.csv", store.folder / "summary.txt"
    files = [text, csv]
    try:
        with FindingsTable() as table, summary:
            for entry in store.entries():
                words.update(_gather(entry, batch, table, summary))
            files += _write(store, table, summary, csv, text)
    except OSError as error:
        message = f"temporary tables cannot be written: {error.strerror or 'unknown reason'}"
        raise InputError([Problem(gettempdir(), "", None, message)]) from None
    if words[LOST]:
        code = UNFINISHED
    elif words[BROKEN]:
        code = UNREADABLE
    else:
        code = code_of({verdict: words[str(verdict)] for verdict in Verdict})
    return Told(code, tuple(files), batch.progress)


def _write(
    store: Store, table: FindingsTable, summary: Summary, csv: Path, text: Path
) -> list[Path]:
    """Write tables and summary, which take their places together; return the one that may lack."""
    parquet = store.folder / "findings.parquet"
    with Together() as files:
        with files.filling(csv) as rows:
            table.write(rows)
        if has_parquet():
            with files.filling(parquet) as part:
                write_parquet(rows, part)
        with files.filling(text) as part, part.open("w", encoding="utf-8") as out:
            summary.write(out)
    if has_parquet():
        return [parquet]
    parquet.unlink(missing_ok=True)  # an older one would not be true
    return []


def _gather(entry: Entry, batch: _Batch, table: FindingsTable, summary: Summary) -> list[str]:
    """Add one task to the table and the summary; return its verdicts."""
    name = ": ".join(filter(None, (entry.run, entry.variation)))
    if entry.note:
        summary.note(f"{entry.run}: {entry.note}")
    failed = batch.failed.get(entry.key)
    lines = entry.problems or (tuple(failed.text.splitlines()) if failed else ())
    if lines:
        word = LOST if failed and failed.ending == "lost" else BROKEN
        table.add_failed(entry, word, lines)
        summary.add_failed(name, word, lines)
        return [word]
    try:
        kept = batch.store.read(entry.key)
    except (OSError, ValueError):
        lines = ("Its file was taken away while the batch ran.",)
        table.add_failed(entry, LOST, lines)
        summary.add_failed(name, LOST, lines)
        return [LOST]
    table.add(entry, kept["rows"])
    summary.add(name, kept["record"])
    return [finding["verdict"] for finding in kept["record"]["findings"]]
