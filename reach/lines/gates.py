"""What every line of a class must pass: a lower bound on its length.

A plane is cut by the structure into parts.  How often a line crosses one part,
counted with its sign, does not change while the line is moved without crossing
structure, because the edge of the part is structure all round (or infinitely
far).  So where the led line's count is not zero, every line of its class goes
through that part at some point x, and is at least ``|a - x| + |x - b|`` long.
Parts are found on a grid whose cells count as closed only where they lie wholly
inside the solids; that can but join parts, and then the counts add up.  Inside
is told by the winding number, so the bound holds for closed surfaces.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, inside, point_distance

Floats = NDArray[np.float64]

_CELLS = 80
"""Cells across a gate, each way."""
_HALVINGS = 5
"""Times the cells that could hold the shortest way are halved."""
_GATES = 6
"""Places along the tightened line that gates are laid through, each with two directions."""
_APART = 0.02
"""Gates are laid no nearer to each other than this, m."""
_ASIDE = 1.234e-6
"""Gates lie this far (m) beside the corner, so that no led corner lies in one."""
_EVERY_NEIGHBOUR = np.ones((3, 3), int)


@dataclass(frozen=True, eq=False, slots=True)
class Passage:
    """What is asked of every gate.

    Attributes
    ----------
    tree : Tree
    led : ndarray, shape (k, 3), m
        The line that names the class.
    off : float, m
        Lines are held this far off the surface.
    high : float, m
        Longer lines are not interesting.
    exempt : float, m
        As near to an end nothing counts as closed.
    """

    tree: Tree
    led: Floats
    off: float
    high: float
    exempt: float

    def way(self, x: Floats) -> tuple[Floats, Floats]:
        """Return |a - x| + |x - b| and its gradient, shapes (n,) and (n, 3)."""
        total, slope = np.zeros(len(x)), np.zeros((len(x), 3))
        for end in (self.led[0], self.led[-1]):
            d = x - end
            size = np.linalg.norm(d, axis=1)
            total += size
            slope += d / np.maximum(size, 1e-12)[:, None]
        return total, slope

    def room(self, x: Floats, within: float) -> Floats:
        """Return how far the surface is from each point, or `within` where it is farther, m."""
        return point_distance(self.tree, x, within).distance

    def depth(self, x: Floats, radius: float, cells: Cells) -> Floats:
        """Return how deep cells of half-diagonal `radius` lie inside solids at least, m.

        Negative outside.  Known as far as `radius` and ``off`` matter.
        """
        deep = np.where(cells.inside, cells.room, -cells.room) - radius - 1e-9
        for end in (self.led[0], self.led[-1]):
            deep[np.linalg.norm(x - end, axis=1) < self.exempt + radius] = -np.inf
        return np.asarray(deep)


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """What is known of the middles of cells: how far the surface is, and on which side they lie.

    No surface lies within ``room`` of a middle, so all within it lie on the same side: the winding
    number, which takes long, is asked for once wherever cells hang together like that.
    """

    room: Floats
    inside: NDArray[np.bool_]

    def of(self, some: NDArray[Any]) -> Cells:
        """Return the same of some of the cells."""
        return Cells(self.room[some], self.inside[some])


def gate_bound(passage: Passage, taut: Floats) -> float:
    """Return a lower bound on the length of every line of the class, m.

    Parameters
    ----------
    passage : Passage
    taut : ndarray, shape (m, 3), m
        A line of the class, tightened: gates are laid where it turns.

    Returns
    -------
    low : float, m
        At most ``passage.high``; 0 where no gate says anything.
    """
    a, b = passage.led[0], passage.led[-1]
    if len(taut) < 3:
        return 0.0
    low = 0.0
    for at, along in _places(passage, taut):
        for normal in (b - a, along):
            size = float(np.linalg.norm(normal))
            if size > 1e-6:
                low = max(low, _gate(passage, at, normal / size))
    return min(low, passage.high)


def _places(passage: Passage, taut: Floats) -> list[tuple[Floats, Floats]]:
    """Return where to lay gates, and how the line runs there: at corners and between them."""
    along = np.diff(taut, axis=0)
    along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-12)[:, None]
    at = np.concatenate([taut[1:-1], 0.5 * (taut[1:-2] + taut[2:-1])])
    way = np.concatenate([along[:-1] + along[1:], along[1:-1]])
    chosen: list[int] = []
    for i in np.argsort(-passage.way(at)[0], kind="stable"):
        apart = np.linalg.norm(at[chosen] - at[i], axis=1)
        if len(chosen) < _GATES and (apart > _APART).all():
            chosen.append(int(i))
    return [(at[i], way[i]) for i in chosen]


def _gate(passage: Passage, at: Floats, normal: Floats) -> float:
    at = at + _ASIDE * normal
    side = (passage.led - at) @ normal
    if (np.abs(side) < 1e-9).any():
        return 0.0
    across = np.linalg.svd(normal[None])[2][1:]
    origin, half = _extent(passage, at, normal, across)
    if (half <= 0.0).any():
        return 0.0
    from scipy import ndimage  # takes long, and not every run needs it

    step = 2.0 * half / _CELLS
    ticks = [(np.arange(_CELLS) + 0.5) * w - h for h, w in zip(half, step, strict=True)]
    grid = np.stack(np.meshgrid(*ticks, indexing="ij"), axis=-1).reshape(-1, 2)
    radius = 0.5 * float(np.hypot(*step))
    x = origin + grid @ across
    bound = _cell_bound(passage, x, across, radius)
    near = bound <= passage.high
    known = _grid_cells(passage, x, near, step)
    depth = np.where(near, passage.depth(x, radius, known), -np.inf)
    part, _ = ndimage.label((depth < 0.0).reshape(_CELLS, _CELLS), _EVERY_NEIGHBOUR)
    outer = int(part.max()) + 1
    part = _joined_at_the_rim(part, outer)
    low = 0.0
    for name, count in _counts(
        passage.led, side, (origin, across, half, step), part, outer
    ).items():
        if count and name > 0:
            cells = near & (part.ravel() == name) & (depth < -passage.off)
            low = max(low, _shortest(passage, x[cells], across, step, known.of(cells)))
    return low


def _grid_cells(passage: Passage, x: Floats, near: NDArray[np.bool_], step: Floats) -> Cells:
    """Return what is known of the cells of a whole grid; all but the `near` are taken to be out."""
    from scipy import ndimage  # takes long, and not every run needs it

    widest = float(step.max())
    radius = 0.5 * float(np.hypot(*step))
    room = np.zeros(len(x))
    room[near] = passage.room(x[near], max(passage.off + 1.01 * radius, 1.001 * widest))
    name, n_names = ndimage.label((room > widest).reshape(_CELLS, _CELLS))
    name = name.ravel()
    alone = np.flatnonzero(near & (name == 0))
    name[alone] = n_names + 1 + np.arange(len(alone))
    _, first = np.unique(name[name > 0], return_index=True)
    found = np.zeros(n_names + len(alone) + 1, np.bool_)
    found[1:] = inside(passage.tree, x[np.flatnonzero(name > 0)[first]])
    return Cells(room, found[name])


def _halved(passage: Passage, x: Floats, radius: float, before: Cells) -> Cells:
    """Return what is known of cells whose parents' middles are `radius` off: four a parent."""
    room = passage.room(x, passage.off + 1.01 * radius)
    within = np.repeat(before.inside, 4)
    asked = np.repeat(before.room <= 1.001 * radius, 4)
    within[asked] = inside(passage.tree, x[asked])
    return Cells(room, within)


def _extent(passage: Passage, at: Floats, normal: Floats, across: Floats) -> tuple[Floats, Floats]:
    """Return middle and half sides of a rectangle that holds every way not too long."""
    a, b = passage.led[0], passage.led[-1]
    long = 0.5 * passage.high
    apart = float(np.linalg.norm(b - a))
    short2 = max(long**2 - 0.25 * apart**2, 0.0)
    axis = (b - a) / max(apart, 1e-12)
    share = (across @ axis) ** 2
    half = np.sqrt(long**2 * share + short2 * (1.0 - share))
    middle = 0.5 * (a + b)
    return middle - ((middle - at) @ normal) * normal, np.asarray(half)


def _cell_bound(passage: Passage, x: Floats, across: Floats, radius: float) -> Floats:
    """Return the shortest way through each cell at least: the way is convex in x."""
    total, slope = passage.way(x)
    return np.asarray(total - np.linalg.norm(slope @ across.T, axis=1) * radius)


def _joined_at_the_rim(part: NDArray[np.int32], outer: int) -> NDArray[np.int32]:
    """Return the parts; all that reach the rim of the grid are one, which goes on beyond it."""
    rim = np.unique(np.concatenate([part[0], part[-1], part[:, 0], part[:, -1]]))
    return np.where(np.isin(part, rim[rim > 0]), outer, part).astype(np.int32)


def _counts(
    led: Floats,
    side: Floats,
    grid: tuple[Floats, Floats, Floats, Floats],
    part: NDArray[np.int32],
    outer: int,
) -> dict[int, int]:
    """Return how often, signed, the led line crosses each part."""
    origin, across, half, step = grid
    counts: dict[int, int] = {}
    for i in np.flatnonzero(side[:-1] * side[1:] < 0.0):
        x = led[i] + side[i] / (side[i] - side[i + 1]) * (led[i + 1] - led[i])
        row, column = np.floor((across @ (x - origin) + half) / step).astype(int)
        held = 0 <= row < _CELLS and 0 <= column < _CELLS
        name = int(part[row, column]) if held else outer
        counts[name] = counts.get(name, 0) + int(np.sign(side[i + 1]))
    return counts if counts.get(0, 0) == 0 else {}


def _shortest(passage: Passage, x: Floats, across: Floats, step: Floats, known: Cells) -> float:
    """Return the shortest way through the cells at least, each halved where it could hold it."""
    low = passage.high
    for halving in range(_HALVINGS + 1):
        if not len(x):
            return passage.high
        radius = 0.5 * float(np.hypot(*step))
        total = passage.way(x)[0]
        bound = _cell_bound(passage, x, across, radius)
        depth = passage.depth(x, radius, known)
        open_ = depth < -passage.off
        centre_open = depth + radius + 2e-9 < -passage.off
        least = float(total[centre_open].min(initial=passage.high))
        kept = open_ & (bound <= least)
        x, bound = x[kept], bound[kept]
        low = min(passage.high, float(bound.min(initial=passage.high)))
        if halving < _HALVINGS:
            step = 0.5 * step
            corners = np.array([[i, j] for i in (-0.5, 0.5) for j in (-0.5, 0.5)]) * step
            x = (x[:, None, :] + (corners @ across)[None]).reshape(-1, 3)
            known = _halved(passage, x, 0.5 * radius, known.of(kept))
    return low
