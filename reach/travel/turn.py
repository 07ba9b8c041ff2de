"""Round from one rail to the next: an arc of the axis, and turns at a constant rate."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]

EACH = math.pi / 8
"""An arc is cut into straight pieces that turn by this much at most (rad)."""

SAME = 1e-9


def arc(start: Array, stop: Array, off: Array, to_off: Array) -> Array:
    """Return points on the axis from beside ``start`` to beside ``stop``, shape (k, 3), m.

    The hold moves straight from one rail to the other while the way from it to the axis turns
    from ``off`` to ``to_off`` (m), so that the axis keeps its distance round a corner.
    """
    turn, angle = _turn(off, to_off)
    n = max(1, math.ceil(angle / EACH - SAME))
    share = np.linspace(0.0, 1.0, n + 1)[:, None]
    unit = off / max(SAME, float(np.linalg.norm(off)))
    ways = Rotation.from_rotvec(share * turn).apply(unit)
    lengths = (1.0 - share) * np.linalg.norm(off) + share * np.linalg.norm(to_off)
    return np.asarray((1.0 - share) * start + share * stop + lengths * ways)


def _turn(a: Array, b: Array) -> tuple[Array, float]:
    """Return the rotation vector (rad) that turns the direction of a into that of b."""
    across = np.cross(a, b)
    sine, cosine = float(np.linalg.norm(across)), float(a @ b)
    angle = math.atan2(sine, cosine)
    if sine < SAME:
        return np.zeros(3), 0.0
    return angle * across / sine, angle


def turned(first: Array, last: Array, n: int) -> Array:
    """Return n + 1 rotations from first to last at a constant rate, shape (n + 1, 3, 3)."""
    way = Rotation.from_matrix(first.T @ last).as_rotvec()
    share = np.linspace(0.0, 1.0, n + 1)[:, None]
    found = first @ Rotation.from_rotvec(share * way).as_matrix()
    found[0], found[-1] = first, last
    return np.asarray(found)
