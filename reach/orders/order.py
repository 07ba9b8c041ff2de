"""Which event must come before which: lanes and links, as vectors of positions.

A lane is a chain, so what must be done before an event is said by one number a lane:
how many events of that lane.  These vectors are the whole partial order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import copy
from operator import le
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from reach.orders.events import Event, Lanes, Link

Ints: TypeAlias = npt.NDArray[np.int64]
Place: TypeAlias = tuple[int, int]
"""Number of the lane, and of the event in it."""


class Order:
    """The partial order that lanes and links leave.

    Parameters
    ----------
    lanes : mapping
        Lane -> events in order; names are right (:func:`reach.orders.written.refuse_wrong`).
    links : iterable of Link

    Raises
    ------
    ValueError
        If lanes and links make a circle; the message names it.

    Examples
    --------
    >>> lanes = {"A": [Event("a", "A")], "B": [Event("b", "B"), Event("c", "B")]}
    >>> order = Order(lanes, [Link("a", "c")])
    >>> order.is_before(order.places["a"], order.places["c"]), order.needed((1, 1)).tolist()
    (True, [1, 1])
    """

    def __init__(self, lanes: Lanes, links: Iterable[Link]) -> None:
        self.names = tuple(lanes)
        self.lanes = tuple(tuple(events) for events in lanes.values())
        self.links = tuple(links)
        self.sizes = np.array([len(events) for events in self.lanes], dtype=np.int64)
        self.places: dict[str, Place] = {}
        self.spans: dict[str, tuple[Place, Place]] = {}
        for place in self.all_places():
            event = self.event(place)
            self.places[event.name] = place
            self.spans[event.step] = (self.spans.get(event.step, (place, place))[0], place)
        self._needed: list[Ints] = self._vectors()
        self._rows: list[list[list[int]]] | None = None

    def with_link(self, link: Link) -> Order:
        """Return the order with a link more; the link makes no circle."""
        other = copy(self)
        other.links = (*self.links, link)
        free = self.free_of(self.first(link.then)).tolist()
        done = self.done_with(self.last(link.first))
        other._needed = [np.array(needed) for needed in self._needed]
        other._rows = None
        for needed, n in zip(other._needed, free, strict=True):
            np.maximum(needed[n:], done, out=needed[n:])
        return other

    def all_places(self) -> Iterator[Place]:
        """Yield the places of all events, lane by lane."""
        for i, events in enumerate(self.lanes):
            for p in range(len(events)):
                yield i, p

    def event(self, place: Place) -> Event:
        """Return the event at a place."""
        return self.lanes[place[0]][place[1]]

    def first(self, name: str) -> Place:
        """Return where an event is, or a step begins."""
        return self.places[name] if name in self.places else self.spans[name][0]

    def last(self, name: str) -> Place:
        """Return where an event is, or a step ends."""
        return self.places[name] if name in self.places else self.spans[name][1]

    def needed(self, place: Place) -> Ints:
        """Return how many events of each lane come before an event for sure, itself left out."""
        vector: Ints = self._needed[place[0]][place[1]]
        return vector

    def done_with(self, place: Place) -> Ints:
        """Return how many events of each lane are done for sure once an event is done."""
        vector = np.array(self.needed(place))
        vector[place[0]] += 1
        return vector

    def free_of(self, place: Place) -> Ints:
        """Return how many events of each lane can be done while an event is not done."""
        i, p = place
        return np.array(
            [
                p if j == i else np.searchsorted(self._needed[j][:, i], p, side="right")
                for j in range(len(self.lanes))
            ],
            dtype=np.int64,
        )

    def is_before(self, a: Place, b: Place) -> bool:
        """Return whether ``a`` comes before ``b`` in every order."""
        return bool(self.needed(b)[a[0]] > a[1])

    def completed(self, events: Iterable[Place]) -> list[Place]:
        """Return the events in their order, each behind what it waits for."""
        if self._rows is None:
            # Plain numbers: of a few lanes they are compared quicker than arrays.
            self._rows = [rows.tolist() for rows in self._needed]
        done = [0] * len(self.lanes)
        found: list[Place] = []
        for place in events:
            _append(self._rows, place, done, found)
        return found

    def _vectors(self) -> list[Ints]:
        waits: dict[Place, list[Place]] = {
            (i, p): [(i, p - 1)] * (p > 0) for i, p in self.all_places()
        }
        for link in self.links:
            waits[self.first(link.then)].append(self.last(link.first))
        needed = [np.zeros((n, len(self.lanes)), dtype=np.int64) for n in self.sizes]
        settled: set[Place] = set()
        position = [0] * len(self.lanes)
        moved = True
        while moved:
            moved = False
            for i, n in enumerate(self.sizes):
                while position[i] < n and settled.issuperset(waits[i, position[i]]):
                    vector = needed[i][position[i]]
                    for j, q in waits[i, position[i]]:
                        np.maximum(vector, needed[j][q], out=vector)
                        vector[j] = max(vector[j], q + 1)
                    settled.add((i, position[i]))
                    position[i] += 1
                    moved = True
        if len(settled) < self.sizes.sum():
            raise ValueError(f"a circle: {self._circle(waits, settled)}")
        return needed

    def _circle(self, waits: dict[Place, list[Place]], settled: set[Place]) -> str:
        trail = [next(place for place in waits if place not in settled)]
        while trail[-1] not in trail[:-1]:
            trail.append(next(place for place in waits[trail[-1]] if place not in settled))
        circle = trail[trail.index(trail[-1]) :]
        return " waits for ".join(self.event(place).name for place in circle)


def _append(rows: list[list[list[int]]], place: Place, done: list[int], found: list[Place]) -> None:
    """Append an event to an order, behind all that it waits for."""
    wanted = list(rows[place[0]][place[1]])
    wanted[place[0]] += 1
    lanes = range(len(done))
    while any(done[i] < wanted[i] for i in lanes):
        # Some lane can always go on: what it waits for is wanted too.
        for i in lanes:
            while done[i] < wanted[i] and all(map(le, rows[i][done[i]], done)):
                found.append((i, done[i]))
                done[i] += 1
