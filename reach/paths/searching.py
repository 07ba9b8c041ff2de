"""The search itself: plain ways, drawn poses, and a smaller cargo as a guide.

What it asks depends on the seed and on the count of motions; the clock only ends it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import count, pairwise

import numpy as np

from reach.geometry.tree import Floats
from reach.paths.growing import N_DRAWS, compile_now, grow, planted, settle, way_back
from reach.paths.keeping import leg_kept, new_desk, state_kept
from reach.paths.plain_ways import plain_way
from reach.paths.pushing import pushed
from reach.paths.shortening import shortened
from reach.paths.states import N_STATE, between, fill_turn, length_of
from reach.paths.world import Cargo, Packed, shrunk

Say = Callable[[int, int, str], None]

_ROWS = 16
"""Poses drawn between two looks at the clock."""
_N_MOST = 20_000
_FIRST, _LATER, _GUIDED = 4_000, 10_000, 4_000
"""Motions of two trees with the cargo as it is, with a small one, and with a way to go by."""
_SMALLEST, _STEP, _FINEST = 0.25, 0.15, 0.03
"""Size of the cargo at first, by how much it grows at most, and at least."""
_LESS = 0.85
"""How much smaller a cargo is that shows which way leads off."""
_DEPTH = 6
_LOOKS = 100
_N_GUIDE = 60
_NO_GUIDE = np.empty((0, N_STATE))
_SHORTENING, _TIDYING = 400, 150
"""Motions that shortening the way asks about, and that of the smallest cargo."""


def _even(way: list[Floats], arm: float) -> Floats:
    """Return states evenly spread over a way, its ends left out, shape (n, 7)."""
    edges = np.cumsum([0.0, *(length_of(a, b, arm) for a, b in pairwise(way))])
    out = np.empty((_N_GUIDE, N_STATE))
    for row, at in zip(out, np.linspace(0.0, edges[-1], _N_GUIDE + 2)[1:-1], strict=True):
        k = min(int(np.searchsorted(edges, at, "right")) - 1, len(way) - 2)
        between(way[k], way[k + 1], (at - edges[k]) / (edges[k + 1] - edges[k]), row)
    return out


class Search:
    """Counts motions, and stops in time."""

    def __init__(self, world: Packed, motions: int, seconds: float, say: Say) -> None:
        self.world, self.most, self.say = world, motions, say
        self.desk = new_desk(len(world.pairs))
        self.tried = 0
        compile_now(world, self.desk)
        still = np.array([0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0])
        pushed(world, world, 0.1, still, self.desk, still.copy())
        self.until = time.monotonic() + seconds

    @property
    def over(self) -> bool:
        """Whether motions or time have run out."""
        return self.tried >= self.most or time.monotonic() > self.until

    def kept(self, a: Floats, b: Floats) -> bool:
        """Return whether a motion is certified."""
        self.tried += 1
        return leg_kept(self.world, a, b, self.desk)

    def is_inside(self, state: Floats, box: Floats) -> bool:
        """Return whether the cargo's centre is in the box."""
        turn = np.empty((3, 3))
        fill_turn(state, turn)
        centre = state[:3] + turn @ (self.world.centre - self.world.about)
        return bool(np.all((centre >= box[0]) & (centre <= box[1])))

    def plain(self, ends: list[Floats], cargo: Cargo, box: Floats) -> list[Floats] | None:
        """Return states of a plain way, if one is kept."""
        span = float((box[1] - box[0]).max())
        self.say(self.tried, self.most, "plain ways")

        def kept(a: Floats, b: Floats) -> bool:
            inside = self.is_inside(b, box)
            return inside and not self.over and self.kept(a, b)

        return plain_way(ends[0], ends[1], kept, cargo.radius, span, self.world.arm)

    def drawn(
        self, ends: list[Floats], box: Floats, rng: np.random.Generator
    ) -> list[Floats] | None:
        """Return states of a way found between drawn poses, or None.

        Where a first attempt fails, the same is asked of a smaller cargo; its
        way guides the search with a larger one, until the cargo has its size.
        """
        way = self.joined(self.world, ends, box, _NO_GUIDE, rng, _FIRST)
        while way is None and not self.over:
            way = self.swollen(ends, box, rng)
        return way

    def swollen(
        self, ends: list[Floats], box: Floats, rng: np.random.Generator
    ) -> list[Floats] | None:
        """Return states of a way that was found for a smaller cargo first."""
        way, share, step = None, 0.0, _SMALLEST
        while step >= _FINEST and not self.over:
            size = min(share + step, 1.0)
            world = shrunk(self.world, size)
            if not all(state_kept(world, end, self.desk) for end in ends):
                share = size  # a hollow cargo may shrink into what it holds
                continue
            bigger = self.widened(share, size, ends, way, box, rng)
            if bigger is None:
                if way is None:
                    return None
                step *= 0.5
                continue
            way, share, step = bigger, size, min(2.0 * step, _STEP)
            if size == 1.0:
                return way
        return None

    def widened(
        self,
        old: float,
        size: float,
        ends: list[Floats],
        way: list[Floats] | None,
        box: Floats,
        rng: np.random.Generator,
    ) -> list[Floats] | None:
        """Return a way of a cargo of a size, by the way of a smaller one."""
        world = shrunk(self.world, size)
        if way is None:
            way = self.joined(world, ends, box, _NO_GUIDE, rng, _LATER)
            return way and self.shorter(way, rng, world, _TIDYING)
        larger = [x for x in (0.5 + 0.5 * size, 1.0) if x > size]
        near = self.settled([old, size, *larger], _even(way, self.world.arm), box, rng)
        if len(near) == 0:
            return None
        mended = self.mended((shrunk(self.world, _LESS * size), world), ends, box, near, rng)
        return mended or self.joined(world, ends, box, near, rng, _GUIDED)

    def settled(
        self, sizes: list[float], guide: Floats, box: Floats, rng: np.random.Generator
    ) -> Floats:
        """Return poses near those of a guide that keep every gap, with as large a cargo as found.

        The first of `sizes` is the one that the guide was made with.
        """
        worlds = [shrunk(self.world, size) for size in sizes]
        out = []
        for known in guide:
            best, here = None, known
            for k, world in enumerate(worlds[1:]):
                grown = sizes[k + 1] / sizes[k] - 1.0
                state = self.eased(worlds[k], world, grown, here, box, rng, k == 0)
                if state is None:
                    break
                best = here = state
            if best is not None:
                out.append(best)
        return np.array(out).reshape(-1, N_STATE)

    def eased(
        self,
        small: Packed,
        large: Packed,
        grown: float,
        known: Floats,
        box: Floats,
        rng: np.random.Generator,
        looks: bool = True,
    ) -> Floats | None:
        """Return a pose near a known one that a larger cargo keeps its gaps in, or None."""
        state = np.empty(N_STATE)
        if pushed(small, large, grown, known, self.desk, state):
            return state
        draws = rng.random((_LOOKS if looks else 0, N_DRAWS))
        return state if settle(large, known, box, draws, self.desk, state) else None

    def mended(
        self,
        worlds: tuple[Packed, Packed],
        ends: list[Floats],
        box: Floats,
        near: Floats,
        rng: np.random.Generator,
    ) -> list[Floats] | None:
        """Return a way along poses that are each kept, with more put in where a leg is not."""
        way = [ends[0]]
        for there in [*near, ends[1]]:
            part = self.bridged(worlds, way[-1], there, box, rng, _DEPTH)
            if part is None:
                continue
            way += part
        return way if way[-1] is ends[1] else None

    def bridged(
        self,
        worlds: tuple[Packed, Packed],
        a: Floats,
        b: Floats,
        box: Floats,
        rng: np.random.Generator,
        depth: int,
    ) -> list[Floats] | None:
        """Return states after `a` that lead to `b`, or None."""
        self.tried += 1
        if leg_kept(worlds[1], a, b, self.desk):
            return [b]
        if depth == 0 or self.over:
            return None
        middle = np.empty(N_STATE)
        between(a, b, 0.5, middle)
        state = self.eased(*worlds, 1.0 / _LESS - 1.0, middle, box, rng)
        if state is None:
            return None
        first = self.bridged(worlds, a, state, box, rng, depth - 1)
        if first is None:
            return None
        then = self.bridged(worlds, state, b, box, rng, depth - 1)
        return None if then is None else first + then

    def joined(
        self,
        world: Packed,
        ends: list[Floats],
        box: Floats,
        guide: Floats,
        rng: np.random.Generator,
        most: int,
    ) -> list[Floats] | None:
        """Return states of a way found by two trees in about `most` motions, or None."""
        trees, met = planted(ends[0], ends[1], _N_MOST), np.full(2, -1)
        until = min(self.tried + most, self.most)
        for block in count():
            room = trees.size.max() < _N_MOST - 20
            if self.over or self.tried >= until or not room:
                return None
            if block % 8 == 0:
                self.say(self.tried, self.most, f"{int(trees.size.sum())} poses reached")
            draws = rng.random((_ROWS, N_DRAWS))
            left = until - self.tried
            self.tried += grow(world, trees, box, guide, draws, left, self.desk, met)
            if met[0] >= 0:
                way = way_back(trees, 0, int(met[0]))[::-1]
                return way + way_back(trees, 1, int(met[1]))[1:]
        return None

    def shorter(
        self,
        way: list[Floats],
        rng: np.random.Generator,
        world: Packed,
        motions: int = _SHORTENING,
    ) -> list[Floats]:
        """Return the way shortened; what it asks depends on motions alone, never on time."""

        def kept(a: Floats, b: Floats) -> bool:
            self.tried += 1
            return bool(leg_kept(world, a, b, self.desk))

        return shortened(way, kept, self.world.arm, rng, motions)
