"""Guaranteed clearance of capsules that a rigid body carries past the triangles of a tree.

No samples: what is left out is left out because a bound says so (the search
stands in :mod:`reach.geometry.least_gap`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.distance import segment_distance
from reach.geometry.least_gap import N_KEPT, N_SPANS, least_gap, show_witness
from reach.geometry.motion import fill_paths, turn_between
from reach.geometry.queries import finite_points_of, values_of
from reach.geometry.tree import STACK, Floats, Tree
from reach.geometry.triangle import INF
from reach.geometry.vector import least
from reach.geometry.winding import inside

ROUNDING = 1e-9
"""What is taken off a bound because arithmetic is not rounded outward (m)."""

TIE = 1e-6
"""Gaps nearer than this to the least one asked for may stay undecided (m)."""

_CHUNK = 4
_OFF_RIGID = 1e-6


@dataclass(frozen=True, eq=False)
class Swept:
    """Least gap of a body's capsules over a whole motion, one row a leg.

    The gap of a capsule is the distance from its axis to the surface less its
    radius.  A capsule whose whole axis lies inside a solid at time 0 counts
    throughout with its gap at time 0, minus that distance less the radius: an
    overlap for certain, of at least that depth.  The same holds of an axis that
    meets the surface on its way: its gap counts as ``-radius``.

    Attributes
    ----------
    low, high : ndarray, shape (n,), m
        Bracket of the least gap over all capsules and times.  ``nan`` where a
        pose is not finite.
    time : ndarray, shape (n,)
        When the gap is `high`, from 0 to 1.  ``nan`` without a witness.
    capsule : ndarray of int64, shape (n,)
        Which capsule has that gap, or -1.
    on_axis, on_mesh : ndarray, shape (n, 3), m, world
        Witness points on its axis and on the surface; ``nan`` without one.
    face : ndarray of int64, shape (n,)
        Row of that triangle in what the tree was built from, or -1.
    """

    low: Floats
    high: Floats
    time: Floats
    capsule: NDArray[np.int64]
    on_axis: Floats
    on_mesh: Floats
    face: NDArray[np.int64]


def swept_clearance(
    tree: Tree,
    start: ArrayLike,
    stop: ArrayLike,
    p: ArrayLike,
    q: ArrayLike,
    radius: ArrayLike,
    within: ArrayLike = 1e-3,
    beyond: ArrayLike = INF,
    enough: ArrayLike | None = None,
    about: ArrayLike = (0.0, 0.0, 0.0),
) -> Swept:
    """Return a guaranteed bracket of the least gap of a moving body's capsules.

    The body point `about` runs straight at constant speed while the body turns
    about it at a constant rate, about one axis and the shortest way, as
    ``R(t) = R0 exp(t theta [a])``.

    Parameters
    ----------
    tree : Tree
    start, stop : array_like, shape (n, 4, 4) or (4, 4), world_from_body
        Poses at time 0 and 1; one `stop` serves all.  The rotation of `start`
        is used as it is.
    p, q : array_like, shape (m, 3) or (3,), m, body
        Ends of the capsules' axes; one capsule at least.
    radius : array_like, shape () or (m,), m
    within : array_like, shape () or (n,), m
        How narrow the bracket has to be, 1e-6 m or more.
    beyond : array_like, shape () or (n,), m
        Gaps larger than this are not interesting and count as this large: the
        bracket is then that of the smaller of the two, and without a witness
        where nothing closer was met.  Never less than just above `enough`:
        give that for the quickest yes or no.
    enough : array_like, shape () or (n,), m, optional
        Ask only whether the gap is at least this.  The search ends once
        ``low >= enough`` is certain, or at a witness with ``high < enough``;
        then, and with wide brackets, `low` is no more than a valid bound.
        Within :data:`TIE` above `enough`, exact ties among them, it may end
        with ``low < enough <= high``: not decided.
    about : array_like, shape (3,), m, body
        The point that runs straight.

    Returns
    -------
    swept : Swept
        ``low <= least gap <= high`` and, without `enough`,
        ``high - low <= within``.  1e-9 m is off `low` for rounding.

    Raises
    ------
    ValueError
        If a shape does not fit, a capsule is not finite, a radius or limit is
        negative or ``nan``, or a finite pose is not rigid to 1e-6.

    Notes
    -----
    The certificate is one of the triangles: what a mesh leaves off a round
    shape has to be added by the caller.

    Examples
    --------
    >>> from reach.geometry import build, pose_of
    >>> tree = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> left, right = (pose_of(np.eye(3), [x, 0.2, 0.5]) for x in (-5.0, 5.0))
    >>> swept = swept_clearance(tree, left, right, [0, 0, 0], [0, 0, 1], 0.1)
    >>> swept.high, bool(swept.high - swept.low <= 1e-3)
    (array([0.4]), True)
    """
    starts = poses_of("start", start)
    n = len(starts)
    stops = poses_of("stop", stop, n)
    ends, radii = _capsules_of(p, q, radius)
    centre = finite_points_of("about", about, 1)[0]
    near = values_of("within", within, n)
    if not (near >= TIE).all():
        raise ValueError(f"within must be at least {TIE} m, found {near.min()}")
    limit = values_of("beyond", beyond, n)
    wanted = np.full(n, -INF) if enough is None else values_of("enough", enough, n)
    limit = np.maximum(limit, wanted + 2.0 * TIE)
    # One numpy pass for all legs: what a leg's search needs of its motion.
    known = np.isfinite(starts + stops).all(axis=(1, 2)).reshape(n)
    starts, stops = (np.where(known[:, None, None], x, np.eye(4)) for x in (starts, stops))
    axis, angle = turn_between(starts[:, :3, :3], stops[:, :3, :3])
    origin = starts[:, :3, :3] @ centre + starts[:, :3, 3]
    step = stops[:, :3, :3] @ centre + stops[:, :3, 3] - origin
    deep = _gaps_inside(tree, starts, ends, radii)
    bracket = np.full((n, 2), np.nan)
    time, row = np.full(n, np.nan), np.full((n, 2), -1, dtype=np.int64)
    points = np.full((n, 2, 3), np.nan)
    motions = (starts, origin, step, axis, angle, ends - centre, radii)
    asked = (known, deep, near, limit, wanted)
    answers = (bracket, time, row, points)
    in_chunks(_rows, n, (tree.tri, tree.box, tree.link), motions, asked, answers, chunk=_CHUNK)
    face = np.where(row[:, 1] >= 0, tree.face[row[:, 1]], -1).astype(np.int64)
    return Swept(bracket[:, 0], bracket[:, 1], time, row[:, 0], points[:, 0], points[:, 1], face)


def poses_of(name: str, given: ArrayLike, n: int | None = None) -> Floats:
    """Return rigid poses as an array of rows.

    Parameters
    ----------
    name : str
        Of the argument, for the message.
    given : array_like, shape (n, 4, 4) or (4, 4)
    n : int, optional
        Rows wanted.  One row is repeated.

    Returns
    -------
    poses : ndarray, shape (n, 4, 4)
        Rows that are not finite pass.

    Raises
    ------
    ValueError
        If the shape does not fit, or a finite pose is not rigid to 1e-6.
    """
    poses = np.asarray(given, dtype=np.float64)
    if poses.ndim == 2 and poses.size:
        poses = poses[None]
    if poses.size == 0:
        poses = poses.reshape(0, 4, 4)
    if poses.ndim != 3 or poses.shape[1:] != (4, 4):
        raise ValueError(f"{name} must have shape (n, 4, 4) or (4, 4), not {np.shape(given)}")
    if n is not None and len(poses) != n:
        if len(poses) != 1:
            raise ValueError(f"{name} has {len(poses)} poses where {n} are asked")
        poses = np.broadcast_to(poses, (n, 4, 4))
    rows = np.ascontiguousarray(poses)
    bad = _first_not_rigid(rows)
    if bad >= 0:
        raise ValueError(f"{name} row {bad} is not a rigid pose: {rows[bad].tolist()}")
    return rows


@compiled
def _first_not_rigid(poses: Any) -> int:
    """Return the first row that is finite and no rigid pose, else -1."""
    for i in range(len(poses)):
        r = poses[i]
        off = max(abs(r[3, 0]), abs(r[3, 1]), abs(r[3, 2]), abs(r[3, 3] - 1.0))
        for j in range(3):
            for k in range(3):
                square = r[0, j] * r[0, k] + r[1, j] * r[1, k] + r[2, j] * r[2, k]
                off = max(off, abs(square - (1.0 if j == k else 0.0)))
        det = (
            r[0, 0] * (r[1, 1] * r[2, 2] - r[1, 2] * r[2, 1])
            - r[0, 1] * (r[1, 0] * r[2, 2] - r[1, 2] * r[2, 0])
            + r[0, 2] * (r[1, 0] * r[2, 1] - r[1, 1] * r[2, 0])
        )
        if max(off, abs(det - 1.0)) > _OFF_RIGID and np.isfinite(r).all():
            return i
    return -1


def _capsules_of(p: ArrayLike, q: ArrayLike, radius: ArrayLike) -> tuple[Floats, Floats]:
    """Return both ends of each axis in turn, shape (2 m, 3), and the radii, shape (m,)."""
    heads = finite_points_of("p", p)
    m = len(heads)
    if m == 0:
        raise ValueError("a body needs at least one capsule")
    radii = values_of("radius", radius, m)
    if not np.isfinite(radii).all():
        raise ValueError("radius must be finite")
    ends = np.stack([heads, finite_points_of("q", q, m)], axis=1)
    return ends.reshape(2 * m, 3), radii


def _gaps_inside(tree: Tree, starts: Floats, ends: Floats, radii: Floats) -> Floats:
    """Return the gap at time 0 of capsules that lie inside a solid, others ``inf``, (n, m)."""
    world = np.einsum("nij,kj->nki", starts[:, :3, :3], ends) + starts[:, None, :3, 3]
    heads, tails = world[:, ::2].reshape(-1, 3), world[:, 1::2].reshape(-1, 3)
    gap = np.full(len(heads), INF)
    deep = inside(tree, 0.5 * (heads + tails))
    gap[deep] = -segment_distance(tree, heads[deep], tails[deep]).distance
    return gap.reshape(len(starts), len(radii)) - radii


@compiled
def _rows(start: int, stop: int, tree: Any, motions: Any, asked: Any, answers: Any) -> None:
    starts, origin, step, axis, angle, arms, radii = motions
    known, deep, near, limit, wanted = asked
    bracket, time, row, points = answers
    paths = np.empty((len(arms), 3, 3))
    found = np.empty(4)
    room = (
        np.empty(STACK, np.int32),
        np.empty(STACK),
        np.empty((N_SPANS, 4)),
        np.empty(N_KEPT, np.int32),
    )
    for i in range(start, stop):
        if not known[i]:
            continue
        fill_paths(starts[i, :3, :3], origin[i], axis[i], arms, paths)
        found[0] = limit[i]
        found[1] = 0.0
        found[2] = found[3] = -1.0
        # A bracket is narrow, or what is asked for certain, with the rounding taken off.
        close = near[i] - 4.0 * ROUNDING
        certain = np.inf
        if wanted[i] > -np.inf:
            close = least(close, TIE)
            certain = wanted[i] + 2.0 * ROUNDING
        goal = (close, certain, wanted[i])
        motion = (paths, step[i], angle[i])
        low = least_gap(tree, motion, radii, deep[i], goal, found, room)
        if found[2] >= 0.0:
            show_witness(tree, motion, radii, found, room, row[i], points[i])
            time[i] = found[1]
        bracket[i, 0] = least(low, found[0]) - ROUNDING
        bracket[i, 1] = found[0]
