"""Which restraint is in which socket, as steps plug them in and take them out."""

from __future__ import annotations

from reach.model.handling import Install, Remove
from reach.model.outing import Start
from reach.model.procedure import Action
from reach.model.scene import Scene


def plugged_first(scene: Scene, begin: Start) -> dict[str, str]:
    """Return which restraint is in which socket when the procedure begins."""
    return {
        kept.holder: name
        for name, kept in begin.items.items()
        if kept.holder in scene.sockets and name in scene.items
    }


def note_plugged(plugged: dict[str, str], action: Action) -> str:
    """Note a restraint that is plugged in or taken out; return it, or nothing."""
    if isinstance(action, Install):
        plugged[action.to] = action.item
        return action.item
    if isinstance(action, Remove):
        for socket in [name for name, item in plugged.items() if item == action.item]:
            del plugged[socket]
        return action.item
    return ""
