"""A line as it was led, made to lie outside the structure: what names its class."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, inside, point_distance, segment_distance

Floats = NDArray[np.float64]

_DEEPEST = 9
"""Times a stretch that cuts through structure is halved before it is given up."""


def length(points: Floats) -> float:
    """Return the length of a polyline, shape (k, 3), m."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def led_round(tree: Tree, points: Floats, off: float) -> tuple[Floats, tuple[int, ...]]:
    """Return the line with every stretch that cuts through structure led round it.

    A rail ends before an edge and the next begins behind it: the straight piece
    between cuts the edge off.  Such a piece is halved, its middle brought out to
    the nearest way out, and both halves looked at again.

    Parameters
    ----------
    tree : Tree
    points : ndarray, shape (k, 3), m, world
    off : float, m
        How far off the surface a middle is brought.

    Returns
    -------
    line : ndarray, shape (m, 3), m, world
    lifted : tuple of int
        The stretches ``points[i]`` to ``points[i + 1]`` that had to be led round.

    Raises
    ------
    ValueError
        If a point lies inside the structure, or no way round is found.
    """
    deep = np.flatnonzero(inside(tree, points))
    if len(deep):
        raise ValueError(f"the line is led through structure at {_place(points[deep[0]])}")
    crossed = segment_distance(tree, points[:-1], points[1:], within=1e-3).distance < 1e-7
    line, lifted = [points[0]], []
    for i, bad in enumerate(crossed):
        if bad:
            line += _round(tree, points[i], points[i + 1], off, _DEEPEST)
            lifted.append(i)
        line.append(points[i + 1])
    return np.array(line), tuple(lifted)


def brought_out(tree: Tree, x: Floats, off: float, toward: Floats) -> Floats:
    """Return the point `off` (m) outside the surface that is nearest to `x`, or nearly.

    Parameters
    ----------
    tree : Tree
    x : ndarray, shape (3,), m, world
    off : float, m
    toward : ndarray, shape (3,), m, world
        Tells which side is meant where `x` lies on the surface.
    """
    for _ in range(8):
        found = point_distance(tree, x)
        deep, distance = bool(inside(tree, x)[0]), float(found.distance[0])
        if not deep and distance >= 0.999 * off:
            break
        away = x - found.on_mesh[0]
        if distance < 1e-9:
            row = int(np.flatnonzero(tree.face == found.face[0])[0])
            a, b, c = tree.tri[row].reshape(3, 3)
            away = np.cross(b - a, c - a)
            away = away * np.copysign(1.0, away @ (toward - x))
            sides = x + off * np.outer([1.0, -1.0], away / np.linalg.norm(away))
            deep = bool(inside(tree, sides)[0])
        away = away / max(float(np.linalg.norm(away)), 1e-300)
        x = found.on_mesh[0] + (-off if deep else off) * away
    return x


def _round(tree: Tree, p: Floats, q: Floats, off: float, depth: int) -> list[Floats]:
    ends = float(point_distance(tree, np.array([p, q]), within=off).distance.min())
    if segment_distance(tree, p, q, within=off).distance[0] >= 0.5 * ends:
        return []
    if depth == 0:
        raise ValueError(f"no way round the structure between {_place(p)} and {_place(q)}")
    middle = brought_out(tree, 0.5 * (p + q), off, q)
    before = _round(tree, p, middle, off, depth - 1)
    return [*before, middle, *_round(tree, middle, q, off, depth - 1)]


def _place(x: Floats) -> str:
    return "(" + ", ".join(f"{v:.3f}" for v in x) + ") m"
