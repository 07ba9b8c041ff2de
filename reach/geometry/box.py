"""Lower bounds of the distance to a box, for walking the tree."""

from __future__ import annotations

from typing import Any

from reach.geometry.compiled import inlined
from reach.geometry.vector import Vector, along, dot, greatest, least


@inlined
def point_box2(p: Vector, box: Any, node: int) -> float:
    """Return the squared distance (m^2) of a point to box `node`."""
    x = greatest(greatest(box[node, 0] - p[0], p[0] - box[node, 3]), 0.0)
    y = greatest(greatest(box[node, 1] - p[1], p[1] - box[node, 4]), 0.0)
    z = greatest(greatest(box[node, 2] - p[2], p[2] - box[node, 5]), 0.0)
    gap2: float = x * x + y * y + z * z
    return gap2


@inlined
def segment_box2(middle: Vector, half: Vector, per_length2: float, box: Any, node: int) -> float:
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
    box : ndarray, shape (m, 6), m
        Lowest and highest corner of each node.
    node : int
        Not negative.

    Returns
    -------
    bound : float, m^2
    """
    rx = 0.5 * (box[node, 3] - box[node, 0])
    ry = 0.5 * (box[node, 4] - box[node, 1])
    rz = 0.5 * (box[node, 5] - box[node, 2])
    c = (
        box[node, 0] + rx - middle[0],
        box[node, 1] + ry - middle[1],
        box[node, 2] + rz - middle[2],
    )
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
