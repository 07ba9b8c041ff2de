"""Where a number comes from: every default is data with a source and a mark."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from reach.model.record import Record


class SourceMark(StrEnum):
    """How far a value can be trusted; only *published* needs no confirmation by the planner."""

    PUBLISHED = "published"
    DERIVED = "derived from published data"
    COMMON_PRACTICE = "common practice"
    FROM_MEMORY = "from memory"
    INVENTED = "invented for the demo"
    ENTERED = "entered by the user"


class Provenance(Record):
    """Source of one value or of a group of values.

    Attributes
    ----------
    source : str
        The document, survey or person that says so.
    place : str
        Table, page or section in it; empty when there is none.
    mark : SourceMark
    """

    source: str = "scene file"
    place: str = ""
    mark: SourceMark = SourceMark.ENTERED
    note: str = Field(default="", description="A caution or a word on how the value was derived.")
