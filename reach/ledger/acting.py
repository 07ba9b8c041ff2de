"""What each action changes, part by part."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from reach.ledger import names
from reach.model.handling import (
    Adjust,
    Attach,
    Confirm,
    Egress,
    Install,
    Lay,
    Pass,
    PickUp,
    Remove,
    Stow,
)
from reach.model.procedure import (
    Action,
    Align,
    Drive,
    HandOver,
    Hold,
    Ingress,
    Move,
    MoveCrane,
    Release,
    Step,
    Translate,
)
from reach.model.scene import Scene
from reach.motions import crane_of, goal_of, is_on, tip_name
from reach.orders import Effect, Join, Leave, Value
from reach.placing import setting_angles, shown

Now: TypeAlias = Mapping[str, Value]
"""How everything is, as written, just before an action."""

Part: TypeAlias = tuple[str, dict[str, Effect | Value]]
"""A word for a part of an action, empty for the whole, and what it writes."""


def entering(scene: Scene, step: Step, now: Now) -> dict[str, Effect | Value]:
    """Return what is changed by beginning a step: its place, its setting, poses it gives."""
    writes: dict[str, Effect | Value] = {}
    worker = step.lane
    if step.where is not None and names.place(worker) in now:
        writes[names.place(worker)] = step.where
        writes |= _comes_out(worker, now)
        if _goes(scene, worker, step.where, now):
            writes |= _steps_off(worker, now) | _hands_off(scene, worker)
    where = step.where or now.get(names.place(worker))
    restraint = restraint_at(scene, step, where, now)
    if step.setting is not None and names.setting(restraint) in now:
        kind = scene.restraints[scene.items[restraint].kind]
        writes[names.setting(restraint)] = shown(kind, setting_angles(kind, step.setting))
    for payload, pose in step.placed.items():
        writes[names.pose(payload)] = pose
        if now.get(names.pose(payload)) != pose:
            # Somebody moved it in between; whether others kept hold of it is not said.
            writes |= _parted(scene, payload, now, {worker}, set())
            writes |= _out_of_guides(scene, payload, now)
    return writes


def _comes_out(worker: str, now: Now) -> dict[str, Effect | Value]:
    """Return that who was in the lock is outside: nobody is elsewhere without having come out."""
    return {names.outside(worker): True} if now.get(names.outside(worker)) is False else {}


def _goes(scene: Scene, worker: str, where: str, now: Now) -> bool:
    """Return whether somebody is elsewhere by now, and not just on another spot of one tip."""
    old = now.get(names.place(worker))
    return old != where and not any(
        _rides(scene, crane, old) and _rides(scene, crane, where) for crane in scene.cranes
    )


def _steps_off(worker: str, now: Now) -> dict[str, Effect | Value]:
    """Return that boots which were in a restraint are in none any more."""
    return {names.boots(worker): None} if now.get(names.boots(worker)) else {}


def restraint_at(scene: Scene, step: Step, where: Value, now: Now) -> str:
    """Return what holds a worker who stands somewhere: as the step says, else as it is there."""
    if step.restraint is not None:
        return step.restraint
    if isinstance(where, str) and where in scene.stations:
        return scene.stations[where].restraint
    there = now.get(names.plugged(str(where)))
    return min(there, default="") if isinstance(there, frozenset) else ""


def parts_of(scene: Scene, step: Step, action: Action, now: Now) -> list[Part]:
    """Return what an action changes, in order; one part for most of them."""
    found = _ACTS.get(type(action))
    return list(found(scene, step, action, now)) if found else [("", {})]


def _egress(scene: Scene, step: Step, action: Egress, now: Now) -> Iterator[Part]:
    worker = step.lane
    if action.start is not None:
        yield "", {names.outside(worker): True, names.place(worker): action.start}
    else:
        yield "", {names.boots(worker): None} | _hands_off(scene, worker)


def _ingress(scene: Scene, step: Step, action: Ingress, now: Now) -> Iterator[Part]:
    worker = step.lane
    if action.to is not None:
        yield (
            "",
            {
                names.outside(worker): False,
                names.place(worker): action.to,
                names.boots(worker): None,
            }
            | _hands_off(scene, worker),
        )
        return
    where = step.where or now[names.place(worker)]
    yield "", {names.boots(worker): restraint_at(scene, step, where, now) or where}


def _hands_off(scene: Scene, worker: str, but: str = "") -> dict[str, Effect | Value]:
    """Return that a worker lets go of all payloads but one, in whichever order they held them."""
    return {names.hands(one): Leave(worker) for one in scene.payloads if one != but}


def _hands_on(
    scene: Scene, worker: str, grips: Sequence[str]
) -> tuple[str, dict[str, Effect | Value]]:
    """Return the payload of some grips, and that a worker holds it; both hands leave all else."""
    payload = scene.payload_of(grips[0])
    writes = _hands_off(scene, worker, payload) if len(grips) > 1 else {}
    if payload:
        writes |= {names.hands(payload): Join(worker), names.parted(payload): Leave(worker)}
    return payload, writes


def _translate(scene: Scene, step: Step, action: Translate, now: Now) -> Iterator[Part]:
    worker = step.lane
    leave = {names.place(worker): None, names.boots(worker): None} | _hands_off(scene, worker)
    leave |= _comes_out(worker, now)
    if action.tether is not None and now.get(names.reel(action.tether)) != worker:
        leave |= _off(scene, action.tether, now.get(names.reel(action.tether)), now)
        leave |= {names.reel(action.tether): worker, names.seen(action.tether, "reel"): False}
        leave |= {names.worn(worker): action.tether}
    line = action.tether or str(now.get(names.worn(worker)) or "")
    if action.anchor is not None and line and now.get(names.hook(line)) != action.anchor:
        leave |= {names.hook(line): action.anchor, names.seen(line, "hook"): False}
    yield "leave", leave
    yield "arrive", {names.place(worker): action.to}


def _hold(scene: Scene, step: Step, action: Hold, now: Now) -> Iterator[Part]:
    yield "", _hands_on(scene, step.lane, action.grips)[1]


def _release(scene: Scene, step: Step, action: Release, now: Now) -> Iterator[Part]:
    if action.what is None:
        yield "", _hands_off(scene, step.lane)
    elif action.what not in scene.tethers:
        yield "", {names.ties(action.what): Leave(action.start)}
    elif action.start in scene.anchors and now.get(names.reel(action.what)) != action.start:
        # Whoever wears the reel has the hook in hand; without them it floats.
        has_reel = now.get(names.reel(action.what)) == step.lane
        hook = action.to or (None if has_reel else names.ADRIFT)
        yield "", {names.hook(action.what): hook}
    else:
        reel = {names.reel(action.what): action.to or names.ADRIFT}
        yield "", reel | _off(scene, action.what, action.start, now)


def _off(scene: Scene, line: str, wearer: Value, now: Now) -> dict[str, Effect | Value]:
    """Return what somebody wears once a line is off their suit: the next that is left on it."""
    worn = names.worn(str(wearer))
    left = [one for one in scene.tethers if one != line and now.get(names.reel(one)) == wearer]
    return {worn: next(iter(left), None)} if now.get(worn) == line else {}


def _hand_over(scene: Scene, step: Step, action: HandOver, now: Now) -> Iterator[Part]:
    payload, writes = _hands_on(scene, action.to, action.grips)
    yield "take", writes
    yield "let go", {names.hands(payload): Leave(step.lane)}


def _move(scene: Scene, step: Step, action: Move | MoveCrane | Align, now: Now) -> Iterator[Part]:
    payload, goal = goal_of(scene, step, action)
    writes: dict[str, Effect | Value] = {names.pose(payload): goal} if payload else {}
    if isinstance(action, Align):
        if action.guide in scene.payloads[payload].fixed_by:
            writes[names.fixed(payload)] = Join(action.guide)
    elif payload:
        writes |= _out_of_guides(scene, payload, now)
    crane = crane_of(scene, action) if isinstance(action, MoveCrane) else ""
    if payload:
        # A crane lets what it holds be aligned by hand.
        yields = set(scene.cranes) if isinstance(action, Align) else set()
        writes |= _parted(scene, payload, now, {step.lane, crane}, yields)
    if isinstance(action, MoveCrane):
        there = tip_name(crane) if payload else action.to
        riders = [one for one, at in _people(now).items() if _rides(scene, crane, at)]
        gone = {one for one in riders if payload or now[names.place(one)] != there}
        writes |= _left_behind(scene, payload, crane, gone, now)
        writes |= {names.place(one): there for one in riders} | {names.tip(crane): there}
        if payload and scene.payloads[payload].grapple is not None:
            yield (
                "take",
                {names.hands(payload): Join(crane), names.parted(payload): Leave(crane)},
            )
    yield "", writes


def _out_of_guides(scene: Scene, payload: str, now: Now) -> dict[str, Effect | Value]:
    """Return that a payload which is moved comes out of its guides: they hold softly."""
    guides = _set(now, names.fixed(payload)) - set(scene.fasteners)
    return {names.fixed(payload): Leave(guides)} if guides else {}


def _parted(
    scene: Scene, payload: str, now: Now, movers: set[str], yields: set[str]
) -> dict[str, Effect | Value]:
    """Return from whom a payload goes away: from all but who moves it, yields, or stands on either.

    Who stands on it goes away from all other payloads.
    """
    places = {worker: str(at) for worker, at in _people(now).items()}
    along = {worker for worker, at in places.items() if is_on(scene, payload, at)}
    ride = {
        worker
        for worker, at in places.items()
        if any(_rides(scene, crane, at) for crane in movers & set(scene.cranes))
    }
    cranes = set(scene.cranes) if scene.payloads[payload].grapple is not None else set()
    stay = (places.keys() | cranes) - along - ride - movers - yields
    gone = {payload: stay} | {one: along for one in scene.payloads if one != payload}
    return {names.parted(one): Join(frozenset(who)) for one, who in gone.items() if who}


def _people(now: Now) -> dict[str, Value]:
    """Return where everybody is."""
    prefix = names.place("")
    return {name.removeprefix(prefix): at for name, at in now.items() if name.startswith(prefix)}


def _left_behind(
    scene: Scene, payload: str, crane: str, gone: set[str], now: Now
) -> dict[str, Effect | Value]:
    """Return that a crane, and who is gone with it, let go of all but what they take along."""
    writes: dict[str, Effect | Value] = {}
    for one in scene.payloads:
        name = names.hands(one)
        leave = gone | ({crane} & _set(now, name))
        if one != payload and leave:
            writes[name] = Leave(frozenset(leave))
    return writes


def _rides(scene: Scene, crane: str, at: Value) -> bool:
    if isinstance(at, str) and at in scene.stations:
        return scene.stations[at].on == crane
    return at == tip_name(crane)


def _drive(scene: Scene, step: Step, action: Drive, now: Now) -> Iterator[Part]:
    fastener = action.fastener
    way = "loose" if action.undoes else "tight"
    writes: dict[str, Effect | Value] = {
        names.state(fastener): way,
        names.turned(fastener): Join(way),
    }
    for payload, record in scene.payloads.items():
        if fastener in record.fixed_by:
            change = Leave(fastener) if action.undoes else Join(fastener)
            writes[names.fixed(payload)] = change
    if action.bit is not None and names.bit(action.tool) in now:
        writes[names.bit(action.tool)] = action.bit
    if action.torque is not None and names.torque(action.tool) in now:
        writes[names.torque(action.tool)] = action.torque
    yield "", writes


def _adjust(scene: Scene, step: Step, action: Adjust, now: Now) -> Iterator[Part]:
    writes: dict[str, Effect | Value] = {}
    if action.bit is not None:
        writes[names.bit(action.tool)] = action.bit
    if action.torque is not None:
        writes[names.torque(action.tool)] = action.torque
    yield "", writes


def _attach(scene: Scene, step: Step, action: Attach, now: Now) -> Iterator[Part]:
    what = action.what
    if what not in scene.tethers:
        yield "", {names.ties(what): Join(action.to)}
    elif action.to in scene.anchors:
        yield "", {names.hook(what): action.to, names.seen(what, "hook"): action.checked}
    else:
        yield (
            "",
            _off(scene, what, now.get(names.reel(what)), now)
            | {
                names.reel(what): action.to,
                names.seen(what, "reel"): action.checked,
                names.worn(action.to): what,
            },
        )


def _pick_up(scene: Scene, step: Step, action: PickUp, now: Now) -> Iterator[Part]:
    yield "", moved(now, action.items, action.to or step.lane, action.tied)


def _stow(scene: Scene, step: Step, action: Stow, now: Now) -> Iterator[Part]:
    yield "", moved(now, action.items, action.to, action.tied)


def _pass(scene: Scene, step: Step, action: Pass, now: Now) -> Iterator[Part]:
    yield "", moved(now, action.items, action.to, action.tied)


def moved(
    now: Now, items: tuple[str, ...], to: str, tied: bool = True
) -> dict[str, Effect | Value]:
    """Return what it writes that items come into, or onto, something else."""
    writes: dict[str, Effect | Value] = {}
    left: dict[str, set[Any]] = {}
    for item in items:
        writes[names.holder(item)] = to
        writes[names.ties(item)] = frozenset({to} if tied else ())
        old = now.get(names.holder(item))
        if old is not None and old != to:
            left.setdefault(str(old), set()).add(item)
    for old, several in left.items():
        writes[names.contents(old)] = Leave(frozenset(several))
        if several & _set(now, names.plugged(old)):
            writes[names.plugged(old)] = Leave(frozenset(several))
    writes[names.contents(to)] = Join(frozenset(items))
    return writes


def _install(scene: Scene, step: Step, action: Install, now: Now) -> Iterator[Part]:
    writes = moved(now, (action.item,), action.to)
    yield "", writes | {names.plugged(action.to): Join(action.item)}


def _remove(scene: Scene, step: Step, action: Remove, now: Now) -> Iterator[Part]:
    old = now.get(names.holder(action.item))
    writes = moved(now, (action.item,), step.lane)
    if isinstance(old, str) and names.plugged(old) in now:
        writes[names.plugged(old)] = Leave(action.item)
    yield "", writes


def _lay(scene: Scene, step: Step, action: Lay, now: Now) -> Iterator[Part]:
    yield "", moved(now, (action.item, *action.clamps), action.to)


def _confirm(scene: Scene, step: Step, action: Confirm, now: Now) -> Iterator[Part]:
    yield "", {names.inhibit(action.inhibit): True} if action.inhibit else {}


def _set(now: Now, name: str) -> frozenset[Any]:
    found = now.get(name, frozenset())
    return found if isinstance(found, frozenset) else frozenset()


_ACTS: dict[type, Callable[..., Iterator[Part]]] = {
    Egress: _egress,
    Ingress: _ingress,
    Translate: _translate,
    Hold: _hold,
    Release: _release,
    HandOver: _hand_over,
    Move: _move,
    MoveCrane: _move,
    Align: _move,
    Drive: _drive,
    Adjust: _adjust,
    Attach: _attach,
    PickUp: _pick_up,
    Stow: _stow,
    Pass: _pass,
    Install: _install,
    Remove: _remove,
    Lay: _lay,
    Confirm: _confirm,
}

__all__ = ["Now", "Part", "entering", "moved", "parts_of", "restraint_at"]
