"""All the cuts of an order: what may be done by some moment, as positions in the lanes.

A cut holds with each event all that must come before it.  With four lanes of 15 events
there are at most 16^4 of them, where there are up to 10^32 orders.

Events that cannot matter to a question are left out first.  That is exact: every order
of the kept events that the kept part of the partial order allows can be filled up with
the other events to an order of all (and the other way round, leaving events out).
"""

from __future__ import annotations

from math import prod

import numpy as np
import numpy.typing as npt

from reach.orders.order import Ints, Order, Place

_TOO_MANY = 2**62
"""Cut numbers must fit into 64 bits."""


class Lattice:
    """Cuts of some events of an order, layer by layer: a layer is all cuts of one size.

    Parameters
    ----------
    order : Order
    kept : iterable of Place
        The events that matter.
    most : int
        No more cuts than this; the layers that are there are complete.

    Attributes
    ----------
    cuts : array (n, lanes with kept events)
        Positions among the kept events of a lane.
    layers : list of slice
        The cuts of each size, from the empty one on.
    sources, targets, done : arrays (n_edges,)
        From which cut to which an event leads, and its number in ``events``; by source.
    begins : array (n + 1,)
        Where the edges of a cut begin; they end where those of the next begin.
    parents, by : arrays (n,)
        One cut before, and the event done in between; -1 for the empty cut.
    whole : bool
        Whether all cuts are there.
    """

    def __init__(self, order: Order, kept: frozenset[Place], most: int) -> None:
        self.order = order
        lanes = sorted({i for i, _ in kept})
        self.lanes = np.array(lanes, dtype=np.int64)
        self.kept = [np.array(sorted(p for i, p in kept if i == j), dtype=np.int64) for j in lanes]
        self.events: list[Place] = [
            (i, int(p)) for i, positions in zip(lanes, self.kept, strict=True) for p in positions
        ]
        self.sizes = np.array([len(positions) for positions in self.kept], dtype=np.int64)
        self.starts = np.concatenate([[0], np.cumsum(self.sizes)]).astype(np.int64)
        self._done_with = [
            np.vstack(
                [np.zeros(len(order.lanes), dtype=np.int64)]
                + [order.done_with((i, int(p))) for p in positions]
            )
            for i, positions in zip(lanes, self.kept, strict=True)
        ]
        self._grow(most)

    def __len__(self) -> int:
        return len(self.cuts)

    def seen(self, done: Ints) -> Ints:
        """Return how many kept events of each lane with some are among the first of each lane."""
        return np.array(
            [np.searchsorted(p, done[i]) for i, p in zip(self.lanes, self.kept, strict=True)],
            dtype=np.int64,
        )

    def all_done(self, cuts: npt.NDArray[np.integer]) -> Ints:
        """Return how many events of each lane of the order must be done in cuts, (n, lanes)."""
        done = np.zeros((len(cuts), len(self.order.lanes)), dtype=np.int64)
        for column, vectors in enumerate(self._done_with):
            np.maximum(done, vectors[cuts[:, column]], out=done)
        return done

    def way_to(self, cut: int) -> list[Place]:
        """Return kept events in an order that leads to a cut."""
        way = []
        while self.parents[cut] >= 0:
            way.append(self.events[self.by[cut]])
            cut = int(self.parents[cut])
        return way[::-1]

    def _grow(self, most: int) -> None:
        radices = (self.sizes + 1).tolist()
        strides = [prod(radices[j + 1 :]) for j in range(len(radices))]
        needs = [
            np.vstack([self.seen(self.order.needed((i, int(p)))) for p in positions] + [radices])
            for i, positions in zip(self.lanes.tolist(), self.kept, strict=True)
        ]  # the row behind the last: never to be met
        layer = np.zeros((1, len(self.sizes)), dtype=np.int32)
        codes = np.zeros(1, dtype=np.int64)
        cuts, self.layers = [layer], [slice(0, 1)]
        none = np.full(1, -1, dtype=np.int64)
        edges, parents, by = [], [none], [none]
        self.whole = prod(radices) < _TOO_MANY and most >= 1
        for _ in range(int(self.sizes.sum()) if self.whole else 0):
            rows, lanes = [], []
            for j, need in enumerate(needs):
                free = (need[layer[:, j]] <= layer).all(axis=1)
                rows.append(np.flatnonzero(free))
                lanes.append(np.full(len(rows[-1]), j))
            row, lane = np.concatenate(rows), np.concatenate(lanes)
            event = self.starts[lane] + layer[row, lane]
            codes, firsts, target = np.unique(
                codes[row] + np.array(strides)[lane], return_index=True, return_inverse=True
            )
            start, stop = self.layers[-1].start, self.layers[-1].stop
            if stop + len(codes) > most:
                self.whole = False
                break
            by_source = np.argsort(row, kind="stable")
            edges.append(np.stack([start + row, stop + target, event])[:, by_source])
            parents.append(start + row[firsts])
            by.append(event[firsts])
            layer = layer[row[firsts]]
            layer[np.arange(len(layer)), lane[firsts]] += 1
            cuts.append(layer)
            self.layers.append(slice(stop, stop + len(codes)))
        self.cuts = np.concatenate(cuts)
        self.parents, self.by = np.concatenate(parents), np.concatenate(by)
        empty = [np.zeros((3, 0), dtype=np.int64)]
        self.sources, self.targets, self.done = np.concatenate(empty + edges, axis=1)
        self.begins = np.searchsorted(self.sources, np.arange(len(self.cuts) + 1))
