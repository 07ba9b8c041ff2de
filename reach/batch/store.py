"""The folder of a batch: one file a task, written whole, found again by its key."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from reach.batch.perform import SCHEMA
from reach.batch.plan import Entry
from reach.files.results import make_folder, write_whole
from reach.files.writing import sweep

_PROBE = ".can-be-written"


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

    def prepare(self) -> None:
        """Make the folder, and refuse before any work what could not be written after it.

        Half-written files of a batch that was killed there are taken away.

        Raises
        ------
        InputError
            If the folder cannot be made or written to.
        """
        make_folder(self.tasks, "; give another folder with -o")
        for folder in (self.folder, self.tasks):
            sweep(folder)
            probe = folder / _PROBE
            write_whole(probe, "", is_lasting=False)
            probe.unlink(missing_ok=True)

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
        content = self._file(key).read_bytes()
        body = b"{" + content[len(_headed(b"")) :]
        if _headed(body) != content:
            raise ValueError(f"{self._file(key)} is damaged")
        data: dict[str, Any] = json.loads(body)
        if (data.get("schema"), data.get("key")) != (SCHEMA, key):
            raise ValueError(f"{self._file(key)} is not the task {key}")
        return data

    def write(self, key: str, text: str) -> None:
        """Keep what a task gave; one that a loss of power damages is told by `has`."""
        write_whole(self._file(key), _headed(text.encode()), is_lasting=False)

    def entries(self) -> Iterator[Entry]:
        """Yield the lines of the plan, one at a time."""
        with self.plan.open(encoding="utf-8") as lines:
            for line in lines:
                yield Entry.of_line(line)

    def _file(self, key: str) -> Path:
        return self.tasks / f"{key}.json"


def _headed(body: bytes) -> bytes:
    """Return an object in JSON with the hash of it, as it is here, put in as its first key."""
    return b'{"sha256": "%s", ' % hashlib.sha256(body).hexdigest().encode() + body[1:]
