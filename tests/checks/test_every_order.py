"""What checks say of every order, against orders written out one by one and replayed."""

import random

import pytest
from chores import FAIL, LINES, begun, job, resolved

from reach.checks import custody, held, hooked
from reach.checks.custody import is_kept
from reach.checks.hooked import on_a_line
from reach.ledger import names
from reach.orders import AtLeast, Some
from reach.orders.events import replayed
from reach.orders.meeting import met

BEGIN = begun(
    lines={**LINES, "T5": {"hook": "A1", "reel": "A1"}}, workers={"W1": "near", "W2": "near"}
)
AT = {"W1": {"where": "S2", "restraint": "FR"}, "W2": {"where": "up"}}
LINE_DEEDS = {
    "W1": ["attach T5 to W1", "release T1 from W1 to A1", "release T5 from W1 to A1"],
    "W2": ["attach T5 to W2", "release T2 from W2 to A2", "attach T1 to W2", "release T1 from W2"],
}
HOLD_DEEDS = {
    "W1": ["drive B1 loosen", "drive B2 loosen", "hold grip", "release"],
    "W2": ["hold grip", "release", "drive B2"],
}
SEEDS = range(25)


def drawn(deeds, seed):
    """Four or five short steps of two workers in a drawn order, some of them linked."""
    draw = random.Random(seed)
    steps, at = [], 0
    for i in range(draw.choice([4, 5])):
        lane = draw.choice(["W1", "W2"])
        after = [one["name"] for one in steps if one["lane"] != lane and draw.random() < 0.3]
        more = AT[lane] if deeds is HOLD_DEEDS else {}
        act = draw.choice(deeds[lane])
        at += draw.choice([60, 120])
        steps.append(job(f"step {i}", lane, act, start=at, after=after[:1], **more))
    return steps


def orders(outing):
    """Every order of the events that lanes and links allow."""
    lanes = [list(events) for events in outing.lanes.values()]
    waits = {}
    for link in outing.links:
        first = [e.name for lane in lanes for e in lane if e.step == link.first][-1]
        then = next(e.name for lane in lanes for e in lane if e.step == link.then)
        waits.setdefault(then, set()).add(first)

    def more(done, left):
        if not any(left):
            yield done
        for i, lane in enumerate(left):
            if lane and waits.get(lane[0].name, set()) <= {event.name for event in done}:
                yield from more([*done, lane[0]], [*left[:i], lane[1:], *left[i + 1 :]])

    return more([], lanes)


def is_always(outing, condition):
    return all(
        met(condition, replayed(order[:k], outing.start))
        for order in orders(outing)
        for k in range(len(order) + 1)
    )


def asked(outing):
    """Check -> what it is about -> the condition that it asks for."""
    lines = {line: is_kept(outing, line) for line in ("T1", "T2", "T5")}
    free = Some((AtLeast(names.fixed("crate"), 1), AtLeast(names.hands("crate"), 1)))
    workers = {worker: on_a_line(outing, worker) for worker in ("W1", "W2")}
    return ((hooked, workers), (custody, lines), (held, {"crate": free}))


@pytest.mark.parametrize("deeds", [LINE_DEEDS, HOLD_DEEDS], ids=["lines", "holds"])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_check_fails_just_where_some_order_breaks_what_it_asks(deeds, seed):
    site, outing = resolved(*drawn(deeds, seed), begin=BEGIN)
    for check, conditions in asked(outing):
        found = check.find(site, outing)
        for name, condition in conditions.items():
            fails = {one.verdict is FAIL for one in found if one.about == (name,)}
            assert fails == {not is_always(outing, condition)}, (check.NAME, name)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_link_that_is_named_mends_it(seed):
    steps = drawn(LINE_DEEDS, seed)
    site, outing = resolved(*steps, begin=BEGIN)
    for found in hooked.find(site, outing):
        if "after = " in found.fix:
            step, first = found.fix.split("'")[1], found.fix.split("'")[3]
            linked = [
                {**one, "after": [*one["after"], first]} if one["name"] == step else one
                for one in steps
            ]
            _, mended = resolved(*linked, begin=BEGIN)
            assert is_always(mended, on_a_line(mended, found.about[0]))


def test_the_draws_break_rules_as_written_in_other_orders_only_and_not_at_all():
    seen = set()
    for seed in SEEDS:
        site, outing = resolved(*drawn(LINE_DEEDS, seed), begin=BEGIN)
        seen |= {one.numbers["orders"] for one in hooked.find(site, outing)}
    assert seen == {"all", "as written", "another order"}
