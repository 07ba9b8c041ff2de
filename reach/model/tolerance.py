"""How far a thing may be off: a box it surely stays in, or the standard deviation of its error."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema, model_validator

from reach.model.record import Angle, Length, Record

SIGMAS = 3.0
"""A standard deviation counts as this many of itself where the worst case is asked for."""


def _each_way(value: Any) -> Any:
    """Return one value for all three directions as three."""
    return value if isinstance(value, list | tuple) else (value, value, value)


Spread = Annotated[
    tuple[Length, Length, Length],
    BeforeValidator(_each_way),
    WithJsonSchema(
        {
            "type": ["number", "string", "array"],
            "description": "length each way along x, y and z of its frame, or [x, y, z] of them",
        }
    ),
]


class _Off(Record):
    """What may be off, told by either its ``box`` or its ``sigma``."""

    @model_validator(mode="after")
    def _is_box_or_sigma(self) -> _Off:
        given = [name for name in ("box", "sigma") if getattr(self, name) is not None]
        if len(given) != 1:
            found = " and ".join(given) or "neither"
            raise ValueError(f"needs either box or sigma, found {found}")
        values = getattr(self, given[0])
        if min(values if isinstance(values, tuple) else (values,)) < 0.0:
            raise ValueError(f"{given[0]} must not be negative")
        return self


class Tolerance(_Off):
    """How far a place may be off along x, y and z of the frame it is written in.

    ``box``: at most so far each way; ``sigma``: standard deviations of a normal error.
    """

    box: Spread | None = None
    sigma: Spread | None = None

    @property
    def worst(self) -> tuple[float, float, float]:
        """Largest error each way, m: the box, or `SIGMAS` standard deviations.

        Examples
        --------
        >>> Tolerance(box="5 mm").worst
        (0.005, 0.005, 0.005)
        """
        if self.box is not None:
            return self.box
        assert self.sigma is not None
        x, y, z = self.sigma
        return SIGMAS * x, SIGMAS * y, SIGMAS * z


class Play(_Off):
    """How far a joint may be off the angle it is set to: ``box`` at most, or ``sigma``."""

    box: Angle | None = None
    sigma: Angle | None = None

    @property
    def worst(self) -> float:
        """Largest error to either side, rad: the box, or `SIGMAS` standard deviations."""
        if self.box is not None:
            return self.box
        assert self.sigma is not None
        return SIGMAS * self.sigma
