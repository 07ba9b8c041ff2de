"""How near each part comes along the way, span by span: the lower line is a bound."""

from __future__ import annotations

from reach.payload.records import Curve
from reach.site import Carriage, Site


def curve_of(site: Site, carriage: Carriage, spans: int = 40) -> tuple[Curve, ...]:
    """Return one curve for each part of what is moved, ``spans`` to a leg."""
    raise NotImplementedError("curves of gaps are not computed yet")
