"""What must be kept off while something is moved: solids that stay, and hazards."""

from __future__ import annotations

from reach.payload.records import Thing
from reach.site import Carriage, Site


def things_of(site: Site, carriage: Carriage) -> tuple[Thing, ...]:
    """Return the solids that stay and the hazards that are active (kept on the site)."""
    raise NotImplementedError("things to keep off are not computed yet")
