"""A certified path of a bulky payload from one pose to another, past everything that is there.

A path that is handed out is proved: no motion of it comes nearer than wanted to
anything, by bounds, not samples.  A start or goal that is too near is proved by
two points that are too near.  That no path was found proves nothing.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry import path_gap
from reach.geometry.burial import buried_point
from reach.geometry.motion_chain import one_pose
from reach.geometry.tree import Floats
from reach.paths.searching import Say, Search
from reach.paths.states import pose_from, state_of
from reach.paths.world import Cargo, Obstacle, pack

FOUND, NOT_FOUND = "found", "not found within the budget"

_LOOK = 1e-3
"""How far (m) contact is looked for where no gap is wanted."""

_ORIGIN = (0.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class Found:
    """What a search for a path came to.

    Attributes
    ----------
    poses : ndarray, shape (k, 4, 4), world_from_payload, or None
        The first is the start, the last the goal; every motion between is certified.
    reason : str
        "found"; "start in contact", "goal in contact", "start too near" or "goal too near",
        which are proofs; or "not found within the budget", which is not.
    obstacle : str
        What the start or goal is too near to, else "".
    gap : float, m
        How near: the distance of two points of theirs, 0 in contact; else nan.
    motions : int
        Motions tried.
    seconds : float
    by : str
        "own" or "ompl".
    """

    poses: Floats | None
    reason: str
    obstacle: str
    gap: float
    motions: int
    seconds: float
    by: str


def find_path(
    obstacles: Sequence[Obstacle],
    cargo: Cargo,
    start: ArrayLike,
    goal: ArrayLike,
    *,
    seed: int = 0,
    bounds: ArrayLike | None = None,
    seconds: float = 20.0,
    motions: int = 200_000,
    about: ArrayLike | None = None,
    via: str = "auto",
    say: Say | None = None,
    plain: bool = True,
) -> Found:
    """Return a certified path from start to goal that keeps every clearance.

    Between two poses the payload's point `about` runs straight at constant
    speed and the payload turns about it at a constant rate, the shortest way;
    no leg turns by half a turn or nearly so.

    Parameters
    ----------
    obstacles : sequence of Obstacle
    cargo : Cargo
    start, goal : array_like, shape (4, 4), world_from_payload
    seed : int
        The same seed gives the same path, bit for bit, wherever it is run with
        the same libraries.
    bounds : array_like, shape (2, 3), m, world
        Where the cargo's centre may be when poses are drawn; by default a box
        round start, goal and obstacles, wider by the cargo's reach.
    seconds : float
        When to give up, never when to stop improving.
    motions : int
        How many motions to try at most.
    about : array_like, shape (3,), m, payload
        Its point that runs straight, the origin by default.
    via : "auto", "own" or "ompl"
        Whose search: "ompl" needs the package of that name.  "auto" is our own:
        the library's random numbers are seeded for the whole process, and it warns that a
        second seeding need not repeat a path.
    say : callable, optional
        Called now and then with motions tried, `motions` and a text.
    plain : bool
        Whether to try a few plain ways before poses are drawn.

    Returns
    -------
    found : Found

    Raises
    ------
    ValueError
        If a pose is not rigid, a number is out of range or `via` is not known.
    ImportError
        If `via` is "ompl" and the package is not there.
    """
    began = time.monotonic()
    ends = [one_pose("start", start)[0], one_pose("goal", goal)[0]]
    if via not in ("auto", "own", "ompl"):
        raise ValueError(f"via must be 'auto', 'own' or 'ompl', not {via!r}")
    by = "ompl" if via == "ompl" else "own"
    point = np.asarray(_ORIGIN if about is None else about, dtype=np.float64)
    world = pack(obstacles, cargo, point)
    for which, pose in zip(("start", "goal"), ends, strict=True):
        reason, name, gap = _nearness(obstacles, cargo, pose)
        if reason:
            return Found(None, f"{which} {reason}", name, gap, 0, time.monotonic() - began, by)
    search = Search(world, motions, seconds, say or (lambda done, total, text: None))
    states = [state_of(pose, world.about) for pose in ends]
    box = _box(bounds, obstacles, cargo, ends)
    rng = np.random.default_rng(seed)
    way = search.plain(states, cargo, box) if plain else None
    if way is None and by == "ompl":
        from reach.paths.ompl_way import ompl_way

        way = ompl_way(world, states, box, seed, search)
    elif way is None:
        way = search.drawn(states, box, rng)
    if way is not None:
        way = search.shorter(way, rng, world)
        poses = np.array([ends[0], *(pose_from(x, world.about) for x in way[1:-1]), ends[1]])
        if is_kept(obstacles, cargo, poses, point):
            took = time.monotonic() - began
            return Found(poses, FOUND, "", np.nan, search.tried, took, by)
    return Found(None, NOT_FOUND, "", np.nan, search.tried, time.monotonic() - began, by)


def is_kept(
    obstacles: Sequence[Obstacle], cargo: Cargo, poses: ArrayLike, about: ArrayLike = _ORIGIN
) -> bool:
    """Return whether every motion of a chain keeps every clearance, for certain.

    Parameters
    ----------
    obstacles : sequence of Obstacle
    cargo : Cargo
    poses : array_like, shape (k, 4, 4), world_from_payload
    about : array_like, shape (3,), m, payload
        The point that runs straight.

    Returns
    -------
    kept : bool
        ``False`` only says that it is not certain.

    Raises
    ------
    ValueError
        As for :func:`reach.geometry.path_gap`.
    """
    for one in obstacles:
        for tree, extra in zip(cargo.trees, cargo.extra, strict=True):
            wanted = one.clearance + extra
            gap = path_gap(one.tree, tree, poses, enough=wanted, beyond=wanted, about=about).gap
            # A gap of nothing is contact, which no wanted gap of nothing allows.
            if not gap.low >= wanted or gap.high <= 0.0:
                return False
    return True


def _nearness(obstacles: Sequence[Obstacle], cargo: Cargo, pose: Floats) -> tuple[str, str, float]:
    """Return what is wrong with a pose, with which obstacle, and a gap that shows it (m)."""
    worst, answer = 0.0, ("", "", np.nan)
    for one in obstacles:
        for tree, extra in zip(cargo.trees, cargo.extra, strict=True):
            wanted = one.clearance + extra
            if buried_point(one.tree, tree, pose) is not None:
                return "in contact", one.name, 0.0
            gap = path_gap(one.tree, tree, [pose, pose], beyond=max(wanted, _LOOK)).gap
            if np.isnan(gap.time) or (gap.high > 0.0 and gap.high >= wanted):
                continue
            if gap.high <= 0.0:
                return "in contact", one.name, 0.0
            if wanted - gap.high > worst:
                worst, answer = wanted - gap.high, ("too near", one.name, gap.high)
    return answer


def _box(
    bounds: ArrayLike | None, obstacles: Sequence[Obstacle], cargo: Cargo, ends: list[Floats]
) -> Floats:
    """Return where the cargo's centre may be, shape (2, 3), m, world."""
    if bounds is not None:
        box = np.array(bounds, dtype=np.float64)
        if box.shape != (2, 3) or not np.isfinite(box).all() or (box[0] > box[1]).any():
            raise ValueError(f"bounds must be a low and a high corner, not {box.tolist()}")
        return box
    centres = [pose[:3, :3] @ cargo.centre + pose[:3, 3] for pose in ends]
    corners = np.concatenate([centres, *(one.tree.bounds for one in obstacles)])
    wide = 1.5 * cargo.radius + max((one.clearance for one in obstacles), default=0.0)
    return np.array([corners.min(axis=0) - wide, corners.max(axis=0) + wide])
