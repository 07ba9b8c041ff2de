"""Time whole checks of the demo, rechecks after an edit, and a long procedure.

``python -m benchmarks.recheck`` prints the times; with ``--long`` random edits of a small scene and
of the demo are rechecked, each against a whole run.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.scene import LoadedScene, load_scene
from reach.kept.keeping import Kept
from reach.model.procedure import Step
from reach.run import Outcome, check

DEMO = "brackenfall"
PERIOD = 6 * 3600.0
"""Repeats of the demo's steps begin this far (s) from each other."""

Steps = tuple[Step, ...]


@contextmanager
def timed(words: str) -> Iterator[None]:
    """Print how long a block takes: wall and processor time, s."""
    wall, busy = time.perf_counter(), time.process_time()
    yield
    wall, busy = time.perf_counter() - wall, time.process_time() - busy
    print(f"  {words:44s} {wall:8.2f} {busy:8.2f}", flush=True)


def with_steps(asked: LoadedProcedure, steps: Steps) -> LoadedProcedure:
    """Return a procedure with other steps."""
    return replace(asked, procedure=asked.procedure.model_copy(update={"steps": steps}))


def repeated(steps: Steps, n: int) -> Steps:
    """Return n steps: those given again and again, with names and starts of their own."""
    found = []
    for k in range(n):
        turn, step = k // len(steps), steps[k % len(steps)]
        start = None if step.start is None else step.start + turn * PERIOD
        # The first turn keeps its names: phases and clocks speak of them.
        name = f"{turn}/{{}}".format if turn else str
        names = {"name": name(step.name), "after": tuple(map(name, step.after))}
        found.append(step.model_copy(update=names | {"start": start}))
    return tuple(found)


def _duration(rng: random.Random, steps: list[Step]) -> None:
    k = rng.randrange(len(steps))
    steps[k] = steps[k].model_copy(update={"duration": (steps[k].duration or 60.0) + 60.0})


def _start(rng: random.Random, steps: list[Step]) -> None:
    k = rng.randrange(len(steps))
    steps[k] = steps[k].model_copy(update={"start": (steps[k].start or 0.0) + 120.0})


def _name(rng: random.Random, steps: list[Step]) -> None:
    k = rng.randrange(len(steps))
    steps[k] = steps[k].model_copy(update={"name": f"{steps[k].name}'"})


def _out(rng: random.Random, steps: list[Step]) -> None:
    del steps[rng.randrange(len(steps))]


def _blank(rng: random.Random, steps: list[Step]) -> None:
    k = rng.choice([k for k, step in enumerate(steps) if step.setting])
    steps[k] = steps[k].model_copy(update={"setting": None})


EDITS: tuple[Callable[[random.Random, list[Step]], None], ...] = (
    _duration, _start, _name, _out, _blank,
)  # fmt: skip


def times(n_edits: int = 10, n_steps: int = 1000) -> None:
    """Print what a whole check, rechecks and a long procedure take."""
    print(f"\nRechecks of {DEMO} (wall and processor time, s)")
    loaded = load_scene(DEMO)
    asked, kept, rng = load_procedure(None, loaded), Kept(), random.Random(1)
    with timed("whole, nothing kept"):
        check(loaded, asked)
    with timed("whole, warm, in two processes"):
        check(loaded, asked, processes=2)
    with timed("whole, keeping what is found"):
        check(loaded, asked, kept=kept)
    with timed("again, nothing changed"):
        check(loaded, asked, kept=kept)
    for k in range(n_edits):
        steps = list(asked.procedure.steps)
        edit = EDITS[k % len(EDITS)]
        edit(rng, steps)
        with timed(f"after an edit: {edit.__name__.strip('_')}"):
            _checked(loaded, with_steps(asked, tuple(steps)), kept)
    processes()
    for n in (n_steps // 4, n_steps):
        with timed(f"{n} steps, nothing kept before"):
            check(loaded, with_steps(asked, repeated(asked.procedure.steps, n)), kept=Kept())


def processes() -> None:
    """Print what whole processes take with an empty cache, and with what the first one kept."""
    with tempfile.TemporaryDirectory() as folder:
        given = os.environ | {"REACH_CACHE": folder}
        for words in ("a process, empty cache", "a process, nothing changed"):
            start = time.perf_counter()
            command = [sys.executable, "-m", "reach", "check", DEMO]
            subprocess.run(command, capture_output=True, check=False, env=given)
            print(f"  {words:44s} {time.perf_counter() - start:8.2f}", flush=True)


def _checked(loaded: LoadedScene, asked: LoadedProcedure, kept: Kept | None) -> Outcome | None:
    """Return what is found; None for an edit that no reader of files would let through."""
    try:
        return check(loaded, asked, kept=kept)
    except (AssertionError, KeyError, ValueError):
        return None


def soak(n: int = 40, seeds: int = 10) -> None:
    """Recheck random edits of a small scene and of the demo; whole runs must find the same."""
    tests = Path(__file__).parents[1] / "tests"
    sys.path[:0] = [str(tests / "kept"), str(tests / "checks")]
    from shop import STEPS
    from test_recheck import walked

    for seed in range(100, 100 + seeds):
        walked(STEPS, n, seed)
    print(f"\n{n * seeds} random edits of the shop rechecked: as whole runs")
    loaded, rng, kept = load_scene(DEMO), random.Random(7), Kept()
    asked, differ = load_procedure(None, loaded), 0
    for _ in range(n):
        steps = list(asked.procedure.steps)
        rng.choice(EDITS)(rng, steps)
        changed = with_steps(asked, tuple(steps))
        whole, again = _checked(loaded, changed, None), _checked(loaded, changed, kept)
        if whole is not None and again is not None:
            differ += list(map(repr, whole.findings)) != list(map(repr, again.findings))
            asked = rng.choice([asked, changed])
    print(f"{n} random edits of {DEMO} rechecked: {differ} differ from whole runs (0 asked)")


def main(*, long: bool = False) -> None:
    """Print the times, or run the long campaign."""
    if long:
        soak()
    else:
        times()


if __name__ == "__main__":
    main(long="--long" in sys.argv[1:])
