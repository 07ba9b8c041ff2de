"""Many figures at one target: bounds, postures and refutations for a whole crowd at once.

Every person is a row and writes only to that row, so an answer depends neither on the number
of threads nor on who else is asked.  The kernels are those of one person (`reach.worker.bound`,
`posing`, `cells`); here they only run over rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree
from reach.geometry.compiled import compiled, in_chunks
from reach.geometry.tree import STACK
from reach.worker.bound import N_BOXES, proved
from reach.worker.cells import N_CELLS, refute
from reach.worker.chain import N_FREEDOMS, N_OUT, N_WORK, evaluate, trunk_fk
from reach.worker.figure import ALONG, Figure
from reach.worker.posing import (
    CLEAR,
    EFFORTS,
    SEEN,
    Target,
    fault_of,
    keep,
    pose_search,
    walk,
    world_of,
)
from reach.worker.shadow import Shadows
from reach.worker.sweep import boxes_for
from reach.worker.trunks import Trunks
from reach.worker.volume import N_ARM, N_IDLE, Bulk, arm_capsules, body_capsules

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

UNTRIED = 99.0
"""Fault of a person for whom no posture came near enough to be looked at."""

_FOLLOW_GATE = 0.6
"""Only starts with a fault below this (rad) are walked on."""

_CHUNK, _HARD_CHUNK = 16, 1


@dataclass(frozen=True, eq=False, slots=True)
class Many:
    """Figures in one kind of suit with one tool, stacked for the kernels.

    Attributes
    ----------
    p : ndarray, shape (n, N_PARAMETERS)
    shells : ndarray, shape (n, m, 7), m
    sizes : ndarray, shape (n, 15), m
    bulk : Bulk
        What is the same for all: tool, view, names.
    """

    p: Array
    shells: Array
    sizes: Array
    bulk: Bulk


@dataclass(frozen=True, eq=False, slots=True)
class Scope:
    """One target among structure, as the kernels want it.

    Attributes
    ----------
    target : Target
    tree : Tree
        The structure, world.
    world_from_boots : ndarray, shape (4, 4)
        Of the right-handed question, see `reach.worker.posing.find_held`.
    """

    target: Target
    tree: Tree
    world_from_boots: Array


def stack(figures: Sequence[Figure], bulks: Sequence[Bulk]) -> Many:
    """Return the stacked figures; suit and tool must be the same for all."""
    p = np.array([figure.p for figure in figures])
    p.flags.writeable = False
    return Many(
        p,
        np.array([bulk.shells for bulk in bulks]),
        np.array([bulk.sizes for bulk in bulks]),
        bulks[0],
    )


def shortages(many: Many, target: Target, who: Rows, sharp: bool = False) -> Array:
    """Return the proved shortage of reach (m) of each person in ``who``.

    Above zero is a proof; without ``sharp`` the metres stop at the first one.
    """
    short = np.empty(len(who))
    enough = np.inf if sharp else 0.0
    in_chunks(
        _shortage_rows, len(who), many.p, who, target.tip, target.direction, enough, N_BOXES, short,
        chunk=_CHUNK,
    )  # fmt: skip
    return short


def followed(
    many: Many, scope: Scope, who: Rows, starts: Array, n_steps: int
) -> tuple[Array, Array]:
    """Carry known postures over to other bodies.

    Parameters
    ----------
    starts : ndarray, shape (len(who), k, 9)
        Postures to start from, tried in this order.
    n_steps : int
        Steps downhill from each, when none of them holds as it is.

    Returns
    -------
    fault : ndarray, shape (len(who),)
        At most 0: a posture that reaches, is clear and sees.
    x : ndarray, shape (len(who), 9)
    """
    fault, x = np.full(len(who), UNTRIED), np.zeros((len(who), N_FREEDOMS))
    if starts.shape[1]:
        in_chunks(
            _follow_rows, len(who), *_arrays(many, who), *_question(scope), starts, n_steps, fault,
            x, chunk=_CHUNK,
        )  # fmt: skip
    return fault, x


def searched(
    many: Many, scope: Scope, who: Rows, trunks: Trunks, effort: str
) -> tuple[Array, Array]:
    """Search a posture for each person as `reach.worker.posing.find_held` does.

    Parameters
    ----------
    trunks : Trunks
        Of any of the figures: only the angles are used.
    effort : str
        A key of `reach.worker.posing.EFFORTS`.

    Returns
    -------
    fault, x
        As of `followed`.
    """
    fault, x = np.full(len(who), UNTRIED), np.zeros((len(who), N_FREEDOMS))
    in_chunks(
        _search_rows, len(who), *_arrays(many, who), *_question(scope), trunks.q, EFFORTS[effort],
        fault, x, chunk=_HARD_CHUNK,
    )  # fmt: skip
    return fault, x


def refuted(
    many: Many,
    scope: Scope,
    who: Rows,
    need: Array,
    shadows: Shadows,
    wanted: int,
    n_max: int = N_CELLS,
) -> NDArray[np.bool_]:
    """Return for whom every cell of trunk postures is refuted, see `refute_cells`."""
    done = np.zeros(len(who), np.bool_)
    target = scope.target
    in_chunks(
        _refute_rows, len(who), *_arrays(many, who), target.tip, target.direction,
        world_of(scope.tree, scope.world_from_boots), need,
        (len(target.spots), target.share, target.angle),
        (shadows.planes, shadows.start, shadows.stop, shadows.spot), wanted, n_max, done,
        chunk=_HARD_CHUNK,
    )  # fmt: skip
    return done


def capsules(many: Many, target: Target, who: Rows, x: Array) -> Array:
    """Return the capsules of each posture, shape (len(who), n_capsules, 7), m, boot frame."""
    out = np.empty((len(who), len(many.bulk.names), 7))
    in_chunks(
        _capsule_rows, len(who), *_arrays(many, who), target.tip, target.direction, x, out,
        chunk=_CHUNK,
    )  # fmt: skip
    return out


def _arrays(many: Many, who: Rows) -> tuple[object, ...]:
    bulk = many.bulk
    return who, many.p, many.shells, many.sizes, (bulk.tool, bulk.view, bulk.n_body)


def _question(scope: Scope) -> tuple[object, ...]:
    target = scope.target
    ask = (target.spots, target.need, target.share, target.angle)
    return target.tip, target.direction, world_of(scope.tree, scope.world_from_boots), ask


@compiled
def _buffers(n_body, n_tool):
    """Work arrays of `reach.worker.posing.fault_of`."""
    return (
        np.empty((N_WORK, 3)), np.empty(N_OUT), np.empty((3, 3)), np.empty(3), np.empty(3),
        np.empty((n_body + N_IDLE, 7)), np.empty((N_ARM + n_tool, 7)),
        (np.empty((4, 3)), np.empty(STACK, np.int32), np.empty(STACK)),
    )  # fmt: skip


@compiled
def _shortage_rows(start, stop, p, who, tip, direction, enough, n_boxes, short):
    boxes, frame, centre = boxes_for(n_boxes), np.empty((4, 3)), np.empty(3)
    for i in range(start, stop):
        mine = p[who[i]]
        for a in range(3):
            centre[a] = tip[a] - mine[ALONG] * direction[a]
        short[i] = proved(mine, centre, direction, enough, n_boxes, boxes, frame)


@compiled
def _follow_rows(
    start, stop, who, p, shells, sizes, common, tip, direction, world, ask, starts, n_steps, fault,
    x,
):  # fmt: skip
    tool, view, n_body = common
    k = starts.shape[1]
    buffers = _buffers(n_body, tool.shape[0])
    seeds, faults, owner = np.empty((k, N_FREEDOMS)), np.empty(k), np.empty(k, np.int64)
    measured, best = np.empty(7), np.empty(7)
    for i in range(start, stop):
        mine = p[who[i]]
        kit = (shells[who[i]], sizes[who[i]], tool, view, n_body)
        faults[:] = UNTRIED
        owner[:] = -1
        for j in range(k):
            f = fault_of(
                mine, tip, direction, starts[i, j], CLEAR | SEEN, faults[k - 1], world, kit, ask,
                buffers, measured,
            )  # fmt: skip
            if f <= 0.0:
                fault[i] = f
                x[i] = starts[i, j]
                break
            keep(seeds, faults, owner, starts[i, j], f, j)
        if fault[i] <= 0.0:
            continue
        fault[i] = walk(
            mine, tip, direction, CLEAR | SEEN, world, kit, ask, buffers, seeds, faults, n_steps,
            _FOLLOW_GATE, x[i], best,
        )  # fmt: skip


@compiled
def _search_rows(
    start, stop, who, p, shells, sizes, common, tip, direction, world, ask, q, grid, fault, x
):
    tool, view, n_body = common
    buffers = _buffers(n_body, tool.shape[0])
    n = q.shape[0]
    rotation, shoulder, best = np.empty((n, 3, 3)), np.empty((n, 3)), np.empty(7)
    for i in range(start, stop):
        mine = p[who[i]]
        kit = (shells[who[i]], sizes[who[i]], tool, view, n_body)
        for k in range(n):
            trunk_fk(mine, q[k], rotation[k], shoulder[k])
        fault[i] = pose_search(
            mine, q, rotation, shoulder, tip, direction, CLEAR | SEEN, world, kit, ask, grid,
            buffers, x[i], best,
        )  # fmt: skip


@compiled
def _refute_rows(
    start, stop, who, p, shells, sizes, common, tip, direction, world, need, ask, shadows, wanted,
    n_max, done,
):  # fmt: skip
    tool, view, n_body = common
    buffers = _buffers(n_body, tool.shape[0])
    counts = np.zeros(3, np.int64)
    for i in range(start, stop):
        kit = (shells[who[i]], sizes[who[i]], tool, view, n_body)
        proof, _ = refute(
            p[who[i]], tip, direction, world, kit, need, ask, shadows, wanted, n_max, buffers,
            counts,
        )  # fmt: skip
        done[i] = proof


@compiled
def _capsule_rows(start, stop, who, p, shells, sizes, common, tip, direction, x, out):
    tool, _, n_body = common
    n = n_body + N_IDLE
    work, found, rotation, shoulder, eye, _, _, _ = _buffers(n_body, tool.shape[0])
    for i in range(start, stop):
        mine = p[who[i]]
        evaluate(mine, tip, direction, x[i], work, found)
        arm_capsules(mine, sizes[who[i]], tool, work, found, out[i, n:])
        body_capsules(
            mine, x[i], shells[who[i]], sizes[who[i]], rotation, shoulder, eye, out[i, :n]
        )
