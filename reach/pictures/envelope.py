"""The surface that a tool tip can reach while it points one way: joint limits, no obstacles.

Rays leave a comfortable place of the tip in even directions; on each the farthest reached point
is found by halving, with a short search.  It is a sampled surface to look at, a little inside
the true one: proofs are `reach.worker.bound`'s work.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from reach.site import Site
from reach.worker.figure import ALONG, R_MAX, Figure
from reach.worker.margin import sphere_points
from reach.worker.search import Effort, find_postures
from reach.worker.trunks import trunks_of

Array = NDArray[np.float64]

N_CENTRES = 120
"""Places of the tool tip that are tried as a comfortable one."""

N_RAYS = 72
N_HALVINGS = 5
FARTHEST = 1.6
"""No ray is followed farther than this, m."""

_EFFORT = Effort(n_trunks=32, n_seeds=1, n_steps=40)
_SMOOTHING = 0.5


@dataclass(frozen=True, eq=False, slots=True)
class Envelope:
    """A closed surface round a comfortable tip, boot frame.

    Attributes
    ----------
    points : ndarray, shape (n, 3), m
    faces : ndarray of int64, shape (m, 3)
        Corners anticlockwise seen from outside.
    start : ndarray, shape (3,), m
        The comfortable tip.
    reached : ndarray, shape (n, 3), m
        Tips just inside the surface for which a posture was found.
    """

    points: Array
    faces: NDArray[np.int64]
    start: Array
    reached: Array


def known_envelope(site: Site, figure: Figure, direction: Array) -> Envelope | None:
    """Return the envelope, made once for each figure and direction."""
    key = ("drawn envelope", figure.key, direction.tobytes())
    if key not in site.memo:
        site.memo[key] = envelope_of(figure, direction)
    found: Envelope | None = site.memo[key]
    return found


def envelope_of(figure: Figure, direction: Array) -> Envelope | None:
    """Return what the tip reaches pointing along a direction; None if nothing is known to be.

    Parameters
    ----------
    figure : Figure
    direction : ndarray, shape (3,), unit vector, boot frame
    """
    start = comfortable_tip(figure, direction)
    if start is None:
        return None
    rays = sphere_points(N_RAYS)
    low, high = np.zeros(N_RAYS), np.full(N_RAYS, FARTHEST)
    for _ in range(N_HALVINGS):
        middle = 0.5 * (low + high)
        tips = start + middle[:, None] * rays
        reached = find_postures(figure, tips, direction, _EFFORT).violation <= 0.0
        low = np.where(reached, middle, low)
        high = np.where(reached, high, middle)
    faces = _sphere_faces(rays)
    radius = _smoothed(0.5 * (low + high), faces)
    reached_tips = start + low[:, None] * rays
    return Envelope(start + radius[:, None] * rays, faces, start, reached_tips)


def comfortable_tip(figure: Figure, direction: Array) -> Array | None:
    """Return a tool tip (3,), m, boot frame, well inside what is reached; None if none is known.

    Parameters
    ----------
    direction : ndarray, shape (3,), unit vector, boot frame
        Where the tool points.
    """
    trunks = trunks_of(figure, 128)
    rng = np.random.default_rng(7)
    ways = rng.normal(size=(N_CENTRES, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    far = figure.p[R_MAX] * rng.uniform(0.5, 0.95, N_CENTRES)
    shoulders = trunks.shoulder[rng.integers(0, len(trunks.shoulder), N_CENTRES)]
    tips = shoulders + far[:, None] * ways + figure.p[ALONG] * direction
    good = tips[find_postures(figure, tips, direction, _EFFORT).violation <= 0.0]
    if not len(good):
        return None
    return np.asarray(good[np.argmin(np.linalg.norm(good - good.mean(axis=0), axis=1))])


def _sphere_faces(points: Array) -> NDArray[np.int64]:
    faces: NDArray[np.int64] = ConvexHull(points).simplices.astype(np.int64)
    a, b, c = (points[faces[:, i]] for i in range(3))
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), a) < 0.0
    faces[inward] = faces[inward][:, ::-1]
    return faces


def _smoothed(radius: Array, faces: NDArray[np.int64]) -> Array:
    """Return the radii drawn half-way to the mean of their neighbours, once."""
    total, count = np.zeros(len(radius)), np.zeros(len(radius))
    for i, j in ((0, 1), (1, 2), (2, 0)):
        for one, other in ((faces[:, i], faces[:, j]), (faces[:, j], faces[:, i])):
            np.add.at(total, one, radius[other])
            np.add.at(count, one, 1.0)
    return np.asarray((1.0 - _SMOOTHING) * radius + _SMOOTHING * total / count)
