"""The smallest change that mends a reach that fails: extension, hand, detent next door, metres."""

from __future__ import annotations

from collections.abc import Sequence

from reach.checks.wording import at_least
from reach.kept.noting import altered, asked_whole
from reach.model.procedure import Drive
from reach.placing import held_of, station_pose
from reach.plan.settings import (
    mates_of,
    next_door,
    service_of,
    service_of_step,
    setting_at,
    socket_shortage,
)
from reach.site import Held, Site, Situation
from reach.units import text_of
from reach.work import attempt_of, hands_of


def reach_fix(site: Site, situation: Situation, short: float) -> str:
    """Return the smallest fixes found for a reach that fails by ``short`` metres, in words."""
    fixes = [
        *_setting(site, situation),
        *_station(site, situation),
        *_hand(site, situation),
        *_extension(site, situation),
    ]
    if short > 0.0:
        metres = at_least(short)
        if fixes:
            return either(fixes)
        return (
            f"Bring the boots or the fastener at least {metres} nearer, or reach {metres} farther."
        )
    return either(fixes)


def either(fixes: Sequence[str]) -> str:
    """Return fixes as one sentence; empty when there are none.

    Examples
    --------
    >>> either(["Use the left hand", "Fit the extension X"])
    'Use the left hand; or fit the extension X.'
    """
    if not fixes:
        return ""
    first, *others = fixes
    return "; or ".join([first, *(one[0].lower() + one[1:] for one in others)]) + "."


def _setting(site: Site, situation: Situation) -> list[str]:
    place = situation.place
    if place is None or place.world_from_socket is None:
        return []
    mates = mates_of(site, situation)
    short = [socket_shortage(site, one, place.name, place.restraint) for one in mates]
    serves = f", which serves {together(mates)} of this step" if len(mates) > 1 else ""
    if max(short) <= 0.0:
        found = next_door(site, *mates)
        if found:
            return [f"Set {place.restraint_name} at {place.name} to {found.words}{serves}"]
    found = service_of_step(site, situation).setting
    if found is None:
        return [split(site, situation, mates)] if len(mates) > 1 else []
    free = any(len(hands_of(one)) > 1 for one in mates)
    hand = f", {found.hand} hand" if free else ""
    words = f"Put {place.restraint_name} in {found.socket} at {found.words}{hand}{serves}"
    return [f"{words}{_from_the_start(site, situation, found.socket)}"]


def together(asks: Sequence[Situation]) -> str:
    """Return what is turned in words: "IB1 and IB2", "IB1, IB2 and IB3"."""
    names = list(dict.fromkeys(ask.head.name for ask in asks if ask.head is not None))
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def split(site: Site, situation: Situation, mates: Sequence[Situation]) -> str:
    """Say what there is where no one setting was found for a step: a setting for each thing."""
    place = situation.place
    assert place is not None
    name = place.restraint_name
    base = f"Split the step, for no one setting was found that serves {together(mates)}"
    short = service_of_step(site, situation).short
    for socket in sorted((one for one in short if short[one] <= 0.0), key=lambda one: short[one]):
        each = [setting_at(site, one, socket, place.restraint) for one in mates]
        if all(each):
            pairs = zip(mates, each, strict=True)
            ways = "; ".join(f"{together([m])} at {s.words}" for m, s in pairs if s is not None)
            return f"{base}, and put {name} in {socket} for all of them: {ways}"
    own = service_of(site, situation).setting
    if own is None:
        return f"{base} and no one socket either"
    alone = f"{together([situation])} alone is served by {name} in {own.socket} at {own.words}"
    return f"{base} and no one socket either: {alone}"


def _from_the_start(site: Site, situation: Situation, socket: str) -> str:
    """Say so when a socket also serves what else is done from the one that fails.

    Each with a setting of its own that has a witness: the restraint need not move.
    """
    place = situation.place
    assert place is not None
    others = _others_from(site, situation, socket)
    if place.name == socket or not any(_place_name(one) == place.name for one in others):
        return ""
    served = [one for one in others if _served_from(site, one, socket)]
    if any(_place_name(one) == place.name and one not in served for one in others):
        return ""
    heads = dict.fromkeys(one.head.name for one in served if one.head is not None)
    return (
        f" from the start: it serves {', '.join(heads)} too, each at a setting of its own, and "
        f"{place.name} is not needed for them"
    )


@asked_whole
def _others_from(site: Site, situation: Situation, socket: str) -> tuple[Situation, ...]:
    """Return what the same body turns in other steps by this restraint, from here or a socket."""
    place = situation.place
    assert place is not None
    return tuple(
        one
        for one in site.asked
        if isinstance(one.action, Drive)
        and (one.worker, one.case) == (situation.worker, situation.case)
        and one.place is not None
        and one.place.restraint_name == place.restraint_name
        and one.place.name in (place.name, socket)
        and one.step != situation.step
    )


def _place_name(situation: Situation) -> str:
    return situation.place.name if situation.place is not None else ""


def _served_from(site: Site, situation: Situation, socket: str) -> bool:
    """Whether a situation has a witness from a socket, as the step sets it or otherwise."""
    place = situation.place
    assert place is not None
    if place.name == socket and place.world_from_boots is not None:
        for hand in hands_of(situation):
            attempt = attempt_of(site, situation, hand)
            if attempt.short <= 0.0 and attempt.witness is not None:
                return True
    return setting_at(site, situation, socket, place.restraint) is not None


def _station(site: Site, situation: Situation) -> list[str]:
    """Try the other stations that have the same restraint, where the step stands on one."""
    place = situation.place
    if place is None or place.world_from_socket is not None:
        return []
    for name, station in site.scene.stations.items():
        if name == place.name or station.restraint != place.restraint_name:
            continue
        boots = station_pose(station, site.world_from)
        for hand in hands_of(situation):
            attempt = attempt_of(site, situation, hand, world_from_boots=boots)
            if attempt.short <= 0.0 and attempt.witness is not None:
                return [f"Work from {name}"]
    return []


def _hand(site: Site, situation: Situation) -> list[str]:
    """Try the other hand where the fastener allows it and the step did not ask for it."""
    assert situation.head is not None
    allowed = situation.head.record.hand
    tried = hands_of(situation)
    for hand in ("right", "left"):
        if hand in tried or allowed not in ("either", hand):
            continue
        attempt = attempt_of(site, situation, hand)
        if attempt.short <= 0.0 and attempt.witness is not None:
            return [f"Use the {hand} hand"]
    return []


def _extension(site: Site, situation: Situation) -> list[str]:
    """Try the extensions there are, shortest first."""
    drive = situation.action
    assert isinstance(drive, Drive)
    held = situation.held
    assert held is not None
    if not held.record.takes_bits or drive.extension:
        return []
    scene = site.scene
    for name in sorted(scene.extensions, key=lambda n: scene.extensions[n].length):
        longer = held_of(scene, drive.model_copy(update={"extension": name}))
        if _reaches(site, situation, longer):
            length = text_of(scene.extensions[name].length, "m")
            return [f"Fit the extension {name} ({length})"]
    return []


def _reaches(site: Site, situation: Situation, held: Held) -> bool:
    with_it = altered(situation, held=held)
    for hand in hands_of(situation):
        attempt = attempt_of(site, with_it, hand)
        if attempt.short <= 0.0 and attempt.witness is not None:
            return True
    return False
