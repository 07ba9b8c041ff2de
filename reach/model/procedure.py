"""What is asked: steps in lanes, each with a place to work from and actions from a closed set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from reach.model.handling import Egress, Handling
from reach.model.outing import (
    Clock,
    End,
    Guard,
    Inhibit,
    Lane,
    Phase,
    Start,
    Store,
    TurnOrder,
    Windows,
)
from reach.model.record import (
    Direction,
    Duration,
    Elapsed,
    Force,
    Length,
    Record,
    Setting,
    Torque,
)

Hands = Literal["right", "left", "either", "both", "own"]


class Ingress(Record):
    """The worker gets into the restraint and stands at rest in it, or goes in by hatch ``to``."""

    do: Literal["ingress"]
    to: str | None = Field(default=None, description="hatch by which the worker goes into the lock")


class Drive(Record):
    """The worker reaches a fastener with a tool on its axis, sees it and turns it.

    Connectors are mated and demated, by hand if no tool is named.  ``loosen``: it is turned out.
    """

    do: Literal["drive", "mate", "demate"]
    fastener: str
    tool: str = Field(
        default="", description="item or kind; must to drive, else the glove mates and demates"
    )
    bit: str | None = None
    extension: str | None = None
    hand: Hands = "own"
    torque: Torque | None = Field(default=None, gt=0, description="what the tool is set to")
    force: Force | None = Field(default=None, gt=0, description="push held on it throughout")
    loosen: bool = False

    @model_validator(mode="before")
    @classmethod
    def _mates_by_hand(cls, data: Any) -> Any:
        if not isinstance(data, dict) or data.get("tool"):
            return data
        if data.get("do") in ("mate", "demate"):
            return {**data, "tool": "glove"}
        raise ValueError("key 'tool' is missing: what it is turned with")

    @property
    def undoes(self) -> bool:
        """Whether the fastener is turned out or the connector taken apart."""
        return self.loosen or self.do == "demate"


class Inspect(Record):
    """The worker looks at a fastener without touching it."""

    do: Literal["inspect"]
    fastener: str


class Aside(Record):
    """How far the body is held to one side of straight out from a rail, and to which side."""

    by: Length = Field(ge=0)
    toward: str | Direction = Field(
        union_mode="left_to_right",
        description="a heading of the scene, such as nadir, or [x, y, z]",
    )


class Translate(Record):
    """The worker moves hand over hand to another place, along the step's route.

    A blank route is planned.  ``start`` may be left out where the worker's place is known.
    Hands let go of what they held.  What is ``carrying`` hangs on the suit unless it is
    ``in_hand``.  ``tether`` is the safety line worn on the way, led from ``anchor``; left out,
    those worn before.  ``crosses`` names lines that it is meant to cross.  ``body`` says for a
    rail to which side the body is held.
    """

    do: Literal["translate"]
    to: str
    start: str | None = Field(default=None, alias="from")
    carrying: tuple[str, ...] = ()
    in_hand: tuple[str, ...] = ()
    tether: str | None = None
    anchor: str | None = None
    crosses: tuple[str, ...] = Field(default=(), description="lines it is meant to cross")
    body: dict[str, Aside] = Field(default_factory=dict)


class Hold(Record):
    """The worker takes hold of one or two grips, handrails of a payload mostly, a hand each.

    Grips of another payload that are held already stay held, if a hand is left for them; those of
    the same payload, and of structure, are let go.  Hands also let go of what stays behind when
    the worker gets out of the boots, goes elsewhere, or rides off on a crane.
    """

    do: Literal["hold"]
    grips: tuple[str, ...] = Field(min_length=1, max_length=2)


class Release(Record):
    """The worker lets go of what they hold; with ``what``, one end of a tether is let go.

    Of a safety line the end at ``from``, a worker or an anchor; its reel is then parked at the
    anchor ``to``.  Of an item the tether that ties it to ``from``.
    """

    do: Literal["release"]
    what: str | None = None
    start: str | None = Field(default=None, alias="from")
    to: str | None = Field(default=None, description="anchor where a reel is parked")

    @model_validator(mode="after")
    def _says_what(self) -> Release:
        if self.what is None and (self.start or self.to):
            raise ValueError("from and to go with what: hands let go of all that they hold")
        if self.what is not None and self.start is None:
            raise ValueError("key 'from' is missing: which end is let go")
        return self


class HandOver(Record):
    """The worker gives what they hold to another, who takes it by ``grips`` before they let go.

    What is given is the payload of those grips; another that the worker holds stays in hand.
    """

    do: Literal["hand over"]
    to: str
    grips: tuple[str, ...] = Field(min_length=1, max_length=2)


class Move(Record):
    """A payload moves along the step's ``path``: in hands, by a mechanism, or on a crane.

    A blank path to the pose ``to`` is found.  ``clear_caller`` names who watches the gaps and
    calls stop, ``cameras`` what the operator sees them by.
    """

    do: Literal["move"]
    payload: str
    to: str | None = Field(default=None, description="pose, where the step names no path")
    clear_caller: str | None = None
    cameras: tuple[str, ...] = ()


class MoveCrane(Record):
    """A crane takes its tip to station ``to``, or a payload along the step's ``path``.

    Whoever stands on its tip rides along; with a ``payload``, ``to`` is one of its poses.
    ``crane`` may be left out where there is one.  Crane and riders let go of every other payload.
    """

    do: Literal["move crane"]
    crane: str | None = None
    payload: str | None = None
    to: str | None = None
    start: str | None = Field(default=None, alias="from", description="station it comes from")
    clear_caller: str | None = None
    cameras: tuple[str, ...] = ()


class Align(Record):
    """Hands bring a payload into a soft-capture guide, from where it is to the guide's pose."""

    do: Literal["align"]
    guide: str
    clear_caller: str | None = None
    cameras: tuple[str, ...] = ()


Moving = Move | MoveCrane | Align
"""Actions in which something bulky moves."""

Action = Annotated[
    Ingress | Drive | Inspect | Translate | Hold | Release | HandOver | Move | MoveCrane | Align
    | Handling,
    Field(discriminator="do"),
]  # fmt: skip


def is_bodily(action: Action) -> bool:
    """Return whether an action asks something of a body in a posture or on its way."""
    if isinstance(action, Ingress):
        return action.to is None
    if isinstance(action, Release):
        return action.what is None
    # Hands align what else is moved by itself or by a crane.
    return isinstance(action, Align) or not isinstance(action, Handling | Moving)


def hatch_passed(action: Action) -> str | None:
    """Return the hatch by which the worker comes out of the lock, or goes in; else None."""
    if isinstance(action, Egress):
        return action.start
    return action.to if isinstance(action, Ingress) else None


class Step(Record):
    """One step of one lane.

    ``where`` is a socket or a station; a step without it goes on from where the lane's
    step before was.  ``setting`` holds a value for each joint of the restraint (detent
    number for numbered joints, angle otherwise).  ``setting``, ``route`` and ``path`` may
    be left blank.  ``duration`` is the likely one; ``between`` says at least and at most, and
    where both are blank it is worked out.  ``with`` names other lanes that are in it from
    begin to end; ``optional`` is the priority of a step that may be cut: the higher, the
    longer it is kept; steps of one priority are cut together.
    """

    name: str = Field(min_length=1)
    lane: str
    start: Elapsed | None = Field(
        default=None, ge=0, description="'hh:mm' since the start, or a duration"
    )
    after: tuple[str, ...] = ()
    duration: Duration | None = Field(default=None, ge=0)
    between: tuple[Duration, Duration] | None = Field(
        default=None, description="duration at least and at most"
    )
    others: tuple[str, ...] = Field(
        default=(), alias="with", description="other lanes that are in it from begin to end"
    )
    optional: float | None = Field(
        default=None, description="priority of a step that may be cut; high ones are kept longer"
    )
    where: str | None = None
    restraint: str | None = None
    setting: dict[str, Setting] | None = None
    route: tuple[str, ...] | None = None
    path: str | None = None
    placed: dict[str, str] = Field(
        default_factory=dict, description="payload -> pose that it is in from this step on"
    )
    actions: tuple[Action, ...] = ()
    note: str = ""

    @property
    def shortest(self) -> float | None:
        """How long it lasts at least, s; None where neither that nor a duration is written."""
        return self.between[0] if self.between is not None else self.duration

    @property
    def longest(self) -> float | None:
        """How long it lasts at most, s; None where neither that nor a duration is written."""
        return self.between[1] if self.between is not None else self.duration

    @model_validator(mode="after")
    def _lasts_between(self) -> Step:
        if self.between is not None:
            low, high = self.between
            if not 0.0 <= low <= high:
                raise ValueError("between needs a shorter duration, then a longer one")
            if self.duration is not None and not low <= self.duration <= high:
                raise ValueError("the duration does not lie between those two")
        return self


def written_order(steps: Sequence[Step]) -> list[Step]:
    """Return steps by their written starts; without one, with the last of what comes before it.

    That is the step of its lane before, and those that it waits for.
    """
    key: dict[str, float] = {}
    for _ in steps:  # a step may wait for one that is told later
        before, last = dict(key), dict[str, float]()
        for step in steps:
            waits = (last.get(step.lane, 0.0), *(key.get(name, 0.0) for name in step.after))
            key[step.name] = max(waits) if step.start is None else step.start
            last[step.lane] = key[step.name]
        if key == before:
            break
    return sorted(steps, key=lambda step: key[step.name])


class Procedure(Record):
    """Lanes and steps, in the order they are written, and what holds for the whole outing."""

    format: Literal[1]
    title: str = ""
    note: str = ""
    lanes: dict[str, Lane] = Field(min_length=1)
    tables: dict[str, str] = Field(default_factory=dict)
    begin: Start | None = None
    stores: dict[str, Store] = Field(default_factory=dict, description="item or worker -> store")
    windows: dict[str, Windows] = Field(default_factory=dict)
    inhibits: dict[str, Inhibit] = Field(default_factory=dict)
    orders: dict[str, TurnOrder] = Field(default_factory=dict)
    guards: dict[str, Guard] = Field(default_factory=dict, description="fastener -> guard")
    clocks: dict[str, Clock] = Field(default_factory=dict)
    phases: dict[str, Phase] = Field(default_factory=dict)
    end: End | None = None
    steps: tuple[Step, ...] = ()

    @model_validator(mode="after")
    def _names_are_unique(self) -> Procedure:
        counts = Counter(step.name for step in self.steps)
        twice = [name for name, count in counts.items() if count > 1]
        if twice:
            raise ValueError("; ".join(f"two steps are named {name!r}" for name in twice))
        return self
