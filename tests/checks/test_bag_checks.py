"""What bags hold and where they are parked."""

import itertools
import random

import pytest
from errands import PACKED, asked, put, step, take, verdicts, yard

from reach.checks import slots

FULL = {**PACKED, "ties": "B1"}


def test_a_bag_holds_what_its_slots_take():
    (found,) = asked(slots, yard(), step("take", take("B1")))
    assert (found.low, found.high) == (0.0, 0.0)
    assert found.numbers["taken"] == found.numbers["offers"] == 3


def test_a_bag_too_full_from_the_start_is_said_where_it_is_first_handled():
    (found,) = asked(
        slots, yard(), step("look", {"do": "wait"}), step("take", take("B1")), begin=FULL
    )
    assert found.step == "take"
    assert found.because == "B1 has 3 slots; D1, D2, lamp and ties take 4 slots."
    assert found.fix == "Put ties into B2."


def test_the_fix_mends_it():
    mended = {**FULL, "ties": "B2"}
    assert verdicts(asked(slots, yard(), step("take", take("B1")), begin=mended)) == ["pass"] * 2


def test_without_another_bag_something_is_left_out():
    alone = {name: one for name, one in FULL.items() if name != "B2"}
    (found,) = asked(slots, yard(), step("take", take("B1")), begin=alone)
    assert found.fix == "Leave ties out of B1."


def test_a_bag_that_fills_up_is_said_at_the_step_that_fills_it():
    found = asked(
        slots, yard(), step("take", take("B1")), step("more", put("B1", "ties")),
        begin={**PACKED, "ties": "W"},
    )  # fmt: skip
    assert [(one.step, str(one.verdict)) for one in found] == [("more", "fail")]


def test_a_bag_is_too_full_in_another_order():
    steps = (step("out", take("lamp")), step("in", put("B1", "ties"), lane="V"))
    steps = tuple({**one, "start": f"00:{k}0"} for k, one in enumerate(steps))
    (found,) = asked(slots, yard(), *steps, begin={**PACKED, "ties": "V"})
    assert str(found.verdict) == "fail"
    assert found.numbers["orders"] == "another order"
    assert "D1, D2, lamp and ties take 4 slots: nothing keeps" in found.because
    linked = (steps[0], {**steps[1], "after": ["out"]})
    (found,) = asked(slots, yard(), *linked, begin={**PACKED, "ties": "V"})
    assert str(found.verdict) == "pass"


@pytest.mark.parametrize(("takes", "verdict"), [(1, "pass"), (2, "fail")])
def test_some_items_take_more_than_one_slot(takes, verdict):
    data = yard(items={"lamp": {"takes": takes}})
    assert verdicts(asked(slots, data, step("take", take("B1")))) == [verdict]


@pytest.mark.parametrize(("bears", "verdict"), [(6.0, "pass"), (5.9, "fail")])
def test_mass_counts_as_well(bears, verdict):
    masses = {name: {"mass": 2.0} for name in ("D1", "D2", "lamp")}
    data = yard(items={**masses, "B1": {"most_mass": bears}})
    found = asked(slots, data, step("take", take("B1")))
    assert verdicts(found) == ["pass", verdict]
    assert found[1].numbers["answer"] == "mass"


def test_a_mass_that_is_not_known_is_no_pass():
    data = yard(items={"D1": {"mass": 2.0}, "B1": {"most_mass": 4.0}})
    found = asked(slots, data, step("take", take("B1")))
    assert verdicts(found) == ["pass", "not asked"]
    assert "D2 and lamp" in found[1].because


def test_the_smallest_sets_that_do_not_fit_are_those_of_all_sets():
    rng = random.Random(3)
    for _ in range(30):
        takes = {name: rng.choice([0.0, 1.0, 1.5, 2.0, 4.0]) for name in "abcdef"}
        offers = rng.choice([2.0, 3.0, 5.0])
        full = [
            set(some)
            for n in range(1, 7)
            for some in itertools.combinations(takes, n)
            if sum(takes[name] for name in some) > offers
        ]
        least = [one for one in full if not any(other < one for other in full)]
        found = [set(one) for one in slots.too_many(takes, offers)]
        assert sorted(map(sorted, found)) == sorted(map(sorted, least))


def test_nothing_is_asked_where_no_begin_is_declared():
    assert asked(slots, yard(), step("take", take("B1")), begin=None) == []
