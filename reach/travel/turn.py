"""Round from one rail to the next: an arc of the axis, and turns at a constant rate."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EACH = math.pi / 8
"""An arc is cut into straight pieces that turn by this much at most (rad)."""

SAME = 1e-9


def arc(start: Array, stop: Array, off: Array, to_off: Array) -> Array:
    """Return points on the axis from beside ``start`` to beside ``stop``, shape (k, 3), m.

    The hold moves straight from one rail to the other while the way from it to the axis turns
    from ``off`` to ``to_off`` (m), so that the axis keeps its distance round a corner.
    """
    points: Array = arcs(start, stop, off[None], to_off[None])[0]
    return points


def arcs(start: Array, stop: Array, offs: Array, to_offs: Array) -> Array:
    """Return the points of an arc for every pair of rows of offs and to_offs, (n, k, 3), m.

    All have as many points as the one that turns most needs.

    Parameters
    ----------
    start, stop : ndarray, shape (3,), m
    offs, to_offs : ndarray, shape (n, 3), m
    """
    lengths = np.linalg.norm(offs, axis=1), np.linalg.norm(to_offs, axis=1)
    unit = offs / np.maximum(SAME, lengths[0])[:, None]
    along = np.einsum("ij,ij->i", unit, to_offs)
    across = to_offs - along[:, None] * unit
    sine = np.linalg.norm(across, axis=1)
    # Directions that are the same or opposite give no plane to turn in: one is taken that holds
    # the way from rail to rail, so that the body goes round the far side of the hold.
    flat = sine < SAME
    angle = np.where(flat, np.where(along < 0.0, math.pi, 0.0), np.arctan2(sine, along))
    across = np.where(flat[:, None], _square(unit, start - stop), across)
    across /= np.maximum(SAME, np.linalg.norm(across, axis=1))[:, None]
    n = max(1, math.ceil(float(angle.max(initial=0.0)) / EACH - SAME))
    share = np.linspace(0.0, 1.0, n + 1)
    turn = angle[:, None] * share
    ways = np.cos(turn)[..., None] * unit[:, None] + np.sin(turn)[..., None] * across[:, None]
    length = (1.0 - share) * lengths[0][:, None] + share * lengths[1][:, None]
    hold = (1.0 - share)[:, None] * start + share[:, None] * stop
    return np.asarray(hold + length[..., None] * ways)


def _square(unit: Array, wanted: Array) -> Array:
    """Return directions square to unit vectors (n, 3), as near to a wanted one as can be."""
    found = wanted - (unit @ wanted)[:, None] * unit
    for other in np.eye(3):
        short = np.linalg.norm(found, axis=1) < SAME
        found = np.where(short[:, None], other - (unit @ other)[:, None] * unit, found)
    return np.asarray(found)


def turned(first: Array, last: Array, n: int) -> Array:
    """Return n + 1 rotations from first to last at a constant rate, shape (n + 1, 3, 3)."""
    from scipy.spatial.transform import Rotation

    way = Rotation.from_matrix(first.T @ last).as_rotvec()
    share = np.linspace(0.0, 1.0, n + 1)[:, None]
    found = first @ Rotation.from_rotvec(share * way).as_matrix()
    found[0], found[-1] = first, last
    return np.asarray(found)
