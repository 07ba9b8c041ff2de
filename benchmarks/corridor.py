"""A body swept along short legs beside a truss: certified legs a second, and coal's samples.

Run as ``python -m benchmarks.corridor [--long]``.  Legs lie where hand-over-hand travel lies: the
body's middle 0.5 to 0.9 m from the structure at both ends, any way up; those that pass free are
timed apart from those that touch.  coal is asked at 1,000 poses a leg, which proves
nothing in between; it runs on one core, as it holds the interpreter's lock.
"""

from __future__ import annotations

import sys
import time

import coal
import numba
import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from benchmarks.kernel import coal_model, frames
from benchmarks.trusses import truss_triangles, vertices_and_faces
from reach.geometry import (
    Swept,
    Tree,
    build,
    inside,
    point_distance,
    pose_of,
    rotation_about,
    swept_clearance,
)

Array = NDArray[np.float64]

SEED = 23
WITHIN = 5e-3
N_SAMPLES = 1000
GOAL = 500.0

MIDDLE_LINE = [(0.0, 0.0, 0.62, 0.0, 0.0, 0.66, 0.17), (0.0, 0.0, 0.1, 0.0, 0.0, 0.4, 0.24)]
BACK = [(-0.3, s * 0.16, 0.0, -0.3, s * 0.16, 0.5, 0.2) for s in (-1.0, 1.0)]
LIMBS = [
    limb
    for s in (-1.0, 1.0)
    for limb in (
        (0.0, s * 0.22, 0.42, 0.12, s * 0.38, 0.28, 0.10),
        (0.12, s * 0.38, 0.28, 0.4, s * 0.3, 0.36, 0.08),
        (0.4, s * 0.3, 0.36, 0.55, s * 0.25, 0.4, 0.06),
        (0.0, s * 0.12, 0.0, 0.08, s * 0.16, -0.4, 0.13),
        (0.08, s * 0.16, -0.4, -0.1, s * 0.14, -0.8, 0.10),
    )
]
FEET = [(-0.1, 0.14, -0.85, 0.15, -0.14, -0.85, 0.09)]
BODY = np.array(MIDDLE_LINE + BACK + LIMBS + FEET)
"""15 capsules of about a suited body with a backpack: two ends and a radius (m), made up."""


def legs(tree: Tree, n: int, turn: float) -> tuple[Array, Array]:
    """Return start and stop poses of legs of 1 to 1.5 m, turned by up to `turn` (rad)."""
    rng = np.random.default_rng(SEED)
    low, high = tree.bounds
    drawn = 60 * n
    place = rng.uniform(low - 1.0, high + 1.0, (drawn, 3))
    way = rng.normal(size=(drawn, 3))
    way *= rng.uniform(1.0, 1.5, (drawn, 1)) / np.linalg.norm(way, axis=1)[:, None]
    fits = np.ones(drawn, dtype=bool)
    for point in (place, place + way):
        gap = point_distance(tree, point, 1.0).distance
        fits &= (gap > 0.5) & (gap < 0.9) & ~inside(tree, point)
    chosen = np.flatnonzero(fits)[:n]
    if len(chosen) < n:
        raise RuntimeError(f"only {len(chosen)} of {n} legs found")
    start, stop = np.empty((2, n, 4, 4))
    for i, k in enumerate(chosen):
        before = rotation_about(rng.normal(size=3), rng.uniform(0.0, np.pi))
        after = before @ rotation_about(rng.normal(size=3), rng.uniform(0.0, turn))
        start[i], stop[i] = pose_of(before, place[k]), pose_of(after, place[k] + way[k])
    return start, stop


def sweep(tree: Tree, start: Array, stop: Array) -> Swept:
    """Return the brackets of some legs."""
    return swept_clearance(tree, start, stop, BODY[:, :3], BODY[:, 3:6], BODY[:, 6], WITHIN)


def certified(tree: Tree, start: Array, stop: Array, n_rounds: int = 5) -> float:
    """Return legs a second, best of some rounds."""
    seconds = []
    for _ in range(n_rounds):
        begin = time.perf_counter()
        sweep(tree, start, stop)
        seconds.append(time.perf_counter() - begin)
    return len(start) / min(seconds)


def sampled(model: object, start: Array, stop: Array) -> tuple[float, Array]:
    """Return seconds a leg of coal at the samples, and the least distance it met."""
    p, q, radius = BODY[:, :3], BODY[:, 3:6], BODY[:, 6]
    shapes = [
        coal.Capsule(r, float(h))
        for r, h in zip(radius, np.linalg.norm(q - p, axis=1), strict=True)
    ]
    own = [pose_of(*frame) for frame in frames(p, q)]
    here, request, result = coal.Transform3s(), coal.DistanceRequest(), coal.DistanceResult()
    least, spent = np.full(len(start), np.inf), 0.0
    for i in range(len(start)):
        first = Rotation.from_matrix(start[i, :3, :3])
        turn = (first.inv() * Rotation.from_matrix(stop[i, :3, :3])).as_rotvec()
        places = []
        for t in np.linspace(0.0, 1.0, N_SAMPLES):
            now = (first * Rotation.from_rotvec(t * turn)).as_matrix()
            pose = pose_of(now, start[i, :3, 3] + t * (stop[i, :3, 3] - start[i, :3, 3]))
            bodies = [pose @ one for one in own]
            places.append([coal.Transform3s(one[:3, :3], one[:3, 3]) for one in bodies])
        begin = time.perf_counter()
        for row in places:
            for shape, place in zip(shapes, row, strict=True):
                result.clear()
                found = coal.distance(model, here, shape, place, request, result)
                least[i] = min(least[i], found)
        spent += time.perf_counter() - begin
    return spent / len(start), least


def main(long: bool = False) -> None:
    """Print what was measured."""
    triangles = truss_triangles("52k")
    tree, model = build(triangles), coal_model(*vertices_and_faces(triangles))
    n, n_slow = (40_000, 40) if long else (6000, 4)
    cores = numba.get_num_threads()
    print(
        f"\nBody of {len(BODY)} capsules along legs of 1 to 1.5 m at {len(triangles):,} triangles"
    )
    for words, turn in (("straight", 0.0), ("turned by up to 90 deg", np.pi / 2)):
        start, stop = legs(tree, n, turn)
        free = sweep(tree, start, stop).low > 0.0
        touching = certified(tree, start[~free], stop[~free])
        start, stop = start[free], stop[free]
        swept, speed = sweep(tree, start, stop), certified(tree, start, stop)
        low, high = np.percentile(swept.high, [10, 90])
        width = 1e3 * (swept.high - swept.low).max()
        print(
            f"  {words}: {speed:,.0f} legs/s on {cores} cores (goal {GOAL:.0f}), {len(start)} free "
            f"legs, gap {low:.2f} to {high:.2f} m, widest bracket {width:.2f} mm; "
            f"{touching:,.0f} legs/s where it touches",
            flush=True,
        )
        each, least = sampled(model, start[:n_slow], stop[:n_slow])
        over = least - swept.low[: len(least)]
        print(
            f"    coal, {N_SAMPLES:,} samples, one core: {1.0 / each:.2f} legs/s, "
            f"{speed * each:,.0f} times fewer; {(over < -1e-6).sum()} of {len(over)} below the "
            f"bracket, at most {1e3 * over.max():.2f} mm above its low end",
            flush=True,
        )


if __name__ == "__main__":
    main(long="--long" in sys.argv[1:])
