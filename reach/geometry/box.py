"""Lower bounds of the distance to a box, for walking the tree."""

from __future__ import annotations

from typing import Any

from reach.geometry.compiled import inlined
from reach.geometry.vector import Vector, along, dot, greatest, least


@inlined
def point_box2(p: Vector, box: Any) -> float:
    """Return the squared distance (m^2) of a point to a box (lowest, highest corner)."""
    x = greatest(greatest(box[0] - p[0], p[0] - box[3]), 0.0)
    y = greatest(greatest(box[1] - p[1], p[1] - box[4]), 0.0)
    z = greatest(greatest(box[2] - p[2], p[2] - box[5]), 0.0)
    gap2: float = x * x + y * y + z * z
    return gap2


@inlined
def segment_box2(middle: Vector, half: Vector, per_length2: float, box: Any) -> float:
    """Return a lower bound (m^2) of the squared distance of a segment to a box.

    The bound is the larger of two: the gap between the boxes round both, and
    the gap along the line from the segment to the box's centre, which is the
    tighter one for slanting segments.

    Parameters
    ----------
    middle, half : (x, y, z), m
        The segment is ``middle +- half``.
    per_length2 : float, 1/m^2
        ``1 / dot(half, half)``, or 0 for a segment without length.
    box : ndarray, shape (6,), m
        Lowest and highest corner.

    Returns
    -------
    bound : float, m^2
    """
    rx = 0.5 * (box[3] - box[0])
    ry = 0.5 * (box[4] - box[1])
    rz = 0.5 * (box[5] - box[2])
    c = (box[0] + rx - middle[0], box[1] + ry - middle[1], box[2] + rz - middle[2])
    x = greatest(abs(c[0]) - abs(half[0]) - rx, 0.0)
    y = greatest(abs(c[1]) - abs(half[1]) - ry, 0.0)
    z = greatest(abs(c[2]) - abs(half[2]) - rz, 0.0)
    gap2: float = x * x + y * y + z * z
    c = along(c, -least(greatest(dot(c, half) * per_length2, -1.0), 1.0), half)
    cc = dot(c, c)
    gap = cc - abs(c[0]) * rx - abs(c[1]) * ry - abs(c[2]) * rz
    if gap > 0.0 and gap * gap > gap2 * cc:
        gap2 = gap * gap / cc
    return gap2
