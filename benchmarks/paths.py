"""Certified paths of a payload: how often and how soon one is found, and whether it is kept.

Whether it is kept is looked at with coal, at many poses of every leg; the planner
knows nothing of that library.  Run as ``python -m benchmarks.paths [--long]``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import coal
import numpy as np

from benchmarks import path_sites
from benchmarks.kernel import coal_model
from benchmarks.path_sites import Problem
from benchmarks.payload_soak import places_between
from benchmarks.trusses import vertices_and_faces
from reach.paths import Cargo, Found, Obstacle, find_path, is_kept


def models_of(trees: Sequence[Any]) -> list[Any]:
    """Return the triangles of trees as coal wants them."""
    return [coal_model(*vertices_and_faces(tree.tri.reshape(-1, 3, 3))) for tree in trees]


def sampled_clearance(
    obstacles: Sequence[Obstacle], cargo: Cargo, poses: np.ndarray, n: int
) -> float:
    """Return the least of gap less wanted gap (m) over `n` poses of every leg, about the origin."""
    there, moved = models_of([one.tree for one in obstacles]), models_of(cargo.trees)
    here, least = coal.Transform3s(), np.inf
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    for start, stop in pairwise(poses):
        for place in places_between(start, stop, np.linspace(0.0, 1.0, n)):
            for one, model in zip(obstacles, there, strict=True):
                for extra, carried in zip(cargo.extra, moved, strict=True):
                    result.clear()
                    gap = coal.distance(model, here, carried, place, request, result)
                    least = min(least, gap - one.clearance - extra)
    return least


def ask(problem: Problem, seed: int, **options: Any) -> Found:
    """Return what is found of a problem."""
    p = problem
    return find_path(p.obstacles, p.cargo, p.start, p.goal, seed=seed, **options)


def row(problem: Problem, n_seeds: int, within: float, n_samples: int, **options: Any) -> str:
    """Return a line: how many seeds found a path in time, times, the least sampled spare."""
    ask(problem, 0, **{**options, "motions": 50})
    found = [ask(problem, seed, **options) for seed in range(n_seeds)]
    times = sorted(f.seconds for f in found)
    paths = [f.poses for f in found if f.poses is not None]
    in_time = sum(f.poses is not None and f.seconds <= within for f in found)
    kept = sum(is_kept(problem.obstacles, problem.cargo, poses) for poses in paths)
    start = time.perf_counter()
    spare = [sampled_clearance(problem.obstacles, problem.cargo, p, n_samples) for p in paths]
    looked = time.perf_counter() - start
    least = min(spare, default=np.nan)
    below = sum(x < -1e-9 for x in spare)
    return (
        f"{problem.name:36s}{in_time:5d} of {n_seeds:3d} in {within:4.0f} s"
        f"{times[len(times) // 2]:9.2f}{times[-1]:9.2f}{kept:6d} of {len(paths):3d}"
        f"{below:8d}{1e3 * least:12.2f}{looked:10.0f}"
    )


def table(long: bool) -> str:
    """Return the rows as lines of text."""
    n, n_samples = (20, 400) if long else (3, 50)
    lines = [
        "Certified paths of a payload: found in time, seconds (median, most), certified again,"
        "\nless than wanted by coal's samples, least spare by them (mm), seconds of sampling"
    ]
    demo, slot = path_sites.demo(), path_sites.slot()
    within = path_sites.shut_in(slot)
    lines.append(row(demo, n, 2.0, n_samples))
    named = Problem("  the same, drawn poses only", *list(vars(demo).values())[1:])
    lines.append(row(named, 50 if long else n, 2.0, n_samples, plain=False))
    lines.append(row(slot, n, 20.0, n_samples, bounds=within))
    if long:
        for height in (1.2, 0.7):
            lines.append(row(path_sites.slot(height), n, 20.0, n_samples, bounds=within))
        named = Problem("  carrier to seat, ompl", *list(vars(demo).values())[1:])
        lines.append(row(named, n, 2.0, n_samples, plain=False, via="ompl"))
    return "\n".join(lines)


def main(long: bool = False) -> None:
    """Print the table; with `long` that of the campaign."""
    print(table(long or "--long" in sys.argv))


if __name__ == "__main__":
    main()
