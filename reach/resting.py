"""A worker at rest in the restraint: trunk as upright as the structure allows, arms folded."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, segment_distance, transform_points
from reach.site import Site, Situation
from reach.work import capsule_limits
from reach.worker.cells import ROOM, Refuted, refute_cells
from reach.worker.figure import Figure, Grip, figure_of
from reach.worker.posing import Target, buffers_of
from reach.worker.shadow import Shadows
from reach.worker.trunks import trunks_of
from reach.worker.volume import N_IDLE, Bulk, body_capsules, bulk_of

Array = NDArray[np.float64]

N_TRUNKS = 128
UPRIGHT = "standing upright at rest"
BENT = "at rest with the trunk bent to keep clear"


@dataclass(frozen=True, eq=False)
class Resting:
    """Trunk, legs and folded arms (both idle) of a worker at rest.

    Attributes
    ----------
    capsules : ndarray, shape (n, 7), m, boot frame
    names : tuple of str
    floor : ndarray, shape (n,), m
        Clearance asked of each.
    trunk : ndarray, shape (5,), rad
    words : str
    """

    figure: Figure
    bulk: Bulk
    tree: Tree
    world_from_boots: Array
    capsules: Array
    names: tuple[str, ...]
    floor: Array
    trunk: Array
    words: str

    @cached_property
    def refuted(self) -> Refuted:
        """Whether every trunk posture has a part too close to the structure."""
        target = Target(
            np.zeros(3), np.array([1.0, 0.0, 0.0]), np.zeros((1, 3)), self.floor, 0.0, np.pi
        )
        nothing = np.empty(0, np.int64)
        shadows = Shadows(np.empty((0, 4)), nothing, nothing, nothing)
        return refute_cells(
            self.figure,
            self.bulk,
            self.tree,
            self.world_from_boots,
            target,
            self.floor,
            shadows,
            ROOM,
        )


def resting_of(site: Site, situation: Situation) -> Resting:
    """Return the sampled trunk posture nearest to upright that keeps clear, else the best one."""
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    figure = figure_of(situation.body, situation.suit, Grip())
    bulk = bulk_of(figure, situation.suit, np.empty((0, 7)))
    n = bulk.n_body + N_IDLE
    names = bulk.names[:n]
    floor = capsule_limits(site, bulk)[:n]
    error = float(situation.surroundings.errors.max(initial=0.0))
    best: tuple[float, Array, Array] | None = None
    for q in trunks_of(figure, N_TRUNKS).q:
        capsules = _capsules(figure, bulk, q)
        room = _room(situation.surroundings.tree, place.world_from_boots, capsules, floor + error)
        if best is None or room > best[0]:
            best = (room, capsules, q)
        if room >= 0.0:
            break
    assert best is not None
    _, capsules, trunk = best
    return Resting(
        figure,
        bulk,
        situation.surroundings.tree,
        place.world_from_boots,
        capsules,
        names,
        floor,
        trunk,
        UPRIGHT if not trunk.any() else BENT,
    )


def _capsules(figure: Figure, bulk: Bulk, q: Array) -> Array:
    _, _, R, S, eye, body, _, _ = buffers_of(bulk)
    body_capsules(figure.p, q, bulk.shells, bulk.sizes, R, S, eye, body)
    return body


def _room(tree: Tree, world_from_boots: Array, capsules: Array, need: Array) -> float:
    p = transform_points(world_from_boots, capsules[:, :3])
    q = transform_points(world_from_boots, capsules[:, 3:6])
    return float((segment_distance(tree, p, q).distance - capsules[:, 6] - need).min())
