"""The fewest links that make a rule hold in every order, and the swaps of neighbours that do.

A link only takes orders away, so one that mends a rule breaks no other.  It can mend only
if it forbids the order that shows the break: the search follows those orders, one link
for each.  Links that order the events that matter to the rule alike are tried once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from reach.orders.conditions import Always, At, Rule, While
from reach.orders.events import Event, Lanes, Link, Value
from reach.orders.examine import (
    MOST_STATES,
    Answer,
    Coded,
    Ruling,
    coded,
    judged,
    rules_of_needs,
)
from reach.orders.exploring import Explorer
from reach.orders.order import Order, Place
from reach.orders.windows import window
from reach.orders.written import refuse_wrong

MOST_TRIES = 500
"""Sets of links tried for one rule: how long to look, not what is good."""

MOST_LOOKED = 20 * MOST_STATES
"""States looked at in all those tries together."""


@dataclass(frozen=True)
class Swap:
    """Two neighbouring steps of a lane done the other way round.

    ``breaks`` names other rules that hold as written and would not be proved any more.
    """

    lane: str
    first: str
    then: str
    breaks: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.lane}: {self.then} before {self.first}"


@dataclass(frozen=True)
class Fixes:
    """What makes a broken rule hold in every order.

    Attributes
    ----------
    links : tuple of tuple of Link
        Sets of one size, the smallest that serves; each is proved to.  Of links that do the
        same for the rule the one that forbids least stands for all; the nearest to the break
        come first.  Empty if none was found.
    swaps : tuple of Swap
        Each is proved to serve, by itself.
    n_tried : int
        Sets of links and swaps tried.
    is_proved : bool
        No smaller set of links serves; if ``links`` is empty, none of the sizes tried does,
        mostly since the rule is broken in every order there is.
    """

    rule: Rule
    links: tuple[tuple[Link, ...], ...]
    swaps: tuple[Swap, ...]
    n_tried: int
    is_proved: bool


def fixes(
    lanes: Lanes,
    links: Iterable[Link],
    start: Mapping[str, Value],
    rule: Rule,
    others: Iterable[Rule] = (),
    between: Literal["steps", "events"] = "steps",
    most_links: int = 2,
    most_states: int = MOST_STATES,
    most_tries: int = MOST_TRIES,
) -> Fixes:
    """Return the smallest sets of added links, and the swaps, after which a rule holds.

    Parameters
    ----------
    lanes, links, start
        As for :func:`reach.orders.examine`.
    rule : Rule
        One that is broken; of one that holds or is not settled nothing is to be mended.
    others : iterable of Rule
        Rules that a swap should not break; what events need is always among them.
    between : {"steps", "events"}
        What links are tried: from the end of a step to the begin of one, as procedures
        write them, or from event to event.
    most_links : int
        Links added at most.
    most_states : int
        As for :func:`reach.orders.examine`, for each try.
    most_tries : int
        Sets of links tried at most; if they do not suffice, the answer is not proved.

    Examples
    --------
    >>> from reach.orders import AtLeast, Event, Join, Leave, Rule, fixes
    >>> lanes = {
    ...     "W1": [Event("hold", "W1", {"holders": Join("W1")}), Event("check", "W1")],
    ...     "W2": [Event("let go", "W2", {"holders": Leave("W2")})],
    ... }
    >>> held = Rule("boom held", AtLeast("holders", 1))
    >>> found = fixes(lanes, [], {"holders": frozenset({"W2"})}, held)
    >>> [[str(link) for link in several] for several in found.links]
    [['let go after hold']]
    """
    links = tuple(links)
    others = (*others, *rules_of_needs(lanes))
    refuse_wrong(lanes, links, start, (rule, *others))
    search = _Search(lanes, links, start, rule, between, most_states, most_tries)
    broken = search.ruling(())
    if broken.answer is not Answer.BROKEN:
        return Fixes(rule, (), (), 0, broken.answer is Answer.HOLDS)
    found: dict[tuple[Link, ...], int] = {}
    is_proved = True
    for size in range(1, most_links + 1) if search.may_hold(()) else ():
        search.grow((), 0, broken, size, found)
        if found:
            break
        is_proved = search.is_complete
    swaps = tuple(search.swaps(others))
    nearest = sorted(found, key=lambda several: (found[several], several))
    return Fixes(rule, tuple(nearest), swaps, search.n_tried, is_proved)


@dataclass(frozen=True)
class _Candidate:
    """A link that forbids an order: what it does for the rule, how near and how strong it is."""

    link: Link
    does: tuple[tuple[Place, ...], tuple[Place, ...]]
    far: int
    forbids: int


class _Search:
    """Tries, counted."""

    def __init__(
        self,
        lanes: Lanes,
        links: tuple[Link, ...],
        start: Mapping[str, Value],
        rule: Rule,
        between: Literal["steps", "events"],
        most_states: int,
        most_tries: int,
    ) -> None:
        self.lanes, self.links, self.start, self.rule = lanes, links, start, rule
        self.between, self.most_states, self.most_tries = between, most_states, most_tries
        self.events = [event for several in lanes.values() for event in several]
        self.coded = coded((rule,), self.events, start)
        self.n_tried, self.n_looked = -1, 0  # the rule as it is written is no try
        self.is_complete = True
        self._orders: dict[tuple[Link, ...], Order] = {(): Order(lanes, links)}
        self._known: dict[tuple[Link, ...], Ruling] = {}

    def may_hold(self, added: tuple[Link, ...]) -> bool:
        """Return ``False`` if the rule is broken in every order, so that no further links mend."""
        order = self._orders[added]
        explorer, when = Explorer(order, self.most_states), window(order, self.rule.when)
        always = isinstance(self.rule.when, Always)
        return all(
            explorer.may_hold(one, when, explorer.relevant(one, when), always)
            for one in self.coded[0][1]
        )

    def ruling(self, added: tuple[Link, ...]) -> Ruling:
        """Return what is known of the rule with links more, none of which makes a circle."""
        if added not in self._known:
            if added:
                self._orders[added] = self._orders[added[:-1]].with_link(added[-1])
            ruling = judged(self._orders[added], self.start, self.coded, self.most_states)[0]
            self.n_looked += ruling.n_states
            self.n_tried += 1
            if ruling.answer is Answer.NOT_SETTLED:
                self.is_complete = False
            self._known[added] = ruling
        return self._known[added]

    def grow(
        self,
        added: tuple[Link, ...],
        far: int,
        shown: Ruling,
        n_left: int,
        found: dict[tuple[Link, ...], int],
    ) -> None:
        """Add sets of ``n_left`` more links that serve to ``found``, with how far they are."""
        candidates = sorted(
            self._candidates(self._orders[added], shown.order),
            key=lambda one: (one.forbids, one.far, one.link),
        )
        firsts = {one.does: one for one in reversed(candidates)}
        alike = [one for one in candidates if firsts[one.does] is not one]
        for one in [*firsts.values()] if n_left == 1 else [*firsts.values(), None, *alike]:
            if one is None:  # what several links do together may hang on where each is
                if found:
                    return
                continue
            together = (*added, one.link)
            if tuple(sorted(together)) in found:
                continue
            if self.n_tried >= self.most_tries or self.n_looked > MOST_LOOKED:
                self.is_complete = False
                return
            ruling = self.ruling(together)
            if ruling.answer is Answer.HOLDS and n_left == 1:
                found[tuple(sorted(together))] = far + one.far
            elif ruling.answer is Answer.BROKEN and n_left > 1 and self.may_hold(together):
                self.grow(together, far + one.far, ruling, n_left - 1, found)

    def _candidates(self, order: Order, shown: tuple[Event, ...]) -> Iterator[_Candidate]:
        """Yield the links that a shown order breaks and that make no circle."""
        at = {order.places[event.name]: n for n, event in enumerate(shown)}
        names = list(order.spans if self.between == "steps" else order.places)
        matter = self._matters(order)
        n_done = [sum(place[0] == i for place in at) for i in range(len(order.lanes))]
        ends = []
        for first in names:
            end = order.last(first)
            done = order.done_with(end)
            before = _key(place for place in matter if place[1] < done[place[0]])
            missing = int((done - n_done).clip(min=0).sum())
            if before:
                ends.append((first, end, at.get(end, len(shown)), before, missing, int(done.sum())))
        for then in names:
            begin = order.first(then)
            if begin not in at:
                continue
            free = order.free_of(begin).tolist()
            behind = _key(place for place in matter if place[1] >= free[place[0]])
            n_behind = int(order.sizes.sum()) - sum(free)
            for first, end, n, before, missing, n_before in ends if behind else ():
                if n > at[begin] and end[0] != begin[0] and end[1] < free[end[0]]:
                    far = len(shown) - 1 - at[begin] + missing
                    yield _Candidate(Link(first, then), (before, behind), far, n_before * n_behind)

    def _matters(self, order: Order) -> list[Place]:
        """Return the events that matter to the rule, and those that tell when it is asked."""
        names = frozenset[str]().union(*(one.changing for one in self.coded[0][1]))
        places = {order.places[name] for name in names}
        match self.rule.when:
            case While(step):
                places |= set(order.spans[step])
            case At(event):
                places.add(order.first(event))
        return sorted(places)

    def swaps(self, others: tuple[Rule, ...]) -> Iterator[Swap]:
        """Yield the swaps of neighbouring steps that serve."""
        held: list[Coded] | None = None
        for lane, events in self.lanes.items():
            steps = list(dict.fromkeys(event.step for event in events))
            for first, then in pairwise(steps):
                swapped = self._swapped(lane, first, then)
                if swapped is None:
                    continue
                self.n_tried += 1
                ruling = judged(swapped, self.start, self.coded, self.most_states)[0]
                if ruling.answer is Answer.HOLDS:
                    if held is None:
                        held = self._held(self._orders[()], coded(others, self.events, self.start))
                    kept = [rule for rule, _ in self._held(swapped, held)]
                    breaks = tuple(rule.name for rule, _ in held if rule not in kept)
                    yield Swap(lane, first, then, breaks)

    def _held(self, order: Order, rules: Sequence[Coded]) -> list[Coded]:
        rulings = judged(order, self.start, rules, self.most_states)
        pairs = zip(rules, rulings, strict=True)
        return [one for one, ruling in pairs if ruling.answer is Answer.HOLDS]

    def _swapped(self, lane: str, first: str, then: str) -> Order | None:
        """Return the order with two neighbours swapped, ``None`` if that makes a circle."""
        events = self.lanes[lane]
        at = next(n for n, event in enumerate(events) if event.step == first)
        ones = [event for event in events if event.step == first]
        twos = [event for event in events if event.step == then]
        rest = events[at + len(ones) + len(twos) :]
        try:
            return Order({**self.lanes, lane: [*events[:at], *twos, *ones, *rest]}, self.links)
        except ValueError:
            return None


def _key(places: Iterable[Place]) -> tuple[Place, ...]:
    return tuple(sorted(places))
