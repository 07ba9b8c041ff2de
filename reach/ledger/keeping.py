"""What is kept in what: the outermost of bags in bags, and whether an item ends up at a place."""

from __future__ import annotations

from collections.abc import Mapping

from reach.ledger import names
from reach.ledger.outing import Outing
from reach.ledger.presence import chain_of, holders_of
from reach.model.travel import rail_spot
from reach.orders import All, Among, Condition, Is, Not, Put, Some, Value


def outermost(outing: Outing, values: Mapping[str, Value], item: str) -> str:
    """Return the outermost item that an item is in: itself where it is in no other."""
    inside = [one for one in chain_of(values, item) if one in outing.scene.items]
    return inside[-1] if inside else item


def spot_of(outing: Outing, values: Mapping[str, Value], item: str) -> str:
    """Return where an item is in the end of all bags: a place, a worker, or nothing."""
    chain = [one for one in chain_of(values, item) if one not in outing.scene.items]
    return chain[-1] if chain else ""


def is_in_lock(outing: Outing, values: Mapping[str, Value], spot: str) -> bool:
    """Return whether a place, or whoever has something, is inside the lock."""
    if spot in outing.workers:
        return values.get(names.outside(spot)) is not True
    return spot in outing.scene.hatches


def ends_up(outing: Outing, item: str, goal: str) -> Condition:
    """Return the condition that an item is at a place, in a bag there, or on somebody in there.

    Parameters
    ----------
    outing : Outing
    item : str
    goal : str
        A bag, a worker, a place; a rail without ``@`` means anywhere along it, a hatch the lock
        behind it.
    """
    return _ends_up(outing, item, goal, frozenset())


def _ends_up(outing: Outing, item: str, goal: str, above: frozenset[str]) -> Condition:
    name = names.holder(item)
    found: list[Condition] = []
    for one in holders_of(outing, item):
        if same_place(one, goal):
            found.append(Is(name, one))
        elif one in outing.scene.items and one not in above:
            inner = _ends_up(outing, one, goal, above | {item})
            found.append(All((Is(name, one), inner)))
        elif one in outing.workers and (places := _places_of(outing, one, goal)):
            there: tuple[Condition, ...] = (Is(name, one), Among(names.place(one), places))
            if goal in outing.scene.hatches:
                # Who stands at the hatch has not gone in by that.
                there = (*there, Not(Is(names.outside(one), True)))
            found.append(All(there))
    return Some(tuple(found)) if found else Among(name, frozenset())


def same_place(place: str, goal: str) -> bool:
    """Return whether a place is the one wanted, or a spot along the rail that is wanted.

    Examples
    --------
    >>> same_place("RL30@2.5", "RL30"), same_place("RL30", "RL30@2.5")
    (True, False)
    """
    return place == goal or ("@" not in goal and rail_spot(place)[0] == goal)


def _places_of(outing: Outing, worker: str, goal: str) -> frozenset[Value]:
    """Return all places where a worker ever is that are the one wanted."""
    name = names.place(worker)
    found: set[Value] = {outing.start.get(name)}
    for deed in outing.deeds:
        effect = deed.event.effect(name)
        if isinstance(effect, Put):
            found.add(effect.value)
    return frozenset(one for one in found if isinstance(one, str) and same_place(one, goal))
