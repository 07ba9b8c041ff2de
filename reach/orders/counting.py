"""How many orders there are, and which steps may be going on at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import comb

from reach.orders.events import Lanes, Link
from reach.orders.examine import MOST_STATES
from reach.orders.lattice import Lattice
from reach.orders.order import Order
from reach.orders.written import refuse_wrong


def n_orders(lanes: Lanes, links: Iterable[Link], most_states: int = MOST_STATES) -> int | None:
    """Return how many orders of all events lanes and links allow, exactly.

    Lanes that no link joins are counted by themselves and shuffled by formula.

    Returns
    -------
    n_orders : int or None
        ``None`` if there are more than ``most_states`` cuts: not counted.

    Examples
    --------
    >>> from reach.orders import Event, Link, n_orders
    >>> lanes = {lane: [Event(f"{lane}{n}", lane) for n in range(3)] for lane in "AB"}
    >>> n_orders(lanes, []), n_orders(lanes, [Link("A1", "B1")])
    (20, 10)
    """
    order = _order(lanes, links)
    orders, n_before = 1, 0
    for joined in _joined(order):
        kept = frozenset(place for place in order.all_places() if place[0] in joined)
        here = _ways(Lattice(order, kept, most_states))
        if here is None:
            return None
        n_before += len(kept)
        orders *= here * comb(n_before, len(kept))
    return orders


def may_overlap(lanes: Lanes, links: Iterable[Link], one: str, other: str) -> bool:
    """Return whether some order lets two steps or events be going on at the same time.

    They may unless one is over before the other begins in every order.  Events take no time
    of their own: two that nothing orders may fall on the same instant.

    Examples
    --------
    >>> from reach.orders import Event, Link, may_overlap
    >>> lanes = {"W1": [Event("drive", "W1")], "CO": [Event("sweep", "CO")]}
    >>> may_overlap(lanes, [], "drive", "sweep")
    True
    >>> may_overlap(lanes, [Link("sweep", "drive")], "drive", "sweep")
    False
    """
    order = _order(lanes, links)
    for name in (one, other):
        if name not in order.places and name not in order.spans:
            raise ValueError(f"no event or step {name!r}")
    return _overlap(order, one, other)


def overlaps(lanes: Lanes, links: Iterable[Link]) -> tuple[tuple[str, str], ...]:
    """Return all pairs of steps that may be going on at the same time, as lanes are written."""
    order = _order(lanes, links)
    steps = list(order.spans)
    return tuple(
        (one, other)
        for n, one in enumerate(steps)
        for other in steps[n + 1 :]
        if _overlap(order, one, other)
    )


def _order(lanes: Lanes, links: Iterable[Link]) -> Order:
    links = tuple(links)
    refuse_wrong(lanes, links, {}, ())
    return Order(lanes, links)


def _overlap(order: Order, one: str, other: str) -> bool:
    over_before = order.is_before(order.last(one), order.first(other))
    return not over_before and not order.is_before(order.last(other), order.first(one))


def _joined(order: Order) -> Iterator[set[int]]:
    """Yield sets of lanes that links join."""
    left = {i: {i} for i, _ in order.all_places()}
    for link in order.links:
        one, other = left[order.last(link.first)[0]], left[order.first(link.then)[0]]
        one |= other
        for lane in one:
            left[lane] = one
    yield from {id(lanes): lanes for lanes in left.values()}.values()


def _ways(lattice: Lattice) -> int | None:
    if not lattice.whole:
        return None
    ways = [1] + [0] * (len(lattice) - 1)
    for source, target in zip(lattice.sources.tolist(), lattice.targets.tolist(), strict=True):
        ways[target] += ways[source]
    return ways[-1]
