"""What makes the key of a task, and what a worker process does with it."""

from __future__ import annotations

import hashlib
import json
import pickle
from collections.abc import Iterable
from typing import Any

from reach.batch.task import Ended, Options, OtherProgramError, Task
from reach.files.problem import InputError
from reach.files.procedure import LoadedProcedure
from reach.files.program import program
from reach.files.scene import LoadedScene
from reach.reports.record import as_given, to_json, to_rows
from reach.run import check

SCHEMA = "reach-task-1"
"""Version of the form of a kept task; another version is run again."""


def task_of(loaded: LoadedScene, asked: LoadedProcedure, options: Options, variation: str) -> Task:
    """Return the task that runs a scene and a procedure, both varied already.

    Parameters
    ----------
    loaded, asked : LoadedScene, LoadedProcedure
    options : Options
    variation : str
        In words; part of the key, since the files alone do not show it.
    """
    files = loaded.files | (asked.files or {asked.file: asked.sha256})
    basis = {
        "program": program(),
        "files": _as_given(files.items()),
        "procedure": as_given(asked.file),
        "variation": variation,
        "sizes": options.sizes,
        "only": options.only,
        "population": options.population,
    }
    key = hashlib.sha256(json.dumps(basis, sort_keys=True).encode()).hexdigest()[:40]
    payload = pickle.dumps((loaded, asked, options), pickle.HIGHEST_PROTOCOL)
    return Task(key, program(), variation, payload)


def _as_given(files: Iterable[tuple[str, str]]) -> list[list[str]]:
    return sorted([as_given(file), sha256] for file, sha256 in files)


def perform(task: Task) -> Ended:
    """Run one task and return how it ended; no exception of a check leaves this function.

    Raises
    ------
    OtherProgramError
        If the task was made by another version of the program: its key would not be true.
    """
    if task.program != program():
        raise OtherProgramError(
            "this worker has another version of reach, of its models or libraries"
        )
    loaded, asked, options = pickle.loads(task.payload)
    told: dict[str, Any] = {"population": options.population} if options.population else {}
    try:
        outcome = check(
            loaded,
            asked,
            sizes=list(options.sizes) or None,
            only=list(options.only) or None,
            **told,
        )
    except InputError as error:
        return Ended(task.key, "broken", str(error))
    except Exception as error:
        return Ended(task.key, "lost", f"Defect of the program: {type(error).__name__}: {error}")
    kept = {
        "schema": SCHEMA,
        "key": task.key,
        "variation": task.variation,
        "rows": to_rows(outcome),
        "record": json.loads(to_json(outcome)),
    }
    return Ended(task.key, "done", json.dumps(kept, ensure_ascii=False, allow_nan=False) + "\n")
