"""Question. Could a free socket, at any setting, let this body do what the step asks?

Margin. Metres: at least 0 when a setting is known that has a witness posture; when every
socket is excluded, how far the best of them falls short at least, over all its settings.

Limit. None of its own: the joint ranges and limits of the check on reach. The proof is one
bound for all settings of a socket: the boot plate stays in a ball whatever the setting, and no
posture brings the wrist farther from the plate than the outer reach sphere of the body.

Blind spots. Looks for a setting only where the step's own one has no witness, and then within
a budget: a setting that was not found is *open*, not impossible. Sockets are tried with the
step's own restraint. Getting into the restraint there, loads and routes are not looked at, and
of a tool for both hands the leading one alone.
"""

from __future__ import annotations

import math

from reach.checks.fixes import split, together
from reach.checks.wording import (
    SURE,
    at_least,
    best_attempt,
    blank,
    drives,
    finding_on,
    head_mark,
    point,
    who,
)
from reach.finding import Finding, Mark
from reach.kept.noting import asked_whole
from reach.model.procedure import Drive, Ingress, Inspect
from reach.placing import socket_pose
from reach.plan.settings import Setting, mates_of, service_of, service_of_step
from reach.site import Site, Situation

NAME = "socket"
IDS = ("A2",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned from a socket, and each body."""
    found = [
        _finding(site, situation)
        for situation in drives(situations)
        if situation.place is not None and situation.place.world_from_socket is not None
    ]
    return found + [
        _unusable(site, situation, status)
        for situation in situations
        if isinstance(situation.action, Ingress | Inspect)
        and (status := _status(site, situation)) != "free"
    ]


def _status(site: Site, situation: Situation) -> str:
    place = situation.place
    if place is None or place.world_from_socket is None:
        return "free"
    return site.scene.sockets[place.name].status


def _finding(site: Site, situation: Situation) -> Finding:
    place, head = situation.place, situation.head
    assert place is not None
    assert head is not None
    status = _status(site, situation)
    if status != "free":
        return _unusable(site, situation, status)
    if not blank(situation):
        attempt = best_attempt(site, situation)
        if attempt.short <= 0.0 and attempt.witness is not None:
            because = f"{place.name} serves {head.name} for {who(situation)} as the step sets it."
            return _found(situation, because)
    service = service_of(site, situation)
    if service.is_impossible:
        return _impossible(site, situation, service.short)
    if service.setting:
        return _elsewhere(site, situation, service.setting)
    left = sorted(name for name, short in service.short.items() if short <= 0.0)
    because = (
        f"No setting was found from which {who(situation)} could turn {head.name}; "
        f"{', '.join(left) or 'no socket'} cannot be excluded."
    )
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        max(0.0, -min(service.short.values(), default=-math.inf)),
        "m",
        numbers={"proved short by socket": service.short},
    )


def _unusable(site: Site, situation: Situation, status: str) -> Finding:
    assert situation.place is not None
    return finding_on(
        NAME,
        situation,
        f"{situation.place.name} is marked {status} in the scene and takes no restraint.",
        -math.inf,
        -SURE,
        "m",
        fix=_instead(site, situation),
    )


def _instead(site: Site, situation: Situation) -> str:
    """Name one socket for everything that is turned in the step, or say that none was found."""
    turned = (situation, *_with(site, situation))
    situation = next((one for one in turned if isinstance(one.action, Drive)), situation)
    if situation.head is None or not isinstance(situation.action, Drive):
        return ""
    mates = mates_of(site, situation)
    instead = service_of_step(site, situation).setting
    if instead:
        serves = f", which serves {together(mates)} of this step" if len(mates) > 1 else ""
        return f"Use {instead.socket} at {instead.words}{serves}."
    if len(mates) == 1:
        return ""
    return f"{split(site, situation, mates)}."


@asked_whole
def _with(site: Site, situation: Situation) -> tuple[Situation, ...]:
    """Return what the same body does in the step."""
    return tuple(one for one in site.asked if _same_step(one, situation))


def _same_step(one: Situation, other: Situation) -> bool:
    return (one.step, one.worker, one.case) == (other.step, other.worker, other.case)


def _found(situation: Situation, because: str) -> Finding:
    return finding_on(NAME, situation, because, 0.0, math.inf, "m")


def _elsewhere(site: Site, situation: Situation, setting: Setting) -> Finding:
    """Return the finding of a setting elsewhere; one that serves the whole step comes first."""
    assert situation.head is not None
    assert situation.place is not None
    setting = service_of_step(site, situation).setting or setting
    because = (
        f"{who(situation)} can turn {situation.head.name} from {setting.socket} with "
        f"{situation.place.restraint_name} at {setting.words} ({setting.hand} hand)."
    )
    return finding_on(
        NAME,
        situation,
        because,
        0.0,
        math.inf,
        "m",
        numbers={"socket": setting.socket, "setting": setting.angles, "hand": setting.hand},
    )


def _impossible(site: Site, situation: Situation, short: dict[str, float]) -> Finding:
    assert situation.head is not None
    nearest = min(short, key=lambda name: short[name])
    least = short[nearest]
    because = (
        f"No socket serves {situation.head.name} for {who(situation)}: at every setting the wrist "
        f"stays at least {at_least(least)} out of reach, at best from {nearest} (outer bound)."
    )
    at = socket_pose(site.scene.sockets[nearest], situation.surroundings.world_from)[:3, 3]
    marks = (
        head_mark(situation, True),
        Mark("segment", (point(at), point(situation.head.point)), f"from {nearest}", bad=True),
    )
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        -least,
        "m",
        fix=f"Move the fastener or a socket at least {at_least(least)} nearer.",
        marks=marks,
        numbers={"proved short by socket": short},
    )
