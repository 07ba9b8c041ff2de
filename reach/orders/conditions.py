"""Conditions on variables, and the rules made of them.

All are plain data: they compare, hash and print.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Is:
    """The variable has this value."""

    variable: str
    value: Hashable

    def __str__(self) -> str:
        return f"{self.variable} is {shown(self.value)}"


@dataclass(frozen=True, slots=True)
class Among:
    """The variable has one of these values."""

    variable: str
    values: frozenset[Hashable]

    def __str__(self) -> str:
        return f"{self.variable} is one of {shown(self.values)}"


@dataclass(frozen=True, slots=True)
class Has:
    """The set has this element."""

    variable: str
    element: Hashable

    def __str__(self) -> str:
        return f"{self.variable} has {shown(self.element)}"


@dataclass(frozen=True, slots=True)
class AtLeast:
    """The set has at least ``n`` elements, or the number is at least ``n``."""

    variable: str
    n: int

    def __str__(self) -> str:
        return f"{self.variable}: at least {self.n}"


@dataclass(frozen=True, slots=True)
class AtMost:
    """The set has at most ``n`` elements, or the number is at most ``n``."""

    variable: str
    n: int

    def __str__(self) -> str:
        return f"{self.variable}: at most {self.n}"


@dataclass(frozen=True, slots=True)
class Same:
    """Two variables, neither of them a set, have the same value."""

    variable: str
    other: str

    def __str__(self) -> str:
        return f"{self.variable} is the same as {self.other}"


@dataclass(frozen=True, slots=True)
class Not:
    """The condition does not hold."""

    condition: Condition

    def __str__(self) -> str:
        return f"not ({self.condition})"


@dataclass(frozen=True, slots=True)
class All:
    """Every condition holds; of none that is true."""

    conditions: tuple[Condition, ...]

    def __str__(self) -> str:
        return " and ".join(f"({one})" for one in self.conditions) or "always true"


@dataclass(frozen=True, slots=True)
class Some:
    """At least one condition holds; of none that is false."""

    conditions: tuple[Condition, ...]

    def __str__(self) -> str:
        return " or ".join(f"({one})" for one in self.conditions) or "never true"


Atom: TypeAlias = Is | Among | Has | AtLeast | AtMost | Same
Condition: TypeAlias = Atom | Not | All | Some


@dataclass(frozen=True, slots=True)
class Always:
    """At the start and after every event."""


@dataclass(frozen=True, slots=True)
class While:
    """After the first event of a step, until its last is done; the step needs two events."""

    step: str


@dataclass(frozen=True, slots=True)
class At:
    """Just before an event is done; of a step, its first."""

    event: str


@dataclass(frozen=True, slots=True)
class AtEnd:
    """When everything is done."""


When: TypeAlias = Always | While | At | AtEnd


@dataclass(frozen=True, slots=True)
class Rule:
    """A condition that must hold, always or at certain times, in every order.

    Examples
    --------
    >>> print(Rule("held", AtLeast("holders of the boom", 2), While("hand over")).condition)
    holders of the boom: at least 2
    """

    name: str
    condition: Condition
    when: When = Always()


def atoms(condition: Condition) -> Iterator[Atom]:
    """Yield the conditions on variables that a condition is made of."""
    match condition:
        case Not(inner):
            yield from atoms(inner)
        case All(several) | Some(several):
            for one in several:
                yield from atoms(one)
        case _:
            yield condition


def variables_of(condition: Condition) -> frozenset[str]:
    """Return the variables that a condition reads."""
    found = set()
    for atom in atoms(condition):
        found.add(atom.variable)
        if isinstance(atom, Same):
            found.add(atom.other)
    return frozenset(found)


def parts(condition: Condition) -> tuple[Condition, ...]:
    """Return conditions that hold together just when this one does, each on fewer variables.

    Examples
    --------
    >>> [str(one) for one in parts(Not(Some((Is("a", 1), Not(Is("b", 2))))))]
    ['not (a is 1)', 'b is 2']
    """
    match condition:
        case All(several):
            return tuple(part for one in several for part in parts(one))
        case Not(Some(several)):
            return tuple(part for one in several for part in parts(Not(one)))
        case Not(Not(inner)):
            return parts(inner)
    return (condition,)


def shown(value: Hashable) -> str:
    """Return a value as text, sets in alphabetical order.

    Examples
    --------
    >>> shown(frozenset({"b", "a"})), shown(None), shown(frozenset())
    ('{a, b}', 'nothing', '{}')
    """
    if isinstance(value, frozenset):
        return "{" + ", ".join(sorted(shown(one) for one in value)) + "}"
    return "nothing" if value is None else str(value)
