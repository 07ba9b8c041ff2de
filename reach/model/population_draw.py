"""A draw of invented people from a surveyed population, as it is asked for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, Strict

from reach.model.record import Record

MOST_PEOPLE = 100_000
"""More people than this tell little more: the interval of a share is then less than 0.007 wide."""


class PopulationDraw(Record):
    """How many people to draw, of which sex, from which seed.

    ``mixed`` is half and half, the first one male.  The first people of a larger draw with the
    same seed are the people of the smaller one.
    """

    n: Annotated[int, Strict()] = Field(ge=1, le=MOST_PEOPLE)
    sex: Literal["male", "female", "mixed"] = "mixed"
    seed: Annotated[int, Strict()] = Field(default=1, ge=0)

    @property
    def sexes(self) -> tuple[str, ...]:
        """The sexes that are drawn in turn."""
        return ("male", "female") if self.sex == "mixed" else (self.sex,)

    @property
    def title(self) -> str:
        """How a report names the draw.

        Examples
        --------
        >>> PopulationDraw(n=1000).title, PopulationDraw(n=1, sex="male", seed=7).title
        ('1000 people of both sexes, seed 1', '1 male person, seed 7')
        """
        people = "person" if self.n == 1 else "people"
        who = f"{people} of both sexes" if self.sex == "mixed" else f"{self.sex} {people}"
        return f"{self.n} {who}, seed {self.seed}"
