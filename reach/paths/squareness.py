"""Which ways the flat faces of obstacles and cargo look: what people build stands square.

A pose turned squarely to what it has to pass through is hardly ever drawn by
chance, so those poses are listed.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import permutations, product

import numpy as np

from reach.geometry.tree import Floats, Tree

_SAME = np.cos(np.radians(3.0))
_SQUARE = np.sin(np.radians(3.0))
_MOST = 6


def frame_of(tree: Tree) -> Floats | None:
    """Return axes (columns) that most of the area of a surface is square to, or None.

    None where no two directions of faces are square to each other.
    """
    a, b, c = np.moveaxis(tree.tri.reshape(-1, 3, 3), 1, 0)
    normal = np.cross(b - a, c - a)
    area = np.linalg.norm(normal, axis=1)
    order = np.argsort(-area, kind="stable")[:2000]
    order = order[area[order] > 0.0]
    normal, area = normal[order] / area[order, None], area[order]
    ways: list[Floats] = []
    sums: list[float] = []
    for n, one in zip(normal, area, strict=True):
        for k, way in enumerate(ways):
            if abs(way @ n) > _SAME:
                sums[k] += one
                break
        else:
            ways.append(n)
            sums.append(float(one))
    ranked = [ways[k] for k in np.argsort(-np.array(sums), kind="stable")]
    for k, x in enumerate(ranked[:_MOST]):
        for y in ranked[k + 1 :]:
            if abs(x @ y) < _SQUARE:
                y = y - (x @ y) * x
                y /= np.linalg.norm(y)
                return np.column_stack([x, y, np.cross(x, y)])
    return None


def frames_of(trees: Iterable[Tree]) -> list[Floats]:
    """Return the axes that the faces of trees are square to: world axes first, each once."""
    frames = [np.eye(3)]
    for tree in trees:
        frame = frame_of(tree)
        if frame is None or len(frames) > _MOST:
            continue
        if all(np.abs(old.T @ frame).max(axis=0).min() < _SAME for old in frames):
            frames.append(frame)
    return frames


def quarter_turns() -> list[Floats]:
    """Return the 24 rotations that take a cube to itself."""
    out = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            turn = np.eye(3)[list(order)] * np.array(signs)
            if np.linalg.det(turn) > 0.0:
                out.append(turn)
    return out
