"""Repeated events, elapsed time, stores, suits, the way home and devices."""

import random

import numpy as np
import pytest

from reach.clock import (
    Booking,
    Gap,
    Moment,
    Return,
    Span,
    Use,
    bingo,
    conflicts,
    count,
    drawn,
    endurance,
    gaps,
    largest_gap,
)


def test_the_outing_itself_counts_only_if_asked():
    checks = [Moment(30.0, "b"), Moment(10.0, "a"), Moment(35.0, "c")]
    assert largest_gap(checks).length == 20.0
    assert largest_gap(checks, begin=Moment(-50.0, "out")).first.name == "out"
    whole = largest_gap(checks, Moment(0.0, "out"), Moment(100.0, "in"))
    assert (whole.first.name, whole.second.name, whole.length) == ("c", "in", 65.0)


def test_no_check_at_all_is_a_gap_as_long_as_the_outing():
    assert largest_gap([]) is None
    assert largest_gap([Moment(5.0, "one")]) is None
    assert largest_gap([], Moment(0.0, "out"), Moment(100.0, "in")).length == 100.0


def test_what_happens_outside_the_outing_is_left_out():
    checks = [Moment(-10.0, "before"), Moment(20.0, "in time"), Moment(200.0, "after")]
    found = gaps(checks, Moment(0.0, "out"), Moment(100.0, "in"))
    assert [gap.length for gap in found] == [20.0, 80.0]


@pytest.mark.parametrize(("length", "missing"), [(57.0, 1), (35.0, 0), (70.0, 1), (71.0, 2)])
def test_missing_checks_cut_a_gap_into_parts_within_the_limit(length, missing):
    gap = Gap(Moment(0.0, "a"), Moment(length, "b"))
    assert gap.margin(35.0) == 35.0 - length
    assert gap.missing(35.0) == missing
    assert length / (missing + 1) <= 35.0
    with pytest.raises(ValueError, match="limit > 0"):
        gap.missing(0.0)


def test_a_drive_that_turns_too_much_runs_out_at_a_named_task():
    turns = [("CB1", 24), ("CB2", 24), ("IB1", 18), ("IB4", 18), ("IB2", 18), ("IB3", 18)]
    uses = [Use(name, float(n)) for name, n in [*turns, ("IP1", 6), ("BB2", 20)]]
    told = count(uses, 150.0, reserve=0.2)
    assert (told.total, told.usable, told.margin) == (146.0, 120.0, -26.0)
    assert told.runs_out == "IP1"
    assert told.left == (96.0, 72.0, 54.0, 36.0, 18.0, 0.0, -6.0, -26.0)


def test_a_store_that_is_just_enough_is_enough():
    told = count([Use("a", 100.0), Use("b", 20.0)], 150.0, reserve=0.2)
    assert (told.margin, told.runs_out) == (0.0, None)
    assert count([], 10.0).margin == 10.0


@pytest.mark.parametrize(
    ("uses", "store", "reserve"),
    [([Use("a", -1.0)], 1.0, 0.0), ([], -1.0, 0.0), ([], 1.0, 1.1), ([Use("a", np.nan)], 1.0, 0.0)],
)
def test_stores_that_make_no_sense_are_refused(uses, store, reserve):
    with pytest.raises(ValueError, match="amounts >= 0"):
        count(uses, store, reserve)


def test_a_rate_over_a_time_is_an_amount():
    assert drawn("work", 300.0, 60.0) == Use("work", 18000.0)


def test_a_suit_lasts_to_its_end_less_the_reserve():
    told = endurance(600.0, 6000.0, lasts=7200.0, reserve=1800.0)
    assert (told.out, told.usable, told.margin, told.until) == (5400.0, 5400.0, 0.0, 6000.0)
    with pytest.raises(ValueError, match="begin <= end"):
        endurance(1.0, 0.0, 10.0)


def test_the_latest_start_home_leaves_the_way_and_the_reserve():
    told = bingo(23400.0, 1800.0, reserve=600.0)
    assert (told.latest, told.cut_off) == (21000.0, ())
    assert told.margin(20000.0) == 1000.0


def test_the_latest_start_home_depends_on_where_one_is():
    places = [Return(0.0, 10.0, "lock"), Return(50.0, 70.0, "far"), Return(80.0, 5.0, "near")]
    told = bingo(100.0, places, reserve=10.0)
    assert (told.latest, told.from_.place) == (85.0, "near")
    assert told.cut_off == (Span(50.0, 80.0),)
    assert bingo(100.0, places[:2], 10.0).latest == 50.0
    assert bingo(100.0, places[:2], 10.0).from_.place == "lock"
    barely = [places[0], Return(50.0, 40.0, "just near enough")]
    assert bingo(100.0, barely, 10.0).latest == 50.0
    assert bingo(100.0, barely, 10.0).from_.place == "lock"


def test_where_no_return_ends_in_time_there_is_no_latest_start():
    told = bingo(100.0, [Return(0.0, 200.0)])
    assert (told.latest, told.margin(0.0)) == (None, -np.inf)


def test_the_latest_start_home_is_what_trying_every_second_finds():
    dice = random.Random(11)
    n_cut_off = 0
    for _ in range(300):
        times = sorted(dice.sample(range(60), dice.randint(1, 6)))
        places = [Return(float(t), float(dice.randint(0, 70)), str(t)) for t in times]
        limit, reserve = float(dice.randint(20, 110)), float(dice.randint(0, 10))
        told = bingo(limit, places, reserve)

        def in_time(t, places=places, limit=limit, reserve=reserve):
            at = [one for one in places if one.since <= t]
            here = [at[-1], *(at[-2:-1] if at[-1].since == t else [])]  # both at a change
            return any(t + one.takes + reserve <= limit for one in here)

        halves = [h / 2 for h in range(2 * times[0], 300)]
        good = [t for t in halves if in_time(t)]
        assert told.latest == (good[-1] if good else None)
        bad = {t for t in halves if good and t < good[-1] and not in_time(t)}
        assert {t for t in halves for s in told.cut_off if s.begin < t < s.end} <= bad
        assert all(any(s.begin <= t <= s.end for s in told.cut_off) for t in bad)
        n_cut_off += bool(told.cut_off)
    assert n_cut_off > 50


@pytest.mark.parametrize(
    ("returns", "reserve"),
    [([], 0.0), ([Return(5.0, 1.0), Return(5.0, 1.0)], 0.0), (-1.0, 0.0), (1.0, -1.0)],
)
def test_returns_that_make_no_sense_are_refused(returns, reserve):
    with pytest.raises(ValueError, match=r"returns"):
        bingo(10.0, returns, reserve)


def test_a_crane_asked_to_park_and_to_carry_is_in_conflict():
    found = conflicts(
        [
            Booking("Crane", "carry", Span(307.0, 327.0)),
            Booking("Crane", "park", Span(307.0, 322.0)),
            Booking("Crane", "fetch", Span(327.0, 330.0)),
            Booking("FR-1", "carry", Span(307.0, 327.0)),
        ]
    )
    assert [(c.device, c.first, c.second, c.span) for c in found] == [
        ("Crane", "park", "carry", Span(307.0, 322.0))
    ]


def test_conflicts_are_all_pairs_that_share_a_second():
    dice = random.Random(3)
    for _ in range(100):
        held = []
        for i in range(12):
            begin = dice.randint(0, 60)
            span = Span(float(begin), float(begin + dice.randint(1, 15)))
            held.append(Booking(dice.choice("AB"), f"t{i}", span))
        seconds = {b.task: set(range(int(b.span.begin), int(b.span.end))) for b in held}
        expected = {
            (a.device, frozenset((a.task, b.task)), float(min(both)), float(max(both) + 1))
            for a in held
            for b in held
            if a.task < b.task and a.device == b.device
            if (both := seconds[a.task] & seconds[b.task])
        }
        assert expected == {
            (c.device, frozenset((c.first, c.second)), *c.span) for c in conflicts(held)
        }
