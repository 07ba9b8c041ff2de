"""What is held: bars of handrails and handholds in the world, and a payload put somewhere else."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, build, inverse, transform_directions, transform_points
from reach.grasp import Grasp
from reach.model.scene import Scene
from reach.site import Site, Surroundings
from reach.worker.question import TIP_DIGITS

Array = NDArray[np.float64]

WIDTH = 0.10
"""Breadth of a single handhold, which is held anywhere along it (m)."""

NOWHERE = np.full((1, 3, 3), 1e6)
"""What a tree of nothing holds: one point, a thousand kilometres away (m)."""


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """Something to hold: its name and two ends (m, in one frame)."""

    name: str
    start: Array
    end: Array

    def at(self, share: float) -> Array:
        """Return a point of it, 0 at its start and 1 at its end."""
        return np.asarray(self.start + share * (self.end - self.start), np.float64)

    def seen_from(self, frame_from_mine: Array) -> Bar:
        """Return the same bar in another frame."""
        start, end = transform_points(frame_from_mine, np.array([self.start, self.end]))
        return Bar(self.name, start, end)

    def on_lattice(self) -> Bar:
        """Return it with ends rounded as searches round: rounding of frames is gone then."""
        ends = np.round([self.start, self.end], TIP_DIGITS) + 0.0
        return Bar(self.name, ends[0], ends[1])

    @property
    def key(self) -> tuple[str, bytes, bytes]:
        """What is the same for the same bar."""
        return self.name, self.start.tobytes(), self.end.tobytes()


def bars_of(site: Site, around: Surroundings, grasp: Grasp) -> tuple[Bar, ...]:
    """Return the grips of a grasp in the world, in their order.

    Raises
    ------
    ValueError
        If a handhold does not say along which direction its bar runs, see `without_direction`.
    """
    return tuple(_bar(site.scene, around, name) for name in grasp.grips)


def without_direction(scene: Scene, grasp: Grasp) -> str:
    """Return the first grip that does not say along which direction its bar runs, or nothing."""
    for name in grasp.grips:
        hold = scene.handholds.get(name)
        if hold is not None and hold.along is None:
            return name
    return ""


def _bar(scene: Scene, around: Surroundings, name: str) -> Bar:
    if name in scene.handrails:
        rail = scene.handrails[name]
        ends = np.array([rail.start, rail.end], float)
        start, end = transform_points(around.world_from[rail.frame], ends)
        return Bar(name, start, end)
    hold = scene.handholds[name]
    if hold.along is None:
        raise ValueError(f"handhold {name!r} gives no direction")
    pose = around.world_from[hold.frame]
    at = transform_points(pose, np.asarray(hold.at, float)[None])[0]
    half = 0.5 * WIDTH * transform_directions(pose, np.asarray(hold.along, float)[None])[0]
    return Bar(name, at - half, at + half)


def riding(scene: Scene, around: Surroundings, payload: str) -> NDArray[np.bool_]:
    """Return for each triangle of the surroundings whether it rides on a payload, shape (n,)."""
    of_solid = np.array(
        [bool(payload) and scene.rides_on(name) == payload for name in around.names], bool
    )
    if not len(around.names):
        return np.zeros(around.tree.n_triangles, bool)
    return np.asarray(of_solid[around.solid_of])


def trees_of(site: Site, around: Surroundings, *payloads: str) -> tuple[Tree, Tree]:
    """Return search trees of the payloads and of all else in the world."""
    key = ("payload and the rest", id(around), *payloads)
    if key not in site.memo:
        mine, triangles = np.zeros(around.tree.n_triangles, bool), around.triangles
        for payload in payloads:
            mine |= riding(site.scene, around, payload)
        site.memo[key] = (_tree(triangles[mine]), _tree(triangles[~mine]), around)
    found: tuple[Tree, Tree, Surroundings] = site.memo[key]
    return found[0], found[1]


def moved_around(
    site: Site, around: Surroundings, payload: str, world_from_payload: Array
) -> Surroundings:
    """Return the surroundings with a payload, and all that rides on it, put somewhere else.

    Parameters
    ----------
    world_from_payload : ndarray, shape (4, 4)
    """
    key = ("moved", id(around), payload, world_from_payload.tobytes())
    if key not in site.memo:
        site.memo[key] = (_moved(site.scene, around, payload, world_from_payload), around)
    found: tuple[Surroundings, Surroundings] = site.memo[key]
    return found[0]


def _moved(scene: Scene, around: Surroundings, payload: str, pose: Array) -> Surroundings:
    step = pose @ inverse(around.world_from[payload])
    mine, triangles = riding(scene, around, payload), around.triangles.copy()
    triangles[mine] = _carried(step, triangles[mine])
    moving = set(around.part_of[mine]) if around.names else set()
    parts = tuple(
        _carried(step, part) if i in moving else part for i, part in enumerate(around.parts)
    )
    shapes = tuple(
        (name, kind, _carried(step, shape), stand_off)
        if scene.rides_on(scene.hazards[name].frame) == payload
        else (name, kind, shape, stand_off)
        for name, kind, shape, stand_off in around.shapes
    )
    world_from = {
        name: step @ one if scene.rides_on(name) == payload else one
        for name, one in around.world_from.items()
    }
    return replace(around, triangles=triangles, parts=parts, shapes=shapes, world_from=world_from)


def _carried(step: Array, triangles: Array) -> Array:
    return transform_points(step, triangles.reshape(-1, 3)).reshape(-1, 3, 3)


def _tree(triangles: Array) -> Tree:
    return build(triangles if len(triangles) else NOWHERE)
