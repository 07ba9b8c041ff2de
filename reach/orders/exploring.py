"""Whether a condition holds at every moment of every order.

A state is a cut and the values there.  Most variables have one value at a cut, whatever
the order: that is proved edge by edge of the lattice (each event takes the value before
it to the one value behind it).  Where two events race, the values differ, and states of
all values that some order leads to are followed, but only of the raced variables that
the condition reads.  Nothing is joined that differs, nothing is left out: the states are
exactly those that some order goes through, and the cuts tell how soon.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from reach.orders.columns import Columns, Truth
from reach.orders.conditions import Always, At, AtEnd, Condition, When, While, variables_of
from reach.orders.events import Event, Value
from reach.orders.lattice import Lattice
from reach.orders.order import Ints, Order, Place

_WORTH = 2
"""A lattice that is there is taken if it has at most this many times the cuts of a new one."""


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
    """Lattices and values of an order, kept while rules are looked at one after another."""

    def __init__(self, order: Order, start: Mapping[str, Value], most: int) -> None:
        self.order = order
        self._columns = Columns((order.event(place) for place in order.all_places()), start)
        self._most = most
        self._lattices: list[Lattice] = []
        self._single: dict[tuple[int, str], Ints | None] = {}

    def relevant(self, variables: Iterable[str], when: Window) -> frozenset[Place]:
        """Return the events that write a variable and may be done before the window closes."""
        names = set(variables)
        return frozenset(
            place
            for place in self.order.all_places()
            if place[1] < when.closed[place[0]]
            and not names.isdisjoint(self.order.event(place).writes)
        )

    def look(self, condition: Condition, when: Window) -> Found:
        """Return whether a condition holds in a window, in every order."""
        variables = sorted(variables_of(condition))
        lattice = self._lattice(self.relevant(variables, when))
        low, high = when.of(lattice)
        asked = np.all((lattice.cuts >= low) & (lattice.cuts <= high), axis=1)
        single = {name: self._one_value(lattice, name) for name in variables}
        raced = [name for name, values in single.items() if values is None]
        known = {name: values for name, values in single.items() if values is not None}
        if raced:
            return _Race(lattice, self._columns, raced, known, self._most).look(
                condition, when, asked
            )
        broken = np.flatnonzero(asked)
        values = {name: column[broken] for name, column in known.items()}
        broken = broken[~self._columns.holds(condition, values)]
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

    def _one_value(self, lattice: Lattice, variable: str) -> Ints | None:
        """Return the value of a variable at each cut, or ``None`` where orders differ."""
        key = (id(lattice), variable)
        if key not in self._single:
            self._single[key] = self._followed(lattice, variable)
        return self._single[key]

    def _followed(self, lattice: Lattice, variable: str) -> Ints | None:
        events = [self.order.event(place) for place in lattice.events]
        keep, add = self._columns.changes(variable, events)
        values = np.empty((len(lattice), self._columns.width(variable)), dtype=np.int64)
        values[0] = self._columns.start(variable)
        for layer in lattice.layers[1:]:
            by = lattice.by[layer]
            values[layer] = (values[lattice.parents[layer]] & keep[by]) + add[by]
        behind = (values[lattice.sources] & keep[lattice.done]) + add[lattice.done]
        return values if np.array_equal(behind, values[lattice.targets]) else None


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
        self.keep, self.add = self._changes(events)
        start = np.concatenate([columns.start(name) for name in raced])
        self.cuts = [np.zeros(1, dtype=np.int64)]
        self.values = [start[None, :]]
        self.parents: list[Ints] = [np.full(1, -1, dtype=np.int64)]
        self.by: list[Ints] = [np.full(1, -1, dtype=np.int64)]

    def _changes(self, events: list[Event]) -> tuple[Ints, Ints]:
        pairs = [self.columns.changes(name, events) for name in self.raced]
        return (
            np.concatenate([keep for keep, _ in pairs], axis=1),
            np.concatenate([add for _, add in pairs], axis=1),
        )

    def look(self, condition: Condition, when: Window, asked: Truth) -> Found:
        best: tuple[int, int, int] | None = None  # length, layer, state
        n_states = 1
        for n in range(len(self.lattice.layers)):
            if best is not None and n >= best[0]:
                break
            if n and not self._step(n):
                return self._found(n_states, best, when, n)
            n_states += len(self.cuts[n]) if n else 0
            found = self._broken(n, condition, when, asked)
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
        lattice, cuts, values = self.lattice, self.cuts[-1], self.values[-1]
        first = lattice.begins[cuts]
        n_ways = lattice.begins[cuts + 1] - first
        total = int(n_ways.sum())
        if total > self.most * len(lattice.sizes):
            return False
        state = np.repeat(np.arange(len(cuts)), n_ways)
        edge = np.arange(total) - np.repeat(np.cumsum(n_ways) - n_ways, n_ways) + first[state]
        event, target = lattice.done[edge], lattice.targets[edge].astype(np.int64)
        new = (values[state] & self.keep[event]) + self.add[event]
        firsts = _distinct(target, new)
        self.cuts.append(target[firsts])
        self.values.append(new[firsts])
        self.parents.append(state[firsts])
        self.by.append(event[firsts].astype(np.int64))
        return True

    def _broken(
        self, n: int, condition: Condition, when: Window, asked: Truth
    ) -> tuple[int, int, int] | None:
        states = np.flatnonzero(asked[self.cuts[n]])
        if not len(states):
            return None
        cuts = self.cuts[n][states]
        values = {name: column[cuts] for name, column in self.known.items()}
        at = 0
        for name in self.raced:
            width = self.columns.width(name)
            values[name] = self.values[n][states, at : at + width]
            at += width
        states = states[~self.columns.holds(condition, values)]
        if not len(states):
            return None
        lengths = _lengths(self.lattice, when, self.cuts[n][states])
        return int(lengths.min()), n, int(states[lengths.argmin()])


def _distinct(cuts: Ints, values: Ints) -> Ints:
    """Return the first row of each different state."""
    key = np.unique(cuts, return_inverse=True)[1].astype(np.int64)
    for column in values.T:
        _, ranks = np.unique(column, return_inverse=True)
        key = key * (int(ranks.max()) + 1) + ranks  # both below 2^31: no overflow
        key = np.unique(key, return_inverse=True)[1].astype(np.int64)
    return np.unique(key, return_index=True)[1]
