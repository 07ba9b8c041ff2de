"""Signed clearance between capsules and the solids of a tree."""

from __future__ import annotations

from numpy.typing import ArrayLike

from reach.geometry.distance import segment_distance
from reach.geometry.queries import points_of, values_of
from reach.geometry.tree import Floats, Tree
from reach.geometry.triangle import INF
from reach.geometry.winding import inside


def capsule_clearance(
    tree: Tree, p: ArrayLike, q: ArrayLike, radius: ArrayLike, within: ArrayLike = INF
) -> Floats:
    """Return the gap between each capsule and the solids, negative when they overlap.

    The gap is the distance from the capsule's axis to the surface less the
    radius.  Where the whole axis lies inside a solid (winding number, not ray
    parity) it is minus that distance, less the radius.

    Parameters
    ----------
    tree : Tree
    p, q : array_like, shape (n, 3) or (3,), m, world
        Ends of each axis.  A capsule whose ends coincide is a sphere.
    radius : array_like, shape () or (n,), m
        0 for the bare axis.
    within : array_like, shape () or (n,), m
        Axes farther than this from the surface, and outside, count as that
        far: the gap is then a lower bound.

    Returns
    -------
    gap : ndarray, shape (n,), m
        Where the axis crosses the surface it is ``-radius``: an overlap for
        certain, of *at least* that depth.  ``nan`` where an axis is not finite.

    Raises
    ------
    ValueError
        If a shape does not fit or `radius` or `within` is negative or ``nan``.

    Examples
    --------
    >>> from reach.geometry import build
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> capsule_clearance(tree, [0.2, 0.2, 0.5], [0.2, 0.2, 2.0], 0.1)
    array([0.4])
    """
    starts = points_of("p", p)
    n = len(starts)
    ends = points_of("q", q, n)
    radii = values_of("radius", radius, n)
    distance = segment_distance(tree, starts, ends, within).distance
    deep = inside(tree, 0.5 * (starts + ends)) & (distance > 0.0)
    if deep.any():
        distance[deep] = -segment_distance(tree, starts[deep], ends[deep]).distance
    return distance - radii
