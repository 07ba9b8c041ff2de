"""Long use: the page for hours, a batch of thousands; memory must stay flat and nothing slow down.

``python -m benchmarks.long_use --minutes 120 --tasks 10000`` takes as long as it says and more;
what is printed are medians over tenths of the run, so that a slow neighbour shows as one tenth.
"""

from __future__ import annotations

import argparse
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from benchmarks.batch import resident, sites
from benchmarks.page import IMAGE, SETTLED, change
from reach.files.starter import write_starter
from tests.browser import chromium, missing, watched_page

N_PARTS = 10
MOST = 300.0
"""A change may take so long (s) before the page counts as hung: others may want the cores."""


@dataclass
class Course:
    """What was measured over a run: moment (s), seconds one thing took, memory (MB) by process."""

    moments: list[float] = field(default_factory=list)
    took: list[float] = field(default_factory=list)
    first: list[float] = field(default_factory=list)
    others: list[float] = field(default_factory=list)

    def note(self, pid: int, moment: float, took: float) -> None:
        """Add a measurement, with the memory of a process and the most of those it started."""
        held = resident(pid)
        if pid in held:
            self.moments.append(moment)
            self.took.append(took)
            self.first.append(held.pop(pid))
            self.others.append(max(held.values(), default=0.0))

    def parts(self, values: Sequence[float]) -> list[float]:
        """Return the median of each tenth of the run's time."""
        end = self.moments[-1] + 1e-9
        cut: list[list[float]] = [[] for _ in range(N_PARTS)]
        for moment, value in zip(self.moments, values, strict=True):
            cut[int(N_PARTS * moment / end)].append(value)
        return [statistics.median(one) for one in cut if one]

    def tell(self, what: str, whose: tuple[str, str]) -> None:
        """Print medians by tenths, and the last half against the half before it."""
        if len(self.moments) < 2 * N_PARTS:
            print(f"  only {len(self.moments)} measurements: too few to tell")
            return
        for name, values, form in (
            (what, self.took, "7.3f"),
            (f"memory of {whose[0]}, MB", self.first, "7.0f"),
            (f"most memory of {whose[1]}, MB", self.others, "7.0f"),
        ):
            parts = self.parts(values)
            print(f"  {name:34}" + "".join(f"{one:{form}}" for one in parts))
            # The first tenth fills caches; from then on nothing should grow.
            half = len(parts) // 2
            early, late = statistics.median(parts[1 : half + 1]), statistics.median(parts[half:])
            print(f"  {'':34}second half against first: {100.0 * (late / early - 1.0):+.1f} %")


def page(minutes: float, scene: str | None = None, pace: float = 0.0) -> Course:
    """Change settings, write findings and look round for so long; return how it went.

    ``pace`` (s) is waited between two changes, as someone does who looks at what changed.
    """
    course = Course()
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        if scene is None:
            write_starter(Path(folder) / "site")
            scene = str(Path(folder) / "site")
        command = [sys.executable, "-m", "reach", "view", scene, "--no-open"]
        server = subprocess.Popen(
            [*command, "--out", f"{folder}/out"], stderr=subprocess.PIPE, text=True
        )
        assert server.stderr is not None
        address = next(m[0] for line in server.stderr if (m := re.search(r"http://\S+", line)))
        watch = watched_page(browser, 1600, 1000)
        watch.page.goto(address)
        watch.page.wait_for_function(f"document.querySelector('{IMAGE}')?.naturalWidth > 100")
        watch.page.wait_for_function(SETTLED, timeout=300_000)
        start, n = time.monotonic(), 0
        while (moment := time.monotonic() - start) < 60.0 * minutes:
            course.note(server.pid, moment, change(watch.page, str(1 + n % 2), MOST))
            if n % 5 == 0:
                watch.page.wait_for_function(SETTLED, timeout=300_000)
            if n % 20 == 0:
                watch.page.evaluate("window.trame.trigger('export', ['findings'])")
            if n % 20 == 10:
                watch.page.evaluate("window.trame.trigger('export', ['picture'])")
            n += 1
            watch.page.wait_for_timeout(1000.0 * pace)
        n_files = len(list(Path(folder, "out").rglob("*")))
        errors = len([one for one in watch.errors if "405" not in one])  # its POST on load
        print(f"  {n} settings tried, {n_files} files written, {errors} errors of the page")
        server.send_signal(signal.SIGINT)
        try:
            server.wait(60)
        except subprocess.TimeoutExpired:
            server.kill()
            print("  the page did not end by Ctrl-C within a minute")
    return course


def batch(n_tasks: int) -> Course:
    """Run a batch of so many small tasks; return how it went, seconds a task."""
    course = Course()
    with tempfile.TemporaryDirectory() as folder:
        listing = sites(Path(folder) / "yards", n_tasks)
        command = [sys.executable, "-m", "reach", "batch", str(listing), "-o", f"{folder}/out"]
        command += ["--jobs", "1", "--only", "reach", "--only", "torque"]
        process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        assert process.stderr is not None
        start = last = time.monotonic()
        before, every = 0, max(1, n_tasks // 500)
        for line in process.stderr:
            word = line.split(" ", 1)[0]
            if word.isdigit() and int(word) >= before + every:
                now, done = time.monotonic(), int(word)
                course.note(process.pid, now - start, (now - last) / (done - before))
                last, before = now, done
        process.wait()
        kept = len(list(Path(folder, "out", "tasks").iterdir()))
        took = time.monotonic() - start
    print(f"  {kept} tasks of {n_tasks} in {took:.0f} s, exit code {process.returncode}")
    return course


def main(
    minutes: float = 120.0, n_tasks: int = 10_000, scene: str | None = None, pace: float = 0.0
) -> None:
    """Print how long use went."""
    if n_tasks:
        print(f"\nA batch of {n_tasks} tasks, one process, tenths of its time", flush=True)
        batch(n_tasks).tell("a task, s", ("the parent", "a worker"))
    if minutes and missing():
        print(f"No long use of the page: {missing()}")
    elif minutes:
        print(f"\nThe page for {minutes:g} minutes, tenths of its time", flush=True)
        course = page(minutes, scene, pace)
        course.tell("a changed setting, s", ("the page", "the process beside it"))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=120.0)
    parser.add_argument("--tasks", type=int, default=10_000)
    parser.add_argument("--pace", type=float, default=0.0, help="s between two changes")
    parser.add_argument("--scene", help="for the page, else the starter scene")
    asked = parser.parse_args()
    main(asked.minutes, asked.tasks, asked.scene, asked.pace)
