"""Whether a condition holds for given values, one by one: for an order that is already known."""

from __future__ import annotations

from collections.abc import Mapping, Sized
from typing import cast

from reach.orders.conditions import (
    All,
    Among,
    AtLeast,
    AtMost,
    Condition,
    Has,
    Is,
    Not,
    Same,
    Some,
)
from reach.orders.events import Value


def met(condition: Condition, values: Mapping[str, Value]) -> bool:
    """Return whether a condition holds.

    Raises
    ------
    KeyError
        If it reads a variable that has no value.

    Examples
    --------
    >>> from reach.orders import AtLeast, Is
    >>> met(Some((Is("a", 1), AtLeast("b", 2))), {"a": 0, "b": frozenset({"x", "y"})})
    True
    """
    match condition:
        case Is(variable, value):
            return values[variable] == value
        case Among(variable, several):
            return values[variable] in several
        case Has(variable, element):
            return element in cast("frozenset[Value]", values[variable])
        case AtLeast(variable, n):
            return _amount(values[variable]) >= n
        case AtMost(variable, n):
            return _amount(values[variable]) <= n
        case Same(variable, other):
            return values[variable] == values[other]
        case Not(inner):
            return not met(inner, values)
        case All(conditions):
            return all(met(one, values) for one in conditions)
        case Some(conditions):
            return any(met(one, values) for one in conditions)


def _amount(value: Value) -> float:
    return len(value) if isinstance(value, Sized) else cast("float", value)
