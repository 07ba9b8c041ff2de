"""The fewest links that make a rule hold in every order, and the swaps of neighbours that do.

A link only takes orders away, so one that mends a rule breaks no other.  It can mend only
if it forbids the order that shows the break: the search follows those orders, one link
for each.  Links that order the events that matter to the rule alike are tried once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from reach.orders.conditions import Always, At, Rule, While, parts
from reach.orders.events import Event, Lanes, Link, Value
from reach.orders.examine import MOST_STATES, Answer, Ruling, judged, rules_of_needs
from reach.orders.exploring import Explorer, window
from reach.orders.order import Order, Place
from reach.orders.written import refuse_wrong

MOST_TRIES = 2000
"""Sets of links tried for one rule; says how long to look, not what is good."""

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
        No smaller set of links serves; if ``links`` is empty, none of the sizes tried does.
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
    search = _Search(lanes, start, rule, between, most_states)
    broken = search.ruling(links)
    if broken.answer is not Answer.BROKEN:
        return Fixes(rule, (), (), 0, broken.answer is Answer.HOLDS)
    found: dict[tuple[Link, ...], int] = {}
    is_proved = True
    for size in range(1, most_links + 1):
        search.grow(links, (), 0, broken, size, found)
        if found:
            break
        is_proved = search.is_complete
    swaps = tuple(search.swaps(links, others))
    nearest = sorted(found, key=lambda several: (found[several], several))
    return Fixes(rule, tuple(nearest), swaps, search.n_tried, is_proved)


@dataclass(frozen=True)
class _Candidate:
    """A link that forbids an order: what it does for the rule, how near and how strong it is."""

    link: Link
    does: tuple[bytes, bytes]
    far: int
    forbids: int


class _Search:
    """Tries, counted."""

    def __init__(
        self,
        lanes: Lanes,
        start: Mapping[str, Value],
        rule: Rule,
        between: Literal["steps", "events"],
        most_states: int,
    ) -> None:
        self.lanes, self.start, self.rule = lanes, start, rule
        self.between, self.most_states = between, most_states
        self.n_tried, self.n_looked = -1, 0  # the rule as it is written is no try
        self._known: dict[tuple[Link, ...], Ruling] = {}
        self.is_complete = True

    def ruling(self, links: tuple[Link, ...]) -> Ruling:
        """Return what is known of the rule with links."""
        if links not in self._known:
            order = Order(self.lanes, links)
            ruling = judged(order, self.start, (self.rule,), self.most_states)[0]
            self.n_looked += ruling.n_states
            self.n_tried += 1
            if ruling.answer is Answer.NOT_SETTLED:
                self.is_complete = False
            self._known[links] = ruling
        return self._known[links]

    def grow(
        self,
        links: tuple[Link, ...],
        added: tuple[Link, ...],
        far: int,
        shown: Ruling,
        n_left: int,
        found: dict[tuple[Link, ...], int],
    ) -> None:
        """Add sets of ``n_left`` more links that serve to ``found``, with how far they are."""
        candidates = sorted(
            self._candidates(Order(self.lanes, (*links, *added)), shown.order),
            key=lambda one: (one.forbids, one.far, one.link),
        )
        firsts = {one.does: one for one in reversed(candidates)}
        alike = [one for one in candidates if firsts[one.does] is not one]
        for one in [*firsts.values()] if n_left == 1 else [*firsts.values(), None, *alike]:
            if one is None:  # what several links do together may hang on where each is
                if found:
                    return
                continue
            together = tuple(sorted((*added, one.link)))
            if together in found:
                continue
            if self.n_tried > MOST_TRIES or self.n_looked > MOST_LOOKED:
                self.is_complete = False
                return
            ruling = self.ruling((*links, *together))
            if ruling.answer is Answer.HOLDS and n_left == 1:
                found[together] = far + one.far
            elif ruling.answer is Answer.BROKEN and n_left > 1:
                self.grow(links, together, far + one.far, ruling, n_left - 1, found)

    def _candidates(self, order: Order, shown: tuple[Event, ...]) -> Iterator[_Candidate]:
        """Yield the links that a shown order breaks and that make no circle."""
        at = {order.places[event.name]: n for n, event in enumerate(shown)}
        names = list(order.spans if self.between == "steps" else order.places)
        matter = self._matters(order)
        n_done = [sum(place[0] == i for place in at) for i in range(len(order.lanes))]
        for then in names:
            begin = order.first(then)
            if begin not in at:
                continue
            free = order.free_of(begin)
            for first in names:
                end = order.last(first)
                after_all = at.get(end, len(shown)) > at[begin]
                if not after_all or end[0] == begin[0] or end[1] >= free[end[0]]:
                    continue
                done = order.done_with(end)
                before = frozenset(place for place in matter if place[1] < done[place[0]])
                behind = frozenset(place for place in matter if place[1] >= free[place[0]])
                if before and behind:
                    far = len(shown) - 1 - at[begin] + int((done - n_done).clip(min=0).sum())
                    forbids = int(done.sum()) * int((order.sizes - free).sum())
                    yield _Candidate(Link(first, then), (_key(before), _key(behind)), far, forbids)

    def _matters(self, order: Order) -> list[Place]:
        """Return the events that matter to the rule, and those that tell when it is asked."""
        explorer = Explorer(order, self.start, self.most_states)
        always = window(order, Always())
        places: set[Place] = set()
        for part in parts(self.rule.condition):
            places |= explorer.relevant(explorer.columns(part), always)
        match self.rule.when:
            case While(step):
                places |= set(order.spans[step])
            case At(event):
                places.add(order.first(event))
        return sorted(places)

    def swaps(self, links: tuple[Link, ...], others: tuple[Rule, ...]) -> Iterator[Swap]:
        """Yield the swaps of neighbouring steps that serve."""
        order = Order(self.lanes, links)
        held: list[Rule] | None = None
        for lane, events in self.lanes.items():
            steps = list(dict.fromkeys(event.step for event in events))
            for first, then in pairwise(steps):
                if self.n_looked >= MOST_LOOKED:
                    return
                swapped = self._swapped(lane, first, then, links)
                if swapped is None:
                    continue
                self.n_tried += 1
                ruling = judged(swapped, self.start, (self.rule,), self.most_states)[0]
                self.n_looked += ruling.n_states
                if ruling.answer is Answer.HOLDS:
                    held = self._held(order, others) if held is None else held
                    kept = self._held(swapped, held)
                    breaks = tuple(rule.name for rule in held if rule not in kept)
                    yield Swap(lane, first, then, breaks)

    def _held(self, order: Order, rules: Iterable[Rule]) -> list[Rule]:
        rules = tuple(rules)
        rulings = judged(order, self.start, rules, self.most_states)
        return [one.rule for one in rulings if one.answer is Answer.HOLDS]

    def _swapped(self, lane: str, first: str, then: str, links: tuple[Link, ...]) -> Order | None:
        """Return the order with two neighbours swapped, ``None`` if that makes a circle."""
        events = self.lanes[lane]
        at = next(n for n, event in enumerate(events) if event.step == first)
        ones = [event for event in events if event.step == first]
        twos = [event for event in events if event.step == then]
        rest = events[at + len(ones) + len(twos) :]
        try:
            return Order({**self.lanes, lane: [*events[:at], *twos, *ones, *rest]}, links)
        except ValueError:
            return None


def _key(places: Iterable[Place]) -> bytes:
    return repr(sorted(places)).encode()
