"""The folder of a batch: one file a task, written whole, found again by its key."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from reach.batch.leftovers import tidied
from reach.batch.perform import SCHEMA
from reach.batch.plan import Entry
from reach.files.problem import InputError, Problem
from reach.files.results import write_whole

_PROBE = ".can-be-written"
_TABLES = r"plan\.jsonl|findings\.csv|findings\.parquet|summary\.txt|\.can-be-written"
_TASK = r"[0-9a-f]{40}\.json|\.can-be-written"


class Store:
    """Kept tasks and tables of one batch.

    Attributes
    ----------
    folder : Path
        Holds ``tasks/``, ``plan.jsonl``, ``findings.csv``, ``summary.txt`` and, where
        pyarrow is installed, ``findings.parquet``.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.tasks = folder / "tasks"
        self.plan = folder / "plan.jsonl"

    @contextmanager
    def prepared(self) -> Iterator[None]:
        """Make the folder, and refuse before any work what could not be written after it.

        Half-written files of a batch that was killed there are taken away.

        Raises
        ------
        InputError
            If the folder cannot be made or written to.
        """
        try:
            self.tasks.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            reason = error.strerror or "unknown reason"
            message = f"cannot be made: {reason}; give another folder with -o"
            raise InputError([Problem(str(self.folder), "", None, message)]) from None
        with tidied(self.folder, self._leftovers):
            for folder in (self.folder, self.tasks):
                probe = folder / _PROBE
                write_whole(probe, "")
                probe.unlink(missing_ok=True)
            yield

    def _leftovers(self) -> Iterator[Path]:
        """Yield what `reach.files.results.whole` left of files of this batch, and no other."""
        for folder, names in ((self.folder, _TABLES), (self.tasks, _TASK)):
            for path in folder.iterdir():
                if re.fullmatch(rf"\.({names})\.[a-z0-9_]{{8}}|{re.escape(_PROBE)}", path.name):
                    yield path

    def has(self, key: str) -> bool:
        """Return whether the task is kept whole; a file that was damaged is none."""
        try:
            self.read(key)
        except (OSError, ValueError):
            return False
        return True

    def read(self, key: str) -> dict[str, Any]:
        """Return a kept task.

        Raises
        ------
        OSError, ValueError
            If it is not there, or not what was written.
        """
        data = json.loads(self._file(key).read_text(encoding="utf-8"))
        if not isinstance(data, dict) or (data.get("schema"), data.get("key")) != (SCHEMA, key):
            raise ValueError(f"{self._file(key)} is not the task {key}")
        return data

    def write(self, key: str, text: str) -> None:
        """Keep what a task gave."""
        write_whole(self._file(key), text)

    def entries(self) -> Iterator[Entry]:
        """Yield the lines of the plan, one at a time."""
        with self.plan.open(encoding="utf-8") as lines:
            for line in lines:
                yield Entry.of_line(line)

    def _file(self, key: str) -> Path:
        return self.tasks / f"{key}.json"
