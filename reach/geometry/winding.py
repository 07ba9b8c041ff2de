"""Inside or outside: the generalised winding number, summed over the tree.

It is 1 inside a closed shell with outward normals, 0 outside, 2 where two
shells overlap, and degrades gracefully where a mesh has holes.  Counting how
often a ray crosses the surface fails in all those cases; the winding number is
what decides here.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.distance import corners_of
from reach.geometry.queries import FEW, as_given, near_order, points_of
from reach.geometry.tree import STACK, Floats, Tree
from reach.geometry.vector import Vector, dot, minus

_MANY = 50
"""With more triangles it is worth while to look first which shells a point may lie in."""


def winding_number(tree: Tree, points: ArrayLike, beta: float = 3.0) -> Floats:
    """Return how many times the surface winds round each point.

    Positive where normals point outward.  Inside is ``abs(number) > 0.5``.

    Parameters
    ----------
    tree : Tree
    points : array_like, shape (n, 3) or (3,), m, world
    beta : float
        A node farther than `beta` times its radius stands for its triangles as
        a dipole.  ``inf`` sums every triangle: exact, slow.

    Returns
    -------
    number : ndarray, shape (n,)
        ``nan`` where a point is not finite.  On the surface itself it lies
        between the values of the two sides.

    Raises
    ------
    ValueError
        If a shape does not fit or `beta` is not positive.

    References
    ----------
    Jacobson, Kavan, Sorkine-Hornung, Robust inside-outside segmentation using
    generalized winding numbers, ACM TOG 32 (2013); Barill et al., Fast winding
    numbers for soups and clouds, ACM TOG 37 (2018).

    Examples
    --------
    >>> from reach.geometry import build
    >>> a, b, c, d = [0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]
    >>> tree = build([[a, c, b], [a, b, d], [a, d, c], [b, c, d]])
    >>> winding_number(tree, [[0.2, 0.2, 0.2], [2.0, 0.0, 0.0]]).round(2) + 0.0
    array([1., 0.])
    """
    if not beta > 0.0:
        raise ValueError(f"beta must be positive, not {beta}")
    p = points_of("points", points)
    number = np.empty(len(p))
    if len(p) < FEW:
        in_chunks(_rows, len(p), tree.tri, tree.moments, tree.link, p, float(beta), number)
        return number
    order = near_order(p)
    in_chunks(_rows, len(p), tree.tri, tree.moments, tree.link, p[order], float(beta), number)
    return as_given(order, number)


def inside(tree: Tree, points: ArrayLike, beta: float = 3.0) -> NDArray[np.bool_]:
    """Return whether each point lies inside the solids that the surface bounds.

    Parameters
    ----------
    tree : Tree
    points : array_like, shape (n, 3) or (3,), m, world
    beta : float
        As for :func:`winding_number`.

    Returns
    -------
    inside : ndarray of bool, shape (n,)
        ``abs(winding number) > 0.5``, and never outside the tree's bounds, nor outside the boxes
        of all its shells where they are closed: each of them winds round no point outside its box.
    """
    p = points_of("points", points)
    within = np.empty(len(p), np.bool_)
    if not _in_boxes(tree.box[:1], p, within):
        return within
    if tree.n_triangles > _MANY:
        rows = np.flatnonzero(within)
        if not _in_boxes(tree.shell_boxes, p[rows], some := np.empty(len(rows), np.bool_)):
            within[:] = False
            return within
        within[rows] = some
    within[within] = np.abs(winding_number(tree, p[within], beta)) > 0.5
    return within


@compiled
def _in_boxes(boxes: Any, p: Any, found: Any) -> bool:
    """Fill in which points lie in any of the boxes; return whether one does."""
    n_found = 0
    for i in range(len(p)):
        x, y, z = p[i, 0], p[i, 1], p[i, 2]
        found[i] = False
        for k in range(len(boxes)):
            if (
                boxes[k, 0] <= x <= boxes[k, 3]
                and boxes[k, 1] <= y <= boxes[k, 4]
                and boxes[k, 2] <= z <= boxes[k, 5]
            ):
                found[i] = True
                n_found += 1
                break
    return n_found > 0


@compiled
def _solid_angle(a: Vector, b: Vector, c: Vector) -> float:
    """Return the solid angle of a triangle seen from 0 (van Oosterom and Strackee, 1983)."""
    la = math.sqrt(dot(a, a))
    lb = math.sqrt(dot(b, b))
    lc = math.sqrt(dot(c, c))
    det = (
        a[0] * (b[1] * c[2] - b[2] * c[1])
        - a[1] * (b[0] * c[2] - b[2] * c[0])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
    )
    den = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
    return 2.0 * math.atan2(det, den)


@compiled
def winding_number_one(tri: Any, moments: Any, link: Any, p: Any, beta: float, stack: Any) -> float:
    """Return the winding number at one point, for compiled callers.

    Parameters
    ----------
    tri, moments, link : ndarray
        Of the tree.
    p : ndarray, shape (3,), m, world
    beta : float
        As for :func:`winding_number`.
    stack : ndarray of int32, shape (STACK,)
        Room to work in.

    Returns
    -------
    number : float
    """
    point = (p[0], p[1], p[2])
    total = 0.0
    stack[0] = 0
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        node = stack[n_stack]
        d = minus((moments[node, 0], moments[node, 1], moments[node, 2]), point)
        d2 = dot(d, d)
        reach = beta * moments[node, 6]
        if d2 > reach * reach:
            normal = (moments[node, 3], moments[node, 4], moments[node, 5])
            total += dot(d, normal) / (d2 * math.sqrt(d2))
            continue
        first = link[node, 0]
        if first >= 0:
            stack[n_stack] = first + 1
            stack[n_stack + 1] = first
            n_stack += 2
            continue
        for k in range(-first - 1, -first - 1 + link[node, 1]):
            a, b, c = corners_of(tri, k)
            total += _solid_angle(minus(a, point), minus(b, point), minus(c, point))
    return total / (4.0 * math.pi)


@compiled
def _rows(
    start: int,
    stop: int,
    tri: Any,
    moments: Any,
    link: Any,
    p: Any,
    beta: float,
    number: Any,
) -> None:
    stack = np.empty(STACK, np.int32)
    for i in range(start, stop):
        if np.isfinite(p[i, 0] + p[i, 1] + p[i, 2]):
            number[i] = winding_number_one(tri, moments, link, p[i], beta, stack)
        else:
            number[i] = np.nan
