"""Hazards as a move meets them: which are active then, and how round ones stand out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reach.geometry import Tree
from reach.model.shapes import Hazard
from reach.site import Site, Situation


@dataclass(frozen=True, eq=False)
class Met:
    """A hazard that is active in a step.

    ``error`` (m) is how far its true surface may stand outside its facets; ``is_sure`` whether it
    is active for as long as the step lasts.
    """

    name: str
    record: Hazard
    tree: Tree
    error: float
    is_sure: bool = True


def met(site: Site, situation: Situation, kind: str | None = None) -> Iterator[Met]:
    """Yield the hazards, of one kind if asked, that are active while a step lasts."""
    for name, its_kind, tree, stand_off in situation.surroundings.hazards:
        record = site.scene.hazards[name]
        if kind in (None, its_kind) and is_active(record, situation):
            is_sure = is_active_throughout(record, situation)
            yield Met(name, record, tree, stand_off - record.stand_off, is_sure)


def is_active(hazard: Hazard, situation: Situation) -> bool:
    """Return whether a hazard may be active while a step lasts; yes where that is not known."""
    if not hazard.active or situation.start is None:
        return True
    if situation.longest is None:
        return any(until >= situation.start for _, until in hazard.active)
    begin = situation.start if situation.latest is None else situation.latest
    end = begin + situation.longest
    return any(since <= end and until >= situation.start for since, until in hazard.active)


def is_active_throughout(hazard: Hazard, situation: Situation) -> bool:
    """Return whether a hazard is known to be active for as long as a step lasts."""
    if not hazard.active:
        return True
    if situation.start is None or situation.longest is None:
        return False
    begin = situation.start if situation.latest is None else situation.latest
    end = begin + situation.longest
    return any(since <= situation.start and until >= end for since, until in hazard.active)
