"""What is wrong with lanes, links, start values and rules as they are written, told at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from reach.orders.conditions import (
    All,
    Among,
    At,
    AtLeast,
    AtMost,
    Atom,
    Condition,
    Has,
    Is,
    Not,
    Rule,
    Same,
    Some,
    While,
    atoms,
    shown,
    variables_of,
)
from reach.orders.events import Add, Effect, Event, Join, Lanes, Leave, Link, Put, Value

_LARGEST = 2**60
"""Sums of numbers stay below this, or whole-number arithmetic could run over."""


def refuse_wrong(
    lanes: Lanes, links: Iterable[Link], start: Mapping[str, Value], rules: Iterable[Rule]
) -> Known:
    """Raise a ``ValueError`` that lists everything wrong; else return what rules are asked of."""
    events = [event for several in lanes.values() for event in several]
    known = Known(events, start)
    refuse([*_names(lanes), *_links(events, links), *wrong_rules(rules, known)])
    return known


def refuse(problems: Iterable[str]) -> None:
    """Raise a ``ValueError`` that lists problems, each once, if there are any."""
    if told := list(dict.fromkeys(problems)):
        raise ValueError("; ".join(told))


def wrong_rules(rules: Iterable[Rule], known: Known) -> list[str]:
    """Return all that is wrong with rules, and with what is done to what they read."""
    asked = tuple(rules)
    problems = [f"rule {rule.name!r}: {one}" for rule in asked for one in _rule(rule, known)]
    read = {variable for rule in asked for variable in variables_of(rule.condition)}
    for variable in sorted(read & known.start.keys()):
        problems += _effects(variable, known)
    return problems


class Known:
    """What rules are compared with, by name: looked up once for all of them."""

    def __init__(self, events: Sequence[Event], start: Mapping[str, Value]) -> None:
        self.start = start
        self.steps = Counter(event.step for event in events)
        self.names = {event.name for event in events} | self.steps.keys()
        self._effects: dict[str, list[Effect]] = {}
        for event in events:
            for variable in event.writes:
                effect = event.effect(variable)
                if effect is not None:
                    self._effects.setdefault(variable, []).append(effect)

    def effects(self, variable: str) -> Sequence[Effect]:
        """Return all that is done to a variable."""
        return self._effects.get(variable, ())

    def taken(self, variable: str) -> list[Value]:
        """Return the values that a variable is given."""
        return [effect.value for effect in self.effects(variable) if isinstance(effect, Put)]


def _names(lanes: Lanes) -> Iterator[str]:
    events = [event for several in lanes.values() for event in several]
    for name, n in Counter(event.name for event in events).items():
        if n > 1:
            yield f"{n} events are named {name!r}: each needs its own name"
    steps = Counter(event.step for event in events)
    for event in events:
        if event.name in steps and (event.name != event.step or steps[event.step] > 1):
            yield f"an event has the name of step {event.name!r}, which it is not the whole of"
    begun: set[str] = set()
    for lane, several in lanes.items():
        before = None
        for event in several:
            if event.lane != lane:
                yield f"event {event.name!r} says lane {event.lane!r} and stands in {lane!r}"
            if event.step != before and event.step in begun:
                yield f"the events of step {event.step!r} do not follow each other in one lane"
            begun.add(event.step)
            before = event.step


def _links(events: Sequence[Event], links: Iterable[Link]) -> Iterator[str]:
    names = {event.name for event in events} | {event.step for event in events}
    for link in links:
        for name in (link.first, link.then):
            if name not in names:
                yield f"link {str(link)!r}: no event or step {name!r}"


def _rule(rule: Rule, known: Known) -> Iterator[str]:
    steps, start = known.steps, known.start
    match rule.when:
        case While(step) if step not in steps:
            yield f"no step {step!r}"
        case While(step) if steps[step] == 1:
            yield f"step {step!r} is one event and takes no time; give it a first and a last one"
        case At(name) if name not in known.names:
            yield f"no event or step {name!r}"
    if _has_empty(rule.condition):
        yield "a condition made of no conditions"
    for variable in sorted(variables_of(rule.condition) - start.keys()):
        yield f"{variable!r} has no value at the start"
    for atom in atoms(rule.condition):
        if variables_of(atom) <= start.keys():
            yield from _kinds(atom, known)


def _has_empty(condition: Condition) -> bool:
    match condition:
        case Not(inner):
            return _has_empty(inner)
        case All(several) | Some(several):
            return not several or any(_has_empty(one) for one in several)
    return False


def _kinds(atom: Atom, known: Known) -> Iterator[str]:
    variable, start = atom.variable, known.start
    is_set = isinstance(start[variable], frozenset)
    match atom:
        case Has() if not is_set:
            yield f"{variable!r} is no set"
        case AtLeast() | AtMost() if not is_set:
            values = [start[variable], *known.taken(variable)]
            if not all(isinstance(value, int | float) for value in values):
                yield f"{variable!r} is neither a set nor a number"
        case Same(_, other) if is_set or isinstance(start[other], frozenset):
            yield f"{variable!r} and {other!r} cannot be compared: sets"
        case Is(_, value):
            yield from _compared(variable, value, is_set, known)
        case Among(_, values):
            for value in values:
                yield from _compared(variable, value, is_set, known)


def _compared(variable: str, value: Value, is_set: bool, known: Known) -> Iterator[str]:
    if is_set != isinstance(value, frozenset):
        yield f"{variable!r} is {'a' if is_set else 'no'} set and is compared with {shown(value)}"
    adds = any(isinstance(effect, Add) for effect in known.effects(variable))
    if adds and not isinstance(value, int):
        yield f"{variable!r} is a number and is compared with {shown(value)}"


def _effects(variable: str, known: Known) -> Iterator[str]:
    effects, start = known.effects(variable), known.start[variable]
    values = [start, *known.taken(variable)]
    is_set = isinstance(start, frozenset)
    if any(isinstance(value, frozenset) != is_set for value in values):
        yield f"{variable!r} is a set at one time and none at another"
    elif not is_set and any(isinstance(effect, Join | Leave) for effect in effects):
        yield f"{variable!r} is no set: nothing can join or leave it"
    added = [effect.number for effect in effects if isinstance(effect, Add)]
    if added and not all(isinstance(value, int) for value in values + added):
        yield f"{variable!r} is added to and is not always a whole number"
    elif added and sum(abs(n) for n in [*values, *added] if isinstance(n, int)) >= _LARGEST:
        yield f"{variable!r} may grow too large"
