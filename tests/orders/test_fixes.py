"""Links and swaps that mend a rule, against every link and pair of links tried by hand."""

from itertools import combinations, pairwise, permutations

import pytest

from reach.orders import All, Answer, Event, Has, Join, Link, Not, Rule, Some, examine, fixes
from tests.orders.enumerated import (
    precedence,
    random_handovers,
    random_hooks,
    random_procedure,
    written_out,
)


def holds(lanes, links, start, rule):
    """Return whether a rule holds in every order, ``None`` if the links make a circle."""
    before = precedence(lanes, links)
    n_whole, (shortest,) = written_out(before, [rule], start)
    return None if n_whole == 0 else shortest is None


def across(lanes, names):
    of = {name: lane for lane, events in lanes.items() for e in events for name in (e.name, e.step)}
    return [Link(a, b) for a, b in permutations(names, 2) if of[a] != of[b]]


def broken_rules(made):
    for lanes, links, start, rules in made:
        for ruling in examine(lanes, links, start, rules)[: len(rules)]:
            if ruling.answer is Answer.BROKEN:
                yield lanes, links, start, ruling.rule


@pytest.mark.parametrize("between", ["steps", "events"])
def test_a_set_of_links_is_found_just_when_one_serves_and_is_the_smallest(between):
    few = [random_procedure(seed, 6) for seed in range(1000, 1012)]
    sizes = {0: 0, 1: 0, 2: 0}
    for lanes, links, start, rule in broken_rules([*map(random_handovers, range(70)), *few]):
        found = fixes(lanes, links, start, rule, between=between)
        events = [event for several in lanes.values() for event in several]
        names = dict.fromkeys(e.name if between == "events" else e.step for e in events)
        tried = across(lanes, names)
        singles = [link for link in tried if holds(lanes, [*links, link], start, rule)]
        size = 1 if singles else 0
        if not size and any(
            holds(lanes, [*links, *pair], start, rule) for pair in combinations(tried, 2)
        ):
            size = 2
        assert found.is_proved
        assert {len(several) for several in found.links} == ({size} if size else set())
        for several in found.links:
            assert holds(lanes, [*links, *several], start, rule)
        sizes[size] += 1
    assert min(sizes.values()) >= 3, sizes


def test_each_swap_serves_and_none_is_missed():
    n_swaps = 0
    few = [random_procedure(seed, 6) for seed in range(2000, 2020)]
    for lanes, links, start, rule in broken_rules([*map(random_hooks, range(250)), *few]):
        found = {
            (swap.lane, swap.first, swap.then) for swap in fixes(lanes, links, start, rule).swaps
        }
        for lane, events in lanes.items():
            for first, then in pairwise(dict.fromkeys(event.step for event in events)):
                moved = sorted(
                    events,
                    key=lambda e: rank(e.step, [event.step for event in events], first, then),
                )
                serves = holds({**lanes, lane: moved}, links, start, rule) is True
                assert ((lane, first, then) in found) == serves
                n_swaps += serves
    assert n_swaps >= 10


def rank(step, steps, first, then):
    swapped = {first: then, then: first}.get(step, step)
    return list(dict.fromkeys(steps)).index(swapped)


def test_two_links_that_only_serve_together_are_found_where_each_alone_has_a_weaker_like():
    """Through i and x, which change nothing, two links order three pairs: a-b, a-d and c-d."""

    def event(name, lane):
        return Event(name, lane, {"done": Join(name)} if name in "abcd" else {})

    def first(one, other):
        return Some((Has("done", one), Not(Has("done", other))))

    lanes = {lane: [event(name, lane) for name in lane] for lane in ("a", "i", "b", "cx", "d")}
    links = [Link("i", "b"), Link("i", "x")]
    start = {"done": frozenset()}
    rule = Rule("three pairs", All((first("a", "b"), first("a", "d"), first("c", "d"))))
    found = fixes(lanes, links, start, rule)
    assert found.is_proved
    assert found.links == ((Link("a", "i"), Link("x", "d")),)
    assert holds(lanes, [*links, *found.links[0]], start, rule)
