"""Question. Is the restraint that somebody stands in, or sets, really in that socket?

Margin. 0 where it is in the socket when boots go in, or when something is first done from it, and
no boots are in it when it is taken out, in every order that the links between steps allow; -1
where it is elsewhere, or taken from under somebody.

Limit. None. Asked of sockets: at a station the restraint is part of the station.

Blind spots. Asked once a step, of its first action that needs the feet held. Kinds of restraints
that are no named item are taken to be there; which way they are set is another check's.
"""

from __future__ import annotations

from dataclasses import dataclass

from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, chain_of, holders_of, judge, names
from reach.model.handling import Install, PickUp, Remove
from reach.model.procedure import Step, Translate, is_bodily
from reach.orders import All, Among, At, AtLeast, Condition, Has, Is, Not, Rule, Some
from reach.site import Site

NAME = "plugged"
IDS = ("H1",)
TAKES = "outing"


@dataclass(frozen=True, slots=True)
class _Stand:
    """A step in a socket: the deed that first needs the restraint, and which one it is."""

    deed: Deed
    socket: str
    restraint: str

    def condition(self, outing: Outing) -> Condition:
        """Return the condition that the restraint, or one of its kind, or any, is there."""
        pieces = _pieces(outing, self.restraint) if self.restraint else _restraints(outing)
        # Who takes one out in another order may, as written, have taken it from somewhere else:
        # what holds it is told in every order.
        name = names.plugged(self.socket)
        there = (All((Has(name, one), Is(names.holder(one), self.socket))) for one in pieces)
        return Some(tuple(there) or (AtLeast(name, 1),))


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each step of somebody in a socket, and each restraint taken out."""
    if not outing.is_declared:
        return []
    return [*_stood_in(outing), *_taken_out(outing)]


def _stood_in(outing: Outing) -> list[Finding]:
    stands = [stand for step in outing.steps if (stand := _stand(outing, step)) is not None]
    rules = [
        Rule(f"{one.restraint} in {one.socket}", one.condition(outing), At(one.deed.name))
        for one in stands
    ]
    found = []
    for one, judged in zip(stands, judge(outing, rules), strict=True):
        restraint = one.restraint or "a restraint"
        about = (one.deed.lane, *((one.restraint,) if one.restraint else ()), one.socket)
        found.append(
            ruled(
                NAME,
                judged,
                about,
                f"{restraint} is in {one.socket} when {one.deed.lane} needs it",
                f"{one.deed.lane} needs {restraint} in {one.socket}, where it is not"
                f"{_where(outing, one)}",
                step=one.deed.step.name,
                fix=_fix(outing, one),
            )
        )
    return found


def _taken_out(outing: Outing) -> list[Finding]:
    asked = [
        (deed, item, worker)
        for deed in outing.deeds
        for item in _taken_by(outing, deed)
        for worker in outing.workers
        if item in outing.ever(names.boots(worker))
    ]
    rules = [
        Rule(f"{item} without {worker}", _is_out(outing, deed, item, worker), At(deed.name))
        for deed, item, worker in asked
    ]
    return [
        ruled(
            NAME,
            judged,
            (deed.lane, item, worker) if worker != deed.lane else (deed.lane, item),
            f"{worker} is out of {item} when {deed.lane} takes it out",
            f"{deed.lane} takes {item} out of its socket while {worker} stands in it",
            step=deed.step.name,
            fix=f"Let {worker} get out of {item} before '{deed.name}'.",
        )
        for (deed, item, worker), judged in zip(asked, judge(outing, rules), strict=True)
        if judged.margin[0] < 0.0 or _is_from_socket(outing, deed, item)
    ]


def _taken_by(outing: Outing, deed: Deed) -> tuple[str, ...]:
    """Return the restraints that a deed takes out of a socket, in any order."""
    if isinstance(deed.action, Remove):
        return (deed.action.item,)
    if isinstance(deed.action, PickUp):
        sockets = set(outing.scene.sockets)
        return tuple(one for one in deed.action.items if sockets & set(holders_of(outing, one)))
    return ()


def _is_from_socket(outing: Outing, deed: Deed, item: str) -> bool:
    """Return whether a deed, as written, takes a restraint out of a socket."""
    held = outing.before(deed).get(names.holder(item))
    return isinstance(deed.action, Remove) or held in outing.scene.sockets


def _is_out(outing: Outing, deed: Deed, item: str, worker: str) -> Condition:
    """Return the condition that a worker is out of a restraint, or it is picked up elsewhere."""
    out = Not(Is(names.boots(worker), item))
    in_socket = Among(names.holder(item), frozenset(outing.scene.sockets))
    return out if isinstance(deed.action, Remove) else Some((out, Not(in_socket)))


def _stand(outing: Outing, step: Step) -> _Stand | None:
    if step.lane not in outing.workers:
        return None
    deeds = outing.deeds_in(step.name)
    first = next((one for one in deeds if _needs_feet(one)), None)
    if first is None:
        installs = any(isinstance(action, Install) for action in step.actions)
        if step.setting is None or installs:
            return None
        first = deeds[-1]
    values = outing.before(first)
    where = step.where or values[names.place(step.lane)]
    if not isinstance(where, str) or where not in outing.scene.sockets:
        return None
    restraint = step.restraint or values[names.boots(step.lane)]
    known = {*outing.scene.items, *outing.scene.restraints}
    named = str(restraint) if restraint in known else ""
    if named and not _pieces(outing, named):
        return None
    return _Stand(first, where, named)


def _needs_feet(deed: Deed) -> bool:
    action = deed.action
    return action is not None and is_bodily(action) and not isinstance(action, Translate)


def _pieces(outing: Outing, restraint: str) -> tuple[str, ...]:
    """Return the items that a restraint may be: itself, or all of its kind that exist."""
    items = outing.scene.items
    if restraint in items:
        return (restraint,)
    return tuple(name for name, item in items.items() if item.kind == restraint)


def _restraints(outing: Outing) -> tuple[str, ...]:
    items, kinds = outing.scene.items, outing.scene.restraints
    return tuple(name for name, item in items.items() if item.kind in kinds)


def _where(outing: Outing, stand: _Stand) -> str:
    """Return where a restraint is by then, as written, in words; empty where it is there."""
    values = outing.before(stand.deed)
    chain = chain_of(values, stand.restraint)
    if stand.restraint not in outing.scene.items or stand.socket in chain[:1]:
        return ""
    if not chain:
        return ": it is not taken along at all"
    if chain[0] in outing.workers:
        return f": {chain[0]} has it"
    return f": it is in {' at '.join(chain)}"


def _fix(outing: Outing, stand: _Stand) -> str:
    there = outing.before(stand.deed)[names.plugged(stand.socket)]
    before = f"before '{stand.deed.name}'"
    if isinstance(there, frozenset) and there and stand.restraint in outing.scene.items:
        return f"Stand in {min(map(str, there))}, which is in {stand.socket}."
    return f"Install {stand.restraint or 'a restraint'} in {stand.socket} {before}."
