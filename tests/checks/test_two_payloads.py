"""Hands on two payloads at once: every check that asks about hands knows both."""

import pytest
from cranes import findings as crane_findings
from cranes import stand, yard
from handing import align, at, crate, give, hold, of_step

from reach.finding import Verdict

CHEST = {
    "payloads": {
        "chest": {"mass": 10.0, "poses": {"there": {"at": [0.75, -0.9, 1.35]}}, "fixed_by": []},
        "drum": {"mass": 10.0, "poses": {"there": {"at": [0.75, 0.9, 1.35]}}, "fixed_by": []},
    },
    "solids": {"chest box": {"in": "chest", "box": [0.3, 0.3, 0.2]}},
    "handrails": {
        "C1": {"in": "chest", "from": [-0.25, 0.0, 0.0], "to": [-0.25, 0.2, 0.0]},
        "C2": {"in": "chest", "from": [-0.25, -0.2, 0.0], "to": [-0.25, 0.0, 0.0]},
        "D1": {"in": "drum", "from": [-0.25, -0.2, 0.0], "to": [-0.25, 0.0, 0.0]},
    },
}
ONE = at("one", "R", hold("G1"), start=0.0, duration=60.0)
OTHER = at("other", "R", hold("C1"), start=60.0, duration=60.0)
SEAT = at("seat", "R", align(), start=120.0, duration=100.0)


def test_a_second_hold_asks_both_hands_for_a_posture():
    (found,) = of_step("grips", "other", crate(**CHEST), ONE, OTHER)
    assert found.verdict is Verdict.PASS
    assert found.numbers["grips"] == ["G1", "C1"]
    assert sorted(found.numbers["hands"]) == ["left", "right"]


def test_what_each_hand_reaches_alone_need_not_be_held_together():
    data = crate(**CHEST)
    data["handrails"]["G1"] = {"in": "crate", "from": [-0.25, 0.7, 0.0], "to": [-0.25, 0.8, 0.0]}
    (first,), (alone,) = of_step("grips", "one", data, ONE), of_step("grips", "other", data, OTHER)
    assert first.verdict is alone.verdict is Verdict.PASS
    (both,) = of_step("grips", "other", data, ONE, OTHER)
    assert both.verdict is Verdict.OPEN


def test_three_grips_for_two_hands_are_open():
    third = at("third", "R", hold("D1"), start=120.0, duration=60.0)
    (found,) = of_step("grips", "third", crate(**CHEST), ONE, OTHER, third)
    assert found.verdict is Verdict.OPEN
    assert found.because == "R has two hands for G1 and C1 and D1: nothing says which they leave."


def test_hands_that_hold_something_else_too_bring_it_to_rest():
    (found,) = of_step("momentum", "seat", crate(**CHEST), ONE, OTHER, SEAT)
    assert found.about[-1] == "R"
    assert found.numbers["mass"] == 100.0


def test_only_the_glove_on_what_moves_rides_along():
    (found,) = of_step("pinch", "seat", crate(**CHEST), ONE, OTHER, SEAT)
    assert found.about[-1] == "G1"
    (alone,) = of_step("pinch", "seat", crate(**CHEST), ONE, SEAT)
    assert found.verdict is alone.verdict is Verdict.PASS


def test_an_alignment_goes_by_the_grips_of_what_is_aligned():
    def capture(*steps):
        found = of_step("approach", "seat", crate(**CHEST), *steps, SEAT)
        (one,) = [one for one in found if one.answer == "capture"]
        return one.because, one.low

    assert capture(ONE, OTHER) == capture(ONE)
    assert "Held by G1" in capture(ONE)[0]


def test_what_is_given_has_to_be_held():
    steps = (at("ready", "L", {"do": "ingress"}), OTHER, at("give", "R", give()))
    found = of_step("grips", "give", crate(**CHEST), *steps)
    assert found[0].verdict is Verdict.OPEN
    assert found[0].because == "R does not hold crate, which is to be given."
    both = of_step("grips", "give", crate(**CHEST), steps[0], ONE, OTHER, steps[2])
    assert both[0].numbers["grips"] == ["G1", "C1"]


@pytest.mark.parametrize("n", [1, 2])
def test_all_that_a_rider_holds_is_slowed_down_with_them(n):
    boxes = {f"box{k}": {"mass": 50.0 * k, "poses": {"p": {"at": [6.5, 3.0, 2.0 + 0.1 * k]}}}
             for k in (1, 2)}  # fmt: skip
    rails = {f"H{k}": {"in": f"box{k}", "from": [-0.1, 0, 0], "to": [0.1, 0, 0]} for k in (1, 2)}
    holds = [{"name": f"hold{k}", "lane": "R", "actions": [{"do": "hold", "grips": [f"H{k}"]}]}
             for k in range(1, n + 1)]  # fmt: skip
    go = {"name": "go", "lane": "CO", "duration": 300.0,
          "actions": [{"do": "move crane", "to": "by the mast"}]}  # fmt: skip
    data = yard(payloads=boxes, handrails=rails)
    (found,) = [
        one
        for one in crane_findings("stop", data, stand("near"), *holds, go)
        if one.answer == "boots"
    ]
    assert found.numbers["masses"] == {"R": 240.0, **{f"box{k}": 50.0 * k for k in range(1, n + 1)}}
