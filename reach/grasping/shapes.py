"""The room a body takes up that holds something, and how near it comes to what is round it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, capsule_clearance, segment_pair_distance, transform_points
from reach.grasping.bars import Bar
from reach.grasping.holds import OTHER, OWN, Hold, target_of
from reach.worker.chain import evaluate, work_arrays
from reach.worker.figure import Figure
from reach.worker.posing import buffers_of, eye_of
from reach.worker.volume import ARM_NAMES, N_ARM, N_IDLE, Bulk, arm_capsules, body_capsules

Array = NDArray[np.float64]

ACROSS = np.array([1.0, -1.0, 1.0, 1.0, -1.0, 1.0, 1.0])
"""Capsules mirrored left to right: two ends and a radius."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Capsules of a body that holds something, in the boot frame of its own hand.

    Attributes
    ----------
    body : ndarray, shape (n_body, 7), m
        Legs and trunk, helmet and backpack, as ``bulk.names`` has them.
    arms : ndarray, shape (k, 7), m
        Upper arm, forearm and hand of each hand that holds, in the order of the bars; then
        upper arm and forearm of an idle arm.
    eye : ndarray, shape (3,), m
    """

    body: Array
    arms: Array
    eye: Array

    @property
    def capsules(self) -> Array:
        """All of them, shape (n, 7), m."""
        return np.vstack((self.body, self.arms))


def shape_of(figure: Figure, bulk: Bulk, bars: tuple[Bar, ...], hold: Hold) -> Shape:
    """Return the capsules of a body that holds bars."""
    _, _, R, S, eye, body, arm, _ = buffers_of(bulk)
    work, out = work_arrays()
    arms = []
    for i, bar in enumerate(bars):
        tip, way = target_of(bar, hold.shares[i], hold.signs[i], hold.sides[i])
        evaluate(figure.p, tip, way, hold.postures[i], work, out)
        arm_capsules(figure.p, bulk.sizes, bulk.tool, work, out, arm)
        arms.append(arm[:N_ARM] * ACROSS if hold.sides[i] == OTHER else arm[:N_ARM].copy())
    if len(bars) == 1:
        # The idle arm is the mirrored other one of the hand that holds.
        body_capsules(figure.p, hold.postures[0], bulk.shells, bulk.sizes, R, S, eye, body)
        idle = body[bulk.n_body :].copy()
        arms.append(idle * ACROSS if hold.sides[0] == OTHER else idle)
    trunk = hold.trunk
    body_capsules(figure.p, trunk, bulk.shells, bulk.sizes, R, S, eye, body)
    return Shape(body[: bulk.n_body].copy(), np.vstack(arms), eye_of(figure, bulk, trunk))


def names_of(bulk: Bulk, hold: Hold, own_hand: str) -> tuple[str, ...]:
    """Return the names of the capsules of a shape, left and right as the worker has them."""
    left, right, *shells = bulk.names[: bulk.n_body]
    legs = (left, right) if own_hand == "right" else (right, left)
    arms = [f"{hand_name(side, own_hand)} {part}" for side in hold.sides for part in ARM_NAMES]
    idle = ("idle upper arm", "idle forearm") if len(hold.sides) == 1 else ()
    return (*legs, *shells, *arms, *idle)


def hand_name(side: int, own_hand: str) -> str:
    """Return ``"right"`` or ``"left"``."""
    if side == OWN:
        return own_hand
    return "left" if own_hand == "right" else "right"


@dataclass(frozen=True, slots=True)
class Room:
    """How much room a posture has, m; negative where things overlap.

    Attributes
    ----------
    body : float
        Legs, trunk, helmet and backpack from structure and from what is held.
    arms : float
        Upper arms from both, forearms and hands from structure that is not held.
    own : float
        Hands and forearm lines from legs and trunk, and from the other arm.
    """

    body: float
    arms: float
    own: float


def room_of(
    shape: Shape, world_from_boots: Array, held: Tree, rest: Tree, error: float, far: float
) -> Room:
    """Return the room of a posture, each at most ``far`` (m).

    Parameters
    ----------
    world_from_boots : ndarray, shape (4, 4)
        Of the frame the shape is in.
    held, rest : Tree
        What is held, and all other structure, world.
    error : float, m
        How far true surfaces may stand outside their facets.
    """
    n_held = len(shape.arms) // N_ARM
    upper = shape.arms[[N_ARM * i for i in range(n_held)]]
    idle = shape.arms[N_ARM * n_held :]
    lower = np.vstack([shape.arms[N_ARM * i + 1 : N_ARM * i + 3] for i in range(n_held)])
    free = np.vstack((upper, idle))
    body = min(_clear(tree, world_from_boots, shape.body, far) for tree in (held, rest)) - error
    arms = min(
        min(_clear(tree, world_from_boots, free, far) for tree in (held, rest)),
        _clear(rest, world_from_boots, lower, far),
    )
    return Room(_rounded(body), _rounded(arms - error), _rounded(own_room(shape, n_held)))


def own_room(shape: Shape, n_held: int) -> float:
    """Return the least distance of hands and forearm lines from the own body, m.

    Cloth may touch cloth: a forearm counts without its thickness, upper arms not at all.
    """
    least = np.inf
    blocks = [shape.arms[N_ARM * i : N_ARM * (i + 1)] for i in range(n_held)]
    others = [shape.body] * n_held
    if n_held == 1 and len(shape.arms) >= N_ARM + N_IDLE:
        others = [np.vstack((shape.body, shape.arms[N_ARM:]))]
    for block, other in zip(blocks, others, strict=True):
        least = min(least, _apart(block[1:2], other, 0.0), _apart(block[2:], other, block[2, 6]))
    if n_held == 2:
        one, two = blocks
        least = min(
            least,
            _apart(one[1:2], two[1:], 0.0),
            _apart(one[2:], two[1:2], 0.0),
            _apart(one[2:], two[2:], one[2, 6]),
        )
    return float(least)


def _apart(one: Array, other: Array, thick: float) -> float:
    n, m = len(one), len(other)
    a, b = np.repeat(one, m, axis=0), np.tile(other, (n, 1))
    gaps = segment_pair_distance(a[:, :3], a[:, 3:6], b[:, :3], b[:, 3:6]) - b[:, 6] - thick
    return float(gaps.min())


def _clear(tree: Tree, pose: Array, capsules: Array, far: float) -> float:
    p, q = transform_points(pose, capsules[:, :3]), transform_points(pose, capsules[:, 3:6])
    radius = capsules[:, 6]
    return min(far, float(capsule_clearance(tree, p, q, radius, far + radius.max()).min()))


def _rounded(value: float) -> float:
    """Room is told to 1e-9 m, so that the last bits of a moved world do not choose the posture."""
    return round(value, 9)
