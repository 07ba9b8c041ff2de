"""Question. Is all that guards a fastener so before it is turned, mated or demated?

Margin. 0 where it is so just before the fastener is done, in every order that the links between
steps allow: somebody else or a crane has hold of the payload, the inhibit is confirmed, the
fastener that comes before is done; -1 where it is not. A hold by who stays where they are while
others move the payload away leaves it open, until they take hold again.

Limit. ``guards`` of the procedure.

Blind spots. Asked when the fastener is done, not while it is turned; a hold that is taken or let
go of between is seen where no link forbids it. Items and windows of a guard are other checks'.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reach.checks.ruling import ruled
from reach.checks.taken import has_surely, is_ever_taken, with_doubts
from reach.finding import Finding
from reach.ledger import Deed, Outing, names
from reach.model.procedure import Drive
from reach.orders import At, AtLeast, Condition, Has, Is, Join, Rule, Some
from reach.orders.events import as_set
from reach.site import Site

NAME = "guard"
IDS = ("L1",)
TAKES = "outing"


@dataclass(frozen=True, slots=True)
class _Guarded:
    """One thing that must be so before a fastener is done."""

    deed: Deed
    fastener: str
    what: str
    condition: Condition
    holds: str
    broken: str
    fix: str
    sure: Condition | None = None
    doubt: str = ""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each deed on a guarded fastener and each thing that guards it."""
    asked = [
        one
        for deed in outing.deeds
        if isinstance(deed.action, Drive) and deed.action.fastener in outing.procedure.guards
        for one in _guarded(outing, deed, deed.action)
    ]
    rules = [
        Rule(f"{one.what} guards {one.deed.name}", one.condition, At(one.deed.name))
        for one in asked
    ]
    sure = [
        Rule(f"{rule.name} surely", one.sure, rule.when) if one.sure is not None else None
        for one, rule in zip(asked, rules, strict=True)
    ]
    return [
        ruled(
            NAME,
            judged,
            (one.deed.lane, one.fastener, one.what),
            one.holds,
            one.doubt if is_open else one.broken,
            step=one.deed.step.name,
            fix=one.fix,
            is_open=is_open,
        )
        for one, (judged, is_open) in zip(asked, with_doubts(outing, rules, sure), strict=True)
    ]


def _guarded(outing: Outing, deed: Deed, action: Drive) -> Iterator[_Guarded]:
    fastener = action.fastener
    guard = outing.procedure.guards[fastener]
    done = {"drive": "turned", "mate": "mated", "demate": "demated"}[action.do]
    if guard.held is not None:
        yield _held(outing, deed, fastener, guard.held, done)
    for inhibit in guard.inhibits:
        at = [d for d in outing.deeds if d.event.effect(names.inhibit(inhibit)) is not None]
        yield _Guarded(
            deed,
            fastener,
            inhibit,
            Is(names.inhibit(inhibit), True),
            f"{inhibit} is confirmed before {fastener} is {done}",
            f"{fastener} is {done} before {inhibit} is confirmed",
            _first(at, deed) or f"Confirm {inhibit} before step '{deed.step.name}'.",
        )
    for other in guard.after:
        at = [d for d in outing.deeds if d.event.effect(names.turned(other)) is not None]
        yield _Guarded(
            deed,
            fastener,
            other,
            AtLeast(names.turned(other), 1),
            f"{other} is done before {fastener} is {done}",
            f"{fastener} is {done} before {other} is done",
            _first(at, deed) or f"Turn {other} before step '{deed.step.name}'.",
        )


def _first(at: list[Deed], deed: Deed) -> str:
    """Name the step that must come first, if there is one."""
    if not at or at[0].step.name == deed.step.name:
        return ""
    return f"Move step '{at[0].step.name}' before step '{deed.step.name}'."


def _held(outing: Outing, deed: Deed, fastener: str, payload: str, done: str) -> _Guarded:
    name = names.hands(payload)
    holders = dict.fromkeys(
        str(one)
        for other in outing.deeds
        if isinstance(effect := other.event.effect(name), Join)
        for one in sorted(map(str, as_set(effect.elements)))
        if one != deed.lane
    )
    now = outing.before(deed)[name]
    own = isinstance(now, frozenset) and deed.lane in now
    nobody = "nobody but who turns it" if own else "nobody"
    return _Guarded(
        deed,
        fastener,
        payload,
        # Where nobody else ever has hold of it, no element serves.
        Some(tuple(Has(name, one) for one in holders) or (Has(name, ""),)),
        f"{_said(holders, now)} has hold of {payload} when {fastener} is {done}",
        f"{fastener} is {done} while {nobody} has hold of {payload}",
        _hold_first(outing, deed, payload, list(holders)),
        Some(tuple(has_surely(payload, one) for one in holders))
        if is_ever_taken(outing, payload)
        else None,
        f"{fastener} is {done} while {payload} was moved away from whoever holds it: whether that "
        "hold lasts is not said",
    )


def _said(holders: dict[str, None], now: object) -> str:
    held = [one for one in holders if isinstance(now, frozenset) and one in now]
    return " and ".join(held) or "somebody else"


def _hold_first(outing: Outing, deed: Deed, payload: str, holders: list[str]) -> str:
    """Name who may take hold before, the nearest in time that takes hold at all."""
    others = [*holders, *(one for one in outing.workers if one not in (deed.lane, *holders))]
    if not others:
        return f"Let somebody else take hold of {payload} before step '{deed.step.name}'."
    return (
        f"Let {others[0]} take hold of {payload} before step '{deed.step.name}', and keep it "
        f"until somebody else has it."
    )
