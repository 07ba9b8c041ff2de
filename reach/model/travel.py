"""What people move along, hook to and come home through: handholds, hatches, tethers, headings."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from reach.model.record import Direction, Force, Length, Point, Record, Temperatures
from reach.units import quantity

Condition = Literal["free", "blocked", "no-touch", "gone"]
"""Whether a rail may be held: blocked ones cannot, no-touch ones must not be.

One that is gone is not there; it keeps its name, for routes may still name it."""


class Handhold(Record):
    """A single rated grip, wide enough for one gloved hand.

    ``along`` is the direction of the bar, ``out`` the side from which it is held.
    """

    frame: str = Field(default="world", alias="in")
    at: Point
    along: Direction | None = None
    out: Direction | None = Field(default=None, description="side it is held from, else found")
    rated: bool = True
    rating: Force | None = Field(default=None, gt=0)
    condition: Condition = "free"
    stowed: tuple[str, ...] = Field(default=(), description="items stowed on it")
    temperature: Temperatures | None = Field(
        default=None, description="coldest and hottest that its surface gets; not known if left out"
    )
    title: str = ""


class Hatch(Record):
    """A way into the lock: where a person's body is once they are home."""

    frame: str = Field(default="world", alias="in")
    at: Point
    title: str = ""


class Tether(Record):
    """A safety line of a ``worker``, hooked to an ``anchor`` when the procedure begins.

    ``length`` is all that the reel pays out, hook to hook.
    """

    length: Length = Field(gt=0)
    anchor: str | None = None
    worker: str | None = None
    title: str = ""


class Heading(Record):
    """A word for a direction of the world, such as zenith, and the word for its opposite."""

    to: Direction
    opposite: str = ""


def rail_spot(name: str) -> tuple[str, float]:
    """Return rail and distance from its start (m) of a place such as ``"RL09@1.5"``.

    A name without ``@`` is returned with 0.

    Raises
    ------
    ValueError
        If what follows the ``@`` is no length.

    Examples
    --------
    >>> rail_spot("RL09@1.5"), rail_spot("RL09@25 cm"), rail_spot("SK3")
    (('RL09', 1.5), ('RL09', 0.25), ('SK3', 0.0))
    """
    rail, mark, text = name.rpartition("@")
    if not mark:
        return name, 0.0
    try:
        along = quantity(float(text) if _is_number(text) else text, "length")
    except ValueError as error:
        raise ValueError(f"{name!r}: {error}") from None
    if along < 0.0:
        raise ValueError(f"{name!r}: a rail is counted from its start, from 0 on")
    return rail, along


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
