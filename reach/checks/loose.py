"""Question. Is what is not captive caught when it is turned out?

Margin. 0 where the same step takes it, ties it or has at hand what it goes into, -1 where nothing
does. Exact.

Limit. ``captive = false`` of the fastener; then, in its step, an item of the fastener's name that
is picked up, stowed, passed or tied, or ``items`` of its guard.

Blind spots. Only what steps and guards say is looked at, springs and washers not at all. A
fastener that does not say whether it is captive is not asked.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Deed, Outing
from reach.model.handling import Attach, Pass, PickUp, Stow
from reach.model.procedure import Drive, Release
from reach.site import Site

NAME = "loose"
IDS = ("K4",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each thing turned out that says whether it is captive."""
    return [
        _finding(outing, deed, deed.action)
        for deed in outing.deeds
        if isinstance(deed.action, Drive)
        and deed.action.undoes
        and outing.scene.fasteners[deed.action.fastener].captive is not None
    ]


def _finding(outing: Outing, deed: Deed, action: Drive) -> Finding:
    name = action.fastener
    if outing.scene.fasteners[name].captive:
        caught = f"{name} is captive: it stays with its part"
    else:
        caught = _caught(outing, deed, name)
    return finding_in(
        NAME,
        deed.step.name,
        (deed.lane, name, action.tool),
        f"{caught}."
        if caught
        else f"{name} is not captive and is turned out, and nothing in its step catches it.",
        0.0 if caught else -1.0,
        fix=f"Pick up or stow {name} in step '{deed.step.name}', or give its guard what it goes "
        "into.",
    )


def _caught(outing: Outing, deed: Deed, name: str) -> str:
    """Return what catches a fastener that is turned out, in words; empty if nothing does."""
    for action in deed.step.actions[deed.i :]:
        if isinstance(action, PickUp | Stow | Pass) and name in action.items:
            return f"{name} is taken as soon as it is out"
        if isinstance(action, Attach) and action.what == name:
            return f"{name} is tied as soon as it is out"
    before = [
        action
        for action in deed.step.actions[: deed.i]
        if isinstance(action, Attach | Release) and action.what == name
    ]
    if before and isinstance(before[-1], Attach):
        return f"{name} is tied before it is out"
    guard = outing.procedure.guards.get(name)
    if guard is not None and guard.items:
        return f"{name} goes into {' or '.join(guard.items)}, which must be at hand"
    return ""
