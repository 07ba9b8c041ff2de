"""How near each part of what is moved comes to each thing on its way, as proved brackets."""

from __future__ import annotations

from reach.payload.records import PartGap
from reach.site import Carriage, Site


def gaps_of(site: Site, carriage: Carriage) -> tuple[PartGap, ...]:
    """Return the least gap of every part to every thing, by what its legs ask (kept)."""
    raise NotImplementedError("gaps of what is moved are not computed yet")


def threshold(site: Site, carriage: Carriage, clearance: float) -> bool | None:
    """Return whether everything keeps at least ``clearance`` (m) off; None if not decided."""
    raise NotImplementedError("gaps of what is moved are not computed yet")
