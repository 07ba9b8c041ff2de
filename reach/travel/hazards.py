"""Hazards as a move meets them: which are active then, and how round ones stand out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reach.geometry import Tree
from reach.model.shapes import Hazard
from reach.site import Carriage, Site, Situation

Timed = Situation | Carriage
"""What lasts from a moment on."""


@dataclass(frozen=True, eq=False)
class Met:
    """A hazard that is active in a step.

    ``error`` (m) is how far its true surface may stand outside its facets; ``is_sure`` says whether
    it is active while the step lasts as written, not only if that begins late.
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
            is_sure = is_active(record, situation, as_written=True)
            yield Met(name, record, tree, stand_off - record.stand_off, is_sure)


def is_active(hazard: Hazard, one: Timed, as_written: bool = False) -> bool:
    """Return whether a hazard may be active while something lasts; yes where that is not known.

    It may begin late, but not ``as_written``.
    """
    if not hazard.active or one.start is None:
        return True
    if one.longest is None:
        return any(until >= one.start for _, until in hazard.active)
    begin = one.start if as_written or one.latest is None else one.latest
    end = begin + one.longest
    return any(since <= end and until >= one.start for since, until in hazard.active)


def is_active_throughout(hazard: Hazard, one: Timed) -> bool:
    """Return whether a hazard is known to be active for as long as something lasts."""
    if not hazard.active:
        return True
    if one.start is None or one.longest is None:
        return False
    end = (one.start if one.latest is None else one.latest) + one.longest
    return any(since <= one.start and until >= end for since, until in hazard.active)
