"""Question. Can what holds the worker take the torque of the fastener, or would the worker spin?

Margin. Newton metres between what the restraint may react and the largest torque the step asks
for (its own setting, else the fastener's, breakaway included).

Limit. ``holds_torque`` of the restraint, with the source given there. Exact: equal passes.

Blind spots. Force at the socket and lever arms, the worker's strength, shock when a bolt breaks
loose and a tool's own torque bar are left out.
"""

from __future__ import annotations

from reach.checks.wording import drives, finding_on, not_asked, standing, who
from reach.finding import Finding, Limit
from reach.model.hardware import Restraint
from reach.model.provenance import Provenance
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
    because = (
        f"{name} takes {text_of(torque, 'N m')}; {who(situation)} {standing(situation)} may react "
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
        _fix(site, torque, place.restraint) if margin < 0.0 else "",
        numbers={"torque": torque, "restraint holds": holds},
    )


def _source(restraint: Restraint) -> Provenance:
    sources = restraint.sources
    return sources.get("holds_torque") or sources.get("*") or Provenance()


def _fix(site: Site, torque: float, used: Restraint) -> str:
    """Name the restraints there are that hold enough, else what one would have to hold."""
    scene = site.scene
    able = [
        name
        for name, item in scene.items.items()
        if item.kind in scene.restraints
        and scene.restraints[item.kind] is not used
        and (scene.restraints[item.kind].holds_torque or 0.0) >= torque
    ]
    if not able:
        return f"Use a restraint that holds at least {text_of(torque, 'N m')}."
    return f"Hold the worker by {' or '.join(able)} instead, from a place that takes it."
