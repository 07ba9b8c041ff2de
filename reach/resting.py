"""A worker at rest in the restraint: trunk as upright as the structure allows, arms folded.

The frame of a left-handed worker is mirrored, as in every question to a left hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, capsule_clearance, transform_points
from reach.site import Site, Situation
from reach.work import MIRROR, ROUNDING, capsule_limits
from reach.worker.cells import ROOM, Refuted, refute_cells
from reach.worker.chain import trunk_fk
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
    world_from_boots : ndarray, shape (4, 4)
        Mirrored for a left-handed worker.
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
    excess: float

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
            self.floor - self.excess,
            shadows,
            ROOM,
        )


def resting_of(site: Site, situation: Situation) -> Resting:
    """Return the sampled trunk posture nearest to upright that keeps clear, else the best one."""
    pose = rest_frame(situation)
    figure = figure_of(situation.body, situation.suit, Grip())
    bulk = bulk_of(figure, situation.suit, np.empty((0, 7)))
    floor, names = rest_limits(site, bulk), rest_names(bulk, situation.own_hand)
    need = floor + situation.surroundings.error + ROUNDING
    best: tuple[float, Array, Array] | None = None
    for q in trunks_of(figure, N_TRUNKS).q:
        capsules = rest_capsules(figure, bulk, q)
        room = rest_room(situation.surroundings.tree, pose, capsules, need)
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
        pose,
        capsules,
        names,
        floor,
        trunk,
        UPRIGHT if not trunk.any() else BENT,
        situation.surroundings.excess,
    )


def rest_frame(situation: Situation) -> Array:
    """Return world from boots, mirrored for a left-handed worker, shape (4, 4)."""
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    pose = situation.place.world_from_boots
    return pose @ MIRROR if situation.own_hand == "left" else pose


def rest_names(bulk: Bulk, own_hand: str) -> tuple[str, ...]:
    """Return the names of `rest_capsules`."""
    left, right, *shells = bulk.names[: bulk.n_body]
    legs = (left, right) if own_hand == "right" else (right, left)
    return (*legs, *shells, *("idle upper arm", "idle forearm") * 2)


def rest_limits(site: Site, bulk: Bulk) -> Array:
    """Return the clearance asked of each of `rest_capsules`, m."""
    body = capsule_limits(site, bulk)[: bulk.n_body + N_IDLE]
    return np.concatenate((body, body[bulk.n_body :]))


def rest_capsules(figure: Figure, bulk: Bulk, q: Array) -> Array:
    """Return legs, trunk and both folded arms at trunk angles ``q``, (n, 7), m, boot frame."""
    _, _, R, S, eye, body, _, _ = buffers_of(bulk)
    body_capsules(figure.p, q, bulk.shells, bulk.sizes, R, S, eye, body)
    hip = np.array(trunk_fk(figure.p, q, R, S))
    across = R @ np.diag([1.0, -1.0, 1.0]) @ R.T
    arm = body[bulk.n_body :].copy()
    for ends in (slice(0, 3), slice(3, 6)):
        arm[:, ends] = hip + (arm[:, ends] - hip) @ across.T
    return np.vstack((body, arm))


def rest_room(tree: Tree, world_from_boots: Array, capsules: Array, need: Array) -> float:
    """Return the least clearance beyond what is needed, m."""
    p = transform_points(world_from_boots, capsules[:, :3])
    q = transform_points(world_from_boots, capsules[:, 3:6])
    return float((capsule_clearance(tree, p, q, capsules[:, 6]) - need).min())
