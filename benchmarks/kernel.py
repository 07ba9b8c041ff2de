"""The search tree beside the libraries that answer the same questions, in one run.

One thread against one thread, on CPU time of that thread, best of several
rounds in which all take turns; so other load on the machine touches ratios
little.  Run as ``python -m benchmarks.kernel [--quick]``.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import coal
import fcl
import numba
import numpy as np
import psutil
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from benchmarks.trusses import truss_triangles, vertices_and_faces
from reach.geometry import (
    Tree,
    any_hit,
    build,
    cylinder_overlap,
    frame_from_axes,
    segment_distance,
    warm_up,
)

SEED = 11
CAPSULE = (0.1, 0.4)
CYLINDER = (0.05, 0.3)
LIFT = 0.005


@dataclass(frozen=True)
class Row:
    """One figure beside another; `ratio` is how many times ours is better."""

    scene: str
    question: str
    unit: str
    ours: float
    other: str
    theirs: float
    goal: float
    agreement: str

    @property
    def ratio(self) -> float:
        """How many times better; for seconds and megabytes less is better."""
        faster = self.unit.endswith("/s")
        return self.ours / self.theirs if faster else self.theirs / self.ours

    @property
    def reached(self) -> bool:
        """Whether the goal holds; a goal of 0 is none."""
        return self.ratio >= self.goal


def best_times(n_rounds: int, *jobs: Callable[[], Any]) -> list[float]:
    """Return the least CPU seconds of each job, all taking turns."""
    least = [np.inf] * len(jobs)
    for _ in range(n_rounds):
        for k, job in enumerate(jobs):
            start = time.thread_time()
            job()
            least[k] = min(least[k], time.thread_time() - start)
    return least


def segments_near(tree: Tree, n: int, length: float, pad: float) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(SEED)
    low, high = tree.bounds
    middle = rng.uniform(low - pad, high + pad, (n, 3))
    half = rng.normal(size=(n, 3))
    half *= 0.5 * length / np.linalg.norm(half, axis=1)[:, None]
    return middle - half, middle + half


def sight_lines(triangles: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Return eyes and targets: targets just above the surface, eyes 0.4 to 1 m away."""
    rng = np.random.default_rng(SEED)
    seen = triangles[rng.integers(len(triangles), size=n)]
    normal = np.cross(seen[:, 1] - seen[:, 0], seen[:, 2] - seen[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    weight = rng.dirichlet([1.0, 1.0, 1.0], n)
    target = np.einsum("nk,nkj->nj", weight, seen) + LIFT * normal
    gaze = rng.normal(size=(n, 3))
    gaze /= np.linalg.norm(gaze, axis=1)[:, None]
    gaze *= np.sign(np.einsum("nj,nj->n", gaze, normal))[:, None]
    return target + gaze * rng.uniform(0.4, 1.0, (n, 1)), target


def frames(p: np.ndarray, q: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    axes = q - p
    across = np.eye(3)[np.argmin(np.abs(axes), axis=1)]
    turns = [frame_from_axes(z, x) for z, x in zip(axes, across, strict=True)]
    return list(zip(turns, 0.5 * (p + q), strict=True))


def coal_model(vertices: np.ndarray, faces: np.ndarray) -> Any:
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(faces), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(faces.astype(np.int32))
    model.endModel()
    return model


def fcl_model(vertices: np.ndarray, faces: np.ndarray) -> Any:
    model = fcl.BVHModel()
    model.beginModel(len(faces), len(vertices))
    model.addSubModel(vertices, faces)
    model.endModel()
    return model


def capsule_rows(name: str, tree: Tree, mesh: Any, n: int, n_slow: int) -> list[Row]:
    radius, length = CAPSULE
    p, q = segments_near(tree, n, length, 0.5)
    placed = frames(p[:n_slow], q[:n_slow])
    by_coal, by_fcl = np.empty(n_slow), np.empty(n_slow)
    model, shape, here = coal_model(*mesh), coal.Capsule(radius, length), coal.Transform3s()
    places = [coal.Transform3s(*frame) for frame in placed]
    body = fcl.CollisionObject(fcl_model(*mesh), fcl.Transform())
    bodies = [fcl.CollisionObject(fcl.Capsule(radius, length), fcl.Transform(*f)) for f in placed]

    def ask_coal() -> None:
        request, result = coal.DistanceRequest(), coal.DistanceResult()
        for i, place in enumerate(places):
            result.clear()
            by_coal[i] = coal.distance(model, here, shape, place, request, result)

    def ask_fcl() -> None:
        for i, other in enumerate(bodies):
            by_fcl[i] = fcl.distance(body, other, fcl.DistanceRequest(), fcl.DistanceResult())

    seconds = best_times(4, lambda: segment_distance(tree, p, q), ask_coal, ask_fcl)
    ours = segment_distance(tree, p[:n_slow], q[:n_slow]).distance - radius
    rows = []
    for other, theirs, found, goal in (
        ("coal", n_slow / seconds[1], by_coal, 6.0),
        ("python-fcl", n_slow / seconds[2], by_fcl, 10.0),
    ):
        off = np.abs(found - ours)[ours > 0.0].max()
        words = f"apart at most {off:.0e} m where free"
        rows.append(
            Row(name, "capsule distance", "queries/s", n / seconds[0], other, theirs, goal, words)
        )
    return rows


def ray_row(name: str, tree: Tree, triangles: np.ndarray, n: int) -> Row:
    eye, target = sight_lines(triangles, n)
    gaze = target - eye
    scene = EmbreeScene()
    TriangleMesh(scene, triangles.astype(np.float32))
    eye32, gaze32, far32 = eye.astype(np.float32), gaze.astype(np.float32), np.ones(n, np.float32)

    def ask_embree() -> Any:
        return scene.run(eye32, gaze32, dists=far32.copy(), query="OCCLUDED")

    ask_embree()
    ours, theirs = best_times(30, lambda: any_hit(tree, eye, gaze, 1.0), ask_embree)
    apart = int(((ask_embree() >= 0) != any_hit(tree, eye, gaze, 1.0)).sum())
    words = f"{apart} of {n} differ"
    return Row(name, "any-hit ray", "rays/s", n / ours, "embreex", n / theirs, 0.5, words)


def cylinder_row(name: str, tree: Tree, mesh: Any, n: int, n_slow: int) -> Row:
    radius, length = CYLINDER
    p, q = segments_near(tree, n, length, 0.5)
    places = [coal.Transform3s(*frame) for frame in frames(p[:n_slow], q[:n_slow])]
    model, shape, here = coal_model(*mesh), coal.Cylinder(radius, length), coal.Transform3s()
    hit = np.empty(n_slow, dtype=bool)

    def ask_coal() -> None:
        request, result = coal.CollisionRequest(), coal.CollisionResult()
        for i, place in enumerate(places):
            result.clear()
            hit[i] = coal.collide(model, here, shape, place, request, result) > 0

    ours, theirs = best_times(5, lambda: cylinder_overlap(tree, p, q, radius), ask_coal)
    apart = int((hit != cylinder_overlap(tree, p, q, radius)[:n_slow]).sum())
    words = f"{apart} of {n_slow} differ"
    return Row(name, "cylinder overlap", "queries/s", n / ours, "coal", n_slow / theirs, 8.0, words)


def coal_growth_mb(name: str) -> float:
    """Return by how much a fresh process grows when it builds coal's tree."""
    command = [sys.executable, "-m", "benchmarks.kernel", "--coal-growth", name]
    return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def print_coal_growth(name: str) -> None:
    vertices, faces = vertices_and_faces(truss_triangles(name))
    faces = faces.astype(np.int32)
    coal_model(vertices[:3], np.array([[0, 1, 2]]))
    before = psutil.Process().memory_info().rss
    model = coal_model(vertices, faces)
    print((psutil.Process().memory_info().rss - before) / 1e6, end="")
    del model


def tree_rows(name: str, triangles: np.ndarray, tree: Tree, mesh: Any) -> list[Row]:
    ours, theirs = best_times(2, lambda: build(triangles), lambda: coal_model(*mesh))
    growth = coal_growth_mb(name)
    return [
        Row(name, "build", "s", ours, "coal", theirs, 0.0, f"{tree.n_triangles} triangles"),
        Row(name, "memory", "MB", tree.nbytes / 1e6, "coal", growth, 3.0, "growth of a process"),
    ]


def run(quick: bool = False) -> list[Row]:
    """Measure everything on both trusses and return the rows.

    Parameters
    ----------
    quick : bool
        A tenth of the queries.

    Returns
    -------
    rows : list of Row
    """
    n, n_slow = (4_000, 200) if quick else (40_000, 2_000)
    n_threads = numba.get_num_threads()
    numba.set_num_threads(1)
    warm_up()
    rows = []
    for name in ("52k", "454k"):
        triangles = truss_triangles(name)
        tree, mesh = build(triangles), vertices_and_faces(triangles)
        rows += capsule_rows(name, tree, mesh, n, n_slow)
        rows.append(ray_row(name, tree, triangles, 5 * n))
        rows.append(cylinder_row(name, tree, mesh, 5 * n, n_slow))
        rows += tree_rows(name, triangles, tree, mesh)
    numba.set_num_threads(n_threads)
    return rows


def table(rows: list[Row]) -> str:
    """Return the rows as lines of text."""
    lines = [
        f"{'scene':6}{'question':18}{'ours':>12} {'unit':10}{'theirs':>12}  "
        f"{'library':12}{'ratio':>7}{'goal':>6}  agreement"
    ]
    for row in rows:
        digits = 0 if row.unit.endswith("/s") else 2
        goal = f"{row.goal:g}" if row.goal else "-"
        mark = "" if row.reached else "  BELOW GOAL"
        lines.append(
            f"{row.scene:6}{row.question:18}{row.ours:12,.{digits}f} {row.unit:10}"
            f"{row.theirs:12,.{digits}f}  {row.other:12}{row.ratio:7.2f}{goal:>6}  "
            f"{row.agreement}{mark}"
        )
    return "\n".join(lines)


def main() -> None:
    """Print the table, or one process's growth when asked for that."""
    if "--coal-growth" in sys.argv:
        print_coal_growth(sys.argv[-1])
    else:
        print(table(run(quick="--quick" in sys.argv)))


if __name__ == "__main__":
    main()
