"""Question. Can what holds the worker take the torque of the fastener, or would the worker spin?

Margin. Newton metres between what the restraint may react and the largest torque the step asks
for: its own setting, else the fastener's, breakaway included, or what the tool was set to before
something is done up with it, where that is more.

Limit. ``holds_torque`` of the restraint, with the source given there. Exact: equal passes.

Blind spots. Force at the socket and lever arms, the worker's strength, shock when a bolt breaks
loose and a tool's own torque bar are left out.
"""

from __future__ import annotations

from reach.checks.fixes import together
from reach.checks.wording import drives, enough, finding_on, not_asked, standing, who
from reach.finding import Finding, Limit
from reach.kept.noting import altered, asked_whole
from reach.model.hardware import Restraint
from reach.model.provenance import Provenance
from reach.placing import place_of
from reach.plan.settings import mates_of, setting_for
from reach.site import Site, Situation
from reach.units import text_of

NAME = "torque"
IDS = ("D1",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    assert situation.head is not None
    name, place, torque = situation.head.name, situation.place, situation.wanted_torque
    if torque is None:
        return not_asked(NAME, situation, f"Neither the step nor {name} gives a torque.")
    if place is None:
        return not_asked(NAME, situation, "The step names no place to work from.")
    holds = place.restraint.holds_torque
    if holds is None:
        return not_asked(NAME, situation, f"{place.restraint_name} gives no torque that it holds.")
    margin = holds - torque
    record = situation.head.record
    # A fastener that says less is turned on until the tool stops.
    says = max((one for one in (record.torque, record.breakaway) if one is not None), default=None)
    verb = "takes" if says is None or torque <= says else "is turned with up to"
    because = (
        f"{name} {verb} {text_of(torque, 'N m')}; {who(situation)} {standing(situation)} may react "
        f"{text_of(holds, 'N m')} ({place.restraint.kind})."
    )
    return finding_on(
        NAME,
        situation,
        because,
        margin,
        margin,
        "N m",
        (Limit("holds_torque", holds, "N m", _source(place.restraint)),),
        _fix(site, situation, torque) if margin < 0.0 else "",
        numbers={"torque": torque, "restraint holds": holds},
    )


def _source(restraint: Restraint) -> Provenance:
    sources = restraint.sources
    return sources.get("holds_torque") or sources.get("*") or Provenance()


def _fix(site: Site, situation: Situation, torque: float) -> str:
    """Name a restraint that holds enough and a setting from which it is done, if one is found.

    Both do for everything that is turned in the step.
    """
    scene = site.scene
    place = situation.place
    assert place is not None
    mates = mates_of(site, situation)
    torque = max(torque, *(one.wanted_torque or 0.0 for one in mates))
    able = [
        name
        for name, item in scene.items.items()
        if item.kind in scene.restraints
        and scene.restraints[item.kind] is not place.restraint
        and (scene.restraints[item.kind].holds_torque or 0.0) >= torque
    ]
    if not able:
        return f"Use a restraint that holds at least {enough(torque, 'N m')}."
    for restraint, socket in _stands(site, situation.worker, able):
        world_from = situation.surroundings.world_from
        there = place_of(scene, world_from, socket, restraint, None)
        asks = [altered(one, place=there) for one in mates]
        found = setting_for(site, asks, socket, there.restraint)
        if found:
            serves = f", for {together(mates)} of this step" if len(mates) > 1 else ""
            return (
                f"Hold {situation.worker} by {restraint} in {socket} instead, at {found.words} "
                f"({found.hand} hand){serves}."
            )
    return f"Hold the worker by {' or '.join(able)} instead, from a place that takes it."


@asked_whole
def _used(site: Site, worker: str) -> tuple[tuple[str, str], ...]:
    """Return the (restraint, socket) pairs of the procedure, the worker's own first."""
    used = [
        (one.worker != worker, (one.place.restraint_name, one.place.name))
        for one in site.asked
        if one.place is not None and one.place.world_from_socket is not None
    ]
    return tuple(dict.fromkeys(pair for _, pair in sorted(used)))


def _stands(site: Site, worker: str, able: list[str]) -> list[tuple[str, str]]:
    """Return (restraint, socket) pairs: the worker's own of the procedure, others', then any."""
    free = site.scene.free_sockets
    known = [pair for pair in _used(site, worker) if pair[0] in able and pair[1] in free]
    # Any of a kind does as well as another: the first stands for them.
    first = {site.scene.items[name].kind: name for name in reversed(able)}
    any_pair = [
        (name, socket)
        for kind, name in first.items()
        if site.scene.restraints[kind].joints
        for socket in free
    ]
    return list(dict.fromkeys([*known, *any_pair]))
