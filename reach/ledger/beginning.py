"""The value of every variable of the ledger before anything is done."""

from __future__ import annotations

from reach.ledger import names
from reach.model.outing import Ends, Start
from reach.model.procedure import Procedure
from reach.model.scene import Scene
from reach.orders import Value
from reach.placing import setting_angles, shown


def beginning(scene: Scene, procedure: Procedure) -> dict[str, Value]:
    """Return how everything is when the outing begins.

    What the procedure does not declare is taken from the scene, or is not known (None).
    """
    start = procedure.begin or Start()
    values: dict[str, Value] = {}
    workers = [lane for lane, kind in procedure.lanes.items() if kind == "worker"]
    for worker in workers:
        at = start.workers.get(worker) or _home(scene)
        values |= {
            names.place(worker): at,
            names.boots(worker): None,
            names.outside(worker): None if procedure.begin is None else at not in scene.hatches,
            names.contents(worker): frozenset(),
        }
    values |= _items(scene, start)
    for name in scene.tethers:
        values |= _line(scene, procedure.begin, name)
    for worker in workers:
        mine = [name for name in scene.tethers if values[names.reel(name)] == worker]
        values[names.worn(worker)] = next(iter(mine), None)
    tight = set(start.tight)
    for name in scene.fasteners:
        values[names.state(name)] = "tight" if name in tight else "loose"
        values[names.turned(name)] = frozenset()
    for name in procedure.inhibits:
        values[names.inhibit(name)] = name in start.confirmed
    for name, payload in scene.payloads.items():
        values[names.hands(name)] = values[names.parted(name)] = frozenset()
        values[names.fixed(name)] = frozenset(tight & set(payload.fixed_by))
        values[names.pose(name)] = next(iter(payload.poses))
    for name in scene.cranes:
        values[names.tip(name)] = None
    return values


def _home(scene: Scene) -> str | None:
    return next(iter(scene.hatches), None)


def _items(scene: Scene, start: Start) -> dict[str, Value]:
    values: dict[str, Value] = {}
    held: dict[str, set[str]] = {}
    for name, item in scene.items.items():
        kept = start.items.get(name)
        values[names.holder(name)] = kept.holder if kept else None
        values[names.ties(name)] = frozenset({kept.holder} if kept and kept.tied else ())
        if kept:
            held.setdefault(kept.holder, set()).add(name)
        if item.kind in scene.tools:
            dial = start.tools.get(name)
            values[names.bit(name)] = dial.bit if dial else None
            values[names.torque(name)] = dial.torque if dial else None
        if item.kind in scene.restraints:
            values[names.setting(name)] = _left_set(scene, start, name)
        if item.slots is not None:
            values[names.contents(name)] = frozenset()
    for socket in scene.sockets:
        values[names.plugged(socket)] = frozenset(
            name for name in held.get(socket, ()) if scene.items[name].kind in scene.restraints
        )
    for name, several in held.items():
        values[names.contents(name)] = frozenset(several)
    return values


def _left_set(scene: Scene, start: Start, name: str) -> str | None:
    """Return how a restraint was left set, in words; None where not all of it is said."""
    kind, written = scene.restraints[scene.items[name].kind], start.settings.get(name, {})
    if not kind.joints or any(joint.name not in written for joint in kind.joints):
        return None
    return shown(kind, setting_angles(kind, dict(written)))


def _line(scene: Scene, start: Start | None, name: str) -> dict[str, Value]:
    tether = scene.tethers[name]
    ends = Ends(hook=tether.anchor, reel=tether.worker)
    if start is not None:
        ends = start.lines.get(name, Ends())
    return {
        names.hook(name): ends.hook,
        names.reel(name): ends.reel,
        names.seen(name, "hook"): True,
        names.seen(name, "reel"): True,
    }
