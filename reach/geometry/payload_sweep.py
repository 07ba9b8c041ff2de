"""Guaranteed clearance of a mesh that a rigid motion carries past the triangles of a tree.

No samples: what is left out is left out because a bound says so (the search
stands in :mod:`reach.geometry.payload_gap`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry.burial import buried_point
from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.gap_found import ROUGH, SweptGap, arrays_of, contact, goal_of, shown
from reach.geometry.motion_chain import Chain, chain_of, one_pose
from reach.geometry.payload_gap import least_payload_gap, new_room
from reach.geometry.sweeping import ROUNDING
from reach.geometry.tree import Floats, Tree
from reach.geometry.triangle import INF
from reach.geometry.vector import least

_SEEDS = 3

_CENTRE = (0.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class PathGap:
    """Least gap of a carried mesh over a chain of motions.

    Attributes
    ----------
    piece : int
        Which motion has the least gap, from 0; -1 without a witness.
    gap : SweptGap
        The bracket and the witness over the whole path, `time` within `piece`.
    low, high : ndarray, shape (k - 1,), m
        Bracket of the least gap of each piece.  A piece that cannot hold the
        least gap of the path is not narrowed further: its bracket may be wide.
    """

    piece: int
    gap: SweptGap
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)
class GapCurve:
    """Bracket of the least gap in each of many short spans of a path, in order.

    Attributes
    ----------
    start, stop : ndarray, shape (n,)
        The span: piece number plus time from 0 to 1.
    low, high : ndarray, shape (n,), m
        Bracket of the least gap in that span.
    """

    start: Floats
    stop: Floats
    low: Floats
    high: Floats


def swept_gap(
    tree_scene: Tree,
    tree_payload: Tree,
    start: ArrayLike,
    stop: ArrayLike,
    within: float = 1e-3,
    beyond: float = INF,
    enough: float | None = None,
    about: ArrayLike = _CENTRE,
) -> SweptGap:
    """Return a guaranteed bracket of the least gap of a mesh over one motion.

    The payload's point `about` runs straight at constant speed while the
    payload turns about it at a constant rate, about one axis and the shortest
    way, as ``R(t) = R0 exp(t theta [a])``.

    Parameters
    ----------
    tree_scene : Tree
        In the world.
    tree_payload : Tree
        In the payload's own frame.
    start, stop : array_like, shape (4, 4), world_from_payload
        Poses at time 0 and 1.  The rotation of `start` is used as it is.
    within : float, m
        How narrow the bracket has to be, 1e-6 m or more.
    beyond : float, m
        Gaps larger than this are not interesting and count as this large: the
        bracket is then that of the smaller of the two, and without a witness
        where nothing closer was met.
    enough : float, m, optional
        Ask only whether the gap is at least this.  The search ends once
        ``low >= enough`` is certain, or at a witness with ``high < enough``;
        then `low` is no more than a valid bound.  Within
        :data:`reach.geometry.sweeping.TIE` above `enough`, exact ties among
        them, it may end with ``low < enough <= high``: not decided.
    about : array_like, shape (3,), m, payload
        The point that runs straight; for a hinge a point of its axis.

    Returns
    -------
    gap : SweptGap
        ``low <= least gap <= high`` and, without `enough`,
        ``high - low <= within``.  1e-9 m is off `low` for rounding.

    Raises
    ------
    ValueError
        If a shape does not fit, a limit is negative or ``nan``, `within` is
        too small, or a pose is not finite or not rigid to 1e-6.

    Notes
    -----
    The certificate is one of the triangles: what meshes leave off round
    shapes has to be added by the caller.

    Examples
    --------
    >>> from reach.geometry import build, pose_of
    >>> floor = build([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    >>> left, right = (pose_of(np.eye(3), [x, 0.0, 0.5]) for x in (-5.0, 5.0))
    >>> gap = swept_gap(floor, floor, left, right)
    >>> gap.high, bool(gap.high - gap.low <= 1e-3)
    (0.5, True)
    """
    return path_gap(
        tree_scene,
        tree_payload,
        np.concatenate([one_pose("start", start), one_pose("stop", stop)]),
        within,
        beyond,
        enough,
        about,
    ).gap


def path_gap(
    tree_scene: Tree,
    tree_payload: Tree,
    poses: ArrayLike,
    within: float = 1e-3,
    beyond: float = INF,
    enough: float | None = None,
    about: ArrayLike = _CENTRE,
) -> PathGap:
    """Return a guaranteed bracket of the least gap of a mesh over a chain of motions.

    Every piece is looked at in a few poses first; the piece that comes nearest
    there is searched first, and the rest only for something still nearer.

    Parameters
    ----------
    poses : array_like, shape (k, 4, 4), world_from_payload
        Two or more; each piece runs from one to the next.
    tree_scene, tree_payload, within, beyond, enough, about
        As for :func:`swept_gap`.

    Returns
    -------
    gap : PathGap

    Raises
    ------
    ValueError
        As for :func:`swept_gap`, or with fewer than two poses.
    """
    chain = chain_of(poses, about)
    n = len(chain.poses) - 1
    close, certain, wanted, cap = goal_of(within, beyond, enough)
    trees = arrays_of(tree_scene), arrays_of(tree_payload)
    buried = buried_point(tree_scene, tree_payload, chain.poses[0])
    if buried is not None:
        gap = contact(tree_scene, tree_payload, chain.poses[0], buried)
        return PathGap(0, gap, np.zeros(n), np.zeros(n))
    goal = (close, certain, wanted, 1.0)
    found, seen = np.array([cap, 0.0, -1.0, -1.0]), np.full((n, 4), -1.0)
    low, best = np.zeros(n), np.array([-1], dtype=np.int64)
    seen[:, 0] = cap
    _search_path(*trees, chain.motions, chain.about, goal, found, seen, low, best)
    high = seen[:, 0].copy()
    piece = int(best[0])
    gap = _swept(tree_scene, tree_payload, chain, piece, found, float(low.min()))
    return PathGap(piece, gap, np.clip(low - ROUNDING, 0.0, high), high)


def gap_curve(
    tree_scene: Tree,
    tree_payload: Tree,
    poses: ArrayLike,
    spans: int = 50,
    within: float = 5e-3,
    beyond: float = INF,
    about: ArrayLike = _CENTRE,
) -> GapCurve:
    """Return a guaranteed bracket of the least gap in each of many spans of a path.

    What lies between two places of the path is bounded, not sampled: the lower
    line of a plot of these spans is nowhere above the gap.

    Parameters
    ----------
    poses : array_like, shape (k, 4, 4), world_from_payload
        Two or more; each piece runs from one to the next.
    spans : int
        Spans a piece is cut into, equal in time.
    tree_scene, tree_payload, within, beyond, about
        As for :func:`swept_gap`; they hold for each span.

    Returns
    -------
    curve : GapCurve

    Raises
    ------
    ValueError
        As for :func:`path_gap`, or if `spans` is not positive.
    """
    if spans < 1:
        raise ValueError(f"spans must be 1 or more, not {spans}")
    chain = chain_of(poses, about)
    n = (len(chain.poses) - 1) * spans
    close, certain, wanted, cap = goal_of(within, beyond, None)
    edges = np.arange(n + 1) / spans
    low, high = np.zeros(n), np.zeros(n)
    if buried_point(tree_scene, tree_payload, chain.poses[0]) is None:
        goal = (close, certain, wanted, cap)
        trees = arrays_of(tree_scene), arrays_of(tree_payload)
        in_chunks(
            _span_rows, n, *trees, chain.motions, chain.about, spans, goal, low, high, chunk=1
        )
    return GapCurve(edges[:-1], edges[1:], np.clip(low - ROUNDING, 0.0, high), high)


def _swept(
    scene: Tree, payload: Tree, chain: Chain, piece: int, found: Floats, low: float
) -> SweptGap:
    """Return bracket and witness from what a search of a path found."""
    rows = int(found[2]), int(found[3])
    if piece < 0:
        return shown(scene, payload, None, rows, found, low)
    placed = chain.placed(piece, found[1], payload.tri[rows[0]].reshape(3, 3))
    return shown(scene, payload, placed, rows, found, low)


@compiled
def _search_path(
    scene: Any,
    payload: Any,
    motions: Any,
    about: Any,
    goal: Any,
    found: Any,
    seen: Any,
    low: Any,
    best: Any,
) -> None:
    """Fill `found` for the path, `seen` and `low` for each piece, `best` with the piece found."""
    turn, origin, step, axis, angle = motions
    room = new_room()
    rough = (goal[0], goal[1], goal[2], ROUGH)
    n = len(low)
    for k in range(n):
        motion = (turn[k], origin[k], step[k], axis[k], angle[k])
        for seed in range(_SEEDS):
            t = (0.5, 0.0, 1.0)[seed]
            least_payload_gap(scene, payload, motion, about, (t, t), rough, seen[k], room)
        if seen[k, 0] < found[0]:
            found[:] = seen[k]
            best[0] = k
        if found[0] <= 0.0 or found[0] < goal[2]:
            return
    for k in np.argsort(seen[:, 0]):
        motion = (turn[k], origin[k], step[k], axis[k], angle[k])
        before = found[0]
        low[k] = least_payload_gap(scene, payload, motion, about, (0.0, 1.0), goal, found, room)
        if found[0] < before:
            seen[k] = found
            best[0] = k
        low[k] = least(low[k], found[0])
        if found[0] <= 0.0 or found[0] < goal[2]:
            return
    k = best[0]
    if k >= 0 and goal[2] == -np.inf:
        # The pair that gave the gap away need not be the nearest one at that time.
        motion = (turn[k], origin[k], step[k], axis[k], angle[k])
        here, nearest = (found[1], found[1]), (ROUNDING, goal[1], goal[2], 1.0)
        least_payload_gap(scene, payload, motion, about, here, nearest, found, room)
        seen[k] = found


@compiled
def _span_rows(
    start: int,
    stop: int,
    scene: Any,
    payload: Any,
    motions: Any,
    about: Any,
    spans: int,
    goal: Any,
    low: Any,
    high: Any,
) -> None:
    turn, origin, step, axis, angle = motions
    room = new_room()
    found = np.empty(4)
    for i in range(start, stop):
        k, j = i // spans, i % spans
        motion = (turn[k], origin[k], step[k], axis[k], angle[k])
        t0, t1 = j / spans, (j + 1) / spans
        found[0], found[1], found[2], found[3] = goal[3], 0.0, -1.0, -1.0
        exact = (goal[0], goal[1], goal[2], 1.0)
        rough = (goal[0], goal[1], goal[2], ROUGH)
        middle = (0.5 * (t0 + t1), 0.5 * (t0 + t1))
        least_payload_gap(scene, payload, motion, about, middle, rough, found, room)
        bound = least_payload_gap(scene, payload, motion, about, (t0, t1), exact, found, room)
        high[i] = found[0]
        low[i] = least(bound, found[0])
