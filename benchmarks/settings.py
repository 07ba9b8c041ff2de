"""What the table of reach costs, saves and gets wrong, at the demo's worksites.

``python -m benchmarks.settings`` prints a table; ``--long`` takes the full samples.  Truth is
the full posture search by joint limits: it misses a few, so shares are as good as that.
"""

from __future__ import annotations

import dataclasses
import sys
import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.files.people import load_population
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.geometry import inverse
from reach.placing import head_of, socket_pose
from reach.plan.settings import distinct_poses
from reach.site import Site, Situation
from reach.situations import resolve
from reach.table.scores import SLACK, scores
from reach.table.table import ReachTable, build_table
from reach.work import attempt_of
from reach.worker.figure import Figure
from reach.worker.search import find_postures

Array = NDArray[np.float64]

SIZES = ("small", "medium", "large")
TARGETS = ["IB1", "IB2", "IB3", "IB4", "IP1", "IP2", "BB1", "BB2", "CN1", "CN2", "CN2x", "CB1"]
N_SETTINGS = 13_104
"""Settings of the restraint at its detents; many of them are the same pose."""

MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False)
class Demo:
    """The demo with the boom seated: one drive situation a size, its figures, all boot poses."""

    site: Site
    situations: tuple[Situation, ...]
    figures: tuple[Figure, ...]
    poses: dict[str, Array]
    points: dict[str, tuple[Array, Array]]


def demo() -> Demo:
    """Return what the measurements ask about."""
    loaded = load_scene("brackenfall")
    scene, procedure = loaded.scene, load_procedure(None, loaded).procedure
    site, situations = resolve(scene, loaded.meshes, procedure, load_population, SIZES)
    mine = [s for s in situations if s.head is not None and s.head.name == "IB1" and s.held]
    mine = [next(s for s in mine if s.case == case) for case in dict.fromkeys(s.case for s in mine)]
    around = mine[0].surroundings
    assert mine[0].place is not None
    _, settings = distinct_poses(site, mine[0].place.restraint)
    poses = {
        name: socket_pose(socket, around.world_from) @ settings
        for name, socket in scene.sockets.items()
        if socket.status == "free"
    }
    heads = [head_of(scene, around.world_from, name, 0.01) for name in scene.fasteners]
    figures = tuple(attempt_of(site, s, "right", world_from_boots=np.eye(4)).figure for s in mine)
    points = {head.name: (head.point, -head.axis) for head in heads}
    return Demo(site, tuple(mine), figures, poses, points)


def main(long: bool = False) -> None:
    """Print what was measured."""
    print("\nTable of reach, at the demo's sockets with the drive and its bit", flush=True)
    here = demo()
    tables = [_built(size, f) for size, f in zip(SIZES, here.figures, strict=True)]
    looked = _looked_up(here, tables, TARGETS)
    _looked_up(here, tables, list(here.points))
    _signs(here, tables, 40_000 if long else 3000, seed=31)
    _ratio(here, looked, 20_000 if long else 3000)


def _built(size: str, figure: Figure) -> ReachTable:
    build_table(figure, step=0.5, n_directions=12)  # compile
    start, work = time.perf_counter(), time.process_time()
    table = build_table(figure)
    wall, work = time.perf_counter() - start, time.process_time() - work
    mb, inside = table.depth.nbytes / 1e6, int((table.depth > 0).sum())
    print(
        f"  build {size:7} {wall:6.1f} s, {work:6.1f} s of processor time; {inside:,} of "
        f"{table.depth.size:,} cells reached, {mb:.1f} MB",
        flush=True,
    )
    return table


def _looked_up(here: Demo, tables: list[ReachTable], names: list[str]) -> float:
    points = np.array([here.points[name] for name in names])
    poses = np.concatenate(list(here.poses.values()))
    scores(tables, poses[:1], points[:, 0], points[:, 1])
    start = time.perf_counter()
    best = [scores(tables, poses, points[:, 0], points[:, 1], left)[1] for left in (False, True)]
    wall = time.perf_counter() - start
    kept = float((np.maximum(*best) >= -SLACK).mean())
    asked = len(here.poses) * N_SETTINGS * len(names) * len(tables) * 2
    print(
        f"  look-up of {len(names)} targets x {len(here.poses)} sockets x {N_SETTINGS:,} settings "
        f"({len(poses) // len(here.poses):,} poses) x {len(tables)} sizes x 2 hands = {asked:,}: "
        f"{wall:.2f} s; {kept:.1%} kept",
        flush=True,
    )
    return wall


def _sample(here: Demo, n: int, seed: int) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
    """Random questions within arm's length: pose, tip and direction in the world, left hand."""
    rng = np.random.default_rng(seed)
    poses = np.concatenate(list(here.poses.values()))
    points = np.array(list(here.points.values()))
    i, j = rng.integers(0, len(poses), 40 * n), rng.integers(0, len(points), 40 * n)
    near = np.linalg.norm(points[j, 0] - poses[i, :3, 3], axis=1) < 2.6
    i, j = i[near][:n], j[near][:n]
    return poses[i], points[j, 0], points[j, 1], rng.random(len(i)) < 0.5


def _in_boots(poses: Array, tips: Array, ways: Array, left: Any) -> tuple[Array, Array]:
    back = np.array([inverse(pose) for pose in poses])
    flip = np.where(np.asarray(left)[:, None], MIRROR, 1.0)
    t = np.einsum("nab,nb->na", back[:, :3, :3], tips) + back[:, :3, 3]
    return t * flip, np.einsum("nab,nb->na", back[:, :3, :3], ways) * flip


def _signs(here: Demo, tables: list[ReachTable], n: int, seed: int) -> None:
    poses, tips, ways, left = _sample(here, n, seed)
    t, d = _in_boots(poses, tips, ways, left)
    reached, likely, best = [], [], []
    for figure, table in zip(here.figures, tables, strict=True):
        reached.append(find_postures(figure, t, d, "full").violation <= 0.0)
        rows = [scores([table], np.eye(4)[None], t[i], d[i]) for i in range(len(t))]
        likely.append(np.array([float(row[0][0, 0, 0]) for row in rows]))
        best.append(np.array([float(row[1][0, 0, 0]) for row in rows]))
    ok, mean, most = (np.concatenate(x) for x in (reached, likely, best))
    print(
        f"  {len(ok):,} random settings within 2.6 m: {ok.sum():,} reached; mean of three >= 0: "
        f"wrong yes {((mean >= 0) & ~ok).sum()}, wrong no {((mean < 0) & ok).sum()}; "
        f"lowest best of three of a reached one {most[ok].min():+.3f} m",
        flush=True,
    )
    for c in (0.0, 0.05, 0.08, 0.10, 0.15):
        lost = int((most[ok] < -c).sum())
        kept = (most >= -c).mean()
        print(f"    slack {c:.2f} m: loses {lost} of {ok.sum()} ({lost / ok.sum():.2%}), ", end="")
        print(f"keeps {kept:.1%} of all", flush=True)


def _ratio(here: Demo, looked: float, n: int) -> None:
    """Time the plain loop on a sample of all settings: joint limits, then room and sight."""
    rng = np.random.default_rng(5)
    poses = np.concatenate(list(here.poses.values()))
    i, names = rng.integers(0, len(poses), n), rng.choice(TARGETS, n)
    points = np.array([here.points[name] for name in names])
    left, size = rng.random(n) < 0.5, rng.integers(0, len(here.figures), n)
    t, d = _in_boots(poses[i], points[:, 0], points[:, 1], left)
    limits, spent, found = 0.0, 0.0, 0
    for k, (figure, situation) in enumerate(zip(here.figures, here.situations, strict=True)):
        mine = np.flatnonzero(size == k)
        start = time.perf_counter()
        ok = find_postures(figure, t[mine], d[mine], "quick").violation <= 0.0
        limits += time.perf_counter() - start
        for row in mine[ok]:
            head = head_of(here.site.scene, situation.surroundings.world_from, names[row], 0.01)
            attempt = attempt_of(
                here.site,
                dataclasses.replace(situation, head=head),
                "left" if left[row] else "right",
                world_from_boots=poses[i[row]],
            )
            attempt.in_envelope  # noqa: B018 - found above, not part of what is timed
            start = time.perf_counter()
            found += attempt.witness is not None
            spent += time.perf_counter() - start
    asked = len(poses) * len(TARGETS) * len(here.figures) * 2
    for words, each in (("joint limits alone", limits / n), ("full checks", (limits + spent) / n)):
        print(
            f"  plain loop, {words}, on {n:,} random settings: {1e6 * each:.0f} us each; on all "
            f"{asked:,} different ones about {each * asked:.0f} s, "
            f"{each * asked / looked:.0f} times the look-up",
            flush=True,
        )
    print(f"    {found} of them with a witness", flush=True)


if __name__ == "__main__":
    main(long="--long" in sys.argv[1:])
