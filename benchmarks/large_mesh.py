"""A mesh of two million triangles: load it, build its tree and answer, as one whole process.

    python -m benchmarks.large_mesh [--triangles 2000000]

Prints wall and processor seconds of a check on the starter's worksite with the mesh beside it, and
the most memory of one process.  Named in the plan: 30 s, 4 GB.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

SECONDS, MEGABYTES = 30.0, 4000.0


def ball(n_triangles: int) -> np.ndarray:
    """Return a rough closed surface of about so many triangles, shape (n, 3, 3), m."""
    rows = max(3, int(np.sqrt(n_triangles / 4)))
    columns = 2 * rows
    polar = np.linspace(0.0, np.pi, rows + 1)[:, None]
    round_ = np.linspace(0.0, 2.0 * np.pi, columns, endpoint=False)[None]
    radius = 3.0 + 0.002 * np.random.default_rng(1).random((rows + 1, columns))
    radius[[0, -1]] = 3.0
    x, y = np.sin(polar) * np.cos(round_), np.sin(polar) * np.sin(round_)
    grid = np.stack([x, y, np.cos(polar) + 0.0 * round_], axis=-1) * radius[..., None]
    grid[0], grid[-1] = grid[0, 0], grid[-1, 0]
    a, b = grid, np.roll(grid, -1, axis=1)
    one = np.stack([a[:-1], a[1:], b[1:]], axis=2).reshape(-1, 3, 3)
    other = np.stack([a[:-1], b[1:], b[:-1]], axis=2).reshape(-1, 3, 3)
    return np.concatenate([one, other])


def write_stl(path: Path, triangles: np.ndarray) -> None:
    """Write a binary STL file."""
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    rows = np.zeros(len(triangles), record)
    rows["corners"] = triangles
    path.write_bytes(bytes(80) + len(triangles).to_bytes(4, "little") + rows.tobytes())


def main(n_triangles: int = 2_000_000) -> None:
    """Measure one whole process and print it beside what is asked."""
    with tempfile.TemporaryDirectory(prefix="reach-large-") as folder:
        site = Path(folder) / "site"
        environment = os.environ | {"REACH_CACHE": folder}
        reach = [sys.executable, "-m", "reach"]
        subprocess.run([*reach, "new", str(site)], check=True, capture_output=True)
        triangles = ball(n_triangles)
        write_stl(site / "hull.stl", triangles)
        with (site / "scene.toml").open("a") as file:
            file.write('\n[solids.hull]\nmesh = { file = "hull.stl", unit = "m", up = "z" }\n')
            file.write("at = [0.0, -12.0, 0.0]\n")
        start = time.perf_counter()
        child = subprocess.Popen(
            [*reach, "check", str(site)], stdout=subprocess.PIPE, env=environment
        )
        text = child.communicate()[0].decode()
        wall = time.perf_counter() - start
    answers = next((line for line in text.splitlines() if "answers about" in line), "no answer")
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"\n{len(triangles):,} triangles: {answers}")
    print(f"  whole process      {wall:6.1f} s of wall time (named: {SECONDS:.0f})")
    print(f"  processor          {spent.ru_utime + spent.ru_stime:6.1f} s, `reach new` too")
    print(f"  most memory        {spent.ru_maxrss / 1000:6.0f} MB (named: {MEGABYTES:.0f})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--triangles", type=int, default=2_000_000)
    main(parser.parse_args().triangles)
