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

    ``error`` (m) is how far its true surface may stand outside its facets; ``is_late`` if it is
    active only where the step begins later than written.
    """

    name: str
    record: Hazard
    tree: Tree
    error: float
    is_late: bool = False


def met(
    site: Site, situation: Situation, kind: str | None = None, late: bool = False
) -> Iterator[Met]:
    """Yield the hazards, of one kind if asked, that are active while a step lasts.

    With ``late`` also those that are only where the steps before last longer than is likely.
    """
    for name, its_kind, tree, stand_off in situation.surroundings.hazards:
        record = site.scene.hazards[name]
        error = stand_off - record.stand_off
        if kind not in (None, its_kind):
            continue
        if is_active(record, situation):
            yield Met(name, record, tree, error)
        elif late and _is_active_late(record, situation):
            yield Met(name, record, tree, error, True)


def _is_active_late(hazard: Hazard, situation: Situation) -> bool:
    """Return whether a hazard may be active while a step lasts that begins late."""
    begin, latest = situation.start, situation.latest
    if begin is None or latest is None:
        return False
    end = max(begin, latest) + (situation.longest or 0.0)
    return any(since <= end and until >= begin for since, until in hazard.active)


def is_active(hazard: Hazard, situation: Situation) -> bool:
    """Return whether a hazard may be active while a step lasts; yes where that is not known."""
    if not hazard.active or situation.start is None:
        return True
    if situation.longest is None:
        return any(until >= situation.start for _, until in hazard.active)
    end = situation.start + situation.longest
    return any(since <= end and until >= situation.start for since, until in hazard.active)
