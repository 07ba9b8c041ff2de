"""Random sweeps of a carried mesh: no sample may come nearer than the bracket allows.

Samples are coal's distances along a motion written on scipy's rotations: evenly
spread ones and a few close to the moment the bracket names.
"""

from __future__ import annotations

from typing import Any

import coal
import numpy as np
import trimesh
from scipy.spatial.transform import Rotation

from benchmarks.kernel import coal_model
from benchmarks.trusses import payload_triangles, truss_triangles, vertices_and_faces
from reach.geometry import SweptGap, build, pose_of, swept_gap, transform_points

SEED = 3
WITHIN = 1e-3
NEAR = 0.1
_PER_SCENE = 50


def places_between(start: np.ndarray, stop: np.ndarray, times: np.ndarray) -> list[Any]:
    """Return places along one motion as coal wants them."""
    first, last = Rotation.from_matrix(start[:3, :3]), Rotation.from_matrix(stop[:3, :3])
    turn = (first.inv() * last).as_rotvec()
    turns = (first * Rotation.from_rotvec(times[:, None] * turn)).as_matrix()
    points = start[:3, 3] + times[:, None] * (stop[:3, 3] - start[:3, 3])
    return [coal.Transform3s(*place) for place in zip(turns, points, strict=True)]


def crates(rng: np.random.Generator, n: int, size: float, spread: float) -> np.ndarray:
    """Return closed boxes of random size and pose, shape (12 n, 3, 3), m."""
    parts = []
    for _ in range(n):
        crate = trimesh.creation.box(extents=rng.uniform(0.3 * size, size, 3))
        turn = Rotation.random(random_state=rng).as_matrix()
        pose = pose_of(turn, rng.uniform(-spread, spread, 3))
        parts.append(transform_points(pose, np.asarray(crate.triangles)))
    return np.concatenate(parts)


def sampled(
    models: tuple[Any, Any], ends: tuple[np.ndarray, np.ndarray], gap: SweptGap, n: int
) -> float:
    """Return the least distance seen along a motion, 0 where the meshes meet."""
    times = np.linspace(0.0, 1.0, n)
    if np.isfinite(gap.time):
        close = gap.time + np.array([-1e-2, -1e-3, 0.0, 1e-3, 1e-2])
        times = np.concatenate([times, np.clip(close, 0.0, 1.0)])
    here, least = coal.Transform3s(), np.inf
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    for place in places_between(*ends, times):
        result.clear()
        least = min(least, coal.distance(models[0], here, models[1], place, request, result))
    return max(least, 0.0)


def motion(
    rng: np.random.Generator, low: np.ndarray, high: np.ndarray, length: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return two random poses, the first in a box; up to half a turn between them."""
    first = Rotation.random(random_state=rng)
    vector = rng.normal(size=3)
    vector *= rng.choice([0.0, 0.3, 3.1]) * rng.uniform() / np.linalg.norm(vector)
    place = rng.uniform(low, high)
    step = rng.uniform(-length, length, 3)
    last = (first * Rotation.from_rotvec(vector)).as_matrix()
    return pose_of(first.as_matrix(), place), pose_of(last, place + step)


def bad(gap: SweptGap, least: float) -> bool:
    """Return whether a bracket is wrong, given the least sample."""
    return least < gap.low - 1e-9 or not 0.0 <= gap.high - gap.low <= WITHIN


def run(n_small: int = 100_000, n_near: int = 2_000) -> tuple[tuple[int, int, int], ...]:
    """Return sweeps, how many of them touch, and wrong ones: small scenes, then near misses."""
    rng = np.random.default_rng(SEED)
    n_touch = n_bad = 0
    for k in range(n_small):
        if k % _PER_SCENE == 0:
            meshes = crates(rng, 12, 1.2, 2.0), crates(rng, 3, 0.6, 0.3)
            trees = [build(x) for x in meshes]
            models = tuple(coal_model(*vertices_and_faces(x)) for x in meshes)
        ends = motion(rng, np.full(3, -3.5), np.full(3, 3.5), 1.5)
        gap = swept_gap(*trees, *ends, WITHIN)
        n_touch += gap.high == 0.0
        n_bad += bad(gap, sampled(models, ends, gap, 20)) if gap.high > 0.0 else False
    small = n_small, n_touch, n_bad
    meshes = truss_triangles("52k"), payload_triangles()
    trees = [build(x) for x in meshes]
    models = tuple(coal_model(*vertices_and_faces(x)) for x in meshes)
    low, high = trees[0].bounds
    n_done = n_touch = n_bad = 0
    while n_done < n_near:
        ends = motion(rng, low - 1.2, high + 1.2, 2.0)
        gap = swept_gap(*trees, *ends, WITHIN, beyond=NEAR)
        if gap.high >= NEAR:
            continue
        if gap.high == 0.0:
            n_touch += 1
            continue
        n_done += 1
        n_bad += bad(gap, sampled(models, ends, gap, 60))
    return small, (n_done, n_touch, n_bad)


def words(small: tuple[int, int, int], near: tuple[int, int, int]) -> str:
    """Return the counts as lines of text."""
    return (
        "A payload on random motions: samples below the bracket, or a bracket too wide\n"
        f"  small scenes: {small[2]} of {small[0]} ({small[1]} of them touch)\n"
        f"  52k truss, within {NEAR} m: {near[2]} of {near[0]} ({near[1]} more touch)"
    )
