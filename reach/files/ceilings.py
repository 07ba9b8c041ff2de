"""What a scene may hold in all: beyond it a run would take the computer's memory, not answer.

Single values have ceilings of their own where they are defined, `reach.units.LARGEST` and the
models of shapes; files have them where they are read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from reach.model.scene import Handrail
from reach.model.shapes import Shaped
from reach.solids import triangles_of

MOST_TRIANGLES = 20_000_000
"""Triangles of a scene, some 5 GB of memory."""

MOST_RAIL = 100_000.0
"""Length of all handrails of a scene, m: a grip is looked for every 0.3 m."""


FAR_OUT = 1e6
"""Farther from an origin (m) rounding comes near the 1e-9 m that bounds take off."""
_TOO_COARSE = (
    f"lies more than {FAR_OUT / 1e3:g} km from an origin, where numbers are too coarse for what is "
    "proved to 1e-9 m: take an origin that is nearer"
)


def far_out(tables: Mapping[str, Mapping[str, Any]]) -> Iterator[tuple[str, str, str]]:
    """Yield table, name and a note for every record that is placed too far from an origin."""
    for table, records in tables.items():
        for name, record in records.items():
            placed = (record, *getattr(record, "poses", {}).values())
            points = [getattr(one, key, None) for one in placed for key in ("at", "start", "end")]
            if any(abs(v) > FAR_OUT for point in points if point is not None for v in point):
                yield table, name, _TOO_COARSE


def refused_triangles(shaped: Iterable[tuple[str, str, Shaped]]) -> tuple[str, str, str] | None:
    """Return the solid or hazard with which a scene gets too many triangles, and the message.

    Parameters
    ----------
    shaped : iterable of (table, name, record)
        Those with a mesh file do not count here.
    """
    n = 0
    for table, name, record in shaped:
        if n <= MOST_TRIANGLES and record.mesh is None:
            truss = record.truss
            n += len(triangles_of(record)) if truss is None else truss.n_triangles
            if n > MOST_TRIANGLES:
                most = f"{MOST_TRIANGLES / 1e6:g} million triangles"
                return table, name, f"gives the scene more than {most}: take coarser shapes"
    return None


def refused_rails(rails: Mapping[str, Handrail]) -> tuple[str, str, str] | None:
    """Return the handrail with which all of them are too long, and the message."""
    length = 0.0
    for name, rail in rails.items():
        length += rail.length
        if length > MOST_RAIL:
            most = f"{MOST_RAIL / 1e3:g} km"
            return "handrails", name, f"makes the handrails of the scene longer than {most} in all"
    return None
