"""How everything stands at one moment, as facts in words: thing by thing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from reach.ledger import names
from reach.ledger.outing import Outing
from reach.ledger.presence import chain_of
from reach.model.procedure import Drive
from reach.orders import Value
from reach.units import text_of

GROUPS = (
    "people", "items", "lines", "restraints", "tools", "fasteners", "inhibits", "payloads",
    "cranes",
)  # fmt: skip
"""Kinds of things, in the order in which they are told."""

NOT_ALONG, NOT_KNOWN = "not along", "not known"


class Fact(NamedTuple):
    """One thing that is so.

    Attributes
    ----------
    group : str
        One of `GROUPS`.
    thing, what, value : str
        Such as ``"PT-1"``, ``"torque"``, ``"24.0 N m"``.
    """

    group: str
    thing: str
    what: str
    value: str


def facts_at(outing: Outing, k: int) -> tuple[Fact, ...]:
    """Return how everything is after the first ``k`` deeds, in order of time."""
    values = outing.states[k]
    return tuple(
        Fact(group, thing, what, value)
        for group, tell in zip(GROUPS, _TELL, strict=True)
        for thing, what, value in tell(outing, values, k)
    )


def changed_in(outing: Outing, step: str) -> tuple[tuple[Fact, Fact], ...]:
    """Return what the deeds of a step change: each fact as it was and as it is then.

    What other steps change meanwhile is theirs.
    """
    was: dict[tuple[str, str, str], Fact] = {}
    now: dict[tuple[str, str, str], Fact] = {}
    for deed in outing.deeds_in(step):
        k = outing.rank(deed)
        before = {fact[:3]: fact for fact in facts_at(outing, k)}
        for fact in facts_at(outing, k + 1):
            old = before.get(fact[:3], fact._replace(value=NOT_KNOWN))
            if old.value != fact.value:
                was.setdefault(fact[:3], old)
                now[fact[:3]] = fact
    return tuple((was[key], now[key]) for key in now if was[key].value != now[key].value)


Told = Iterator[tuple[str, str, str]]


def _people(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for worker in outing.workers:
        place = values.get(names.place(worker))
        where = str(place) if place is not None else "on the way"
        if outing.is_declared and values.get(names.outside(worker)) is not True:
            where = f"in the lock ({place})" if place else "in the lock"
        yield worker, "place", where
        boots = values.get(names.boots(worker))
        yield worker, "boots", f"in {boots}" if boots else "free"
        held = [one for one in outing.scene.payloads if worker in _set(values, names.hands(one))]
        yield worker, "holds", ", ".join(held) or "nothing"
        yield worker, "carries", _listed(outing, _set(values, names.contents(worker)))


def _items(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for item in outing.scene.items:
        chain = chain_of(values, item)
        if not chain:
            unknown = NOT_ALONG if outing.is_declared else NOT_KNOWN
            yield item, "place", unknown
            continue
        yield item, "place", ", ".join(_in(outing, one) for one in chain)
        ties = _set(values, names.ties(item))
        yield item, "tied to", ", ".join(sorted(str(one) for one in ties)) or "nothing"


def _in(outing: Outing, holder: str) -> str:
    if holder in outing.workers:
        return f"on {holder}"
    return f"in {holder}" if holder in outing.scene.items else f"at {holder}"


def _lines(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for line in outing.scene.tethers:
        for word, name in (("hook", names.hook(line)), ("reel", names.reel(line))):
            end = values.get(name)
            if end is None:
                yield line, word, "in the lock" if outing.is_declared else NOT_KNOWN
                continue
            unseen = values.get(names.seen(line, word)) is False
            on = "on" if end in outing.workers else "at"
            where = str(end) if end == names.ADRIFT else f"{on} {end}"
            yield line, word, f"{where}, not checked" if unseen else where


def _restraints(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for item, record in outing.scene.items.items():
        if record.kind not in outing.scene.restraints:
            continue
        sockets = [one for one in outing.scene.sockets if item in _set(values, names.plugged(one))]
        if sockets:
            yield item, "plugged into", ", ".join(sockets)
        setting = values.get(names.setting(item))
        yield item, "setting", str(setting) if setting else NOT_KNOWN


def _tools(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for item, record in outing.scene.items.items():
        tool = outing.scene.tools.get(record.kind)
        if tool is None:
            continue
        if tool.takes_bits:
            none = "none" if outing.is_declared else NOT_KNOWN
            yield item, "bit", str(values.get(names.bit(item)) or none)
        torque = values.get(names.torque(item))
        if isinstance(torque, float):
            yield item, "torque", text_of(torque, "N m")
        elif tool.least_torque is not None:
            yield item, "torque", NOT_KNOWN
        store = outing.procedure.stores.get(item)
        if store is not None and store.turns is not None:
            left = store.turns - _turned(outing, item, k)
            kept = store.turns * store.reserve
            yield item, "turns left", f"{left:g}" + (f", {kept:g} of them reserve" if kept else "")


def _turned(outing: Outing, tool: str, k: int) -> float:
    """Return how many turns a tool has made in the first ``k`` deeds."""
    actions = [deed.action for deed in outing.deeds[:k]]
    return sum(
        outing.scene.fasteners[one.fastener].turns or 0.0
        for one in actions
        if isinstance(one, Drive) and one.tool == tool
    )


def _fasteners(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for name, record in outing.scene.fasteners.items():
        driven = [
            deed.action
            for deed in outing.deeds[:k]
            if isinstance(deed.action, Drive) and deed.action.fastener == name
        ]
        state = str(values.get(names.state(name)))
        if record.kind == "connector":
            state = {"tight": "mated", "loose": "not mated"}.get(state, state)
        yield name, "state", state if driven or outing.is_declared else NOT_KNOWN
        if driven and record.turns is not None:
            yield name, "turns", f"{record.turns:g} {'out' if driven[-1].undoes else 'in'}"


def _inhibits(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for name in outing.procedure.inhibits:
        is_in_place = values.get(names.inhibit(name)) is True
        yield name, "confirmed", "yes" if is_in_place else "no"


def _payloads(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for name in outing.scene.payloads:
        yield name, "pose", str(values.get(names.pose(name)) or NOT_KNOWN)
        holders = sorted(str(one) for one in _set(values, names.hands(name)))
        yield name, "held by", ", ".join(holders) or "nothing"
        yield name, "fixed by", _listed(outing, _set(values, names.fixed(name)))


def _cranes(outing: Outing, values: Mapping[str, Value], k: int) -> Told:
    for name in outing.scene.cranes:
        yield name, "tip", str(values.get(names.tip(name)) or NOT_KNOWN)


def _listed(outing: Outing, found: frozenset[Value]) -> str:
    """Return a set in words; an empty one is nothing only where the begin is declared."""
    nothing = "nothing" if outing.is_declared else NOT_KNOWN
    return ", ".join(sorted(str(one) for one in found)) or nothing


def _set(values: Mapping[str, Value], name: str) -> frozenset[Value]:
    found = values.get(name)
    return found if isinstance(found, frozenset) else frozenset()


_TELL = (
    _people, _items, _lines, _restraints, _tools, _fasteners, _inhibits, _payloads, _cranes,
)  # fmt: skip
