"""A suited body on its way along rails: its capsules and the pose it has at a point of a rail.

Body frame: origin on the axis of the corridor abreast of the hands (at shoulder height), z ahead
through the helmet, x towards the rail, y to the body's left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.model.hardware import Item
from reach.passage import Passage
from reach.resting import rest_capsules
from reach.site import Site, Situation
from reach.worker.figure import HIP, SHOULDER, Figure, Grip, figure_of
from reach.worker.volume import Bulk, bulk_of

Array = NDArray[np.float64]

EYE_AHEAD, EYE_ABOVE = 5, 6
"""Where the sizes of a body have its eye, from the hip (m)."""

TURNED = 1e-9
"""Directions shorter than this (m) are none."""


@dataclass(frozen=True, eq=False)
class Mover:
    """Capsules of a body on its way, with what it carries.

    Attributes
    ----------
    p, q : ndarray, shape (n, 3), m, body frame
    radius : ndarray, shape (n,), m
    names : tuple of str
    n_legs : int
        How many of them, from the first, are legs.
    n_body : int
        How many of them, from the first, are the body itself; items follow.
    """

    p: Array
    q: Array
    radius: Array
    names: tuple[str, ...]
    n_legs: int
    n_body: int


def mover_of(site: Site, situation: Situation) -> Mover:
    """Return the capsules of the body of a move; arms are left out, they go to the rail."""
    assert situation.passage is not None
    _, bulk, capsules, shift = _straight(situation)
    legs = [i for i, name in enumerate(bulk.names[: bulk.n_body]) if name.endswith("leg")]
    # At a place of work the boots are meant to be near; on the way they are not.
    capsules[legs, 2] = capsules[legs, 6]
    beside = float((np.abs(capsules[legs, 1]) + capsules[legs, 6]).max())
    items = _hung(situation.passage, beside, site.limit("hang_back").value)
    rows = np.vstack([capsules - np.array([*shift, *shift, 0.0]), *(row for _, row in items)])
    names = bulk.names[: bulk.n_body] + tuple(name for name, _ in items)
    n_body = bulk.n_body
    return Mover(
        np.ascontiguousarray(rows[:, :3]),
        np.ascontiguousarray(rows[:, 3:6]),
        np.ascontiguousarray(rows[:, 6]),
        names,
        len(legs),
        n_body,
    )


def eye_of(situation: Situation) -> Array:
    """Return the eye of the body of a move, shape (3,), m, body frame."""
    figure, bulk, _, shift = _straight(situation)
    ahead, above = float(bulk.sizes[EYE_AHEAD]), float(bulk.sizes[EYE_ABOVE])
    return np.array([ahead, 0.0, float(figure.p[HIP]) + above]) - shift


def view_of(situation: Situation) -> Array:
    """Return the field of view of the suit as `reach.worker.volume.Bulk` has it, rad."""
    return _straight(situation)[1].view


def _straight(situation: Situation) -> tuple[Figure, Bulk, Array, Array]:
    """Return the straight body in the boot frame, and the origin of the body frame there."""
    figure = figure_of(situation.body, situation.suit, Grip())
    bulk = bulk_of(figure, situation.suit, np.empty((0, 7)))
    capsules = rest_capsules(figure, bulk, np.zeros(5))[: bulk.n_body].copy()
    hull = np.vstack([capsules[:, 0] - capsules[:, 6], capsules[:, 0] + capsules[:, 6]])
    middle = 0.5 * (hull.min() + hull.max())
    return figure, bulk, capsules, np.array([middle, 0.0, float(figure.p[SHOULDER])])


def _hung(passage: Passage, beside: float, back: float) -> list[tuple[str, Array]]:
    """Return one capsule round the box of every item with a size, hung beside the legs.

    First to the left, then to the right, ``beside`` (m) from the middle and ``back`` (m) from the
    shoulders at least.
    """
    found: list[tuple[str, Array]] = []
    behind = {1.0: back, -1.0: back}
    for name, item in {**passage.carrying, **passage.in_hand}.items():
        if item.size is None:
            continue
        length, radius = _box(item)
        side = 1.0 if behind[1.0] <= behind[-1.0] else -1.0
        y = side * (beside + radius)
        start = -behind[side]
        stop = start - length
        found.append((name, np.array([[0.0, y, start, 0.0, y, stop, radius]])))
        behind[side] += length + 2.0 * radius
    return found


def _box(item: Item) -> tuple[float, float]:
    """Return length of axis and radius of the capsule round a box, longest side along."""
    assert item.size is not None
    a, b, c = sorted(item.size, reverse=True)
    return a, 0.5 * float(np.hypot(b, c))


def stance_at(axis: Array, ahead: Array, toward: Array) -> Array:
    """Return world_from_body, shape (4, 4).

    Parameters
    ----------
    axis : ndarray, shape (3,), m, world
        The origin, on the axis of the corridor.
    ahead, toward : ndarray, shape (3,), world
        Through the helmet, and towards the rail; need be neither unit nor square.
    """
    z = ahead / np.linalg.norm(ahead)
    x = toward - (toward @ z) * z
    length = float(np.linalg.norm(x))
    if length < TURNED:
        x = np.cross(z, np.eye(3)[int(np.argmin(np.abs(z)))])
        length = float(np.linalg.norm(x))
    x /= length
    pose = np.eye(4)
    pose[:3, 0], pose[:3, 2], pose[:3, 3] = x, z, axis
    # The cross product of z and x, written out: asked thousands of times.
    pose[0, 1] = z[1] * x[2] - z[2] * x[1]
    pose[1, 1] = z[2] * x[0] - z[0] * x[2]
    pose[2, 1] = z[0] * x[1] - z[1] * x[0]
    return pose
