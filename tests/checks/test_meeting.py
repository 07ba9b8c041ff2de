"""Two workers in one volume in another order than the written one, against orders written out."""

import random
from functools import cache
from itertools import product

import pytest
from bench import scene_of
from chores import job, resolved, undeclared
from handing import crate

from reach.checks import meeting
from reach.checks.stays import Stays, stays_of
from reach.files.people import load_population
from reach.finding import Verdict
from reach.lasting import outing_of
from reach.model.procedure import Procedure
from reach.orders.order import Order
from reach.situations import resolve

HELMETS = 0.44
"""How much nearer helmets are than boots where two face each other at rest, m."""
PLACES = {"R": {"R0": 0.0, "R20": 20.0, "R40": 40.0}, "L": {"L1": 1.3, "L22": 22.0, "L60": 60.0}}
"""Along x: R0 and L1 are too near each other, R20 and L22 are near and keep apart."""
FACING = {"R": [1, 0, 0], "L": [-1, 0, 0]}


def scene(**moved):
    """Places along a line; R looks along it, L the other way."""
    stations = {
        name: {
            "at": [moved.get(name, x), 0.0, 0.0],
            "up": [0, 0, 1],
            "toes": FACING[lane],
            "restraint": "plate",
        }
        for lane, some in PLACES.items()
        for name, x in some.items()
    }
    return crate(stations=stations)


def asked(*steps, begin=True, sizes=None, **moved):
    procedure = Procedure(
        format=1,
        lanes={"R": "worker", "L": "worker"},
        steps=steps,
        **({"begin": {}} if begin else {}),
    )
    site, situations = resolve(scene_of(scene(**moved)), {}, procedure, load_population, sizes)
    return site, outing_of(site, situations, procedure)


def found(*steps, **more):
    return meeting.find(*asked(*steps, **more))


def go(name, lane, where, minute, *after, lasts=1.0, do="ingress"):
    """A step in which a worker gets into a restraint."""
    return {
        "name": name, "lane": lane, "where": where, "start": 60.0 * minute,
        "duration": 60.0 * lasts, "after": after, "actions": [{"do": do}],
    }  # fmt: skip


def in_turn(*after):
    """R is in R0 and leaves, then L comes into L1."""
    return (
        go("r in", "R", "R0", 0),
        go("l away", "L", "L60", 0),
        go("r away", "R", "R40", 2),
        go("l in", "L", "L1", 4, *after),
    )


def test_two_who_are_kept_apart_by_times_alone_are_told_with_the_link_that_mends_it():
    (one,) = found(*in_turn())
    assert one.verdict is Verdict.OPEN
    assert one.numbers["distance"] == pytest.approx(1.3 - HELMETS, abs=1e-9)
    assert one.low == pytest.approx(0.3 - HELMETS, abs=1e-6)
    assert one.because == (
        "Nothing keeps step 'r in' (R at R0, at rest) and step 'l in' (L at L1, at rest) apart: "
        "their helmets would be 0.860 m apart in the postures shown."
    )
    assert one.step == "l in"
    assert one.about == ("L", "L1", "R", "R0")
    assert one.fix == "Let step 'l in' wait: after = ['r away']."


def test_the_order_that_shows_it_begins_both_and_no_more():
    (one,) = found(*in_turn())
    events = one.numbers["order"]
    assert {"r in: begin", "l in: begin"} <= set(events)
    assert not any(event.startswith("r away") for event in events)


def test_waiting_for_the_step_alone_is_not_enough_while_its_worker_may_wait_there():
    (one,) = found(*in_turn("r in"))
    assert "the wait after step 'r in'" in one.because
    assert one.fix == "Let step 'l in' wait: after = ['r away']."


def test_the_link_that_is_named_mends_it():
    assert found(*in_turn("r away")) == []


def test_two_who_keep_apart_in_another_order_pass_once_with_the_least_distance():
    (one,) = found(*in_turn(), L1=2.0)
    assert one.verdict is Verdict.PASS
    assert one.numbers["distance"] == pytest.approx(2.0 - HELMETS, abs=1e-9)
    assert one.low == pytest.approx(2.0 - HELMETS - 1.0, abs=1e-6)
    assert "they keep apart in every order; nearest, in step" in one.because


def test_legs_that_would_stand_in_each_other_fail_for_sure():
    (one,) = found(*in_turn(), L1=0.1)
    assert one.verdict is Verdict.FAIL
    assert one.high == pytest.approx(0.1 - 2 * 0.10, abs=1e-6)
    assert "their bodies would be" in one.because


def test_what_goes_on_at_once_as_written_is_left_to_helmets():
    assert found(go("r in", "R", "R0", 0), go("l in", "L", "L1", 2)) == []


def test_places_far_from_each_other_are_not_asked():
    assert found(*in_turn(), L1=5.1) == []


def test_a_worker_who_got_out_of_the_restraint_does_not_wait_there():
    out = go("r in", "R", "R0", 0)
    out["actions"] = [{"do": "ingress"}, {"do": "egress"}]
    _, away, gone, come = in_turn("r in")
    assert found(out, away, gone, come) == []


def test_only_the_last_place_of_a_step_is_waited_in():
    back = go("r in", "R", "R0", 0)
    back["actions"] = [{"do": "egress"}, {"do": "ingress"}]
    _, away, gone, come = in_turn("r in")
    (one,) = found(back, away, gone, come)
    assert "the wait after step 'r in'" in one.because


def test_a_step_that_asks_nothing_of_the_body_leaves_its_worker_there():
    first, away, gone, come = in_turn("check")
    check = {
        "name": "check", "lane": "R", "start": 60.0, "duration": 60.0,
        "actions": [{"do": "wait"}],
    }  # fmt: skip
    (one,) = found(first, check, away, gone, come)
    assert "the wait after step 'r in'" in one.because
    assert one.fix == "Let step 'l in' wait: after = ['r away']."


def test_a_link_that_agrees_with_no_time_says_until_when_to_wait():
    first, away, gone, come = in_turn()
    (one,) = found(first, away, {**gone, "duration": 600.0}, come)
    assert one.fix == "Let step 'l in' wait until 00:12: after = ['r away']."


def test_one_link_is_named_where_it_keeps_several_steps_apart():
    steps = (*in_turn(), go("l again", "L", "L1", 6))
    (one,) = found(*steps)
    assert one.fix == "Let step 'l in' wait: after = ['r away']."
    linked = (*in_turn("r away"), go("l again", "L", "L1", 6))
    assert found(*linked) == []


def test_sizes_are_asked_each_with_its_own():
    some = found(*in_turn(), sizes=("small", "large"))
    assert sorted(one.case for one in some) == ["large", "small"]
    assert len({one.numbers["distance"] for one in some}) == 2


def test_two_runs_are_equal():
    assert repr(found(*in_turn())) == repr(found(*in_turn()))


def test_without_a_begin_or_without_times_nothing_is_asked():
    assert found(*in_turn(), begin=False) == []
    untimed = [{**one, "start": None} for one in in_turn()]
    assert found(*untimed) == []
    assert undeclared(meeting, job("in", "W2", "ingress", where="up")) == []


# ---- against every order, one by one ----------------------------------------------------


SEEDS = range(60)


def drawn(seed):
    """Five or six steps in drawn places, R mostly first and L behind, some linked as written."""
    draw = random.Random(seed)
    lanes = ["R", "L", *(draw.choices("RL", [5 - i, 1 + i])[0] for i in range(4))]
    steps, last = [], {"L": "L1", "R": "R40"}
    for i, lane in enumerate(lanes[: draw.choice([5, 6])]):
        where = draw.choice([one for one in PLACES[lane] if one != last[lane]])
        last[lane] = where
        behind = [one["name"] for one in steps if one["lane"] != lane and draw.random() < 0.15]
        lasts = draw.choice([1, 1, 3])
        steps.append(go(f"step {i}", lane, where, 2 * i, *behind[:1], lasts=lasts))
    return steps


@cache
def of_draw(seed):
    """Steps, site, outing, what is found, and what any order has at once."""
    steps = drawn(seed)
    site, outing = asked(*steps)
    return steps, site, outing, meeting.find(site, outing), seen(outing)


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


def seen(outing, rides=()):
    """Pairs of what two workers are at, (step, whether it is over) each, in any order at all.

    ``rides``: (worker, step by which they are taken along).
    """
    lasts = {event.step: event.name for events in outing.lanes.values() for event in events}
    start = {step.name: step.start for step in outing.steps}
    some = set()
    for order in orders(outing):
        for k in range(1, len(order) + 1):
            done = order[:k]
            names, at = {event.name for event in done}, {}
            for event in done:
                if event.lane in outing.workers:
                    at[event.lane] = event.step
            for worker, ride in rides:
                rode = ride in {event.step for event in done}
                if rode and worker in at and start[at[worker]] <= start[ride]:
                    del at[worker]
            if len(at) == 2:
                some.add(frozenset((step, lasts[step] in names) for step in at.values()))
    return some


def together_as_written(steps, one, other):
    """Whether two places are stood in at once as written, each until the lane's next step."""

    def spans(where):
        for step in steps:
            if step["where"] == where:
                later = (s["start"] for s in steps if s["lane"] == step["lane"])
                yield step["start"], min((t for t in later if t > step["start"]), default=1e9)

    both = product(spans(one), spans(other))
    return any(max(a[0], b[0]) < min(a[1], b[1]) for a, b in both)


def may_be(some, steps, one, other):
    """Whether two places may be stood in at once in some order, by what any order has at once."""
    where = {step["name"]: step["where"] for step in steps}
    return {one, other} in ({where[step] for step, _ in pair} for pair in some)


@pytest.mark.parametrize("seed", SEEDS)
def test_two_stays_may_meet_just_where_some_order_has_both(seed):
    _, site, outing, _, some = of_draw(seed)
    assert met(site, outing) == some


def met(site, outing):
    stays = stays_of(site, outing)
    known = Stays(Order(outing.lanes, outing.links), stays)
    return {
        frozenset(((one.step, one.is_over), (other.step, other.is_over)))
        for one, other in product(stays, stays)
        if one.worker < other.worker and known.may_meet(one, other)
    }


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_told_is_what_another_order_than_the_written_one_has(seed):
    steps, _, _, told, some = of_draw(seed)
    near, kept = (
        may_be(some, steps, *two) and not together_as_written(steps, *two)
        for two in (("R0", "L1"), ("R20", "L22"))
    )
    verdicts = [one.verdict for one in told]
    assert verdicts == ([Verdict.OPEN] if near else [Verdict.PASS] if kept else [])


@pytest.mark.parametrize("seed", SEEDS)
def test_links_that_are_named_keep_the_places_apart_in_every_order(seed):
    _, _, _, told, _ = of_draw(seed)
    for one in told:
        assert bool(one.fix) == (one.verdict is Verdict.OPEN)
        steps, words = drawn(seed), one.fix.split("'")
        for then, first in zip(words[1::4], words[3::4], strict=True):
            (waiting,) = (step for step in steps if step["name"] == then)
            waiting["after"] = (*waiting["after"], first)
        if one.fix:
            assert not may_be(seen(asked(*steps)[1]), steps, "R0", "L1")


def test_the_draws_have_every_kind():
    told = [of_draw(seed)[3] for seed in SEEDS]
    fixes = [one.fix for some in told for one in some if one.verdict is Verdict.OPEN]
    assert len(fixes) >= 5
    assert any("wait until" in fix for fix in fixes)
    assert any("wait: " in fix for fix in fixes)
    assert [] in told
    assert any(one.verdict is Verdict.PASS for some in told for one in some)


@pytest.mark.parametrize("after", [(), ("board",), ("stand",)])
def test_who_is_taken_along_is_no_longer_there(after):
    post = {"where": "S2", "restraint": "FR", "setting": {"clocking": 0, "pitch": 0, "yaw": 0}}
    site, outing = resolved(
        job("board", "W2", "ingress", where="up", start=0.0, duration=60),
        job("move", "CO", "move crane to out", start=120.0, duration=60, after=after),
        job("stand", "W1", "ingress", start=100.0, duration=60, **post),
        begin={"workers": {"W1": "far", "W2": "far"}},
    )
    assert met(site, outing) == seen(outing, [("W2", "move")]) != set()


def test_who_waits_for_the_ride_of_another_does_not_meet_them():
    post = {"where": "S2", "restraint": "FR", "setting": {"clocking": 0, "pitch": 0, "yaw": 0}}
    site, outing = resolved(
        job("board", "W2", "ingress", where="up", start=0.0, duration=60),
        job("move", "CO", "move crane to out", start=120.0, duration=60, after=["board"]),
        job("stand", "W1", "ingress", start=200.0, duration=60, after=["move"], **post),
        begin={"workers": {"W1": "far", "W2": "far"}},
    )
    assert met(site, outing) == set()
