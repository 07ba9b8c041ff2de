"""What moves rigidly with what is moved: its solids, who rides on it, the plate they stand on."""

from __future__ import annotations

from reach.payload.records import Part
from reach.site import Carriage, Site


def parts_of(site: Site, carriage: Carriage) -> tuple[Part, ...]:
    """Return what is moved, in its own frame: payload, rider, boot plate (kept on the site)."""
    raise NotImplementedError("parts of what is moved are not computed yet")
