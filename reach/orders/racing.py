"""States of cuts and values of variables on which orders differ.

States that are equal are joined, no others are, and none is left out: the states are
exactly those that some order goes through.
"""

from __future__ import annotations

import numpy as np

from reach.orders.columns import Columns, Truth
from reach.orders.lattice import Lattice
from reach.orders.order import Ints, Place
from reach.orders.windows import Found, Window, is_least, lengths, written

_ROOM = 2_000_000
"""Entries of a table that finds equal states without sorting them."""

_FEW = 62
"""Values that one whole number can hold a bit for each."""


class Few:
    """All values at each cut, a bit each, where the raced variables have few together.

    Parameters
    ----------
    lattice : Lattice
    columns : Columns
    raced : list of str
    known : dict
        Columns of the other variables at each cut, (width, n).
    values : array (width of all raced, n_values)
        Every combination of values that the events could make.
    behind : array (n_events, n_values)
        Number of the combination that an event makes of each.
    """

    def __init__(
        self,
        lattice: Lattice,
        columns: Columns,
        raced: list[str],
        known: dict[str, Ints],
        values: Ints,
        behind: Ints,
    ) -> None:
        self.lattice, self.columns, self.raced, self.known = lattice, columns, raced, known
        self.values, self.behind = values, behind
        self.met = self._spread(np.full(len(lattice), -1, dtype=np.int64))

    def _spread(self, allowed: Ints) -> Ints:
        """Return the values that orders lead to at each cut, through allowed ones only."""
        lattice = self.lattice
        start = np.concatenate([self.columns.start(name) for name in self.raced])
        first = int(np.flatnonzero((self.values == start[:, None]).all(axis=0))[0])
        met = np.zeros(len(lattice), dtype=np.int64)
        met[0] = allowed[0] & (1 << first)
        for layer in lattice.layers:
            edges = slice(lattice.begins[layer.start], lattice.begins[layer.stop])
            before, event = met[lattice.sources[edges]], lattice.done[edges]
            targets = lattice.targets[edges]
            new = np.zeros(len(event), dtype=np.int64)
            for value, made in enumerate(self.behind.T):
                new |= (before >> value & 1) << made[event]
            np.bitwise_or.at(met, targets, new & allowed[targets])
        return met

    def may_hold(self, asked: Truth, always: bool) -> bool:
        """Return what :meth:`reach.orders.exploring.Explorer.may_hold` does."""
        broken = self._broken()
        if not always:
            return bool(np.any(asked & (self.met & ~broken != 0)))
        return bool(self._spread(~broken)[-1])

    def look(self, when: Window, asked: Truth) -> Found:
        """Return what :meth:`reach.orders.exploring.Explorer.look` does."""
        n_states = int(np.bitwise_count(self.met).sum())
        broken = self._broken() * asked
        cuts = np.flatnonzero(broken)
        if not len(cuts):
            return Found(n_states, None, self.lattice.whole)
        long = lengths(self.lattice, when, cuts)
        best = int(long.argmin())
        bits = int(broken[cuts[best]])
        way = self._way_to(int(cuts[best]), (bits & -bits).bit_length() - 1)
        whole = self.lattice.whole or is_least(long[best], self.lattice)
        return Found(n_states, written(self.lattice, way, when), whole)

    def _broken(self) -> Ints:
        """Return the values at each cut, a bit each, that break the condition."""
        if not self.known:
            holds = self.columns.holds(_split(self.columns, self.raced, self.values))
            return self.met & sum(1 << value for value in np.flatnonzero(~holds).tolist())
        broken = np.zeros(len(self.lattice), dtype=np.int64)
        for value in range(self.values.shape[1]):
            here = np.broadcast_to(
                self.values[:, value : value + 1], (len(self.values), len(self.lattice))
            )
            holds = self.columns.holds({**self.known, **_split(self.columns, self.raced, here)})
            broken |= (self.met >> value & ~holds) << value
        return broken

    def _way_to(self, cut: int, value: int) -> list[Place]:
        way = []
        while cut:
            for edge in np.flatnonzero(self.lattice.targets == cut).tolist():
                source, event = int(self.lattice.sources[edge]), int(self.lattice.done[edge])
                fits = [
                    old
                    for old in np.flatnonzero(self.behind[event] == value).tolist()
                    if int(self.met[source]) >> old & 1
                ]
                if fits:
                    way.append(self.lattice.events[event])
                    cut, value = source, fits[0]
                    break
        return way[::-1]


def few_values(lattice: Lattice, columns: Columns, raced: list[str]) -> tuple[Ints, Ints] | None:
    """Return every value the raced variables could have together, and what events make of each.

    Returns
    -------
    values : array (width, n_values)
    behind : array (n_events, n_values)
        Or ``None`` if the values are more than fit.
    """
    keep, add = _changes(lattice, columns, raced)
    values = np.concatenate([columns.start(name) for name in raced])[:, None]
    while True:
        n = values.shape[1]
        new = ((values[:, :, None] & keep[:, None, :]) + add[:, None, :]).reshape(len(values), -1)
        together, number = np.unique(
            np.concatenate([values, new], axis=1), axis=1, return_inverse=True
        )
        if together.shape[1] > _FEW:
            return None
        if together.shape[1] == n:
            return values, np.ascontiguousarray(number.reshape(-1)[n:].reshape(n, -1).T)
        values = together


def _changes(lattice: Lattice, columns: Columns, raced: list[str]) -> tuple[Ints, Ints]:
    events = [lattice.order.event(place) for place in lattice.events]
    changes = [columns.changes(name, events) for name in raced]
    return (
        np.concatenate([keep for keep, _ in changes]),
        np.concatenate([add for _, add in changes]),
    )


def _split(columns: Columns, names: list[str], values: Ints) -> dict[str, Ints]:
    """Return the columns of each variable of those of several, (width of all, n)."""
    found, at = {}, 0
    for name in names:
        width = len(columns.start(name))
        found[name] = values[at : at + width]
        at += width
    return found


class Many:
    """All states of a lattice and some raced variables, layer by layer, however many values."""

    def __init__(
        self,
        lattice: Lattice,
        columns: Columns,
        raced: list[str],
        known: dict[str, Ints],
        most: int,
    ) -> None:
        self.lattice, self.columns, self.raced, self.known = lattice, columns, raced, known
        self.most = most
        self.keep, self.add = _changes(lattice, columns, raced)
        start = np.concatenate([columns.start(name) for name in raced])
        self.cuts = [np.zeros(1, dtype=np.int64)]
        self.values = [start[:, None]]
        self.parents: list[Ints] = [np.full(1, -1, dtype=np.int64)]
        self.by: list[Ints] = [np.full(1, -1, dtype=np.int64)]
        self.met = [np.unique(one) for one in start]

    def look(self, when: Window, asked: Truth) -> Found:
        """Return what :meth:`reach.orders.exploring.Explorer.look` does."""
        best: tuple[int, int, int] | None = None  # length, layer, state
        n_states = 1
        for n in range(len(self.lattice.layers)):
            if best is not None and n >= best[0]:
                break
            if n and not self._step(n):
                return self._found(n_states, best, when, n)
            n_states += len(self.cuts[n]) if n else 0
            found = self._broken(n, when, asked)
            if found is not None and (best is None or found < best):
                best = found
            if n_states > self.most:
                return self._found(n_states, best, when, n + 1)
        n_layers = len(self.lattice.layers)
        return self._found(n_states, best, when, None if self.lattice.whole else n_layers)

    def _found(
        self, n_states: int, best: tuple[int, int, int] | None, when: Window, cut_off: int | None
    ) -> Found:
        """Return the answer; layers from ``cut_off`` on were not looked at."""
        if best is None:
            return Found(n_states, None, cut_off is None)
        length, layer, state = best
        way = []
        for n in range(layer, 0, -1):
            way.append(self.lattice.events[int(self.by[n][state])])
            state = int(self.parents[n][state])
        whole = cut_off is None or length <= cut_off
        return Found(n_states, written(self.lattice, way[::-1], when), whole)

    def _step(self, n: int) -> bool:
        """Do one more event in every way; return whether there is room for it."""
        lattice, cuts = self.lattice, self.cuts[-1]
        first = lattice.begins[cuts]
        n_ways = lattice.begins[cuts + 1] - first
        total = int(n_ways.sum())
        if total > self.most * len(lattice.sizes):
            return False
        state = np.repeat(np.arange(len(cuts)), n_ways)
        edge = np.arange(total) + np.repeat(first - (np.cumsum(n_ways) - n_ways), n_ways)
        event, target = lattice.done[edge], lattice.targets[edge]
        new = np.stack(
            [
                (column[state] & keep[event]) + add[event]
                for column, keep, add in zip(self.values[-1], self.keep, self.add, strict=True)
            ]
        )
        picked = self._distinct(target - lattice.layers[n].start, new)
        self.cuts.append(target[picked])
        self.values.append(new[:, picked])
        self.parents.append(state[picked])
        self.by.append(event[picked])
        return True

    def _distinct(self, cuts: Ints, values: Ints) -> Ints:
        """Return one row of each different state; cuts are counted from those of the layer on."""
        key, size = cuts, int(cuts.max()) + 1
        for n, column in enumerate(values):
            rank = np.searchsorted(self.met[n], column)
            if not np.array_equal(self.met[n][np.minimum(rank, len(self.met[n]) - 1)], column):
                self.met[n] = np.union1d(self.met[n], column)
                rank = np.searchsorted(self.met[n], column)
            if size * len(self.met[n]) > _ROOM:
                key = np.unique(key, return_inverse=True)[1].astype(np.int64)
                size = int(key.max()) + 1
            key, size = key * len(self.met[n]) + rank, size * len(self.met[n])
        if size > _ROOM:
            return np.unique(key, return_index=True)[1]
        row = np.full(size, -1, dtype=np.int64)
        row[key] = np.arange(len(key))
        return row[row >= 0]

    def _broken(self, n: int, when: Window, asked: Truth) -> tuple[int, int, int] | None:
        states = np.flatnonzero(asked[self.cuts[n]])
        if not len(states):
            return None
        cuts = self.cuts[n][states]
        values = {name: columns[:, cuts] for name, columns in self.known.items()}
        values |= _split(self.columns, self.raced, self.values[n][:, states])
        states = states[~self.columns.holds(values)]
        if not len(states):
            return None
        long = lengths(self.lattice, when, self.cuts[n][states])
        return int(long.min()), n, int(states[long.argmin()])
