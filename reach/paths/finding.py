"""A certified path of a bulky payload from one pose to another, past everything that is there.

A path that is handed out is proved: no motion of it comes nearer than wanted to
anything, by bounds, not samples.  A start or goal that is too near is proved by
two points that are too near.  That no path was found proves nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry import path_gap
from reach.geometry.burial import buried_point
from reach.geometry.motion_chain import one_pose
from reach.geometry.tree import Floats
from reach.paths.growing import N_DRAWS, compile_now, grow, planted, settle, way_back
from reach.paths.keeping import leg_kept, new_desk, state_kept
from reach.paths.plain_ways import plain_way
from reach.paths.shortening import shortened, total
from reach.paths.states import N_STATE, between, fill_turn, length_of, pose_from, state_of
from reach.paths.world import Cargo, Obstacle, Packed, pack, shrunk

Say = Callable[[int, int, str], None]

FOUND, NOT_FOUND = "found", "not found within the budget"

_ROWS = 16
_N_MOST = 20_000
_FIRST, _LATER = 4_000, 10_000
"""Motions of the first attempt, and of each later one at one size of the cargo."""
_SHARES = (0.25, 0.4, 0.55, 0.7, 0.8, 0.9)
_DEPTH = 6
_LOOKS = 100
_N_GUIDE = 60
_NO_GUIDE = np.empty((0, N_STATE))
_SHORTENING = 400
"""Motions that shortening may ask about."""

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
        Whose search: "ompl" needs the package of that name.  "auto" is our own.
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
    search = _Search(world, motions, seconds, say or (lambda done, total, text: None))
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
        way = search.shorter(way, rng)
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


def _nearness(
    obstacles: Sequence[Obstacle], cargo: Cargo, pose: Floats
) -> tuple[str, str, float]:
    """Return what is wrong with a pose, with which obstacle, and a gap that shows it (m)."""
    worst, answer = 0.0, ("", "", np.nan)
    for one in obstacles:
        for tree, extra in zip(cargo.trees, cargo.extra, strict=True):
            wanted = one.clearance + extra
            if buried_point(one.tree, tree, pose) is not None:
                return "in contact", one.name, 0.0
            gap = path_gap(one.tree, tree, [pose, pose], beyond=wanted).gap
            if gap.time != gap.time or gap.high > 0.0 and gap.high >= wanted:
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


def _dense(way: list[Floats], arm: float) -> Floats:
    """Return states along a way at most a share of its length apart, shape (n, 7)."""
    apart, out = total(way, arm) / _N_GUIDE, []
    for a, b in zip(way[:-1], way[1:], strict=True):
        n = max(1, int(np.ceil(length_of(a, b, arm) / apart)))
        for k in range(n):
            state = np.empty(N_STATE)
            between(a, b, k / n, state)
            out.append(state)
    return np.array(out)


class _Search:
    """Counts motions, and stops in time."""

    def __init__(self, world: Packed, motions: int, seconds: float, say: Say) -> None:
        self.world, self.most, self.say = world, motions, say
        self.desk = new_desk(len(world.pairs))
        self.tried = 0
        compile_now(world, self.desk)
        self.until = time.monotonic() + seconds

    @property
    def over(self) -> bool:
        """Whether motions or time have run out."""
        return self.tried >= self.most or time.monotonic() > self.until

    def kept(self, a: Floats, b: Floats) -> bool:
        """Return whether a motion is certified."""
        self.tried += 1
        return leg_kept(self.world, a, b, self.desk)

    def is_inside(self, state: Floats, box: Floats) -> bool:
        """Return whether the cargo's centre is in the box."""
        turn = np.empty((3, 3))
        fill_turn(state, turn)
        centre = state[:3] + turn @ (self.world.centre - self.world.about)
        return bool(np.all((centre >= box[0]) & (centre <= box[1])))

    def plain(self, ends: list[Floats], cargo: Cargo, box: Floats) -> list[Floats] | None:
        """Return states of a plain way, if one is kept."""
        span = float((box[1] - box[0]).max())
        self.say(self.tried, self.most, "plain ways")

        def kept(a: Floats, b: Floats) -> bool:
            inside = self.is_inside(b, box)
            return inside and not self.over and self.kept(a, b)

        return plain_way(ends[0], ends[1], kept, cargo.radius, span, self.world.arm)

    def drawn(
        self, ends: list[Floats], box: Floats, rng: np.random.Generator
    ) -> list[Floats] | None:
        """Return states of a way found between drawn poses, or None.

        Where a first attempt fails, the same is asked of a smaller cargo; its
        way guides the search with a larger one, until the cargo has its size.
        """
        way = self.joined(self.world, ends, box, _NO_GUIDE, rng, _FIRST)
        while way is None and not self.over:
            way = self.swollen(ends, box, rng)
        return way

    def swollen(
        self, ends: list[Floats], box: Floats, rng: np.random.Generator
    ) -> list[Floats] | None:
        """Return states of a way that was found for a smaller cargo first."""
        worlds = [shrunk(self.world, share) for share in _SHARES] + [self.world]
        guide = _NO_GUIDE
        for k, world in enumerate(worlds):
            if not all(state_kept(world, end, self.desk) for end in ends):
                continue  # a hollow cargo may shrink into what it holds
            near = self.settled(worlds[k:], guide, box, rng)
            way = self.mended(world, ends, box, near, rng) if len(near) else None
            if way is None:
                way = self.joined(world, ends, box, near, rng, _LATER)
            if way is None or world is self.world:
                return way
            guide = _dense(way, self.world.arm)
        return None

    def settled(
        self, worlds: list[Packed], guide: Floats, box: Floats, rng: np.random.Generator
    ) -> Floats:
        """Return poses near those of a guide that keep every gap, with as large a cargo as found."""
        out, state = [], np.empty(N_STATE)
        for known in guide:
            best = None
            for world in worlds:
                draws = rng.random((_LOOKS, N_DRAWS))
                from_here = known if best is None else best
                if not settle(world, from_here, box, draws, self.desk, state):
                    break
                best = state.copy()
            if best is not None:
                out.append(best)
        return np.array(out).reshape(-1, N_STATE)

    def mended(
        self,
        world: Packed,
        ends: list[Floats],
        box: Floats,
        near: Floats,
        rng: np.random.Generator,
    ) -> list[Floats] | None:
        """Return a way along poses that are each kept, with more put in where a leg is not."""
        way = [ends[0]]
        for there in [*near, ends[1]]:
            part = self.bridged(world, way[-1], there, box, rng, _DEPTH)
            if part is None:
                continue
            way += part
        return way if way[-1] is ends[1] else None

    def bridged(
        self,
        world: Packed,
        a: Floats,
        b: Floats,
        box: Floats,
        rng: np.random.Generator,
        depth: int,
    ) -> list[Floats] | None:
        """Return states after `a` that lead to `b`, or None."""
        self.tried += 1
        if leg_kept(world, a, b, self.desk):
            return [b]
        if depth == 0 or self.over:
            return None
        middle, state = np.empty(N_STATE), np.empty(N_STATE)
        between(a, b, 0.5, middle)
        draws = rng.random((_LOOKS, N_DRAWS))
        if not settle(world, middle, box, draws, self.desk, state):
            return None
        first = self.bridged(world, a, state, box, rng, depth - 1)
        if first is None:
            return None
        then = self.bridged(world, state, b, box, rng, depth - 1)
        return None if then is None else first + then

    def joined(
        self,
        world: Packed,
        ends: list[Floats],
        box: Floats,
        guide: Floats,
        rng: np.random.Generator,
        most: int,
    ) -> list[Floats] | None:
        """Return states of a way found by two trees in about `most` motions, or None."""
        trees, met = planted(*ends, _N_MOST), np.full(2, -1)
        until = min(self.tried + most, self.most)
        for block in count():
            room = trees.size.max() < _N_MOST - 20
            if self.over or self.tried >= until or not room:
                return None
            if block % 8 == 0:
                self.say(self.tried, self.most, f"{int(trees.size.sum())} poses reached")
            draws = rng.random((_ROWS, N_DRAWS))
            left = until - self.tried
            self.tried += grow(world, trees, box, guide, draws, left, self.desk, met)
            if met[0] >= 0:
                way = way_back(trees, 0, int(met[0]))[::-1]
                return way + way_back(trees, 1, int(met[1]))[1:]
        return None

    def shorter(self, way: list[Floats], rng: np.random.Generator) -> list[Floats]:
        """Return the way shortened; what it asks depends on motions alone, never on time."""
        self.say(self.tried, self.most, "shortening")
        return shortened(way, self.kept, self.world.arm, rng, _SHORTENING)
