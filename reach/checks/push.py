"""Question. Does the step push or turn a thing harder than the thing may be pushed or turned?

Margin. Share of what it bears that is left: 0 at the limit, the least over push and torque.

Limit. ``most_push`` of the fastener, else ``handling_force`` of the scene's limits. For a
connector also its ``most_torque``, else ``connector_torque``. Exact: equal passes.

Blind spots. What is asked is what scene and step say (``push``, ``force``, torque), along and
about the axis; knocks, kicks and side loads are not looked at, nor the cover of a connector and
the angle at which it is pushed on. The torque on bolts and pins is the check on what the tool is
set to.
"""

from __future__ import annotations

from reach.checks.wording import drives, finding_on, not_asked
from reach.finding import Finding, Limit
from reach.loading import left_of, load_of
from reach.model.provenance import Provenance
from reach.site import Site, Situation
from reach.units import text_of

NAME = "push"
IDS = ("D3", "O2")


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    assert situation.head is not None
    name, record, load = situation.head.name, situation.head.record, load_of(situation)
    asked = []
    if load.peak > 0.0:
        asked.append((load.peak, _own(site, "most_push", record.most_push, "handling_force")))
    if record.kind == "connector" and load.torque > 0.0:
        own = _own(site, "most_torque", record.most_torque, "connector_torque")
        asked.append((load.torque, own))
    if not asked:
        return not_asked(NAME, situation, f"Nothing says how hard {name} is pushed.")
    value, limit = min(asked, key=lambda one: left_of(one[1].value, one[0]))
    margin = left_of(limit.value, value)
    verb = "pushed" if limit.unit == "N" else "turned"
    bears = text_of(limit.value, limit.unit)
    because = f"{name} is {verb} with {text_of(value, limit.unit)}; it bears {bears}."
    return finding_on(
        NAME,
        situation,
        because,
        margin,
        margin,
        "",
        (limit, *(other for _, other in asked if other is not limit)),
        f"Ask for {bears} at most, or a thing that bears more." if margin < 0.0 else "",
        numbers={one.name: asks for asks, one in asked},
    )


def _own(site: Site, name: str, own: float | None, fallback: str) -> Limit:
    if own is None:
        return site.limit(fallback)
    return Limit(name, own, site.limit(fallback).unit, Provenance())
