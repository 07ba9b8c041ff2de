"""Table of what one figure reaches: signed distance of the tool tip to the edge, by direction.

Places are cells of a grid in the boot frame, directions are spread evenly over the sphere.
For each direction the cells that are reached are found by a flood (`reach.table.flood`); their
signed distance to the nearest cell on the other side is what is kept.  A cell that was not
found may still be reached: the table ranks and prunes, verdicts come from the checks.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import in_chunks
from reach.table.flood import N_NEAR, flood
from reach.worker.chain import N_FREEDOMS, trunk_fk
from reach.worker.figure import ACROSS, ALONG, HIGH, LOW, N_PARAMETERS, R_MAX, RISE, Figure
from reach.worker.margin import sphere_points
from reach.worker.search import find_postures

Array = NDArray[np.float64]

STEP = 0.10
"""Edge of a cell, m."""

N_DIRECTIONS = 162
"""Tool directions: nearest neighbours are about 15 deg apart."""

N_ROUNDS = 4
"""Rounds in which directions look at their neighbours; later ones found next to nothing."""

N_SEEDS = 40
"""Places asked for each direction to start from."""


@dataclass(frozen=True, eq=False, slots=True)
class ReachTable:
    """What one figure reaches with the right hand, by joint limits alone.

    Attributes
    ----------
    figure_key : bytes
        ``Figure.key`` of the figure it was made for.
    step : float, m
        Edge of a cell.
    directions : ndarray, shape (n, 3)
        Unit vectors the tool points along, boot frame.
    low : ndarray, shape (3,), m, boot frame
        Corner of the grid; the middle of cell (i, j, k) is low + step (i + 0.5, ...).
    depth : ndarray of float32, shape (n, nx, ny, nz), m
        Signed distance of the cell's middle to the edge of what is reached, above 0 inside.
    radius : float, m
        No cell's middle that is reached is farther from the boot origin.
    """

    figure_key: bytes
    step: float
    directions: Array
    low: Array
    depth: NDArray[np.float32]
    radius: float


def build_table(
    figure: Figure,
    say: Callable[[str], None] | None = None,
    step: float = STEP,
    n_directions: int = N_DIRECTIONS,
) -> ReachTable:
    """Return the table of a figure; the same one however many threads there are.

    Parameters
    ----------
    figure : Figure
    say : callable, optional
        Told how far it is, in words.
    step : float, m
    n_directions : int
        Fewer and larger make a coarse table in less time.
    """
    directions = sphere_points(n_directions)
    low, shape = _grid(figure, step)
    found = _reached(figure, directions, low, step, shape, say)
    inside = found.reshape(n_directions, *shape) > 0
    low, inside = _cropped(low, step, inside)
    cells = np.argwhere(inside.any(axis=0))
    middles = low + step * (cells + 0.5)
    radius = float(np.linalg.norm(middles, axis=1).max()) if len(middles) else 0.0
    return ReachTable(figure.key, step, directions, low, _depths(inside, step), radius)


def _grid(figure: Figure, step: float) -> tuple[Array, tuple[int, int, int]]:
    """Return corner and shape of a grid that holds every tool tip, boot frame."""
    p = figure.p
    rotation, shoulder = np.empty((3, 3)), np.empty(3)
    places = []
    ends = [(p[LOW + i], 0.0, p[HIGH + i]) for i in range(N_PARAMETERS - HIGH)]
    for q in itertools.product(*ends):
        trunk_fk(p, np.array(q), rotation, shoulder)
        places += [shoulder.copy(), shoulder + p[RISE] * rotation[:, 2]]
    arm = p[R_MAX] + math.hypot(p[ALONG], p[ACROSS])
    low, high = np.min(places, axis=0) - arm, np.max(places, axis=0) + arm
    # The grid is pinned to the boots: a little more arm does not move every cell.
    first, last = np.floor(low / step), np.ceil(high / step)
    nx, ny, nz = (last - first).astype(int).tolist()
    return first * step, (nx, ny, nz)


def _reached(
    figure: Figure,
    directions: Array,
    low: Array,
    step: float,
    shape: tuple[int, int, int],
    say: Callable[[str], None] | None,
) -> NDArray[np.uint8]:
    """Return the round in which each cell (n directions, cells) was found, 0 if it was not."""
    n, cells = len(directions), math.prod(shape)
    found, starts = np.zeros((n, cells), np.uint8), np.zeros((n, cells), np.uint8)
    lacks = np.empty((n, cells), np.float32)
    postures = np.empty((n, cells, N_FREEDOMS), np.float32)
    _seed(figure, directions, low, step, shape, found, postures)
    cosines = directions @ directions.T
    near = np.argsort(-cosines, axis=1, kind="stable")[:, 1 : 1 + N_NEAR]
    near = np.ascontiguousarray(near, np.int64)
    for turn in range(2, 2 + N_ROUNDS):
        before = int((found > 0).sum())
        in_chunks(
            flood, n, figure.p, directions, near, low, step, np.array(shape, np.int64), turn,
            found, starts, lacks, postures, chunk=1,
        )  # fmt: skip
        gained = int((found == turn).sum())
        if say:
            say(f"round {turn - 1}: {before + gained:,} cells reached")
        if gained == 0:
            break
    return found


def _seed(
    figure: Figure,
    directions: Array,
    low: Array,
    step: float,
    shape: tuple[int, int, int],
    found: NDArray[np.uint8],
    postures: NDArray[np.float32],
) -> None:
    """Mark (1) some cells of each direction that a short search reaches."""
    n, cells = found.shape
    # A different spread of cells for each direction, by steps of the golden section.
    pick = (np.arange(n * N_SEEDS) * 0.6180339887498949) % 1.0
    cell = np.minimum((pick * cells).astype(np.int64), cells - 1)
    way = np.repeat(np.arange(n), N_SEEDS)
    middles = low + step * (np.stack(np.unravel_index(cell, shape), axis=1) + 0.5)
    answer = find_postures(figure, middles, directions[way], "quick")
    ok = answer.violation <= 0.0
    found[way[ok], cell[ok]] = 1
    postures[way[ok], cell[ok]] = answer.x[ok]


def _cropped(low: Array, step: float, inside: NDArray[np.bool_]) -> tuple[Array, NDArray[np.bool_]]:
    """Return corner and cells of the part of the grid that is reached, one more on each side."""
    reached = np.argwhere(inside.any(axis=0))
    if len(reached) == 0:
        return low, inside
    first, last = reached.min(axis=0) - 1, reached.max(axis=0) + 2
    padded = np.pad(inside, ((0, 0), (1, 1), (1, 1), (1, 1)))
    window = tuple(slice(a + 1, b + 1) for a, b in zip(first, last, strict=True))
    return low + step * first, padded[(slice(None), *window)]


def _depths(inside: NDArray[np.bool_], step: float) -> NDArray[np.float32]:
    """Return the signed distance to the nearest cell on the other side, less half a cell, m."""
    from scipy.ndimage import distance_transform_edt  # takes long, and few runs need it

    depth = np.empty(inside.shape, np.float32)
    nowhere = -step * math.hypot(*inside.shape[1:])
    for k, cells in enumerate(inside):
        if cells.any():
            within = distance_transform_edt(cells)
            beyond = distance_transform_edt(~cells)
            depth[k] = step * np.where(cells, within - 0.5, 0.5 - beyond)
        else:
            depth[k] = nowhere
    return depth
