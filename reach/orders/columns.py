"""Values as whole numbers, so that an effect is one masking and one addition.

Words are numbered, numbers stand for themselves, a set has a bit an element (62 a
column).  Every effect then is ``(old & keep) + add`` in each column: to take a value is
to keep nothing, to come into a set or go out of it is to keep all other bits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

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
from reach.orders.events import Add, Effect, Event, Join, Leave, Put, Value, as_set
from reach.orders.order import Ints

Truth: TypeAlias = npt.NDArray[np.bool_]

_BITS = 62
"""Elements a column: sums of masks stay clear of the sign."""


class Columns:
    """The variables of some events, coded.

    Parameters
    ----------
    events : iterable of Event
    start : mapping
        Variable -> value before anything is done.
    """

    def __init__(self, events: Iterable[Event], start: Mapping[str, Value]) -> None:
        self._start = start
        self._words: dict[Value, int] = {}
        self._bits: dict[str, dict[Value, int]] = {}
        self._counted: set[str] = set()
        for variable, value in start.items():
            if isinstance(value, frozenset):
                self._bits[variable] = {}
                self._note(variable, value)
            else:
                self._words.setdefault(value, len(self._words))
        for event in events:
            for variable in event.writes.keys() & start.keys():
                effect = event.effect(variable)
                if isinstance(effect, Add):
                    self._counted.add(variable)
                elif isinstance(effect, Put) and variable not in self._bits:
                    self._words.setdefault(effect.value, len(self._words))
                elif isinstance(effect, Put):
                    self._note(variable, effect.value)
                elif isinstance(effect, Join | Leave):
                    self._note(variable, effect.elements)

    def _note(self, variable: str, elements: Value) -> None:
        bits = self._bits[variable]
        for element in sorted(as_set(elements), key=repr):
            bits.setdefault(element, len(bits))

    def width(self, variable: str) -> int:
        """Return how many columns a variable takes."""
        return max(1, -(-len(self._bits.get(variable, ())) // _BITS))

    def start(self, variable: str) -> Ints:
        """Return the columns of the value at the start, (width,)."""
        return self._coded(variable, self._start[variable])

    def changes(self, variable: str, events: Iterable[Event]) -> tuple[Ints, Ints]:
        """Return what each event keeps of the columns and what it adds, (n_events, width) each."""
        rows = [self._change(variable, event.effect(variable)) for event in events]
        shape = (len(rows), self.width(variable))
        keep = np.array([row[0] for row in rows], dtype=np.int64).reshape(shape)
        return keep, np.array([row[1] for row in rows], dtype=np.int64).reshape(shape)

    def _change(self, variable: str, effect: Effect | None) -> tuple[Ints, Ints]:
        nothing = np.zeros(self.width(variable), dtype=np.int64)
        match effect:
            case Put(value):
                return nothing, self._coded(variable, value)
            case Join(elements):
                bits = self._coded(variable, elements)
                return ~bits, bits
            case Leave(elements):
                return ~self._coded(variable, elements), nothing
            case Add(number):
                return ~nothing, nothing + number
        return ~nothing, nothing

    def _coded(self, variable: str, value: Value) -> Ints:
        if variable in self._bits:
            coded = np.zeros(self.width(variable), dtype=np.int64)
            for element in as_set(value):
                bit = self._bits[variable][element]
                coded[bit // _BITS] |= np.int64(1) << np.int64(bit % _BITS)
            return coded
        counted = variable in self._counted
        return np.array([value if counted else self._words[value]], dtype=np.int64)

    def holds(self, condition: Condition, values: Mapping[str, Ints]) -> Truth:
        """Return where a condition holds, (n,).

        Parameters
        ----------
        condition : Condition
        values : mapping
            Variable -> columns, (n, width); at least those that the condition reads.
        """
        return np.asarray(self._holds(condition, values), dtype=bool)

    def _holds(self, condition: Condition, values: Mapping[str, Ints]) -> Any:
        match condition:
            case Not(inner):
                return np.logical_not(self._holds(inner, values))
            case All(several):
                return np.logical_and.reduce([self._holds(one, values) for one in several])
            case Some(several):
                return np.logical_or.reduce([self._holds(one, values) for one in several])
            case Is(variable, value):
                return self._is(variable, value, values[variable])
            case Among(variable, wanted):
                each = [self._is(variable, value, values[variable]) for value in wanted]
                return np.logical_or.reduce([np.zeros(len(values[variable]), dtype=bool), *each])
            case Has(variable, element):
                bit = self._bits[variable].get(element)
                if bit is None:
                    return np.zeros(len(values[variable]), dtype=bool)
                return values[variable][:, bit // _BITS] >> (bit % _BITS) & 1
            case AtLeast(variable, n):
                return np.greater_equal(self._amount(variable, values[variable]), n)
            case AtMost(variable, n):
                return np.less_equal(self._amount(variable, values[variable]), n)
            case Same(variable, other):
                if (variable in self._counted) == (other in self._counted):
                    return np.all(values[variable] == values[other], axis=1)
                return self._amount(variable, values[variable]) == self._amount(
                    other, values[other]
                )

    def _is(self, variable: str, value: Value, columns: Ints) -> Any:
        try:
            coded = self._coded(variable, value)
        except KeyError:  # a value that it never has
            return np.zeros(len(columns), dtype=bool)
        return np.all(columns == coded, axis=1)

    def _amount(self, variable: str, columns: Ints) -> Any:
        if variable in self._bits:
            return np.sum(np.bitwise_count(columns), axis=1, dtype=np.int64)
        if variable in self._counted:
            return columns[:, 0]
        numbers = [word if isinstance(word, int | float) else np.nan for word in self._words]
        return np.asarray(numbers)[columns[:, 0]]
