"""Where the tags of a view go: beside their points, inside the picture, not over one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom in pixels."""

RADII = (22.0, 32.0, 46.0, 60.0, 76.0, 104.0, 144.0, 192.0, 250.0, 320.0)
N_WAYS = 16
EDGE = 10.0
"""Tags keep this far from the edge of the view, px."""

_COVERED, _CROSSING, _ANCHOR = 22.0, 120.0, 120.0
_CLOSE = 19.0
_FAR = 60.0
"""A leader of this length counts double: rather over something than far away, px."""

_APART = 5.0


@dataclass(frozen=True, slots=True)
class Placed:
    """A box for a tag and the point it speaks of, both in pixels."""

    box: Box
    anchor: tuple[float, float]


def layout(
    anchors: Sequence[tuple[float, float]],
    sizes: Sequence[tuple[float, float]],
    view: tuple[float, float],
    busy: Array,
    kept: Sequence[Box] = (),
) -> list[Placed | None]:
    """Return a box for each tag in turn, the first ones served best; None where none is free.

    Parameters
    ----------
    anchors, sizes : sequence of (x, y), px
        Points spoken of, and width and height of the words.
    view : (width, height), px
    busy : ndarray, shape (n, 2), px
        Points that should stay in sight.
    kept : sequence of (left, top, right, bottom), px
        Where no tag may lie.
    """
    placed: list[Placed | None] = []
    for i, (anchor, size) in enumerate(zip(anchors, sizes, strict=True)):
        others = [a for k, a in enumerate(anchors) if k != i]
        taken = [p for p in placed if p is not None]
        best, least = None, math.inf
        for box in _candidates(anchor, size):
            if any(_overlap(box, other) for other in kept):
                continue
            if math.dist(nearest_point(box, anchor), anchor) < least:  # no cost is below this
                cost = _cost(box, anchor, view, busy, others, taken)
                if cost < least:
                    best, least = box, cost
        placed.append(None if best is None else Placed(best, anchor))
    return placed


def _candidates(anchor: tuple[float, float], size: tuple[float, float]) -> list[Box]:
    boxes = []
    w, h = size
    for radius in RADII:
        for k in range(N_WAYS):
            turn = 2.0 * math.pi * k / N_WAYS
            c, s = math.cos(turn), math.sin(turn)
            # The nearest point of the box, not its middle, lies at the radius.
            x = anchor[0] + radius * c + 0.5 * w * c
            y = anchor[1] + radius * s + 0.5 * h * s
            boxes.append((x - 0.5 * w, y - 0.5 * h, x + 0.5 * w, y + 0.5 * h))
    return boxes


def _cost(
    box: Box,
    anchor: tuple[float, float],
    view: tuple[float, float],
    busy: Array,
    others: Sequence[tuple[float, float]],
    taken: Sequence[Placed],
) -> float:
    left, top, right, bottom = box
    if left < EDGE or top < EDGE or right > view[0] - EDGE or bottom > view[1] - EDGE:
        return math.inf
    for other in taken:
        if _overlap(box, other.box):
            return math.inf
    end = nearest_point(box, anchor)
    away = math.dist(end, anchor)
    if away < _CLOSE:
        return math.inf
    cost = away * (1.0 + away / _FAR)
    inside = (busy[:, 0] > left) & (busy[:, 0] < right) & (busy[:, 1] > top) & (busy[:, 1] < bottom)
    cost += _COVERED * float(inside.sum())
    cost += _ANCHOR * sum(left - 8 < x < right + 8 and top - 8 < y < bottom + 8 for x, y in others)
    for other in taken:
        cost += _CROSSING * _cross(
            end, anchor, nearest_point(other.box, other.anchor), other.anchor
        )
        cost += _CROSSING * _meets(other.box, end, anchor)
        cost += _CROSSING * _meets(box, nearest_point(other.box, other.anchor), other.anchor)
    return cost


def _overlap(one: Box, other: Box) -> bool:
    """Return whether two boxes lie over each other or nearly so."""
    left, top, right, bottom = one
    a, b, c, d = other
    return left < c + _APART and a < right + _APART and top < d + _APART and b < bottom + _APART


def nearest_point(box: Box, anchor: tuple[float, float]) -> tuple[float, float]:
    """Return the point of a box nearest to an anchor."""
    left, top, right, bottom = box
    return min(max(anchor[0], left), right), min(max(anchor[1], top), bottom)


def _meets(box: Box, start: tuple[float, float], end: tuple[float, float]) -> bool:
    left, top, right, bottom = box
    for k in range(1, 8):
        x = start[0] + (end[0] - start[0]) * k / 8
        y = start[1] + (end[1] - start[1]) * k / 8
        if left < x < right and top < y < bottom:
            return True
    return False


def _cross(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> bool:
    def side(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0.0 and side(c, d, a) * side(c, d, b) < 0.0
