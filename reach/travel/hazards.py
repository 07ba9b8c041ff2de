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
        if kind in (None, its_kind) and is_active(record, situation, situation.late):
            is_sure = is_active(record, situation)
            yield Met(name, record, tree, stand_off - record.stand_off, is_sure)


def is_active(hazard: Hazard, situation: Situation, late: float = 0.0) -> bool:
    """Return whether a hazard may be active while a step lasts; yes where that is not known.

    ``late`` is by how much (s) the step may begin later than written.
    """
    if not hazard.active or situation.start is None:
        return True
    if situation.longest is None:
        return any(until >= situation.start for _, until in hazard.active)
    end = situation.start + late + situation.longest
    return any(since <= end and until >= situation.start for since, until in hazard.active)
