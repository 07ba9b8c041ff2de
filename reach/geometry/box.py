"""Lower bounds of the distance from a segment to a box, for walking the tree."""

from __future__ import annotations

from typing import Any

from reach.geometry.compiled import compiled
from reach.geometry.vector import Vector


@compiled
def point_box2(p: Vector, box: Any, node: int) -> float:
    """Return the squared distance (m^2) of a point to box `node`."""
    x = max(max(box[node, 0] - p[0], p[0] - box[node, 3]), 0.0)
    y = max(max(box[node, 1] - p[1], p[1] - box[node, 4]), 0.0)
    z = max(max(box[node, 2] - p[2], p[2] - box[node, 5]), 0.0)
    return x * x + y * y + z * z


@compiled
def segment_box2(middle: Vector, half: Vector, box: Any, node: int) -> float:
    """Return a lower bound (m^2) of the squared distance of a segment to box `node`.

    The segment is ``middle +- half``.  The bound is the larger of two: the gap
    between the boxes round both, and the gap along the line from the segment
    to the box's centre, which is the tighter one for slanting segments.
    """
    rx = 0.5 * (box[node, 3] - box[node, 0])
    ry = 0.5 * (box[node, 4] - box[node, 1])
    rz = 0.5 * (box[node, 5] - box[node, 2])
    cx = box[node, 0] + rx - middle[0]
    cy = box[node, 1] + ry - middle[1]
    cz = box[node, 2] + rz - middle[2]
    x = max(abs(cx) - abs(half[0]) - rx, 0.0)
    y = max(abs(cy) - abs(half[1]) - ry, 0.0)
    z = max(abs(cz) - abs(half[2]) - rz, 0.0)
    gap2 = x * x + y * y + z * z
    hh = half[0] * half[0] + half[1] * half[1] + half[2] * half[2]
    if hh > 0.0:
        s = (cx * half[0] + cy * half[1] + cz * half[2]) / hh
        s = min(max(s, -1.0), 1.0)
        cx -= s * half[0]
        cy -= s * half[1]
        cz -= s * half[2]
    ww = cx * cx + cy * cy + cz * cz
    gap = ww - abs(cx) * rx - abs(cy) * ry - abs(cz) * rz
    if gap > 0.0 and gap * gap > gap2 * ww:
        return gap * gap / ww
    return gap2
