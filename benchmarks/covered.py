"""Which branches of geometry, worker and checks the tests run: ``python -m benchmarks.covered``.

Two runs are put together.  In the ordinary one kernels are machine code, of which nothing can be
seen; in the plain one nothing is compiled (`benchmarks.plain`), and what takes longer than some
seconds is skipped.  ``--again`` prints the table of the last run, ``--only plain`` runs half.
What is found lies in ``out/covered``, with which test ran which line (for `benchmarks.mutants`).
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import coverage

from benchmarks.contexts import FOR_SECONDS as FOR_TEST_SECONDS
from benchmarks.plain import FOR_SECONDS as FOR_PLAIN_SECONDS

ROOT = Path(__file__).parents[1]
OUT = ROOT / "out/covered"
FOLDERS = ("reach/geometry", "reach/worker", "reach/checks")
GOAL = 95.0

ORDINARY = (
    "tests/checks", "tests/twins", "tests/geometry", "tests/worker", "tests/payload",
    "tests/crane", "tests/travel", "tests/test_scenes.py",
)  # fmt: skip
"""Tests that look at the three folders; others run them too, but ask something else."""

PLAIN = ("tests/plain", "tests/worker", "tests/geometry")
WHOLE = ("tests/plain",)
"""Asks little of every kernel, and is not cut short."""
COMPILING = "tests/geometry/test_compiled.py"
"""Asks of compiling itself, of which there is none in the plain run."""


def main() -> None:
    """Run tests under measurement, print the tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.covered")
    parser.add_argument("--only", choices=("ordinary", "plain"), nargs="*")
    parser.add_argument("--again", action="store_true", help="the table of the last run")
    parser.add_argument("--each", default="4", help="s a test may take where nothing is compiled")
    options = parser.parse_args()
    OUT.mkdir(parents=True, exist_ok=True)
    if not options.again:
        wanted = options.only or ("ordinary", "plain")
        if "ordinary" in wanted:
            run("ordinary", ORDINARY, {})
        if "plain" in wanted:
            skipped = f"--ignore={COMPILING}"
            each = {FOR_PLAIN_SECONDS: options.each}
            run("plain", PLAIN, each, "-p", "benchmarks.plain", skipped)
    show(merged())


def run(name: str, tests: Sequence[str], more: dict[str, str], *options: str) -> None:
    """Run some tests under measurement of branches; failures are told by pytest itself.

    Each folder has a process of its own, as helpers beside tests may be called alike.
    """
    parts, seconds = [], {}
    for tested in tests:
        part = OUT / f"{name}-{Path(tested).stem}"
        parts.append(f"{part}.coverage")
        environment = os.environ | more | {FOR_TEST_SECONDS: f"{part}.seconds.json"}
        if tested in WHOLE:
            environment.pop(FOR_PLAIN_SECONDS, None)
        command = [
            sys.executable, "-m", "coverage", "run", "--branch", f"--source={','.join(FOLDERS)}",
            f"--data-file={parts[-1]}", "-m", "pytest", "-q", "-p", "no:cacheprovider",
            "-p", "benchmarks.contexts", *options, tested,
        ]  # fmt: skip
        done = subprocess.run(command, cwd=ROOT, env=environment, check=False)
        if done.returncode:
            print(f"{tested}: not every test could be asked, or passed", flush=True)
        seconds |= json.loads(Path(f"{part}.seconds.json").read_text())
    whole = coverage.Coverage(data_file=str(OUT / f"{name}.coverage"), config_file=False)
    whole.combine(parts)
    whole.save()
    (OUT / f"{name}.seconds.json").write_text(json.dumps(seconds))


def merged() -> dict[str, Any]:
    """Put both runs together; return what coverage tells of each file."""
    both = coverage.Coverage(data_file=str(OUT / "tests.coverage"), branch=True, config_file=False)
    runs = [
        str(path) for name in ("ordinary", "plain") if (path := OUT / f"{name}.coverage").exists()
    ]
    both.combine(runs, keep=True)
    both.save()
    told = OUT / "told.json"
    both.json_report(include=[f"{ROOT / one}/*" for one in FOLDERS], outfile=str(told))
    files: dict[str, Any] = json.loads(told.read_text())["files"]
    return {str(Path(name)): one for name, one in files.items()}


def show(files: dict[str, Any]) -> None:
    """Print each folder, then each file with too few branches and where they are missing."""
    print(f"{'folder':16} {'branches':>13} {'':>7} {'lines':>13} {'':>7}")
    for folder in FOLDERS:
        told = [one["summary"] for name, one in files.items() if folder in name]
        parts = []
        for covered, whole in (
            ("covered_branches", "num_branches"),
            ("covered_lines", "num_statements"),
        ):
            n, total = sum(one[covered] for one in told), sum(one[whole] for one in told)
            parts.append(f"{f'{n}/{total}':>13} {share(n, total):6.1f}%")
        print(f"{folder:16} {' '.join(parts)}")
    for name, one in sorted(files.items()):
        n, total = one["summary"]["covered_branches"], one["summary"]["num_branches"]
        if share(n, total) < GOAL:
            ways = " ".join(f"{a}->{b if b > 0 else 'end'}" for a, b in one["missing_branches"])
            print(f"{name} {n}/{total}: {ways}")


def share(n: int, total: int) -> float:
    """Return a share in per cent; of nothing all.

    Examples
    --------
    >>> share(1, 4), share(0, 0)
    (25.0, 100.0)
    """
    return 100.0 * n / total if total else 100.0


if __name__ == "__main__":
    main()
