"""Question. Is a payload that nothing fixes held by somebody, and one that moves fixed by nothing?

Margin. 0 where at least one worker or crane has hold of it whenever all its fasteners and guides
are undone, no fastener holds it when it is moved, and who hands it over has it, in every order
that the links between steps allow; -1 where not.

Limit. One holder. Who gives and who takes have it together in a hand over. Who gets out of the
boots, goes elsewhere or is taken away by a crane has let go of what does not go along; two hands
that take hold of something leave all else. Where a step says that a payload is somewhere else
when its holder has ridden off, it may have gone along: that is open, as is which of two payloads
a hand leaves for a third.

Blind spots. Asked of payloads that say what they are ``fixed_by``. How firmly it is held, and
whether one person can hold it, is not looked at; a fastener holds until it is all the way out.
Who holds a payload that a crane or others move away still counts as holding it, and who rides is
read from the order as written.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from reach.checks.lapses import Lapse, Told, always
from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.model.procedure import Drive, HandOver, Hold, MoveCrane, Moving
from reach.motions import crane_of
from reach.orders import (
    All,
    Always,
    At,
    AtLeast,
    Condition,
    Has,
    Join,
    Leave,
    Not,
    Put,
    Rule,
    Some,
    Value,
)
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
    found = []
    for payload, judged in zip(asked, judge(outing, rules), strict=True):

        def tell(lapse: Lapse, payload: str = payload) -> Told:
            broken = f"{payload} is free and nobody has hold of it"
            if lapse.by is not None and isinstance(lapse.by.action, MoveCrane):
                return _ridden_off(outing, payload, lapse.by, broken)
            return Told(broken, _fix(outing, payload, lapse))

        holds = f"{payload} is always fixed or in somebody's hold"
        found += always(NAME, judged, (payload,), holds, tell, step=_first(outing, payload))
    return [*found, *_moved(outing, asked), *_given(outing, asked), *_crowded(outing, asked)]


def _ridden_off(outing: Outing, payload: str, by: Deed, broken: str) -> Told:
    """Return what is told of a payload that is loose when a crane has moved, with its riders."""
    assert isinstance(by.action, MoveCrane)
    crane, effect = crane_of(outing.scene, by.action), by.event.effect(names.hands(payload))
    gone = as_set(effect.elements) if isinstance(effect, Leave) else frozenset()
    riders = [one for one in outing.workers if one in gone and one in _takers(outing, payload)]
    held = as_set(outing.before(by)[names.hands(payload)])
    riders = [one for one in riders if one in held] or riders
    step = by.step.name
    if not riders:
        return Told(broken, f"Name {payload} in step '{step}', or fix it before.")
    where = by.event.effect(names.tip(crane))
    to = (
        f" to {where.value}"
        if isinstance(where, Put) and where.value in outing.scene.stations
        else ""
    )
    rides = f"{' and '.join(riders)} ride{'s' if len(riders) == 1 else ''} {crane}{to}"
    placed = _placed_next(outing, payload, by)
    if placed is not None:
        return Told(
            f"{rides}, step '{placed.step.name}' places {payload} at "
            f"{placed.step.placed[payload]}: whether it goes along in their hands is not said; if "
            f"not, {broken}",
            f"Name {payload} in step '{step}' if it rides along.",
            is_open=True,
        )
    return Told(
        f"{broken}: {rides} without it",
        f"Name {payload} in step '{step}' if it rides along, else fix it or let somebody who "
        "stays take hold of it before.",
    )


def _takers(outing: Outing, payload: str) -> frozenset[Value]:
    """Return everyone who ever takes hold of a payload."""
    effects = (deed.event.effect(names.hands(payload)) for deed in outing.deeds)
    return frozenset().union(*(as_set(one.elements) for one in effects if isinstance(one, Join)))


def _placed_next(outing: Outing, payload: str, ride: Deed) -> Deed | None:
    """Return the begin of a step that says where a payload is by then, and no motion took it there.

    It may begin with the ride; None where nothing, or a motion, is the next to change its pose.
    """
    name = names.pose(payload)
    for deed in outing.deeds:
        since = outing.rank(deed) > outing.rank(ride) or deed.step is ride.step
        effect = deed.event.effect(name)
        if since and isinstance(effect, Put):
            is_placed = deed.action is None and effect.value != outing.before(deed)[name]
            return deed if is_placed else None
    return None


def _crowded(outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return a finding for each time that a hand leaves one of two payloads for something else."""
    asked = [
        (deed, *third, pair)
        for deed in outing.deeds
        if (third := _third(outing, deed)) is not None
        for pair in combinations([one for one in outing.scene.payloads if one != third[1]], 2)
        if set(pair) & set(payloads) and all(third[0] in _takers(outing, one) for one in pair)
    ]
    rules = [
        Rule(
            f"{worker} has a hand for {what} at {deed.name}",
            Not(All(tuple(Has(names.hands(one), worker) for one in pair))),
            At(deed.name),
        )
        for deed, worker, what, pair in asked
    ]
    found = [
        ruled(
            NAME,
            judged,
            (worker, *pair, what),
            f"{worker} has a hand for {what}",
            f"{worker} holds {' and '.join(pair)} with a hand each and takes hold of {what}: which "
            "of them is let go is not said",
            step=deed.step.name,
            fix=f"Let {worker} release both before, and hold what is held on by a hand each.",
            is_open=True,
        )
        for (deed, worker, what, pair), judged in zip(asked, judge(outing, rules), strict=True)
    ]
    return [one for one in found if one.low < 0.0]


def _third(outing: Outing, deed: Deed) -> tuple[str, str] | None:
    """Return who takes hold with one hand by a deed, and of which payload or grip, or None."""
    action = deed.action
    if not isinstance(action, Hold | HandOver) or len(action.grips) > 1:
        return None
    if isinstance(action, HandOver) and deed.is_last:
        return None
    worker = action.to if isinstance(action, HandOver) else deed.lane
    return worker, outing.scene.payload_of(action.grips[0]) or action.grips[0]


def _moved(outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return one finding for each time that fasteners hold a payload that is moved."""
    asked = [
        (deed, payload)
        for deed in outing.deeds
        for payload in payloads
        if isinstance(deed.action, Moving) and names.pose(payload) in deed.event.writes
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
        found.append(
            ruled(
                NAME,
                judged,
                (payload, *tight),
                f"No fastener holds {payload} when it is moved",
                f"{payload} is moved while {what} still {'hold' if len(tight) > 1 else 'holds'} it",
                step=deed.step.name,
                fix=f"Undo {what} before step '{deed.step.name}'.",
            )
        )
    return [one for one in found if one.low < 0.0]


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
    rules = [
        Rule(f"{deed.lane} has {payload}", Has(names.hands(payload), deed.lane), At(deed.name))
        for deed, payload in asked
    ]
    found = [
        ruled(
            NAME,
            judged,
            (deed.lane, payload),
            f"{deed.lane} has hold of {payload} when they hand it over",
            f"{deed.lane} hands {payload} over without having hold of it",
            step=deed.step.name,
            fix=f"Let {deed.lane} take hold of {payload} before step '{deed.step.name}'.",
        )
        for (deed, payload), judged in zip(asked, judge(outing, rules), strict=True)
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
