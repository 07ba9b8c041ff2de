"""What the reference checks see of a scene while it is read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from reach.files.lines import Place
from reach.files.problem import Problem


class Named(Protocol):
    """What the reference checks need to know of a scene that is being read.

    ``names`` holds also entries that could not be read: they exist, only their content is
    wrong.
    """

    @property
    def names(self) -> Mapping[str, Mapping[str, object]]:
        """Table -> names of its entries."""

    @property
    def records(self) -> Mapping[str, Mapping[str, object]]:
        """Table -> name -> record; one that could not be read holds its data unchecked."""

    def problem(self, table: str, name: str, place: Place, message: str) -> Problem:
        """Return a problem at a place of one entry."""
