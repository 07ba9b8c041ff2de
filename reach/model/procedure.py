"""What is asked: steps in lanes, each with a place to work from and actions from a closed set."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from reach.model.record import Angle, Duration, Record

Hands = Literal["right", "left", "either", "both", "own"]


class Ingress(Record):
    """The worker gets into the restraint and stands at rest in it."""

    do: Literal["ingress"]


class Drive(Record):
    """The worker reaches a fastener with a tool on its axis, sees it and turns it."""

    do: Literal["drive"]
    fastener: str
    tool: str
    bit: str | None = None
    extension: str | None = None
    hand: Hands = "own"
    torque: float | str | None = None


class Inspect(Record):
    """The worker looks at a fastener without touching it."""

    do: Literal["inspect"]
    fastener: str


Action = Annotated[Ingress | Drive | Inspect, Field(discriminator="do")]


class Step(Record):
    """One step of one lane.

    ``where`` is a socket or a station; a step without it goes on from where the lane's
    step before was.  ``setting`` holds a value for each joint of the restraint (detent
    number for numbered joints, angle otherwise).  ``setting``, ``route`` and ``path`` may
    be left blank.
    """

    name: str = Field(min_length=1)
    lane: str
    start: Duration | None = None
    after: tuple[str, ...] = ()
    duration: Duration | None = Field(default=None, ge=0)
    where: str | None = None
    restraint: str | None = None
    setting: dict[str, int | Angle] | None = None
    route: tuple[str, ...] | None = None
    path: str | None = None
    placed: dict[str, str] = Field(default_factory=dict, description="payload -> pose name")
    actions: tuple[Action, ...] = ()
    note: str = ""


class Procedure(Record):
    """Lanes and steps, in the order they are written."""

    format: Literal[1]
    title: str = ""
    note: str = ""
    lanes: dict[str, Literal["worker", "crane", "inside lead"]] = Field(min_length=1)
    tables: dict[str, str] = Field(default_factory=dict)
    steps: tuple[Step, ...] = ()

    @model_validator(mode="after")
    def _names_and_order(self) -> Procedure:
        problems = []
        seen: set[str] = set()
        for step in self.steps:
            if step.name in seen:
                problems.append(f"two steps are named {step.name!r}")
            seen.add(step.name)
        if problems:
            raise ValueError("; ".join(problems))
        return self
