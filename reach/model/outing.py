"""What a procedure declares of the whole outing: how it begins, what is in store, how it ends."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from reach.model.record import Duration, Elapsed, Record, Setting, Torque
from reach.units import quantity


def _kept(value: Any) -> Any:
    return {"in": value} if isinstance(value, str) else value


class Kept(Record):
    """What an item is in or on, and whether it is tied to that; a name alone means tied."""

    holder: str = Field(alias="in")
    tied: bool = True


KeptIn = Annotated[
    Kept,
    BeforeValidator(_kept),
    WithJsonSchema(
        {"type": ["string", "object"], "description": "name, or { in = name, tied = false }"}
    ),
]


class Ends(Record):
    """Where both ends of a safety line are: its hook at an anchor, its reel on a worker or parked.

    Left out, an end lies in the lock.
    """

    hook: str | None = None
    reel: str | None = None


class Dial(Record):
    """How a tool is set."""

    torque: Torque | None = Field(default=None, gt=0)
    bit: str | None = None


class Start(Record):
    """How everything is when the outing begins.

    Items that are not named are nowhere; workers not named are in the lock; ``tight`` are
    fasteners turned home and connectors mated, ``confirmed`` inhibits that are in place.
    """

    workers: dict[str, str] = Field(default_factory=dict, description="worker -> place")
    items: dict[str, KeptIn] = Field(default_factory=dict, description="item -> what holds it")
    lines: dict[str, Ends] = Field(default_factory=dict)
    tools: dict[str, Dial] = Field(default_factory=dict)
    settings: dict[str, dict[str, Setting]] = Field(
        default_factory=dict, description="restraint -> how it was left set"
    )
    tight: tuple[str, ...] = ()
    confirmed: tuple[str, ...] = ()


def _energy(value: Any) -> float:
    return quantity(value, "energy")


def _power(value: Any) -> float:
    return quantity(value, "power")


Energy = Annotated[
    float,
    BeforeValidator(_energy),
    WithJsonSchema({"type": ["number", "string"], "description": "energy, such as '7000 BTU'"}),
]
Power = Annotated[
    float,
    BeforeValidator(_power),
    WithJsonSchema({"type": ["number", "string"], "description": "power, such as '1000 BTU/h'"}),
]


class Store(Record):
    """What runs down: turns of a drive's battery, time or energy of a worker's suit.

    ``reserve`` is the share that must stay.
    """

    turns: float | None = Field(default=None, gt=0)
    lasts: Duration | None = Field(default=None, gt=0)
    energy: Energy | None = Field(default=None, gt=0)
    rate: Power | None = Field(
        default=None, gt=0, description="at which the energy is used up while outside"
    )
    reserve: float = Field(default=0.0, ge=0, lt=1)

    @model_validator(mode="after")
    def _stores_something(self) -> Store:
        if self.turns is None and self.lasts is None and self.energy is None:
            raise ValueError("needs turns, lasts or energy")
        if (self.energy is None) != (self.rate is None):
            raise ValueError("energy and rate go together")
        return self


class Windows(Record):
    """Stretches of time in which something is allowed: nights, contact.

    ``margin`` is kept from both ends; ``dark`` says that there is no sunlight in them.
    """

    spans: tuple[tuple[Elapsed, Elapsed], ...] = Field(min_length=1)
    margin: Duration = Field(default=0.0, ge=0)
    dark: bool = False

    @model_validator(mode="after")
    def _begin_first(self) -> Windows:
        problems = [
            f"window {i + 1} ends before it begins"
            for i, (begin, end) in enumerate(self.spans)
            if end <= begin
        ]
        if problems:
            raise ValueError("; ".join(problems))
        return self


class Inhibit(Record):
    """An independent barrier that keeps a source off; ``confirm`` says that it is in place."""

    title: str = ""


class TurnOrder(Record):
    """Fasteners that are turned in this order and no other."""

    fasteners: tuple[str, ...] = Field(min_length=2)


class Guard(Record):
    """What must be so before, and while, a fastener is turned, mated or demated.

    ``held`` names a payload that somebody else, or a crane, has hold of by then; ``inhibits``
    are confirmed before, ``after`` are fasteners that come before, ``items`` must be at hand;
    the work lies in a window of ``window``.
    """

    held: str | None = None
    inhibits: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    window: str | None = None


class Clock(Record):
    """A stretch of time with a limit: from the end of one step or fastener to that of another."""

    start: str = Field(alias="from")
    stop: str = Field(alias="to")
    limit: Duration = Field(gt=0)
    title: str = ""


class Phase(Record):
    """Steps with the same answer to "stop now": what is done first, and what is then left.

    From the begin of step ``from`` to the end of step ``to``.  ``clean_up`` is what must be
    done before going home, taking ``takes``; ``stop`` the state in which things are left if
    work stalls, safe for ``safe``.
    """

    start: str = Field(alias="from")
    stop_at: str = Field(alias="to")
    clean_up: tuple[str, ...] = ()
    takes: Duration | None = Field(default=None, ge=0)
    stop: str = ""
    safe: Duration | None = Field(default=None, ge=0)


class Left(Record):
    """Who answers for an item that stays outside, and until when at most it may."""

    owner: str = Field(min_length=1)
    until: str = Field(min_length=1)


class End(Record):
    """What the next outing expects; items not named are expected at ``rest``."""

    items: dict[str, str] = Field(default_factory=dict, description="item -> what holds it")
    lines: dict[str, Ends] = Field(default_factory=dict)
    rest: str | None = Field(default=None, description="where all other items are to be")
    left: dict[str, Left] = Field(default_factory=dict)


Lane = Literal["worker", "crane", "inside lead"]
