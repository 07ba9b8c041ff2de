"""Rules over all orders, against every order written out one by one."""

from itertools import combinations

import pytest

from reach.orders import Answer, examine, exploring, n_orders, overlaps, racing, rules_of_needs
from tests.orders.enumerated import first_break, precedence, random_procedure, written_out


def is_legal(order, before):
    names = [event.name for event in order]
    return all(before[event] <= set(names[:n]) for n, event in enumerate(order))


def completed(order, before):
    """Return an order followed by all that is left."""
    order = list(order)
    while len(order) < len(before):
        names = {event.name for event in order}
        order.append(next(e for e, waits in before.items() if e not in order and waits <= names))
    return order


@pytest.mark.parametrize("block", range(10))
def test_the_rulings_are_those_of_all_orders_written_out(block):
    agree(range(block * 50, block * 50 + 50))


def test_so_are_those_found_without_numbering_values_beforehand(monkeypatch):
    monkeypatch.setattr(racing, "_FEW", 0)
    monkeypatch.setattr(racing, "_ROOM", 10)
    agree(range(3000, 3060))


def test_so_are_those_found_in_lattices_of_more_events_than_matter(monkeypatch):
    monkeypatch.setattr(exploring, "_WORTH", 1000)
    agree(range(4000, 4060))


def test_steps_may_overlap_unless_the_one_is_over_before_the_other_in_every_order():
    for seed in range(100):
        lanes, links, _, _ = random_procedure(seed)
        earlier = {e.name: set(waits) for e, waits in precedence(lanes, links).items()}
        for _ in earlier:
            for waits in earlier.values():
                waits |= set().union(*(earlier[name] for name in waits))
        steps = {}
        for event in (event for several in lanes.values() for event in several):
            steps.setdefault(event.step, []).append(event.name)
        expected = tuple(
            (one, other)
            for one, other in combinations(steps, 2)
            if steps[one][-1] not in earlier[steps[other][0]]
            and steps[other][-1] not in earlier[steps[one][0]]
        )
        assert overlaps(lanes, links) == expected


def agree(seeds):
    for seed in seeds:
        lanes, links, start, rules = random_procedure(seed)
        before = precedence(lanes, links)
        asked = [*rules, *rules_of_needs(lanes)]
        n_whole, all_shortest = written_out(before, asked, start)
        assert n_orders(lanes, links) == n_whole
        rulings = examine(lanes, links, start, rules)
        assert [one.rule for one in rulings] == asked
        for ruling, shortest in zip(rulings, all_shortest, strict=True):
            if shortest is None:
                assert ruling.answer is Answer.HOLDS, (seed, ruling)
                continue
            assert ruling.answer is Answer.BROKEN, (seed, ruling)
            assert ruling.is_shortest and len(ruling.order) == shortest, (seed, ruling)
            assert is_legal(ruling.order, before), (seed, ruling)
            whole = completed(ruling.order, before)
            assert first_break(whole, ruling.rule, start) == shortest, (seed, ruling)
