"""Capsules that cover the collision geometry of every link: no corner stands out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.bound import ROUNDING
from reach.arm.chain import Chain, Floats
from reach.arm.forward import piece_poses
from reach.geometry import transform_points
from reach.model.arm import LinkShape

MOST_STRIPS = 4
"""A board is covered by so many capsules side by side at most, else they would stand out far."""


class Covers(NamedTuple):
    """Capsules fixed to the pieces of a chain.

    Attributes
    ----------
    link, piece : ndarray of int, shape (m,)
        Which link each belongs to, and the rigid piece of the chain it moves with.
    p, q : ndarray, shape (m, 3), m, piece frame
        Ends of each axis; they coincide for a sphere.
    radius : ndarray, shape (m,), m
    """

    link: NDArray[np.int64]
    piece: NDArray[np.int64]
    p: Floats
    q: Floats
    radius: Floats


class LinkCapsules(NamedTuple):
    """Capsules of an arm in several postures.

    Attributes
    ----------
    link : ndarray of int, shape (m,)
        Number of the link each covers a part of.
    p, q : ndarray, shape (n, m, 3), m
        Ends of each axis, posture by posture.
    radius : ndarray, shape (m,), m
    """

    link: NDArray[np.int64]
    p: Floats
    q: Floats
    radius: Floats


def covers_of(chain: Chain) -> Covers:
    """Return capsules that cover all collision geometry of an arm.

    Cylinders and spheres stand out by the round ends alone; a box is covered strip by strip
    along its longest side; of a mesh the convex hull is.  Every radius is 1e-9 m larger.
    """
    links, pieces, ends, radii = [], [], [], []
    for n, link in enumerate(chain.arm.links):
        for shape in link.shapes:
            pose = chain.piece_from_link[n] @ shape.link_from_shape
            for p, q, radius in _capsules(shape):
                links.append(n)
                pieces.append(chain.piece_of_link[n])
                ends.append(transform_points(pose, [p, q]))
                radii.append(radius + ROUNDING)
    both = np.array(ends).reshape(-1, 2, 3)
    return Covers(
        np.array(links, np.int64),
        np.array(pieces, np.int64),
        np.ascontiguousarray(both[:, 0]),
        np.ascontiguousarray(both[:, 1]),
        np.array(radii, float),
    )


def _capsules(shape: LinkShape) -> list[tuple[Floats, Floats, float]]:
    """Return ends (m, shape frame) and radius of the capsules that cover a shape."""
    if shape.kind == "sphere":
        return [(np.zeros(3), np.zeros(3), shape.size[0])]
    if shape.kind == "cylinder":
        radius, length = shape.size
        half = np.array([0.0, 0.0, 0.5 * length])
        return [(-half, half, radius)]
    if shape.kind == "box":
        return _strips(np.array(shape.size))
    return [_hull(shape.triangles.reshape(-1, 3))]


def _strips(size: Floats) -> list[tuple[Floats, Floats, float]]:
    thin, wide, long = np.argsort(size)
    n = min(MOST_STRIPS, max(1, round(size[wide] / size[thin])))
    radius = 0.5 * float(np.hypot(size[thin], size[wide] / n))
    half = np.zeros(3)
    half[long] = 0.5 * size[long]
    found = []
    for k in range(n):
        middle = np.zeros(3)
        middle[wide] = ((k + 0.5) / n - 0.5) * size[wide]
        found.append((middle - half, middle + half, radius))
    return found


def _hull(points: Floats) -> tuple[Floats, Floats, float]:
    """Return one capsule with all points in it, along the direction they spread most."""
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    away = points - middle
    axis = np.linalg.eigh(away.T @ away)[1][:, -1]
    along = away @ axis
    aside2 = np.maximum((away * away).sum(axis=1) - along * along, 0.0)
    radius = float(np.sqrt(aside2.max()))
    # A point is under the round end where the end of the axis is this near to it.
    room = np.sqrt(np.maximum(radius * radius - aside2, 0.0))
    high, low = float((along - room).max()), float((along + room).min())
    if high < low:  # one ball holds all
        high = low = 0.5 * (high + low)
    return middle + low * axis, middle + high * axis, radius


def link_capsules(
    chain: Chain,
    q: ArrayLike,
    covers: Covers | None = None,
    world_from_base: ArrayLike | None = None,
) -> LinkCapsules:
    """Return the capsules that cover the links in each posture.

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (n, n_joints) or (n_joints,), rad or m
    covers : Covers, optional
        Made with `covers_of` where not given.
    world_from_base : array_like, shape (4, 4), optional
        Where the arm stands; its base frame is the world where not given.
    """
    covers = covers or covers_of(chain)
    poses = piece_poses(chain, q)
    if world_from_base is not None:
        poses = np.asarray(world_from_base, dtype=np.float64) @ poses
    poses = poses[:, covers.piece]
    turn, place = poses[..., :3, :3], poses[..., :3, 3]
    return LinkCapsules(
        covers.link, _turned(turn, covers.p) + place, _turned(turn, covers.q) + place, covers.radius
    )


def _turned(turn: Floats, points: Floats) -> Floats:
    """Return points (m, 3) turned (n, m, 3, 3): as einsum does to the last digit, and quicker."""
    x, y, z = points.T[:, :, None]
    return np.asarray(turn[..., 0] * x + turn[..., 2] * z + turn[..., 1] * y)
