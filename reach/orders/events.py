"""Events in lanes, what they change, and the links that let one wait for another.

An event is done at one instant and changes its variables at once.  A step is one
event, or several in a row in one lane: it is going on from its first to its last.
Effects are data, not functions, and none reads a variable other than its own: that
is what lets each rule be looked at with its own events alone.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from reach.orders.conditions import Condition

Value: TypeAlias = Hashable
"""A word, a whole number, ``None``, or a frozenset of such."""


@dataclass(frozen=True, slots=True)
class Put:
    """The variable takes a value; a plain value in ``writes`` means the same."""

    value: Value


@dataclass(frozen=True, slots=True)
class Join:
    """Elements come into a set; those that are in it already stay.

    Examples
    --------
    >>> Join("hook 1") == Join(frozenset({"hook 1"}))
    True
    """

    elements: Value

    def __post_init__(self) -> None:
        object.__setattr__(self, "elements", as_set(self.elements))


@dataclass(frozen=True, slots=True)
class Leave:
    """Elements go out of a set; those that are not in it are passed over."""

    elements: Value

    def __post_init__(self) -> None:
        object.__setattr__(self, "elements", as_set(self.elements))


@dataclass(frozen=True, slots=True)
class Add:
    """A whole number is added.  Each event happens once, so sums stay bounded; none is cut off."""

    number: int


Effect: TypeAlias = Put | Join | Leave | Add


def as_set(elements: Value) -> frozenset[Value]:
    """Return one element or a frozenset of elements as a frozenset."""
    return elements if isinstance(elements, frozenset) else frozenset({elements})


@dataclass(frozen=True)
class Event:
    """One instant of one lane.

    Parameters
    ----------
    step : str
        The step it belongs to.
    lane : str
        The lane it stands in.
    writes : mapping
        Variable -> effect, or a plain value that the variable takes.
    needs : tuple of conditions
        What must hold just before it is done.  An event does not wait for what it
        needs: only lanes and links order events, so each is a rule to be proved.
    name : str
        Unique; the step's name where the step is this one event.

    Examples
    --------
    >>> Event("hook on", "W1", {"hooks of W1": Join("ST-3")}).name
    'hook on'
    """

    step: str
    lane: str
    writes: Mapping[str, Effect | Value] = field(default_factory=dict, hash=False)
    needs: tuple[Condition, ...] = ()
    name: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", self.name or self.step)
        effects = {
            variable: what if isinstance(what, Put | Join | Leave | Add) else Put(what)
            for variable, what in self.writes.items()
        }
        object.__setattr__(self, "writes", effects)

    def effect(self, variable: str) -> Effect | None:
        """Return what it does to a variable, ``None`` for nothing."""
        return self.writes.get(variable)  # type: ignore[return-value]

    def __str__(self) -> str:
        return f"{self.lane}: {self.name}"


@dataclass(frozen=True, slots=True, order=True)
class Link:
    """``then`` waits for ``first``; of steps, the first event of one for the last of the other."""

    first: str
    then: str

    def __str__(self) -> str:
        return f"{self.then} after {self.first}"


Lanes: TypeAlias = Mapping[str, Sequence[Event]]
"""Lane -> its events in order."""


def applied(effect: Effect, value: Value) -> Value:
    """Return what an effect makes of a value.

    Examples
    --------
    >>> applied(Add(2), 1), applied(Put("SK4"), "SK3"), applied(Leave("a"), frozenset({"a"}))
    (3, 'SK4', frozenset())
    """
    match effect:
        case Put(new):
            return new
        case Join(elements):
            return as_set(value) | as_set(elements)
        case Leave(elements):
            return as_set(value) - as_set(elements)
        case Add(number):
            return value + number  # type: ignore[operator]


def replayed(events: Sequence[Event], start: Mapping[str, Value]) -> dict[str, Value]:
    """Return the values of the variables in ``start`` after events were done one by one."""
    values = dict(start)
    for event in events:
        for variable in values.keys() & event.writes.keys():
            effect = event.effect(variable)
            if effect is not None:
                values[variable] = applied(effect, values[variable])
    return values
