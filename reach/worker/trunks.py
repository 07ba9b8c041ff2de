"""Sampled trunk postures: the starts of every posture search."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reach.worker.chain import trunk_fk
from reach.worker.figure import HIGH, LOW, N_PARAMETERS, Figure

Array = NDArray[np.float64]

STRETCH = 1.35
"""Samples are stretched by this and clipped, so that limits are sampled too."""


@dataclass(frozen=True, slots=True, eq=False)
class Trunks:
    """Trunk postures, nearest to neutral first; the first one is neutral.

    Attributes
    ----------
    q : ndarray, shape (k, 5), rad
    rotation : ndarray, shape (k, 3, 3), boot from torso
    shoulder, hip : ndarray, shape (k, 3), m, boot frame
        The right shoulder centre, arm hanging, and the hip centre.
    """

    q: Array
    rotation: Array
    shoulder: Array
    hip: Array


def trunks_of(figure: Figure, n: int) -> Trunks:
    """Return ``n`` sampled trunk postures of a figure, always the same ones."""
    return _trunks(figure.key, n)


@lru_cache(maxsize=256)
def _trunks(key: bytes, n: int) -> Trunks:
    p = np.frombuffer(key)
    u = np.clip(STRETCH * (2.0 * _lattice(n, 5) - 1.0), -1.0, 1.0)
    u[0] = 0.0
    u = u[np.argsort((u**2).sum(axis=1), kind="stable")]
    q = np.where(u < 0.0, -u * p[LOW:HIGH], u * p[HIGH:N_PARAMETERS])
    rotation, shoulder, hip = np.empty((n, 3, 3)), np.empty((n, 3)), np.empty((n, 3))
    for i in range(n):
        hip[i] = trunk_fk(p, q[i], rotation[i], shoulder[i])
    return Trunks(np.ascontiguousarray(q), rotation, shoulder, hip)


def _lattice(n: int, dimensions: int) -> Array:
    """Evenly spread points in the unit cube: steps by powers of the root of x^(d+1) = x + 1."""
    root = 1.5
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1.0, dimensions + 1)
    return np.asarray((0.5 + np.arange(n)[:, None] * steps) % 1.0, np.float64)
