"""What is carried and worked with: restraints, tools, bits, extensions, and items that are one."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field, model_validator

from reach.model.provenance import Provenance
from reach.model.record import Angle, Direction, Length, Mass, Point, Record, Torque
from reach.model.tolerance import Play
from reach.units import text_of

DETENT_TOLERANCE = 1e-6
"""An angle this close to a detent (rad) is that detent: room for rounding, not for error."""


MOST_STOPS = 10_000
"""Detents of one joint; one that has more may as well take every angle."""


class Joint(Record):
    """One link of a restraint's chain: a fixed ``shift``, or a joint turning about ``turn``.

    A joint takes every angle between ``from`` and ``to``, or only detents when ``step``
    is given.  ``numbered`` joints are set by detent number, counted from 0 at ``from``.
    """

    name: str = ""
    shift: Point | None = None
    turn: Literal["x", "y", "z"] | None = None
    low: Angle = Field(default=0.0, alias="from")
    high: Angle = Field(default=0.0, alias="to")
    step: Angle | None = Field(default=None, gt=0)
    detents: tuple[Angle, ...] = Field(default=(), description="detents that are not evenly spaced")
    numbered: bool = False
    tolerance: Play | None = Field(default=None, description="how far its angle may be off")

    @model_validator(mode="after")
    def _is_shift_or_joint(self) -> Joint:
        if (self.shift is None) == (self.turn is None):
            raise ValueError("needs either shift = [x, y, z] or turn = 'x', 'y' or 'z'")
        if self.shift is not None and self.tolerance is not None:
            raise ValueError("a shift takes no tolerance; give it to the socket or the joints")
        if self.turn is not None:
            if not self.name:
                raise ValueError("a joint needs a name")
            if self.low > self.high:
                low, high = text_of(self.low, "rad"), text_of(self.high, "rad")
                raise ValueError(f"from {low} is above to {high}")
            if self.numbered and self.step is None and not self.detents:
                raise ValueError("a numbered joint needs step or detents")
            if self.step is not None and (self.high - self.low) / self.step > MOST_STOPS:
                raise ValueError(f"step makes more than {MOST_STOPS} detents; leave it out")
        return self

    @property
    def stops(self) -> tuple[float, ...]:
        """Detent angles in rad, rising; empty for a joint that takes every angle."""
        if self.detents:
            return tuple(sorted(self.detents))
        if self.step is None:
            return ()
        count = math.floor((self.high - self.low) / self.step + 1e-9) + 1
        return tuple(self.low + i * self.step for i in range(count))

    def nearest_stop(self, angle: float) -> float:
        """Return the detent nearest to ``angle`` (rad), or ``angle`` clipped to the range."""
        if not self.stops:
            return min(self.high, max(self.low, angle))
        return min(self.stops, key=lambda stop: (abs(stop - angle), stop))

    def angle_of(self, value: int | float) -> float:
        """Return the angle in rad that a setting stands for.

        Parameters
        ----------
        value : int or float
            Detent number from 0 of a numbered joint; angle in rad of any other.

        Raises
        ------
        ValueError
            If the joint has no such detent or does not go there; the message names
            the nearest one that it has.

        Examples
        --------
        >>> pitch = Joint(name="pitch", turn="y", step="15 deg", **{"from": 0, "to": "90 deg"})
        >>> pitch.angle_of(0.7)
        Traceback (most recent call last):
        ValueError: 40.1 deg is no detent; the nearest is 45.0 deg
        """
        if self.numbered:
            return self._numbered_angle(value)
        nearest = self.nearest_stop(value)
        if abs(nearest - value) <= DETENT_TOLERANCE:
            return nearest
        if self.stops:
            problem = f"is no detent; the nearest is {text_of(nearest, 'rad')}"
        else:
            low, high = text_of(self.low, "rad"), text_of(self.high, "rad")
            problem = f"is outside {low} to {high}"
        raise ValueError(f"{text_of(value, 'rad')} {problem}")

    def _numbered_angle(self, value: int | float) -> float:
        last = len(self.stops) - 1
        if isinstance(value, int) and 0 <= value <= last:
            return self.stops[value]
        found = str(value) if isinstance(value, int) else text_of(value, "rad")
        if isinstance(value, int):
            nearest = min(last, max(0, value))
        else:
            nearest = self.stops.index(self.nearest_stop(value))
        raise ValueError(
            f"takes a whole detent number from 0 to {last}, found {found}; the nearest is {nearest}"
        )


class Handle(Record):
    """A grip on a restraint, from one end to the other in the frame of its boot plate."""

    start: Point = Field(alias="from")
    end: Point = Field(alias="to")

    @model_validator(mode="after")
    def _has_length(self) -> Handle:
        if self.start == self.end:
            raise ValueError(f"has zero length: both ends at {list(self.start)}")
        return self


class Restraint(Record):
    """What holds the worker: a chain from the socket frame to the boot plate.

    Socket frame: z the outward axis, x the clocking zero.  Boot plate: sole normal +z, toes +x.
    ``holds_torque`` is what a worker held by it may react.  Boots come free when they are turned
    by ``boot_twist`` about the sole normal, toes to the side of ``twist_to``; 0 where they are
    just lifted off.  ``handle`` is a grip of its own to hold on to.
    """

    title: str = ""
    kind: Literal["foot restraint", "body tether", "positioning lanyard", "none"]
    chain: tuple[Joint, ...] = ()
    holds_torque: Torque | None = Field(default=None, gt=0)
    boot_twist: Angle | None = Field(default=None, ge=0)
    twist_to: Literal["either", "left", "right"] = "either"
    handle: Handle | None = None
    sources: dict[str, Provenance] = Field(default_factory=dict)

    @property
    def joints(self) -> tuple[Joint, ...]:
        """The links that can be set, in order from the socket."""
        return tuple(link for link in self.chain if link.turn is not None)


class Part(Record):
    """One capsule of a tool in the hand frame (x ahead through the knuckles, z thumb side)."""

    start: Point = Field(alias="from")
    end: Point = Field(alias="to")
    radius: Length = Field(gt=0)


class Swing(Record):
    """The lever of a ratchet: its length from the turning axis, radius and least useful arc."""

    lever: Length = Field(gt=0)
    radius: Length = Field(gt=0)
    least_arc: Angle = Field(gt=0)


class Tool(Record):
    """A hand tool in the hand frame: where its tip is, how it is driven, its envelope.

    Origin is the centre of the grip; x runs ahead through the knuckles, y to the left,
    z to the thumb side of a right hand.  A left hand holds the mirror image.
    """

    title: str = ""
    kind: Literal["drive", "ratchet", "wrench", "hand"]
    tip: Point
    axis: Direction
    parts: tuple[Part, ...] = ()
    takes_bits: bool = False
    torque: Torque | None = Field(default=None, gt=0, description="most it can give")
    least_torque: Torque | None = Field(default=None, gt=0, description="least it can be set to")
    felt: float = Field(default=1.0, ge=0, le=1, description="share of its torque the hand feels")
    swing: Swing | None = None
    second_grip: Point | None = Field(default=None, description="where the other hand holds it")
    shaft: Length = Field(default=0.01, gt=0, description="radius of what turns at the tip")
    shaft_length: Length = Field(default=0.05, gt=0, description="free length behind the tip")
    sources: dict[str, Provenance] = Field(default_factory=dict)


class Bit(Record):
    """A socket-wrench end for one head size; adds its length along the tool axis."""

    title: str = ""
    head: str
    length: Length = Field(gt=0)
    radius: Length = Field(gt=0)


class Extension(Record):
    """A bar between tool and bit; adds its length along the tool axis."""

    title: str = ""
    length: Length = Field(gt=0)
    radius: Length = Field(gt=0)


class Item(Record):
    """A named piece that exists once: PT-1 is a power drive, BG-1 a bag.

    ``size`` is that of the box it fits in while it is carried; a ``bulky`` one slows whoever
    carries it.  A bag has ``slots`` and bears ``most_mass``; what goes into one takes up
    ``takes`` of them.  A lead has a ``length``, a ``diameter`` and the tightest ``bend`` of its
    middle line that it bears.
    """

    kind: str = Field(
        alias="is", default="", description="a tool, bit, extension or restraint, if it is one"
    )
    size: tuple[Length, Length, Length] | None = None
    bulky: bool = False
    slots: int | None = Field(default=None, ge=0)
    takes: int = Field(default=1, ge=0)
    mass: Mass | None = Field(default=None, gt=0)
    most_mass: Mass | None = Field(default=None, gt=0)
    length: Length | None = Field(default=None, gt=0)
    diameter: Length | None = Field(default=None, gt=0)
    bend: Length | None = Field(default=None, gt=0)
    note: str = ""

    @model_validator(mode="after")
    def _has_a_size(self) -> Item:
        if self.size is not None and min(self.size) <= 0:
            raise ValueError("sizes must be greater than zero")
        return self

    @model_validator(mode="after")
    def _is_a_lead_with_a_length(self) -> Item:
        if self.length is None and (self.diameter is not None or self.bend is not None):
            raise ValueError("diameter and bend are those of a lead: say its length")
        if self.bend is not None and self.diameter is not None and self.bend < self.diameter / 2.0:
            raise ValueError("bend is that of the middle line: at least half the diameter")
        return self

    @model_validator(mode="after")
    def _holds_only_as_a_bag(self) -> Item:
        if self.most_mass is not None and self.slots is None:
            raise ValueError("most_mass is that of a bag: say its slots")
        return self
