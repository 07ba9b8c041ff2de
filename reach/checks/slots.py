"""Question. Does a bag ever have more in it than its slots, or more mass than it bears?

Margin. 0 where everything in it finds room at any time, -1 where it does not, as written or in
any order that the links between steps allow.

Limit. ``slots`` and ``most_mass`` of the bag, ``takes`` and ``mass`` of what is in it, in the
scene. Exact: equal passes.

Blind spots. Shapes are not looked at: what fits by number may not fit by form. Mass is the sum of
what is known, a bag in a bag without what is in it; where something in the bag gives none, only
what is too heavy already is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from reach.checks.ruling import ruled, unasked
from reach.finding import Finding
from reach.ledger import Judged, Outing, holders_of, judge, names
from reach.orders import All, AtMost, Condition, Has, Not, Rule, Value
from reach.site import Site
from reach.units import text_of

NAME = "slots"
IDS = ("I1",)
TAKES = "outing"

ROUNDING = 1e-9
"""Sums of masses (kg) that differ by less are equal: 0.1 and 0.2 fit into 0.3."""


@dataclass(frozen=True)
class Room:
    """What a bag offers of one kind, and what each item that is ever in it takes of that."""

    bag: str
    word: str
    offers: float
    takes: Mapping[str, float]
    unit: str = ""

    def said(self, amount: float) -> str:
        """Return an amount in words."""
        if self.unit:
            return text_of(amount, self.unit)
        return f"{amount:g} slot{'' if amount == 1.0 else 's'}"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for the slots and one for the mass of each bag that holds anything."""
    if not outing.is_declared:
        return []
    return [
        found
        for bag in outing.scene.items
        for room in _rooms(outing, bag)
        for found in _finding(outing, room)
    ]


def _rooms(outing: Outing, bag: str) -> Iterator[Room]:
    record = outing.scene.items[bag]
    items = {name: one for name, one in outing.scene.items.items() if bag in _held(outing, name)}
    if items and record.slots is not None:
        yield Room(bag, "slots", record.slots, {name: one.takes for name, one in items.items()})
    if items and record.most_mass is not None:
        masses = {name: one.mass for name, one in items.items() if one.mass is not None}
        yield Room(bag, "mass", record.most_mass, masses, "kg")


def _held(outing: Outing, item: str) -> tuple[str, ...]:
    return holders_of(outing, item)


def _finding(outing: Outing, room: Room) -> Iterator[Finding]:
    step = _handled(outing, room.bag)
    (judged,) = judge(outing, [Rule(f"{room.word} of {room.bag}", _fits(outing, room))])
    missing = [
        name
        for name in outing.scene.items
        if room.unit and room.bag in _held(outing, name) and name not in room.takes
    ]
    if missing and not judged.is_broken:
        words = f"{' and '.join(missing)}, which {room.bag} holds, give no mass"
        yield unasked(NAME, step, (room.bag,), f"{words}.")
        return
    inside = _inside(room, _worst(outing, room, judged))
    amount = float(sum(room.takes[name] for name in inside))
    offers = "bears" if room.unit else "has"
    told = f"{room.bag} {offers} {room.said(room.offers)}"
    yield ruled(
        NAME,
        judged,
        (room.bag,),
        f"{told}; what is in it takes {room.said(amount)} at most",
        f"{told}; {_listed(inside)} take {room.said(amount)}",
        step=step,
        fix=_fix(outing, room, judged, inside),
        offers=room.offers,
        taken=amount,
        inside=list(inside),
        answer=room.word if room.unit else "",
    )


def _handled(outing: Outing, bag: str) -> str:
    """Return the first step in which a bag is taken, or anything is put in or out."""
    touched = {names.holder(bag), names.contents(bag)}
    steps = (deed.step.name for deed in outing.deeds if touched & set(deed.event.writes))
    return next(steps, outing.steps[0].name)


def _fits(outing: Outing, room: Room) -> Condition:
    """Return the condition that a bag is not too full, on the set of what is in it."""
    what = names.contents(room.bag)
    sizes = set(room.takes.values())
    if sum(room.takes.values()) <= room.offers + ROUNDING:
        return AtMost(what, len(outing.scene.items))
    if sizes == {1.0}:
        return AtMost(what, int(room.offers))
    return All(
        tuple(
            Not(All(tuple(Has(what, name) for name in some)))
            for some in too_many(room.takes, room.offers)
        )
    )


def too_many(takes: Mapping[str, float], offers: float) -> Iterator[tuple[str, ...]]:
    """Yield every set of items that do not fit together while each part of it does.

    Examples
    --------
    >>> list(too_many({"a": 1.0, "b": 2.0, "c": 2.0}, 3.0))
    [('b', 'c')]
    """
    # Largest first: what is added last is the smallest, so all before it fitted.
    names_of = sorted(takes, key=lambda name: (-takes[name], name))

    def more(some: tuple[str, ...], amount: float, begin: int) -> Iterator[tuple[str, ...]]:
        for i in range(begin, len(names_of)):
            longer, sum_ = (*some, names_of[i]), amount + takes[names_of[i]]
            if sum_ > offers + ROUNDING:
                yield longer
            else:
                yield from more(longer, sum_, i + 1)

    return more((), 0.0, 0)


def _worst(outing: Outing, room: Room, judged: Judged) -> Mapping[str, Value]:
    """Return how everything is where the bag is fullest as written, or where it is too full."""
    if judged.written is not None:
        return outing.states[outing.rank(judged.written) + 1]
    if judged.at_start:
        return outing.start
    if judged.elsewhere:
        return judged.ruling.values or {}
    return max(outing.states, key=lambda one: sum(room.takes[k] for k in _inside(room, one)))


def _inside(room: Room, values: Mapping[str, Value]) -> tuple[str, ...]:
    held = values.get(names.contents(room.bag))
    known = held if isinstance(held, frozenset) else frozenset()
    return tuple(name for name in room.takes if name in known)


def _listed(inside: tuple[str, ...]) -> str:
    return f"{', '.join(inside[:-1])} and {inside[-1]}" if len(inside) > 1 else "".join(inside)


def _fix(outing: Outing, room: Room, judged: Judged, inside: tuple[str, ...]) -> str:
    """Name what least hangs on, and a bag with room for it then."""
    over = sum(room.takes[name] for name in inside) - room.offers
    enough = [name for name in inside if room.takes[name] >= over]
    if over <= 0.0 or not enough:
        return f"Leave some of {_listed(inside)} elsewhere." if over > 0.0 else ""
    item = min(reversed(enough), key=lambda name: _n_uses(outing, name))
    values = _worst(outing, room, judged)
    other = _with_room(outing, room.bag, item, values)
    return f"Put {item} into {other}." if other else f"Leave {item} out of {room.bag}."


def _n_uses(outing: Outing, item: str) -> int:
    """Return how often a step turns or is turned with an item."""
    keys = ("tool", "bit", "extension", "item")
    return sum(
        item == getattr(deed.action, key, None) for deed in outing.deeds for key in keys
    ) + bool(outing.scene.items[item].kind)


def _with_room(outing: Outing, bag: str, item: str, values: Mapping[str, Value]) -> str:
    """Return the bag, other than this, that has most slots to spare; empty if none has room."""
    items, free = outing.scene.items, {}
    for name, record in items.items():
        held = values.get(names.contents(name))
        if record.slots is None or name in (bag, item) or values.get(names.holder(name)) is None:
            continue
        inside = held if isinstance(held, frozenset) else frozenset()
        left = record.slots - sum(items[str(one)].takes for one in inside)
        if left >= items[item].takes and _bears(outing, name, item, inside):
            free[name] = left
    return max(free, key=lambda name: free[name], default="")


def _bears(outing: Outing, bag: str, item: str, inside: frozenset[Value]) -> bool:
    items = outing.scene.items
    most = items[bag].most_mass
    masses = [items[str(one)].mass or 0.0 for one in (*inside, item)]
    return most is None or sum(masses) <= most
