"""Every socket at every setting, scored for everything asked at once.

The outer bound first takes away what is proved out of reach, setting by setting.  What is left
gets scores that only rank and prune: `likely` estimates the margin of reach, `hoped` is an
optimistic value that no reachable setting was seen to exceed.  Verdicts come from postures and
checks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.model.hardware import Restraint
from reach.placing import shown, socket_pose
from reach.plan.settings import distinct_poses, socket_shortage
from reach.site import Site, Situation
from reach.table.scores import SLACK, scores
from reach.table.table import ReachTable
from reach.work import MIRROR, figure_for, hands_of
from reach.worker.bound import shortage
from reach.worker.chain import METRES_PER_RADIAN
from reach.worker.figure import Figure
from reach.worker.search import find_postures

Array = NDArray[np.float64]
TableOf = Callable[[Figure, int], ReachTable | None]
"""Gives the reach table of a figure for so many questions, or None to search them one by one."""

ALIKE = 1e-5
"""How far (m) a target may move in the boot frame between settings taken as one pose."""

NEAR = 0.1
"""A setting whose quick search ends farther than this (rad) beyond a joint limit is given up."""

MOST_ROWS = 6000
"""Settings searched one by one for one question; those deepest inside the outer bound."""


@dataclass(frozen=True, eq=False, slots=True)
class Candidate:
    """One setting of one socket: its joint angles (rad), and the same in words."""

    socket: str
    angles: dict[str, float]
    words: str


@dataclass(frozen=True, slots=True)
class Short:
    """How far a socket falls short at every setting: at least ``metres``, for question ``ask``.

    At or below 0 some setting is not excluded.  ``whole`` says that one bound holds for all
    settings, so that nothing between the steps of joints without detents is left.
    """

    metres: float
    ask: int
    whole: bool


@dataclass(frozen=True, eq=False, slots=True)
class Grid:
    """All settings of some sockets: those proved out of reach are gone, the others are scored.

    Attributes
    ----------
    restraint : Restraint
    sockets : tuple of str
        Sockets looked at.
    alone : dict of str -> ndarray, shape (n_asks,), m
        Proved shortage of each question by itself over all settings of a socket, if above 0.
    short : dict of str -> Short
        What is proved of all questions together.
    angles : list of dict
        Settings that differ in pose, rad.
    poses : ndarray, shape (n, 4, 4)
        socket_from_boots of each.
    rows : ndarray, shape (m, 2)
        (socket, setting) of those that are not excluded.
    likely, hoped : ndarray, shape (m, n_asks), m
        Estimated and optimistic margin of reach, the better hand of those allowed.
    searched : bool
        Whether rows were searched one by one: ``likely`` is at least 0 where all is reached.
    """

    restraint: Restraint
    sockets: tuple[str, ...]
    alone: dict[str, Array]
    short: dict[str, Short]
    angles: list[dict[str, float]]
    poses: Array
    rows: NDArray[np.int64]
    likely: Array
    hoped: Array
    searched: bool = False

    @property
    def n_settings(self) -> int:
        """Distinct settings of all the sockets together."""
        return len(self.sockets) * len(self.angles)

    @property
    def nearest(self) -> str:
        """The socket that falls short least."""
        return min(self.sockets, key=lambda name: self.short[name].metres)

    @property
    def is_excluded(self) -> bool:
        """Whether every setting of every socket is proved out of reach of some question."""
        return all(short.metres > 0.0 for short in self.short.values())

    def candidate(self, row: int) -> Candidate:
        """Return what a row stands for."""
        socket, setting = self.rows[row]
        angles = self.angles[setting]
        return Candidate(self.sockets[socket], angles, shown(self.restraint, angles))

    def part(self, socket: str, asks: Sequence[int]) -> Grid:
        """Return the grid of one socket and some of the questions; nothing new is proved."""
        rows = self.rows[:, 0] == self.sockets.index(socket)
        at = np.ix_(rows, asks)
        return replace(
            self,
            rows=self.rows[rows],
            likely=self.likely[at],
            hoped=self.hoped[at],
        )


def grid_of(
    site: Site,
    asks: Sequence[Situation],
    restraint: Restraint,
    table_of: TableOf,
    sockets: Sequence[str],
    step: float | None = None,
    only: NDArray[np.int64] | None = None,
    most: int = MOST_ROWS,
) -> Grid:
    """Return all settings, those that are not proved out of reach scored for each question.

    Parameters
    ----------
    asks : sequence of Situation
        Drives, one for each target and body; their own places do not matter.
    restraint : Restraint
    table_of : callable
        Gives the reach table of a figure; asked only where there are many settings.
    sockets : sequence of str
        Sockets to look at.
    step : float, optional, rad
        Step of joints without detents.
    only : ndarray of int, optional
        Settings to look at, places in those that differ in pose; all when left out.
    most : int
        Where settings are searched one by one, so many at most: the deepest inside the bound.
    """
    names = tuple(sockets)
    alone = {
        name: np.array([socket_shortage(site, ask, name, restraint) for ask in asks])
        for name in names
    }
    angles, poses = distinct_poses(site, restraint, step)
    which = np.arange(len(angles)) if only is None else only
    none = np.empty((0, len(asks)))
    grid = Grid(restraint, names, alone, {}, angles, poses, np.empty((0, 2), int), none, none)
    kept = [np.empty((0, 2), np.int64)]
    for i, name in enumerate(names):
        worst = int(alone[name].argmax())
        if alone[name][worst] > 0.0:
            grid.short[name] = Short(float(alone[name][worst]), worst, True)
            continue
        rows = np.stack([np.full(len(which), i), which], axis=1)
        metres, by = _excluded(site, replace(grid, rows=rows), asks)
        best = int(np.argmin(metres))
        grid.short[name] = Short(float(metres[best]), int(by[best]), False)
        kept.append(rows[metres <= 0.0])
    return _scored(site, replace(grid, rows=np.concatenate(kept)), asks, table_of, most)


def boots_of(grid: Grid, situation: Situation, site: Site, rows: NDArray[np.int64]) -> Array:
    """Return world_from_boots of rows of a grid, shape (k, 4, 4)."""
    there = situation.surroundings.world_from
    world_from = np.array([socket_pose(site.scene.sockets[n], there) for n in grid.sockets])
    which = grid.rows[rows]
    return np.asarray(world_from[which[:, 0]] @ grid.poses[which[:, 1]], np.float64)


def in_boots(boots: Array, ask: Situation, hand: str) -> tuple[Array, Array]:
    """Return tips (n, 3), m, and tool directions (n, 3) in boot frames (n, 4, 4) of the world.

    Left hands are mirrored: the answer is the right-handed question.
    """
    head = ask.head
    assert head is not None
    pose = boots @ MIRROR if hand == "left" else boots
    rotation = pose[:, :3, :3]
    tips = np.einsum("nji,nj->ni", rotation, head.point - pose[:, :3, 3])
    ways = np.einsum("nji,j->ni", rotation, -head.axis)
    return tips, ways / np.linalg.norm(ways, axis=1, keepdims=True)


def figure_of_ask(site: Site, ask: Situation) -> Figure:
    """Return the figure that answers a question."""
    assert ask.held is not None
    return figure_for(site, ask, ask.held)


def _excluded(site: Site, grid: Grid, asks: Sequence[Situation]) -> tuple[Array, NDArray[np.int64]]:
    """Return the proved shortage (m) of each row for some question, and which question it is.

    What one question excludes is not asked about the others, so the metres may understate;
    they are worked out only where every row is excluded.
    """
    metres, by = np.full(len(grid.rows), -math.inf), np.zeros(len(grid.rows), np.int64)
    hard = np.argsort([-max(one[k] for one in grid.alone.values()) for k in range(len(asks))])
    for k in hard:
        left = np.flatnonzero(metres <= 0.0)
        short = shortage_of(site, grid, asks[k], left, sharp=False)
        better = short > metres[left]
        metres[left[better]] = short[better]
        by[left[better]] = k
    if (metres > 0.0).all():
        for k in np.unique(by):
            mine = np.flatnonzero(by == k)
            metres[mine] = shortage_of(site, grid, asks[k], mine)
    return metres, by


def shortage_of(
    site: Site, grid: Grid, ask: Situation, rows: NDArray[np.int64], sharp: bool = True
) -> Array:
    """Return the proved shortage (m) of one question at rows, the better hand."""
    short = np.full(len(rows), math.inf)
    if len(rows):
        figure, boots = figure_of_ask(site, ask), boots_of(grid, ask, site, rows)
        for hand in hands_of(ask):
            found = shortage(figure, *in_boots(boots, ask, hand), sharp=sharp)
            short = np.minimum(short, found)
    # Settings whose poses are alike to the sixth place stand for each other.
    return np.asarray(short - ALIKE, np.float64)


def _scored(
    site: Site, grid: Grid, asks: Sequence[Situation], table_of: TableOf, most: int
) -> Grid:
    n, searched = len(grid.rows), False
    likely = np.full((n, len(asks)), -math.inf)
    hoped = likely.copy()
    alive = np.arange(n)
    for k, ask in enumerate(asks):
        if not len(alive):
            break
        table = table_of(figure_of_ask(site, ask), n * len(asks) * len(hands_of(ask)))
        if table is not None:
            likely[alive, k], hoped[alive, k] = _looked_up(site, grid, ask, alive, table)
        else:
            if not searched and len(alive) > most:
                deep = shortage_of(site, grid, ask, alive)
                hoped[alive] = math.inf
                alive = np.sort(alive[np.argsort(deep, kind="stable")[:most]])
            searched = True
            likely[alive, k], hoped[alive, k] = _searched(site, grid, ask, alive)
        alive = alive[hoped[alive, k] >= 0.0]
    return replace(grid, likely=likely, hoped=hoped, searched=searched)


def _looked_up(
    site: Site, grid: Grid, ask: Situation, rows: NDArray[np.int64], table: ReachTable
) -> tuple[Array, Array]:
    """Return (likely, hoped) of rows from the table of what the figure reaches."""
    head = ask.head
    assert head is not None
    boots = boots_of(grid, ask, site, rows)
    likely, hoped = np.full(len(rows), -math.inf), np.full(len(rows), -math.inf)
    for hand in hands_of(ask):
        mean, best = scores([table], boots, head.point[None], -head.axis[None], hand == "left")
        likely = np.maximum(likely, mean[:, 0, 0])
        hoped = np.maximum(hoped, best[:, 0, 0] + SLACK)
    return likely, hoped


def _searched(
    site: Site, grid: Grid, ask: Situation, rows: NDArray[np.int64]
) -> tuple[Array, Array]:
    """Return (likely, hoped) of rows by a quick search: reached or not, and how deep inside.

    What the quick search does not reach within half a radian of joint range is given up; the
    outer bound stands in for the depth.
    """
    figure = figure_of_ask(site, ask)
    boots = boots_of(grid, ask, site, rows)
    likely, hoped = np.full(len(rows), -math.inf), np.full(len(rows), -math.inf)
    for hand in hands_of(ask):
        tips, ways = in_boots(boots, ask, hand)
        violation = find_postures(figure, tips, ways, "quick").violation
        reached = np.flatnonzero(violation <= 0.0)
        depth = -METRES_PER_RADIAN * violation
        depth[reached] = np.maximum(0.0, -shortage(figure, tips[reached], ways[reached]))
        likely = np.maximum(likely, depth)
        hoped = np.maximum(hoped, np.where(violation <= NEAR, math.inf, -math.inf))
    return likely, hoped
