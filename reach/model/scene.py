"""What is there: structure, places to hold and stand, fasteners, hazards, people and their kit."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field, model_validator

from reach.model.carrying import Camera, Crane, Guide, Path
from reach.model.hardware import Bit, Extension, Item, Restraint, Tool
from reach.model.limits import Limit
from reach.model.population_draw import PopulationDraw
from reach.model.record import (
    Direction,
    Force,
    Length,
    Mass,
    Point,
    Record,
    Temperatures,
    Torque,
)
from reach.model.shapes import Hazard, Placed, Solid
from reach.model.suit import Suit
from reach.model.tolerance import Tolerance
from reach.model.travel import Condition, Handhold, Hatch, Heading, Tether

LONGEST_RAIL = 1000.0
"""A rail longer than this (m) is a slip of the pen: grips are looked for all along it."""


class Frame(Placed):
    """A named frame to place other things in."""


class Payload(Record):
    """A thing that is moved: solids and grips placed ``in`` it ride along.

    The first pose is where it is unless a step says otherwise (``placed``).  ``stand_off`` is
    what structure keeps from it on its way, the limit ``payload_clearance`` if left out.
    ``grapple`` is where a crane's tip grips it, in its own frame.  ``fixed_by`` names fasteners
    and guides that hold it where it is: free of all of them it must be held.
    """

    title: str = ""
    mass: Mass | None = Field(default=None, gt=0)
    poses: dict[str, Placed] = Field(min_length=1)
    paths: dict[str, Path] = Field(default_factory=dict)
    stand_off: Length | None = Field(default=None, ge=0)
    grapple: Placed | None = None
    fixed_by: tuple[str, ...] = ()


class Handrail(Record):
    """A rated rail from one end to the other (m, in its frame).

    ``out`` is the side from which it is held, away from the structure; where it is left out
    it is looked for.
    """

    frame: str = Field(default="world", alias="in")
    start: Point = Field(alias="from")
    end: Point = Field(alias="to")
    radius: Length = Field(default=0.016, gt=0)
    out: Direction | None = Field(default=None, description="side it is held from, else found")
    rated: bool = True
    rating: Force | None = Field(default=None, gt=0)
    condition: Condition = "free"
    stowed: tuple[str, ...] = Field(default=(), description="items stowed on it")
    temperature: Temperatures | None = Field(
        default=None, description="coldest and hottest that its surface gets; not known if left out"
    )
    title: str = ""

    @model_validator(mode="after")
    def _has_length(self) -> Handrail:
        if self.start == self.end:
            raise ValueError(f"has zero length: both ends at {list(self.start)}")
        if self.length > LONGEST_RAIL:
            raise ValueError(f"is {self.length:.0f} m long, {LONGEST_RAIL:.0f} m at most")
        return self

    @property
    def length(self) -> float:
        """From end to end, m."""
        return math.dist(self.start, self.end)


class Anchor(Record):
    """A rated place to hook a tether to; ``on`` the crane on whose tip it is, if on one."""

    frame: str = Field(default="world", alias="in")
    at: Point
    on: str | None = Field(default=None, description="the crane on whose tip it is")
    rating: Force | None = Field(default=None, gt=0)
    title: str = ""


class Rating(Record):
    """What a socket or a station bears, force and moment applied together."""

    force: Force = Field(gt=0)
    moment: Torque = Field(gt=0)


class Socket(Record):
    """A receptacle for a restraint: outward axis (z of its frame) and clocking zero (x)."""

    frame: str = Field(default="world", alias="in")
    at: Point
    axis: Direction
    zero: Direction
    status: Literal["free", "faulty", "blocked"] = "free"
    rating: Rating | None = None
    tolerance: Tolerance | None = Field(default=None, description="how far ``at`` may be off")
    title: str = ""

    @model_validator(mode="after")
    def _zero_is_not_along_axis(self) -> Socket:
        _not_parallel(self.axis, self.zero, "zero", "axis")
        return self


class Station(Record):
    """A place to stand that is not a socket: sole normal and toe direction of the boots.

    ``restraint`` names what holds the worker there; ``on`` the crane on whose tip it is.
    """

    frame: str = Field(default="world", alias="in")
    at: Point
    up: Direction
    toes: Direction
    restraint: str
    on: str | None = Field(default=None, description="the crane whose tip is here")
    rating: Rating | None = None
    tolerance: Tolerance | None = Field(default=None, description="how far ``at`` may be off")
    title: str = ""

    @model_validator(mode="after")
    def _toes_are_not_along_up(self) -> Station:
        _not_parallel(self.up, self.toes, "toes", "up")
        return self


class Fastener(Record):
    """A bolt, pin or connector: position of its head, outward axis, size, torque, turns.

    ``tools`` and ``hand`` say what and which hand may turn it; no tools means any.
    ``push`` is the force with which it is pushed home, at its peak, against its axis.
    ``turns`` come out between ``turns_between`` when all is well; ``if_stuck`` says what is done
    when they do not.  A fastener that is not ``captive`` can float off when it is out.
    """

    frame: str = Field(default="world", alias="in")
    at: Point
    axis: Direction
    kind: Literal["bolt", "pin", "connector"] = "bolt"
    head: str = ""
    head_radius: Length | None = Field(default=None, gt=0)
    torque: Torque | None = Field(default=None, gt=0)
    breakaway: Torque | None = Field(default=None, gt=0)
    most_torque: Torque | None = Field(default=None, gt=0)
    push: Force | None = Field(default=None, gt=0)
    most_push: Force | None = Field(default=None, gt=0)
    turns: float | None = Field(default=None, gt=0)
    turns_between: tuple[float, float] | None = None
    if_stuck: str = ""
    captive: bool | None = None
    tools: tuple[str, ...] = ()
    hand: Literal["either", "left", "right"] = "either"
    tolerance: Tolerance | None = Field(default=None, description="how far ``at`` may be off")
    temperature: Temperatures | None = Field(
        default=None, description="coldest and hottest that its surface gets; not known if left out"
    )
    title: str = ""

    @model_validator(mode="after")
    def _turns_lie_between(self) -> Fastener:
        if self.turns_between is not None:
            low, high = self.turns_between
            if not 0.0 < low <= high:
                raise ValueError("turns_between needs fewer turns, then more, all above zero")
            if self.turns is not None and not low <= self.turns <= high:
                raise ValueError("turns does not lie in turns_between")
        return self


class Worker(Record):
    """A person: size class, percentile, measurements or a drawn population; hand and suit.

    With a ``population`` the person is any of the people drawn; checks that take one body take
    the one nearest to their middle.
    """

    size: str | None = None
    sex: Literal["male", "female"] | None = None
    percentile: float | None = Field(default=None, gt=0, lt=100)
    measurements: dict[str, Length] = Field(default_factory=dict)
    population: PopulationDraw | None = None
    hand: Literal["right", "left"] = "right"
    suit: str
    title: str = ""

    @model_validator(mode="after")
    def _has_one_body(self) -> Worker:
        ways = [
            self.size is not None,
            self.percentile is not None,
            bool(self.measurements),
            self.population is not None,
        ]
        if sum(ways) != 1:
            raise ValueError(
                "needs exactly one of size, percentile (with sex), measurements (with sex) "
                "or population"
            )
        if (self.percentile is not None or self.measurements) and self.sex is None:
            raise ValueError("needs sex with percentile or measurements")
        if self.population is not None and self.sex is not None:
            raise ValueError("sex stands inside population, not beside it")
        return self


class Size(Record):
    """A size class: a percentile of stature of one sex."""

    sex: Literal["male", "female"]
    percentile: float = Field(gt=0, lt=100)
    title: str = ""


class Scene(Record):
    """Everything there is, by unique name; poses are in named frames, lengths in metres."""

    format: Literal[1]
    title: str = ""
    note: str = ""
    use: tuple[str, ...] = ()
    procedure: str | None = Field(default=None, description="file that is checked by default")
    tables: dict[str, str] = Field(default_factory=dict)
    frames: dict[str, Frame] = Field(default_factory=dict)
    solids: dict[str, Solid] = Field(default_factory=dict)
    hazards: dict[str, Hazard] = Field(default_factory=dict)
    payloads: dict[str, Payload] = Field(default_factory=dict)
    guides: dict[str, Guide] = Field(default_factory=dict)
    cranes: dict[str, Crane] = Field(default_factory=dict)
    cameras: dict[str, Camera] = Field(default_factory=dict)
    handrails: dict[str, Handrail] = Field(default_factory=dict)
    handholds: dict[str, Handhold] = Field(default_factory=dict)
    hatches: dict[str, Hatch] = Field(default_factory=dict)
    tethers: dict[str, Tether] = Field(default_factory=dict)
    headings: dict[str, Heading] = Field(default_factory=dict)
    anchors: dict[str, Anchor] = Field(default_factory=dict)
    sockets: dict[str, Socket] = Field(default_factory=dict)
    stations: dict[str, Station] = Field(default_factory=dict)
    fasteners: dict[str, Fastener] = Field(default_factory=dict)
    restraints: dict[str, Restraint] = Field(default_factory=dict)
    tools: dict[str, Tool] = Field(default_factory=dict)
    bits: dict[str, Bit] = Field(default_factory=dict)
    extensions: dict[str, Extension] = Field(default_factory=dict)
    items: dict[str, Item] = Field(default_factory=dict)
    suits: dict[str, Suit] = Field(default_factory=dict)
    sizes: dict[str, Size] = Field(default_factory=dict)
    workers: dict[str, Worker] = Field(default_factory=dict)
    limits: dict[str, Limit] = Field(default_factory=dict)

    def rides(self, frame: str) -> bool:
        """Return whether a frame is a payload or placed, at whatever remove, in one."""
        return bool(self.rides_on(frame))

    def rides_on(self, frame: str) -> str:
        """Return the payload that a frame is or is placed in, at whatever remove, or nothing."""
        records: dict[str, Placed] = {**self.frames, **self.solids}
        while frame in records:
            frame = records[frame].frame
        return frame if frame in self.payloads else ""

    def payload_of(self, grip: str) -> str:
        """Return the payload that a handrail or handhold is on, or nothing."""
        record = self.handrails.get(grip) or self.handholds.get(grip)
        return "" if record is None else self.rides_on(record.frame)

    @property
    def free_sockets(self) -> tuple[str, ...]:
        """Names of the sockets that can take a restraint."""
        return tuple(name for name, socket in self.sockets.items() if socket.status == "free")


def _not_parallel(a: Direction, b: Direction, name: str, other: str) -> None:
    cross = (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )
    if sum(c * c for c in cross) < 1e-12:
        raise ValueError(f"{name} must not be parallel to {other}")
