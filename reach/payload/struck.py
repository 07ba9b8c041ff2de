"""Whether what is moved goes into a body for certain: shown at a moment, by the body's capsules.

Facets stand outside of the capsules that they are laid round, so facets that touch are no proof.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, capsule_clearance, inverse, segment_distance, transform_points
from reach.payload.courses import Course
from reach.payload.grazing import HAIR

Array = NDArray[np.float64]

N_MOMENTS = 65
"""Moments at which contact is looked for."""


@dataclass(frozen=True, eq=False, slots=True)
class Strike:
    """Contact that is certain: when, nearest points (m, world), row of the triangle of the one."""

    moment: float
    on_one: Array
    on_other: Array
    face: int


def struck(
    one: tuple[Tree, Course], capsules: Array, other: Course, span: tuple[float, float],
    excess: float,
) -> Strike | None:  # fmt: skip
    """Return where a thing goes deepest into capsules, of some moments; None where it is not shown.

    What just touches, to a hair, is not shown: by rounding it would be or not.

    Parameters
    ----------
    one : (Tree, Course)
        The tree in the frame of its thing.
    capsules : ndarray, shape (n, 7), m
        In the frame of the other.
    other : Course
    span : (float, float)
        Moments of both.
    excess : float, m
        How far the facets of the one may stand outside its true surface.
    """
    tree, course = one
    moments = np.linspace(span[0], span[1], N_MOMENTS)
    places = [(course.pose_at(t), other.pose_at(t)) for t in moments]
    ends = [
        transform_points(inverse(mine) @ theirs, capsules[:, :6].reshape(-1, 3))
        for mine, theirs in places
    ]
    p, q = np.moveaxis(np.concatenate(ends).reshape(-1, 2, 3), 1, 0)
    radius = np.tile(capsules[:, 6], len(moments))
    gaps = capsule_clearance(tree, p, q, radius, radius + HAIR)
    i = int(np.argmin(gaps))
    if gaps[i] + excess >= -HAIR:
        return None
    near = segment_distance(tree, p[i : i + 1], q[i : i + 1])
    k = i // len(capsules)
    points = transform_points(places[k][0], np.array([near.on_mesh[0], near.on_query[0]]))
    return Strike(float(moments[k]), points[0], points[1], int(near.face[0]))
