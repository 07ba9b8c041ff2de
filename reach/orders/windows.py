"""When a rule is asked, and what is found about it there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reach.orders.columns import Truth
from reach.orders.conditions import Always, At, AtEnd, When, While
from reach.orders.lattice import Lattice
from reach.orders.order import Ints, Order, Place


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


def asked(lattice: Lattice, when: Window) -> Truth:
    """Return at which cuts a window is open."""
    low, high = when.of(lattice)
    open_at = np.ones(len(lattice), dtype=bool)
    for n, (least, most) in enumerate(zip(low, high, strict=True)):
        if least > 0:
            open_at &= lattice.cuts[:, n] >= least
        if most < lattice.sizes[n]:
            open_at &= lattice.cuts[:, n] <= most
    return open_at


def lengths(lattice: Lattice, when: Window, cuts: Ints) -> Ints:
    """Return how many events of all lanes must be done at least when a cut is met in a window."""
    done = np.maximum(lattice.all_done(lattice.cuts[cuts]), when.opened).sum(axis=1)
    return np.asarray(done + (when.closing is not None))


def is_least(length: int, lattice: Lattice) -> bool:
    """Return whether no cut of a layer that was not built could be met sooner."""
    return bool(length <= len(lattice.layers))


def written(lattice: Lattice, way: list[Place], when: Window) -> list[Place]:
    """Return the whole order for one of kept events, up to the moment that the window asks."""
    order = lattice.order
    opened = [(i, int(n) - 1) for i, n in enumerate(when.opened) if n]
    closing = [] if when.closing is None else [when.closing]
    return order.completed([*way, *opened, *closing])
