"""Question. Is a payload that nothing fixes held by somebody, and one that moves fixed by nothing?

Margin. 0 where at least one worker or crane has hold of it whenever all its fasteners and guides
are undone, no fastener holds it when it is moved, or when a step says that it is elsewhere, and who
hands it over has it, in every order that the links between steps allow; -1 where not.

Limit. One holder. Who gives and who takes have it together in a hand over. Who gets out of the
boots, goes elsewhere or is taken away by a crane has let go of what does not go along; two hands
that take hold of something leave all else. Where a step says that a payload is somewhere else
when its holder has ridden off, it may have gone along: that is open, as is which of two payloads
a hand leaves for a third, and a hold by who stays where they are while a crane, a mechanism or
others move it away, or a step says that it is elsewhere by then, where nothing else holds it and
they do not take hold again.

Blind spots. Asked of payloads that say what they are ``fixed_by``. How firmly it is held, and
whether one person can hold it, is not looked at; a fastener holds until it is all the way out.
Where only another order than the written one takes a holder away on a crane, what becomes of the
hold after that is not followed: that is open, unless the payload is loose at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from reach.checks.lapses import Lapse, Told, always
from reach.checks.leaving import astray, crowded, ridden_off
from reach.checks.ruling import ruled
from reach.checks.taken import doubtful, has_surely, is_ever_taken, left_behind, with_doubts
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.model.procedure import Drive, HandOver, MoveCrane, Moving
from reach.orders import All, Always, At, AtLeast, Condition, Has, Join, Not, Put, Rule, Some
from reach.orders.events import as_set
from reach.site import Site

NAME = "held"
IDS = ("N1",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each payload, or one for each time it floats."""
    if not outing.is_declared:
        return []
    asked = [name for name, one in outing.scene.payloads.items() if one.fixed_by]
    rules = [
        Rule(
            f"{name} held",
            Some((AtLeast(names.fixed(name), 1), AtLeast(names.hands(name), 1))),
            Always(),
        )
        for name in asked
    ]
    found, kept = [], []
    for payload, judged in zip(asked, judge(outing, rules), strict=True):
        kept += [] if judged.is_broken else [payload]

        def tell(lapse: Lapse, payload: str = payload) -> Told:
            broken = f"{payload} is free and nobody has hold of it"
            if lapse.by is not None and isinstance(lapse.by.action, MoveCrane):
                return ridden_off(outing, payload, lapse.by, broken)
            return Told(broken, _fix(outing, payload, lapse))

        holds = f"{payload} is always fixed or in somebody's hold"
        found += always(NAME, judged, (payload,), holds, tell, step=_first(outing, payload))
    found += [*_moved(outing, asked), *_given(outing, asked)]
    # Who guards a fastener may hold what nothing fixes: those hands are trusted as well.
    guarding = [one.held for one in outing.procedure.guards.values() if one.held]
    trusted = list(dict.fromkeys([*asked, *guarding]))
    for leave in (crowded, astray, left_behind):
        found += leave(NAME, outing, trusted)
    return [*found, *doubtful(NAME, outing, kept)]


def _moved(outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return one finding for each time that fasteners hold a payload that is moved."""
    asked = [
        (deed, payload)
        for deed in outing.deeds
        for payload in payloads
        if names.pose(payload) in deed.event.writes
        if isinstance(deed.action, Moving) or _is_placed_elsewhere(outing, deed, payload)
    ]
    rules = [
        Rule(f"{payload} free for {deed.name}", _is_free(outing, payload), At(deed.name))
        for deed, payload in asked
    ]
    found = []
    for (deed, payload), judged in zip(asked, judge(outing, rules), strict=True):
        before = outing.before(deed)
        if judged.elsewhere:
            before = judged.ruling.values or before
        fixed = as_set(before[names.fixed(payload)])
        tight = [one for one in outing.scene.fasteners if one in fixed]
        what = " and ".join(tight)
        moved = "is moved" if deed.action is not None else "is elsewhere by then"
        found.append(
            ruled(
                NAME,
                judged,
                (payload, *tight),
                f"No fastener holds {payload} when it {moved}",
                f"{payload} {moved} while {what} still {'hold' if len(tight) > 1 else 'holds'} it",
                step=deed.step.name,
                fix=f"Undo {what} before step '{deed.step.name}'.",
                is_open=deed.action is None and _was_free(outing, deed, payload),
            )
        )
    return [one for one in found if one.low < 0.0]


def _is_placed_elsewhere(outing: Outing, deed: Deed, payload: str) -> bool:
    """Return whether a step says that a payload is elsewhere than it was: somebody moved it."""
    effect, before = deed.event.effect(names.pose(payload)), outing.before(deed)
    is_put = deed.action is None and isinstance(effect, Put)
    return is_put and effect != Put(before[names.pose(payload)])


def _was_free(outing: Outing, deed: Deed, payload: str) -> bool:
    """Return whether nothing fixed a payload, as written, at some time since it was elsewhere."""
    for one in reversed(outing.deeds[: outing.rank(deed) + 1]):
        fixed = as_set(outing.before(one)[names.fixed(payload)])
        if not fixed & set(outing.scene.fasteners):
            return True
        if one is not deed and names.pose(payload) in one.event.writes:
            return False
    return False


def _is_free(outing: Outing, payload: str) -> Condition:
    held_by = [
        one for one in outing.scene.payloads[payload].fixed_by if one in outing.scene.fasteners
    ]
    return All(tuple(Not(Has(names.fixed(payload), one)) for one in held_by))


def _given(outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return one finding for each payload that somebody hands over who does not have it."""
    asked = [
        (deed, payload)
        for deed in outing.deeds
        for payload in payloads
        if isinstance(deed.action, HandOver)
        and isinstance(deed.event.effect(names.hands(payload)), Join)
    ]
    has = [
        Rule(f"{deed.lane} has {payload}", Has(names.hands(payload), deed.lane), At(deed.name))
        for deed, payload in asked
    ]
    sure = [
        Rule(f"{deed.lane} has {payload} still", has_surely(payload, deed.lane), At(deed.name))
        if is_ever_taken(outing, payload)
        else None
        for deed, payload in asked
    ]
    gone = "and it was moved away from them since: whether they still hold it is not said"
    found = [
        ruled(
            NAME,
            judged,
            (deed.lane, payload),
            f"{deed.lane} has hold of {payload} when they hand it over",
            f"{deed.lane} hands {payload} over "
            + (gone if is_open else "without having hold of it"),
            step=deed.step.name,
            fix=f"Let {deed.lane} take hold of {payload} before step '{deed.step.name}'.",
            is_open=is_open,
        )
        for (deed, payload), (judged, is_open) in zip(
            asked, with_doubts(outing, has, sure), strict=True
        )
    ]
    return [one for one in found if one.low < 0.0]


def _fix(outing: Outing, payload: str, lapse: Lapse) -> str:
    by, until = lapse.by, lapse.until
    if by is None:
        return f"Say in begin.tight what fixes {payload} at the start."
    holds = until is not None and names.hands(payload) in until.event.writes
    if isinstance(by.action, Drive):
        others = [one for one in outing.workers if one != by.lane]
        if until is not None and holds and until.lane != by.lane:
            first = f"step '{until.step.name}' ({until.lane} takes hold) first"
        else:
            first = f"somebody else take hold of {payload} first"
            first += f", for example {others[0]}" if others else ""
        return f"Let {first}, then undo {by.action.fastener} in step '{by.step.name}'."
    if until is not None and holds:
        return (
            f"Let {until.lane} take hold of {payload} (step '{until.step.name}') before "
            f"{by.lane} lets go (step '{by.step.name}')."
        )
    return f"Let {by.lane} keep hold of {payload} in step '{by.step.name}', or fix it before."


def _first(outing: Outing, payload: str) -> str:
    """Return the step in which what fixes a payload, or who holds it, first changes."""
    asked = (names.fixed(payload), names.hands(payload))
    for deed in outing.deeds:
        if any(deed.event.effect(one) for one in asked) and deed.action is not None:
            return deed.step.name
    return ""
