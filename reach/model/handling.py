"""Actions that change who has what, what is tied to what, what is known; none asks a posture."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from reach.model.record import Record, Torque


class Egress(Record):
    """The worker gets out of the restraint, or comes out of the lock through hatch ``from``."""

    do: Literal["egress"]
    start: str | None = Field(
        default=None, alias="from", description="hatch by which the worker comes out of the lock"
    )


class Attach(Record):
    """One end of a tether is hooked on.

    ``what`` is a safety line or an item.  The reel of a line goes to a worker's suit, its hook to
    an anchor; an item is tied to whatever ``to`` names, beside what holds it.  ``checked``: gate
    seen closed, locked, pulled.
    """

    do: Literal["attach"]
    what: str
    to: str
    checked: bool = False


class PickUp(Record):
    """The worker takes items from where they are to the suit, or into the bag ``to``.

    With ``tied`` each is tied to its new place before its old tether is let go.
    """

    do: Literal["pick up"]
    items: tuple[str, ...] = Field(min_length=1)
    to: str | None = Field(default=None, description="bag on the suit, else the suit itself")
    tied: bool = True


class Stow(Record):
    """The worker puts items they have into ``to``: a bag, a place, a payload, the lock."""

    do: Literal["stow"]
    items: tuple[str, ...] = Field(min_length=1)
    to: str
    tied: bool = True


class Pass(Record):
    """The worker gives items they have to another worker."""

    do: Literal["pass"]
    items: tuple[str, ...] = Field(min_length=1)
    to: str
    tied: bool = True


class Install(Record):
    """The worker plugs a restraint that they carry into socket ``to``."""

    do: Literal["install"]
    item: str
    to: str


class Remove(Record):
    """The worker takes a restraint out of the socket it is in; it hangs on their suit then."""

    do: Literal["remove"]
    item: str


class Adjust(Record):
    """The worker sets a tool: the torque it stops at, the bit fitted to it."""

    do: Literal["set"]
    tool: str
    torque: Torque | None = Field(default=None, gt=0)
    bit: str | None = None


class Lay(Record):
    """The worker lays a lead to fastener ``to``, through places in order, held by clamps."""

    do: Literal["lay"]
    item: str
    to: str
    through: tuple[str, ...] = ()
    clamps: tuple[str, ...] = ()


class Confirm(Record):
    """An inhibit is confirmed to be in place, or items are called and answered for.

    Calling a bag calls what is in it.
    """

    do: Literal["confirm"]
    inhibit: str | None = None
    items: tuple[str, ...] = ()
    what: str = Field(default="", description="anything else that is confirmed, in words")


class GloveCheck(Record):
    """Gloves and suit are looked at, at the end of the step: the lane's own, or all ``of`` it."""

    do: Literal["glove check"]
    of: tuple[str, ...] = ()


class Wait(Record):
    """Nothing is done."""

    do: Literal["wait"]
    what: str = Field(default="", description="what is waited for, in words")


Handling = (
    Egress | Attach | PickUp | Stow | Pass | Install | Remove | Adjust | Lay | Confirm
    | GloveCheck | Wait
)  # fmt: skip
"""Actions of the ledger: who has what, where, tied to what, in which state."""
