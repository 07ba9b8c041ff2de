"""Batches as whole processes: two jobs against one, and memory over the number of tasks."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from reach.files.starter import PROCEDURE, SCENE

PAGE = os.sysconf("SC_PAGE_SIZE")


def sites(folder: Path, n: int) -> Path:
    """Write a list of n scenes that differ in where a bolt is; return the list."""
    folder.mkdir()
    for i in range(n):
        site = folder / f"yard{i:03d}"
        site.mkdir()
        scene = SCENE.replace("[0.55, 0.15, 1.60]", f"[0.55, {0.1 + 0.1 * i / n:.5f}, 1.60]")
        (site / "scene.toml").write_text(scene)
        (site / "procedure.toml").write_text(PROCEDURE)
    rows = "".join(f"yard{i:03d}\n" for i in range(n))
    (folder / "list.csv").write_text("scene\n" + rows)
    return folder / "list.csv"


def resident(pid: int) -> dict[int, float]:
    """Return the memory of a process and of those it started, MB by process."""
    found = {}
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except (OSError, IndexError, ValueError):
        return {}
    found[pid] = pages * PAGE / 1e6
    for child in children:
        found |= resident(int(child))
    return found


def run(listing: Path, jobs: int, *words: str) -> tuple[float, float, float]:
    """Run a batch; return its seconds, and the most memory of the parent and of a worker, MB."""
    with tempfile.TemporaryDirectory() as out:
        command = [sys.executable, "-m", "reach", "batch", str(listing), "-o", out]
        command += ["--jobs", str(jobs), *words]
        start = time.perf_counter()
        process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, text=True
        )
        parent = worker = 0.0
        while process.poll() is None:
            now = resident(process.pid)
            parent = max(parent, now.pop(process.pid, 0.0))
            worker = max([worker, *now.values()])
            time.sleep(0.2)
        return time.perf_counter() - start, parent, worker


def speed(folder: Path, n: int) -> None:
    """Two jobs against one, and the same less what a batch of a single scene takes."""
    many, single = sites(folder / "many", n), sites(folder / "single", 1)
    words = ("--vary", "sizes,hands")
    one, two = (run(many, jobs, *words)[0] for jobs in (1, 2))
    start_one, start_two = (run(single, jobs, "--only", "torque")[0] for jobs in (1, 2))
    print(f"  {n} scenes x 4 variations, one job     {one:8.1f} s, of which start {start_one:.1f}")
    print(f"  the same, two jobs                    {two:8.1f} s, of which start {start_two:.1f}")
    print(f"  two jobs against one                  {one / two:8.2f}    goal 1.7")
    print(f"  less the start                        {(one - start_one) / (two - start_two):8.2f}")


def memory(folder: Path, few: int, many: int) -> None:
    words = ("--only", "reach", "--only", "torque")
    used = {n: run(sites(folder / f"memory{n}", n), 1, *words)[1:] for n in (few, many)}
    for n, (parent, worker) in used.items():
        print(f"  {n:4d} tasks: parent {parent:6.1f} MB, worker {worker:6.1f} MB at most")
    grown = [b - a for a, b in zip(used[few], used[many], strict=True)]
    rate = 1000.0 / (many - few)
    print(f"  growth a task: parent {rate * grown[0]:.1f} kB, worker {rate * grown[1]:.1f} kB")


def main() -> None:
    """Print what batches take."""
    print("\nBatches, whole processes, start of the workers included")
    with tempfile.TemporaryDirectory() as folder:
        speed(Path(folder), 40)
        memory(Path(folder), 20, 200)


if __name__ == "__main__":
    main()
