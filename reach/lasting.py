"""How long steps last that do not say so, and the outing that follows from that.

Each action takes what the limits say of its kind, a move the length of its way at the pace.
What is not known counts nothing, and is told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from reach.ledger import Outing
from reach.ledger import outing_of as outing_with
from reach.model.handling import (
    Adjust,
    Attach,
    Confirm,
    Egress,
    GloveCheck,
    Install,
    Lay,
    Pass,
    PickUp,
    Remove,
    Stow,
    Wait,
)
from reach.model.procedure import (
    Action,
    Align,
    Drive,
    HandOver,
    Hold,
    Ingress,
    Inspect,
    Procedure,
    Release,
    Translate,
)
from reach.site import Site, Situation
from reach.travel.path import pace_of, path_of


class Lasting(NamedTuple):
    """How long steps last that give no duration.

    Attributes
    ----------
    seconds : dict of step name -> s
    unknown : tuple of (step name, what is not known)
        What counts nothing in ``seconds``.
    """

    seconds: dict[str, float]
    unknown: tuple[tuple[str, str], ...]


def outing_of(site: Site, situations: Sequence[Situation], procedure: Procedure) -> Outing:
    """Return the outing of a procedure; durations left blank are worked out.

    Parameters
    ----------
    site : Site
    situations : sequence of Situation
        Of the whole procedure.
    procedure : Procedure
    """
    return outing_with(site.scene, procedure, lasting_of(site, situations, procedure).seconds)


def lasting_of(site: Site, situations: Sequence[Situation], procedure: Procedure) -> Lasting:
    """Return how long the steps last that give no duration.

    A step that says at least and at most, and of which something is not known, is taken at the
    middle of the two.
    """
    seconds: dict[str, float] = {}
    unknown: list[tuple[str, str]] = []
    asked: dict[int, list[Situation]] = {}
    for one in situations:
        asked.setdefault(id(one.action), []).append(one)
    for step in procedure.steps:
        if step.duration is not None:
            continue
        took = [_taken(site, action, asked.get(id(action), [])) for action in step.actions]
        missing = [one for one in took if isinstance(one, str)]
        missing += [] if took else ["nothing says what is done"]
        seconds[step.name] = sum(one for one in took if not isinstance(one, str))
        if step.between is None:
            unknown += [(step.name, one) for one in missing]
        elif missing:
            seconds[step.name] = sum(step.between) / 2.0
    return Lasting(seconds, tuple(unknown))


def lasting_words(lasting: Lasting) -> list[str]:
    """Return a warning for each step of which something is not known."""
    said: dict[str, list[str]] = {}
    for step, what in lasting.unknown:
        said.setdefault(step, []).append(what)
    return [
        f"step {step!r} gives no duration, and {'; '.join(dict.fromkeys(whats))}: "
        "that is taken to last 0 min"
        for step, whats in said.items()
    ]


def _taken(site: Site, action: Action, asked: list[Situation]) -> float | str:
    """Return how long an action takes, s, or what of that is not known."""
    if isinstance(action, Translate):
        return _way(site, asked)
    found = _TAKEN.get(type(action))
    if found is None:
        return f"how long '{action.do}' takes is not known"
    return found(site, action)


def _way(site: Site, asked: list[Situation]) -> float | str:
    """Return how long a move takes, for the body of those asked that takes longest."""
    found = []
    for situation in asked:
        path, passage = path_of(site, situation), situation.passage
        route = path.usable or path.route
        if route is not None and passage is not None:
            found.append(route.length / pace_of(site, passage).value)
    return max(found) if found else "there is no way to reckon the move from"


def _named(name: str) -> Callable[[Site, Action], float]:
    return lambda site, action: site.limit(name).value


def _egress(site: Site, action: Egress) -> float:
    return site.limit("egress_time" if action.start else "leave_restraint").value


def _ingress(site: Site, action: Ingress) -> float:
    return site.limit("ingress_time" if action.to else "restraint_time").value


def _release(site: Site, action: Release) -> float:
    return site.limit("attach_time" if action.what else "hold_time").value


def _items(site: Site, action: PickUp | Stow | Pass) -> float:
    return len(action.items) * site.limit("item_time").value


def _lay(site: Site, action: Lay) -> float:
    clamps = len(action.clamps) * site.limit("item_time").value
    return site.limit("lay_time").value + clamps


def _drive(site: Site, action: Drive) -> float | str:
    if action.do != "drive":
        return site.limit("mate_time").value
    turns = site.scene.fasteners[action.fastener].turns
    if turns is None:
        return f"how many turns {action.fastener} takes is not known"
    kind = site.scene.items[action.tool].kind if action.tool in site.scene.items else action.tool
    tool = site.scene.tools.get(kind)
    by_power = tool is not None and tool.kind == "drive"
    one = site.limit("turn_time" if by_power else "hand_turn_time").value
    return site.limit("tool_time").value + turns * one


def _wait(site: Site, action: Wait) -> str:
    return f"how long is waited{f' for {action.what}' if action.what else ''} is not known"


_TAKEN: dict[type, Callable[..., float | str]] = {
    Egress: _egress,
    Ingress: _ingress,
    Attach: _named("attach_time"),
    Release: _release,
    Hold: _named("hold_time"),
    HandOver: _named("hand_over_time"),
    PickUp: _items,
    Stow: _items,
    Pass: _items,
    Install: _named("install_time"),
    Remove: _named("install_time"),
    Adjust: _named("tool_setting_time"),
    Lay: _lay,
    Confirm: _named("confirm_time"),
    GloveCheck: _named("glove_check_time"),
    Inspect: _named("inspect_time"),
    Align: _named("align_time"),
    Drive: _drive,
    Wait: _wait,
}
"""Action -> how long it takes, s, or what is not known of that; moves by hand or crane are not."""
