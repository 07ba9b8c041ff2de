"""Gaps that close, and the body parts they hurt."""

from __future__ import annotations

from pydantic import Field

from reach.model.provenance import Provenance
from reach.model.record import Length, Record


class CrushingGaps(Record):
    """Body part -> the least gap (m) that does not crush it, with the source of the table."""

    format: int = 1
    source: Provenance
    gaps: dict[str, Length] = Field(min_length=1)

    def hurt_by(self, gap: float) -> list[str]:
        """Return the body parts that a gap of ``gap`` (m) crushes when it closes, narrowest first.

        Examples
        --------
        >>> table = CrushingGaps(source=Provenance(), gaps={"finger": 0.025, "hand": 0.1})
        >>> table.hurt_by(0.09), table.hurt_by(0.1)
        (['hand'], [])
        """
        by_width = sorted(self.gaps, key=lambda part: self.gaps[part])
        return [part for part in by_width if gap < self.gaps[part]]
