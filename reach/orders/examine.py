"""Rules judged over all orders that lanes and links allow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from reach.orders.columns import Columns
from reach.orders.conditions import At, Condition, Rule, parts, shown, variables_of
from reach.orders.events import Event, Lanes, Link, Value, replayed
from reach.orders.exploring import Explorer
from reach.orders.order import Order
from reach.orders.windows import Found, window
from reach.orders.written import refuse, refuse_wrong, wrong_rules

MOST_STATES = 1_000_000
"""States looked at for one rule before it is left *not settled*: how long, not what is good."""


Coded: TypeAlias = tuple[Rule, list[Columns]]
"""A rule and what the conditions it is made of tell apart."""


class Answer(StrEnum):
    """What is known of a rule."""

    HOLDS = "holds in all orders"
    BROKEN = "broken"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True)
class Ruling:
    """What is known of one rule, and why.

    Attributes
    ----------
    rule : Rule
    answer : Answer
    n_states : int
        States looked at.
    order : tuple of Event
        If broken, events that lanes and links allow in this order from the start on; after
        the last one the rule is broken.  For a rule ``At`` an event that event is the last,
        and the rule is broken just before it.
    values : mapping
        What the rule reads, when it is broken.
    is_shortest : bool
        No shorter order breaks the rule; not known if the states were too many.
    """

    rule: Rule
    answer: Answer
    n_states: int
    order: tuple[Event, ...] = ()
    values: Mapping[str, Value] | None = None
    is_shortest: bool = False

    def __str__(self) -> str:
        head = f"{self.rule.name}: {self.answer}"
        if self.answer is Answer.NOT_SETTLED:
            return f"{head}, too many states (over {self.n_states} looked at)"
        if self.values is None:
            return f"{head} ({self.n_states} states)"
        values = ", ".join(f"{name} = {shown(value)}" for name, value in self.values.items())
        order = "; ".join(str(event) for event in self.order) or "at the start"
        before = " before the last" if isinstance(self.rule.when, At) else ""
        return f"{head} by {order}: {values}{before}"


def rules_of_needs(lanes: Lanes) -> tuple[Rule, ...]:
    """Return what events need as rules, in the order of lanes and events."""
    return tuple(
        Rule(f"{event.name} needs {condition}", condition, At(event.name))
        for events in lanes.values()
        for event in events
        for condition in event.needs
    )


def examine(
    lanes: Lanes,
    links: Iterable[Link],
    start: Mapping[str, Value],
    rules: Iterable[Rule] = (),
    most_states: int = MOST_STATES,
) -> tuple[Ruling, ...]:
    """Return for each rule, then for each need of an event, whether it holds in every order.

    Parameters
    ----------
    lanes : mapping
        Lane -> events in order.
    links : iterable of Link
        What waits for what across lanes.
    start : mapping
        Variable -> value before anything is done, for every variable that a rule reads.
    rules : iterable of Rule
    most_states : int
        A rule that needs more states is *not settled*, unless it was seen broken before.

    Raises
    ------
    ValueError
        If names, values or kinds do not fit (all that is wrong at once), or if lanes and
        links make a circle.

    Examples
    --------
    The giver lets go before the taker holds, in one order of two:

    >>> from reach.orders import AtLeast, Event, Join, Leave, Link, Rule, examine
    >>> lanes = {
    ...     "W1": [Event("hold", "W1", {"holders": Join("W1")})],
    ...     "W2": [Event("let go", "W2", {"holders": Leave("W2")})],
    ... }
    >>> start = {"holders": frozenset({"W2"})}
    >>> held = Rule("boom held", AtLeast("holders", 1))
    >>> print(*examine(lanes, [], start, [held]))
    boom held: broken by W2: let go: holders = {}
    >>> print(*examine(lanes, [Link("hold", "let go")], start, [held]))
    boom held: holds in all orders (3 states)
    """
    asked = (*rules, *rules_of_needs(lanes))
    return Examiner(lanes, tuple(links), start, asked).rulings(asked, most_states)


class Examiner:
    """Lanes, links and a start of which rules are asked again and again: prepared once.

    Parameters
    ----------
    lanes, links, start
        As `examine`.
    rules : iterable of Rule
        Looked at with all else, so that everything wrong is told at once; others may be asked too.

    Raises
    ------
    ValueError
        As `examine`.
    """

    def __init__(
        self,
        lanes: Lanes,
        links: Sequence[Link],
        start: Mapping[str, Value],
        rules: Iterable[Rule] = (),
    ) -> None:
        self._known = refuse_wrong(lanes, links, start, rules)
        self.order = Order(lanes, links)
        self.start = start
        self._events = [event for several in lanes.values() for event in several]
        self._rows = _writers(self._events)

    def rulings(self, rules: Iterable[Rule], most_states: int = MOST_STATES) -> tuple[Ruling, ...]:
        """Return for each rule, needs of events left out, whether it holds in every order.

        Raises
        ------
        ValueError
            With all that is wrong with the rules.
        """
        asked = tuple(rules)
        refuse(wrong_rules(asked, self._known))
        some = coded(asked, self._events, self.start, self._rows)
        return judged(self.order, self.start, some, most_states)


def _writers(events: Iterable[Event]) -> dict[str, list[int]]:
    """Return the rows of the events that write each variable."""
    rows: dict[str, list[int]] = {}
    for row, event in enumerate(events):
        for name in event.writes:
            rows.setdefault(name, []).append(row)
    return rows


def coded(
    rules: Iterable[Rule],
    events: Sequence[Event],
    start: Mapping[str, Value],
    rows: Mapping[str, Sequence[int]] | None = None,
) -> tuple[Coded, ...]:
    """Return rules, each with the columns of the conditions it is made of."""
    rows = _writers(events) if rows is None else rows

    def columns(part: Condition) -> Columns:
        # Of all events only those that write what is read have a say.
        written = {row for name in variables_of(part) for row in rows.get(name, ())}
        return Columns(part, [events[row] for row in sorted(written)], start)

    return tuple((rule, [columns(part) for part in parts(rule.condition)]) for rule in rules)


def judged(
    order: Order, start: Mapping[str, Value], rules: Sequence[Coded], most_states: int
) -> tuple[Ruling, ...]:
    """Return a ruling for each rule of an order; everything written is right."""
    explorer = Explorer(order, most_states)
    asked = []
    for i, (rule, several) in enumerate(rules):
        when = window(order, rule.when)
        asked += [(i, one, when, explorer.relevant(one, when)) for one in several]
    asked.sort(key=lambda one: -len(one[3]))  # lattices of many events serve others
    looked: list[list[Found]] = [[] for _ in rules]
    for i, columns, when, kept in asked:
        looked[i].append(explorer.look(columns, when, kept))
    return tuple(
        _ruling(rule, found, order, start) for (rule, _), found in zip(rules, looked, strict=True)
    )


def _ruling(rule: Rule, looked: list[Found], order: Order, start: Mapping[str, Value]) -> Ruling:
    n_states = sum(one.n_states for one in looked)
    broken = [one.order for one in looked if one.order is not None]
    whole = all(one.whole for one in looked)
    if not broken:
        return Ruling(rule, Answer.HOLDS if whole else Answer.NOT_SETTLED, n_states)
    events = tuple(order.event(place) for place in min(broken, key=len))
    read = {name: start[name] for name in sorted(variables_of(rule.condition))}
    done = events[:-1] if isinstance(rule.when, At) else events
    return Ruling(rule, Answer.BROKEN, n_states, events, replayed(done, read), whole)
