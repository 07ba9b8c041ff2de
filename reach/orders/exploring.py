"""Whether a condition holds at every moment of every order.

A state is a cut and the values there.  Most variables have one value at a cut, whatever
the order: that is proved edge by edge of the lattice (each event takes the value before
it to the one value behind it).  Where two events race, the values differ, and states of
all values that some order leads to are followed (:mod:`reach.orders.racing`), but only of
the raced variables that the condition reads.  The cuts tell how soon a state is met: the
shortest order that meets it does what its cut holds, and what that waits for.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.orders.columns import Columns
from reach.orders.lattice import Lattice
from reach.orders.order import Ints, Order, Place
from reach.orders.racing import Few, Many, few_values
from reach.orders.windows import Found, Window, asked, is_least, lengths, written

_WORTH = 2
"""A lattice that is there is taken if it has at most this many times the cuts of a new one."""


class Explorer:
    """Lattices and values of an order, kept while conditions are looked at one after another."""

    def __init__(self, order: Order, most: int) -> None:
        self.order = order
        self._most = most
        self._lattices: list[Lattice] = []
        self._single: dict[tuple[Any, ...], Ints | None] = {}

    def relevant(self, columns: Columns, when: Window) -> frozenset[Place]:
        """Return the events that change what is told and may be done before the window closes."""
        places = (self.order.places[name] for name in columns.changing)
        return frozenset(place for place in places if place[1] < when.closed[place[0]])

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
        open_at = asked(lattice, when)
        single = {name: self._one_value(lattice, columns, name) for name in columns.names}
        raced = [name for name, values in single.items() if values is None]
        known = {name: values for name, values in single.items() if values is not None}
        if raced:
            few = few_values(lattice, columns, raced)
            if few is not None:
                return Few(lattice, columns, raced, known, *few).look(when, open_at)
            return Many(lattice, columns, raced, known, self._most).look(when, open_at)
        broken = np.flatnonzero(open_at & ~columns.holds(known))
        if not len(broken):
            return Found(len(lattice), None, lattice.whole)
        long = lengths(lattice, when, broken)
        best = int(long.argmin())
        way = written(lattice, lattice.way_to(int(broken[best])), when)
        return Found(len(lattice), way, lattice.whole or is_least(long[best], lattice))

    def may_hold(
        self, columns: Columns, when: Window, kept: frozenset[Place], always: bool
    ) -> bool:
        """Return ``False`` if a condition is broken in every order there is.

        Links only choose among orders: no set of them, however many, mends what is broken in all.
        What is not asked ``always`` need only hold at one of the moments when it may be asked.
        """
        lattice = self._lattice(kept)
        open_at = asked(lattice, when)
        single = {name: self._one_value(lattice, columns, name) for name in columns.names}
        raced = [name for name, values in single.items() if values is None]
        known = {name: values for name, values in single.items() if values is not None}
        few = few_values(lattice, columns, raced) if raced else None
        if not lattice.whole or (raced and few is None):
            return True
        if few is not None:
            return Few(lattice, columns, raced, known, *few).may_hold(open_at, always)
        good = columns.holds(known)
        if not always:
            return bool((good & open_at).any())
        met = good & (lattice.parents < 0)
        for layer in lattice.layers:
            edges = slice(lattice.begins[layer.start], lattice.begins[layer.stop])
            targets = lattice.targets[edges]
            np.logical_or.at(met, targets, met[lattice.sources[edges]])
            met[targets] &= good[targets]
        return bool(met[-1])

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
