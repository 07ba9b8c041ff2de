"""Hands that leave a payload: a crane goes without it, or for something else."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from reach.checks.lapses import Told
from reach.checks.ruling import ruled
from reach.checks.taken import takers_of
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.ledger.riding import crane_moves, tips_of
from reach.model.procedure import HandOver, Hold, MoveCrane
from reach.motions import crane_of, goal_of
from reach.orders import All, Among, At, AtLeast, Condition, Has, Leave, Not, Put, Rule, Value
from reach.orders.events import as_set


def ridden_off(outing: Outing, payload: str, by: Deed, broken: str) -> Told:
    """Return what is told of a payload that is loose when a crane has moved, with its riders."""
    assert isinstance(by.action, MoveCrane)
    crane, gone = crane_of(outing.scene, by.action), _left(by, names.hands(payload))
    riders = [one for one in takers_of(outing, payload) if one in gone]
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


def _stays_at(deed: Deed) -> set[str | None]:
    """Return where a crane's move leaves who stands there; with a payload it names a pose."""
    moving = _moving(deed)
    return set() if moving.payload else {moving.to}


def astray(check: str, outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return a finding for each crane that only in another order takes away who holds a payload.

    What such a hold is worth after that the ledger does not follow: it goes by who rides as
    written.
    """
    asked = [
        (deed, crane, worker, payload, All((Among(names.place(worker), tips), Has(name, worker))))
        for crane in outing.scene.cranes
        for deed in crane_moves(outing, crane)
        for payload in payloads
        if payload != goal_of(outing.scene, deed.step, _moving(deed))[0]
        for name in (names.hands(payload),)
        for worker in takers_of(outing, payload)
        if worker not in _left(deed, name)
        if (
            tips := (tips_of(outing, crane) - _stays_at(deed))
            & set(outing.ever(names.place(worker)))
        )
    ]
    loose = [
        Rule(
            f"{payload} is not left by {worker} on {crane} at {deed.name}",
            Not(All((held, *_alone(payload)))),
            At(deed.name),
        )
        for deed, crane, worker, payload, held in asked
    ]
    kept = [
        Rule(f"{worker} does not ride with {payload} at {deed.name}", Not(held), At(deed.name))
        for deed, _, worker, payload, held in asked
    ]
    judged = judge(outing, [*loose, *kept])
    found = []
    for k, (deed, crane, worker, payload, _) in enumerate(asked):
        # Of what nothing is said to fix it is not known whether it floats.
        is_loose = judged[k].is_broken and bool(outing.scene.payloads[payload].fixed_by)
        told = f"{worker} rides {crane} away from {payload}, which they hold"
        found.append(
            ruled(
                check,
                judged[k] if is_loose else judged[len(asked) + k],
                (payload, worker, crane),
                f"{worker} does not ride {crane} away from {payload}",
                f"{told}, free and held by nobody else" if is_loose else told,
                step=deed.step.name,
                is_open=not is_loose,
            )
        )
    return [one for one in found if one.low < 0.0]


def _moving(deed: Deed) -> MoveCrane:
    assert isinstance(deed.action, MoveCrane)
    return deed.action


def _left(deed: Deed, name: str) -> frozenset[Value]:
    effect = deed.event.effect(name)
    return as_set(effect.elements) if isinstance(effect, Leave) else frozenset()


def _alone(payload: str) -> tuple[Condition, ...]:
    """Return that nothing fixes a payload, and that one at most has hold of it."""
    return Not(AtLeast(names.fixed(payload), 1)), Not(AtLeast(names.hands(payload), 2))


def crowded(check: str, outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return a finding for each time that a hand leaves one of two payloads for something else."""
    asked = [
        (deed, *third, pair)
        for deed in outing.deeds
        if (third := _third(outing, deed)) is not None
        for pair in combinations([one for one in outing.scene.payloads if one != third[1]], 2)
        if set(pair) & set(payloads) and all(third[0] in takers_of(outing, one) for one in pair)
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
            check,
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


__all__ = ["astray", "crowded", "ridden_off"]
