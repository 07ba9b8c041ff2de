"""What a condition tells of a variable, as whole numbers, so that an effect is plain arithmetic.

Only what the condition can tell apart is kept: words that all its parts judge alike
become one class, of a set of which only single elements are asked only those are left.
That is exact, since what is kept after an effect depends on what was kept before it
alone, and it leaves fewer events that matter.  Classes are numbered, numbers stand for
themselves, a set has a bit an element (62 a column).  Every effect then is
``(old & keep) + add`` in each column: to take a value is to keep nothing, to come into a
set or go out of it is to keep all other bits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from reach.orders.conditions import (
    All,
    Among,
    AtLeast,
    AtMost,
    Atom,
    Condition,
    Has,
    Is,
    Not,
    Same,
    Some,
    atoms,
    variables_of,
)
from reach.orders.events import Add, Effect, Event, Join, Leave, Put, Value, as_set
from reach.orders.order import Ints

Truth: TypeAlias = npt.NDArray[np.bool_]
Change: TypeAlias = tuple[tuple[int, ...], tuple[int, ...]]
"""What is kept and what is added, a whole number each a column."""

_BITS = 62
"""Elements a column: sums of masks stay clear of the sign."""

_ALL = -1
"""The mask that keeps everything."""


class Words:
    """A variable that takes one of some values, by classes that its atoms tell apart."""

    def __init__(self, asked: Sequence[Atom], effects: Iterable[Effect], start: Value) -> None:
        values = dict.fromkeys([start, *(one.value for one in effects if isinstance(one, Put))])
        told: dict[Value, int] = {}
        self._class: dict[Value, int] = {}
        self.values: list[Value] = []
        """One value of each class."""
        for value in values:
            key = tuple(_judged(atom, value) for atom in asked)
            self._class[value] = told.setdefault(key, len(told))
            if len(self.values) < len(told):
                self.values.append(value)
        self.start = (self._class[start],)

    def change(self, effect: Effect | None) -> Change:
        """Return what an effect keeps and adds."""
        if isinstance(effect, Put) and len(self.values) > 1:
            return (0,), (self._class[effect.value],)
        return (_ALL,), (0,)

    def holds(self, atom: Atom, columns: Ints) -> Truth:
        """Return where an atom holds, (n,), for columns, (width, n)."""
        table = np.array([bool(_judged(atom, value)) for value in self.values])
        return np.asarray(table[columns[0]])


def _judged(atom: Atom, value: Value) -> Value:
    """Return what an atom tells of a word: the truth, or for two variables the word itself."""
    match atom:
        case Is(_, wanted):
            return value == wanted
        case Among(_, several):
            return value in several
        case AtLeast(_, n):
            return isinstance(value, int | float) and value >= n
        case AtMost(_, n):
            return isinstance(value, int | float) and value <= n
    return ("itself", value)


class Numbers:
    """A variable to which whole numbers are added."""

    def __init__(self, start: Value) -> None:
        self.start = (_whole(start),)

    def change(self, effect: Effect | None) -> Change:
        """Return what an effect keeps and adds."""
        match effect:
            case Put(value):
                return (0,), (_whole(value),)
            case Add(number):
                return (_ALL,), (number,)
        return (_ALL,), (0,)

    def holds(self, atom: Atom, columns: Ints) -> Truth:
        """Return where an atom holds, (n,), for columns, (width, n)."""
        match atom:
            case Is(_, value):
                return np.asarray(columns[0] == value)
            case Among(_, several):
                return np.isin(columns[0], [_whole(value) for value in several])
            case AtLeast(_, n):
                return np.asarray(columns[0] >= n)
            case AtMost(_, n):
                return np.asarray(columns[0] <= n)
        raise TypeError(f"a number is not asked whether {atom}")


def _whole(value: Value) -> int:
    if not isinstance(value, int):
        raise TypeError(f"not a whole number: {value!r}")
    return int(value)


class Sets:
    """A variable that elements join and leave, by the elements its atoms ask of."""

    def __init__(self, asked: Sequence[Atom], effects: Iterable[Effect], start: Value) -> None:
        elements = set(as_set(start))
        for effect in effects:
            if isinstance(effect, Join | Leave):
                elements |= as_set(effect.elements)
            elif isinstance(effect, Put):
                elements |= as_set(effect.value)
        if all(isinstance(atom, Has) for atom in asked):
            elements &= {atom.element for atom in asked if isinstance(atom, Has)}
        self._bit = {element: n for n, element in enumerate(sorted(elements, key=repr))}
        self._width = max(1, -(-len(self._bit) // _BITS))
        self.start = self._coded(start)

    def _coded(self, elements: Value) -> tuple[int, ...]:
        coded = [0] * self._width
        for element in as_set(elements) & self._bit.keys():
            bit = self._bit[element]
            coded[bit // _BITS] |= 1 << bit % _BITS
        return tuple(coded)

    def change(self, effect: Effect | None) -> Change:
        """Return what an effect keeps and adds."""
        nothing = (0,) * self._width
        match effect:
            case Put(value) if self._bit:
                return nothing, self._coded(value)
            case Join(elements):
                bits = self._coded(elements)
                return tuple(~bit for bit in bits), bits
            case Leave(elements):
                return tuple(~bit for bit in self._coded(elements)), nothing
        return (_ALL,) * self._width, nothing

    def holds(self, atom: Atom, columns: Ints) -> Truth:
        """Return where an atom holds, (n,), for columns, (width, n)."""
        match atom:
            case Is(_, value):
                return self._is(value, columns)
            case Among(_, several):
                each = [self._is(value, columns) for value in several]
                return np.asarray(np.any([np.zeros(columns.shape[1], dtype=bool), *each], axis=0))
            case Has(_, element) if element in self._bit:
                bit = self._bit[element]
                return np.asarray(columns[bit // _BITS] >> (bit % _BITS) & 1, dtype=bool)
            case AtLeast(_, n):
                return np.asarray(np.sum(np.bitwise_count(columns), axis=0, dtype=np.int64) >= n)
            case AtMost(_, n):
                return np.asarray(np.sum(np.bitwise_count(columns), axis=0, dtype=np.int64) <= n)
        return np.zeros(columns.shape[1], dtype=bool)

    def _is(self, value: Value, columns: Ints) -> Truth:
        if not as_set(value) <= self._bit.keys():  # an element that is never in it
            return np.zeros(columns.shape[1], dtype=bool)
        return np.asarray(np.all(columns == np.array(self._coded(value))[:, None], axis=0))


class Columns:
    """The variables of one condition, coded by what it tells of them.

    Parameters
    ----------
    condition : Condition
    events : sequence of Event
    start : mapping
        Variable -> value before anything is done.
    """

    def __init__(
        self, condition: Condition, events: Sequence[Event], start: Mapping[str, Value]
    ) -> None:
        self.condition = condition
        self.names = sorted(variables_of(condition))
        self._asked = {name: _asked(name, condition) for name in self.names}
        self._effects = {name: [event.effect(name) for event in events] for name in self.names}
        self._coded = {name: self._coding(name, start[name]) for name in self.names}
        self.changing = frozenset(event.name for event in events if self._matters(event))
        """Names of the events that change anything that the condition tells."""

    def _coding(self, name: str, start: Value) -> Words | Numbers | Sets:
        effects = [effect for effect in self._effects[name] if effect is not None]
        if isinstance(start, frozenset):
            return Sets(self._asked[name], effects, start)
        if any(isinstance(effect, Add) for effect in effects):
            return Numbers(start)
        return Words(self._asked[name], effects, start)

    def key(self, name: str) -> tuple[Any, ...]:
        """Return what tells one coding of a variable from another."""
        return name, self._asked[name]

    def start(self, name: str) -> Ints:
        """Return the columns of the value at the start, (width,)."""
        return np.array(self._coded[name].start, dtype=np.int64)

    def _matters(self, event: Event) -> bool:
        return any(
            any(add) or any(mask != _ALL for mask in keep)
            for keep, add in (
                self._coded[name].change(event.effect(name))
                for name in self.names
                if name in event.writes
            )
        )

    def changes(self, name: str, events: Iterable[Event]) -> tuple[Ints, Ints]:
        """Return what each event keeps of the columns and what it adds, (width, n_events) each."""
        rows = [self._coded[name].change(event.effect(name)) for event in events]
        shape = (len(rows), len(self._coded[name].start))
        keep = np.array([row[0] for row in rows], dtype=np.int64).reshape(shape)
        add = np.array([row[1] for row in rows], dtype=np.int64).reshape(shape)
        return np.ascontiguousarray(keep.T), np.ascontiguousarray(add.T)

    def holds(self, values: Mapping[str, Ints]) -> Truth:
        """Return where the condition holds, (n,), for the columns of its variables, (width, n)."""
        return self._holds(self.condition, values)

    def _holds(self, condition: Condition, values: Mapping[str, Ints]) -> Truth:
        match condition:
            case Not(inner):
                return ~self._holds(inner, values)
            case All(several):
                return np.asarray(np.all([self._holds(one, values) for one in several], axis=0))
            case Some(several):
                return np.asarray(np.any([self._holds(one, values) for one in several], axis=0))
            case Same(name, other):
                return self._same(name, other, values)
        return self._coded[condition.variable].holds(condition, values[condition.variable])

    def _same(self, name: str, other: str, values: Mapping[str, Ints]) -> Truth:
        one, two = self._coded[name], self._coded[other]
        if isinstance(one, Words) and isinstance(two, Words):
            table = np.array([[a == b for b in two.values] for a in one.values])
            return np.asarray(table[values[name][0], values[other][0]])
        return np.asarray(_numbers(one, values[name]) == _numbers(two, values[other]))


def _asked(name: str, condition: Condition) -> tuple[Atom, ...]:
    """Return the atoms of a condition that read a variable."""
    return tuple(dict.fromkeys(atom for atom in atoms(condition) if name in variables_of(atom)))


def _numbers(coded: Words | Numbers | Sets, columns: Ints) -> npt.NDArray[Any]:
    """Return the values as numbers, nan for words that are none."""
    if isinstance(coded, Words):
        numbers = [value if isinstance(value, int | float) else np.nan for value in coded.values]
        return np.asarray(np.array(numbers)[columns[0]])
    return np.asarray(columns[0])
