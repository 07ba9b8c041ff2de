"""Whether a condition holds at every moment of every order.

A state is a cut and the values there.  Most variables have one value at a cut, whatever
the order: that is proved edge by edge of the lattice (each event takes the value before
it to the one value behind it).  Where two events race, the values differ, and states of
all values that some order leads to are followed, but only of the raced variables that
the condition reads.  Nothing is joined that differs, nothing is left out: the states are
exactly those that some order goes through, and the cuts tell how soon.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from reach.orders.columns import Columns, Truth
from reach.orders.conditions import Always, At, AtEnd, Condition, When, While
from reach.orders.events import Value
from reach.orders.lattice import Lattice
from reach.orders.order import Ints, Order, Place

_WORTH = 2
"""A lattice that is there is taken if it has at most this many times the cuts of a new one."""

_ROOM = 2_000_000
"""Entries of a table that finds equal states without sorting them."""


@dataclass(frozen=True)
class Window:
    """When a condition is asked: ``opened`` events of each lane are done, at most ``closed``."""

    opened: Ints
    closed: Ints
    closing: Place | None = None

    def of(self, lattice: Lattice) -> tuple[Ints, Ints]:
        """Return the least and the most kept events of each lane of a lattice."""
        return lattice.seen(self.opened), lattice.seen(self.closed)


def window(order: Order, when: When) -> Window:
    """Return the window of a rule in an order."""
    nothing = np.zeros(len(order.lanes), dtype=np.int64)
    match when:
        case Always():
            return Window(nothing, order.sizes)
        case AtEnd():
            return Window(order.sizes, order.sizes)
        case While(step):
            first, last = order.spans[step]
            return Window(order.done_with(first), order.free_of(last))
        case At(event):
            place = order.first(event)
            return Window(order.needed(place), order.free_of(place), place)


@dataclass(frozen=True)
class Found:
    """What was found about one condition.

    ``order`` is the shortest order that breaks it, ``None`` if none was found; ``whole``
    tells whether all states were looked at, or all that could be in a shorter order.
    """

    n_states: int
    order: list[Place] | None
    whole: bool


class Explorer:
    """Lattices and values of an order, kept while conditions are looked at one after another."""

    def __init__(self, order: Order, start: Mapping[str, Value], most: int) -> None:
        self.order = order
        self._events = [order.event(place) for place in order.all_places()]
        self._start = start
        self._most = most
        self._lattices: list[Lattice] = []
        self._single: dict[tuple[Any, ...], Ints | None] = {}

    def columns(self, condition: Condition) -> Columns:
        """Return the variables of a condition as it tells them."""
        return Columns(condition, self._events, self._start)

    def relevant(self, columns: Columns, when: Window) -> frozenset[Place]:
        """Return the events that change what is told and may be done before the window closes."""
        return frozenset(
            place
            for place in self.order.all_places()
            if place[1] < when.closed[place[0]] and columns.matters(self.order.event(place))
        )

    def look(self, columns: Columns, when: Window, kept: frozenset[Place]) -> Found:
        """Return whether a condition holds in a window, in every order.

        Parameters
        ----------
        columns : Columns
        when : Window
        kept : set of Place
            The events that :meth:`relevant` returns for the two.
        """
        lattice = self._lattice(kept)
        asked = _asked(lattice, when)
        single = {name: self._one_value(lattice, columns, name) for name in columns.names}
        raced = [name for name, values in single.items() if values is None]
        known = {name: values for name, values in single.items() if values is not None}
        if raced:
            return _Race(lattice, columns, raced, known, self._most).look(when, asked)
        broken = np.flatnonzero(asked & ~columns.holds(known))
        if not len(broken):
            return Found(len(lattice), None, lattice.whole)
        lengths = _lengths(lattice, when, broken)
        best = int(lengths.argmin())
        way = _written(lattice, lattice.way_to(int(broken[best])), when)
        return Found(len(lattice), way, lattice.whole or _is_least(lengths[best], lattice))

    def _lattice(self, kept: frozenset[Place]) -> Lattice:
        bound = np.prod([1.0 + sum(i == j for j, _ in kept) for i in range(len(self.order.lanes))])
        for lattice in self._lattices:
            if kept.issubset(lattice.events) and lattice.whole and len(lattice) <= _WORTH * bound:
                return lattice
        self._lattices.append(Lattice(self.order, kept, self._most))
        return self._lattices[-1]

    def _one_value(self, lattice: Lattice, columns: Columns, name: str) -> Ints | None:
        """Return the value of a variable at each cut, or ``None`` where orders differ."""
        key = (id(lattice), *columns.key(name))
        if key not in self._single:
            self._single[key] = self._followed(lattice, columns, name)
        return self._single[key]

    def _followed(self, lattice: Lattice, columns: Columns, name: str) -> Ints | None:
        keep, add = columns.changes(name, (self.order.event(place) for place in lattice.events))
        start = columns.start(name)
        values = np.empty((len(start), len(lattice)), dtype=np.int64)
        for column, kept, added, first in zip(values, keep, add, start, strict=True):
            column[0] = first
            for layer in lattice.layers[1:]:
                by = lattice.by[layer]
                column[layer] = (column[lattice.parents[layer]] & kept[by]) + added[by]
            behind = (column[lattice.sources] & kept[lattice.done]) + added[lattice.done]
            if not np.array_equal(behind, column[lattice.targets]):
                return None
        return values


def _asked(lattice: Lattice, when: Window) -> Truth:
    """Return at which cuts a window is open."""
    low, high = when.of(lattice)
    asked = np.ones(len(lattice), dtype=bool)
    for n, (least, most) in enumerate(zip(low, high, strict=True)):
        if least > 0:
            asked &= lattice.cuts[:, n] >= least
        if most < lattice.sizes[n]:
            asked &= lattice.cuts[:, n] <= most
    return asked


def _lengths(lattice: Lattice, when: Window, cuts: Ints) -> Ints:
    """Return how many events of all lanes must be done at least when a cut is met in a window."""
    done = np.maximum(lattice.all_done(lattice.cuts[cuts]), when.opened).sum(axis=1)
    return np.asarray(done + (when.closing is not None))


def _is_least(length: int, lattice: Lattice) -> bool:
    """Return whether no cut of a layer that was not built could be met sooner."""
    return bool(length <= len(lattice.layers))


def _written(lattice: Lattice, way: list[Place], when: Window) -> list[Place]:
    """Return the whole order for one of kept events, up to the moment that the window asks."""
    order = lattice.order
    opened = [(i, int(n) - 1) for i, n in enumerate(when.opened) if n]
    closing = [] if when.closing is None else [when.closing]
    return order.completed([*way, *opened, *closing])


class _Race:
    """All states of a lattice and some raced variables, layer by layer."""

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
        events = [lattice.order.event(place) for place in lattice.events]
        changes = [columns.changes(name, events) for name in raced]
        self.keep = np.concatenate([keep for keep, _ in changes])
        self.add = np.concatenate([add for _, add in changes])
        start = np.concatenate([columns.start(name) for name in raced])
        self.cuts = [np.zeros(1, dtype=np.int64)]
        self.values = [start[:, None]]
        self.parents: list[Ints] = [np.full(1, -1, dtype=np.int64)]
        self.by: list[Ints] = [np.full(1, -1, dtype=np.int64)]
        self.met = [np.unique(one) for one in start]

    def look(self, when: Window, asked: Truth) -> Found:
        """Return what :meth:`Explorer.look` does."""
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
        return Found(n_states, _written(self.lattice, way[::-1], when), whole)

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
        at = 0
        for name in self.raced:
            width = len(self.columns.start(name))
            values[name] = self.values[n][at : at + width, states]
            at += width
        states = states[~self.columns.holds(values)]
        if not len(states):
            return None
        lengths = _lengths(self.lattice, when, self.cuts[n][states])
        return int(lengths.min()), n, int(states[lengths.argmin()])
