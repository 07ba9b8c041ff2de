"""What a payload has to keep away from, and what moves with it, laid out for compiled code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry import Tree, build
from reach.geometry.motion import turn_between
from reach.geometry.queries import finite_points_of
from reach.geometry.tree import Floats
from reach.paths.squareness import frame_of, frames_of, quarter_turns

SPARE = 1e-5
"""The search asks for this much more than what is wanted (m): ties never reach the certificate."""

FLAT = np.pi - 1e-3
"""A leg turns by less than this (rad): at half a turn two ways round are as short."""


@dataclass(frozen=True, eq=False)
class Obstacle:
    """One solid or hazard in the world.

    Attributes
    ----------
    name : str
    tree : Tree
        Its triangles, m, world.
    clearance : float, m
        Wanted gap to its facets: what facets leave off a round shape is added already.
    """

    name: str
    tree: Tree
    clearance: float


@dataclass(frozen=True, eq=False)
class Cargo:
    """Everything that moves rigidly with the payload.

    Attributes
    ----------
    trees : tuple of Tree
        The payload itself and what rides on it, m, payload frame.
    extra : tuple of float, m
        What is added to every obstacle's clearance for each of them: what its
        own facets leave off.
    centre : ndarray, shape (3,), m, payload
        The point taken as the payload's position when poses are drawn.

    Raises
    ------
    ValueError
        If there is no tree, the numbers of trees and extras differ or an extra is not valid.
    """

    trees: tuple[Tree, ...]
    extra: tuple[float, ...]
    centre: Floats

    def __post_init__(self) -> None:
        if not self.trees or len(self.trees) != len(self.extra):
            raise ValueError(
                f"cargo needs an extra for each tree: {len(self.trees)} and {len(self.extra)}"
            )
        if not all(0.0 <= x < np.inf for x in self.extra):
            raise ValueError(f"extra must not be negative, infinite or nan: {self.extra}")

    @property
    def radius(self) -> float:
        """How far (m) the cargo reaches from its centre at most, by the corners of its boxes."""
        ends = np.concatenate([tree.bounds for tree in self.trees])
        low, high = ends.min(axis=0), ends.max(axis=0)
        return float(np.linalg.norm(np.maximum(high - self.centre, self.centre - low)))


class Packed(NamedTuple):
    """Obstacles and cargo as flat arrays; obstacles that want the same gap share a tree.

    ``*_tri``, ``*_box`` and ``*_link`` are those of the trees one after the other, ``*_at``
    (k + 1, 2) holds the first triangle and node of each.  ``pairs`` (p, 2) lists cargo tree and
    obstacle tree, ``wanted`` (p,) the gap asked for (m), with :data:`SPARE` in it.  ``about`` is
    the point that runs straight, ``centre`` the one that poses are drawn for (m, payload),
    ``arm`` (m) what a radian of turn counts as in lengths.  ``square``
    (m, 4) are quaternions of rotations squarely to obstacles, ``axes`` (k, 3) the ways
    obstacles' faces look.
    """

    scene_tri: Floats
    scene_box: Floats
    scene_link: Any
    scene_at: Any
    cargo_tri: Floats
    cargo_box: Floats
    cargo_link: Any
    cargo_at: Any
    pairs: Any
    wanted: Floats
    about: Floats
    centre: Floats
    arm: float
    square: Floats
    axes: Floats


def pack(obstacles: Sequence[Obstacle], cargo: Cargo, about: ArrayLike) -> Packed:
    """Return obstacles and cargo for compiled code.

    Parameters
    ----------
    obstacles : sequence of Obstacle
    cargo : Cargo
    about : array_like, shape (3,), m, payload
        The point that runs straight.

    Raises
    ------
    ValueError
        If a clearance is negative or not finite, or a point has the wrong shape.
    """
    for one in obstacles:
        if not 0.0 <= one.clearance < np.inf:
            raise ValueError(f"clearance of {one.name!r} must not be negative: {one.clearance}")
    levels = sorted({one.clearance for one in obstacles})
    together = []
    for level in levels:
        trees = [one.tree for one in obstacles if one.clearance == level]
        corners = [tree.tri.reshape(-1, 3, 3) for tree in trees]
        together.append(trees[0] if len(trees) == 1 else build(np.concatenate(corners)))
    asked = [
        (i, k, level + extra + SPARE)
        for i, extra in enumerate(cargo.extra)
        for k, level in enumerate(levels)
    ]
    return Packed(
        *_flat(together),
        *_flat(cargo.trees),
        np.array([x[:2] for x in asked], dtype=np.int64).reshape(-1, 2),
        np.array([x[2] for x in asked], dtype=np.float64),
        finite_points_of("about", about, 1)[0].copy(),
        finite_points_of("centre", cargo.centre, 1)[0].copy(),
        0.5 * cargo.radius,
        *_squarely(obstacles, cargo),
    )


def _squarely(obstacles: Sequence[Obstacle], cargo: Cargo) -> tuple[Floats, Floats]:
    frames = frames_of(one.tree for one in obstacles)
    own = frame_of(max(cargo.trees, key=lambda tree: np.ptp(tree.bounds, axis=0).max()))
    back = np.eye(3) if own is None else own.T
    turns = np.array([frame @ turn @ back for frame in frames for turn in quarter_turns()])
    axis, angle = turn_between(np.tile(np.eye(3), (len(turns), 1, 1)), turns)
    square = np.column_stack([np.cos(0.5 * angle), np.sin(0.5 * angle)[:, None] * axis])
    return square, np.concatenate([frame.T for frame in frames])


def shrunk(world: Packed, share: float) -> Packed:
    """Return the same with the cargo shrunk about its centre, and wanted gaps too."""

    def small(corners: Floats) -> Floats:
        sides = corners.shape[1] // 3
        middle = np.tile(world.centre, sides)
        return np.ascontiguousarray(middle + share * (corners - middle))

    return world._replace(
        cargo_tri=small(world.cargo_tri),
        cargo_box=small(world.cargo_box),
        wanted=share * world.wanted,
    )


def _flat(trees: Sequence[Tree]) -> tuple[Floats, Floats, Any, Any]:
    sizes = [(0, 0), *((len(tree.tri), len(tree.box)) for tree in trees)]
    return (
        np.concatenate([np.empty((0, 9)), *(tree.tri for tree in trees)]),
        np.concatenate([np.empty((0, 6)), *(tree.box for tree in trees)]),
        np.concatenate([np.empty((0, 2), np.int32), *(tree.link for tree in trees)]),
        np.cumsum(sizes, axis=0, dtype=np.int64),
    )
