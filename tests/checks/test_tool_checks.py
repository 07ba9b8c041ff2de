"""Drives that run down or are set wrongly, bolts that stick or float off."""

import math
from dataclasses import replace

import pytest
from errands import PACKED, asked, put, step, take, turn, verdicts, yard

from reach.checks import dial, energy, loose, turn_window
from reach.finding import Verdict
from reach.orders import Answer

HAD = {"items": {**PACKED, "D1": "W", "D2": "W"}, "tools": {"D1": {"torque": 20.0}}}
"""The drives are with W, D1 set to 20 N m."""


def setting(*steps, begin=HAD, **fasteners):
    return asked(dial, yard(fasteners=fasteners), *steps, begin=begin)


# ---- what a tool is set to -------------------------------------------------------------


def test_a_tool_set_as_the_fastener_wants_it():
    (found,) = setting(step("one", turn("X1")))
    assert (found.low, found.high) == (0.0, 0.0)
    assert "set to 20.0 N m from the start" in found.because


def test_a_setting_carried_over_from_the_bolt_before():
    _, found = setting(step("one", turn("X1")), step("two", turn("X2")))
    assert found.step == "two"
    assert found.low == found.high == -8.0
    assert found.fix == "Set D1 to 12.0 N m for X2."


@pytest.mark.parametrize("by", ["drive", "set"])
def test_the_fix_mends_it(by):
    if by == "drive":
        actions = (turn("X2", torque=12.0),)
    else:
        actions = ({"do": "set", "tool": "D1", "torque": 12.0}, turn("X2"))
    found = setting(step("one", turn("X1")), step("two", *actions))
    assert verdicts(found) == ["pass", "pass"]


def test_a_setting_nobody_gave_is_not_asked():
    (found,) = setting(step("one", turn("X1", tool="D2")))
    assert found.verdict is Verdict.NOT_ASKED
    assert "Nothing says what D2 is set to" in found.because


@pytest.mark.parametrize(
    ("fastener", "more", "margin"),
    [
        ({"most_torque": 22.0}, {}, 0.0),
        ({"torque": 19.0, "most_torque": 22.0}, {}, 1.0),
        ({"torque": 21.0, "most_torque": 22.0}, {}, -1.0),
        ({"torque": None, "most_torque": 5.0}, {}, -15.0),
        ({"breakaway": 18.0}, {"loosen": True}, 2.0),
        ({"breakaway": 30.0}, {"loosen": True}, -10.0),
    ],
)
def test_what_a_fastener_takes(fastener, more, margin):
    (found,) = setting(step("one", turn("X1", **more)), X1=fastener)
    assert found.low == found.high == margin


def test_hand_tools_and_fasteners_without_torque_are_left_out():
    assert setting(step("one", turn("X1", tool="ratchet"))) == []
    assert setting(step("one", turn("X1")), X1={"torque": None}) == []


@pytest.mark.parametrize(
    ("fastener", "verdict", "low"),
    [
        ({}, Verdict.FAIL, -20.0),
        ({"most_torque": 30.0}, Verdict.FAIL, -20.0),
        ({"torque": None, "most_torque": 30.0}, Verdict.OPEN, -math.inf),
    ],
)
def test_a_tool_that_another_order_leaves_unset_is_no_pass(fastener, verdict, low):
    """V sets D2 first as written; where nothing asks for a least it may be set to anything."""
    first = step("set", {"do": "set", "tool": "D2", "torque": 20.0}, lane="V", start="00:00")
    (found,) = setting(first, step("one", turn("X1", tool="D2"), start="00:20"), X1=fastener)
    assert (found.verdict, found.low) == (verdict, low)
    assert "in another order it is not set yet" in found.because
    linked = step("one", turn("X1", tool="D2"), start="00:20", after=["set"])
    (found,) = setting(first, linked, X1=fastener)
    assert found.verdict is Verdict.PASS


@pytest.mark.parametrize("fastener", [{}, {"torque": None, "most_torque": 30.0}])
def test_a_dial_that_not_every_order_could_be_asked_of_is_open(fastener, monkeypatch):
    real = dial.judge

    def unsettled(outing, rules):
        return [
            replace(one, ruling=replace(one.ruling, answer=Answer.NOT_SETTLED))
            for one in real(outing, rules)
        ]

    monkeypatch.setattr(dial, "judge", unsettled)
    first = step("set", {"do": "set", "tool": "D2", "torque": 20.0}, lane="V", start="00:00")
    (found,) = setting(first, step("one", turn("X1", tool="D2"), start="00:20"), X1=fastener)
    assert (found.verdict, found.high) == (Verdict.OPEN, 0.0)
    assert "not every order could be looked at" in found.because


def test_another_lane_may_have_set_it_otherwise_before():
    other = step("set", {"do": "set", "tool": "D1", "torque": 12.0}, lane="V", start="00:30")
    (found,) = setting(step("one", turn("X1"), start="00:10"), other)
    assert found.low == found.high == -8.0
    assert "in another order it is 12.0 N m: nothing keeps" in found.because
    (found,) = setting(step("one", turn("X1"), start="00:10"), {**other, "after": ["one"]})
    assert found.verdict is Verdict.PASS


# ---- turns -----------------------------------------------------------------------------

STORES = {"D1": {"turns": 20, "reserve": 0.25}, "D2": {"turns": 20}}


def spent(*fasteners, stores=STORES, **changes):
    steps = [step(f"s{k}", turn(name)) for k, name in enumerate(fasteners)]
    return asked(energy, yard(fasteners=changes), *steps, begin=HAD, stores=stores)


def test_turns_are_counted_against_the_store_less_its_reserve():
    found, other = spent("X1")
    assert (found.low, found.high) == (5.0, 5.0)
    assert found.because == "D1 turns 10 times (X1 10) of 15 that may be used."
    assert other.verdict is Verdict.NOT_ASKED


def test_it_is_said_once_where_it_runs_out():
    found = spent("X1", "X2", "X1")[0]
    assert found.step == "s1"
    assert found.low == found.high == -15.0
    assert "it runs out at X2 in step 's1'" in found.because


def test_the_fix_names_what_else_could_turn_them():
    found = spent("X1", "X2")[0]
    assert found.fix == "Turn X2 with D2."
    by_hand = spent("X1", "X2", X2={"tools": ["ratchet"]})[0]
    assert by_hand.fix == "Turn X2 by hand."
    alone = spent("X1", "X2", stores={"D1": {"turns": 15}})[0]
    assert alone.fix == "Bring 5 turns more."


def test_equal_passes():
    assert spent("X1", stores={"D1": {"turns": 10}})[0].low == 0.0


def test_turns_that_are_not_known_leave_it_open_or_fail():
    assert spent("X1", "X2", X2={"turns": None})[0].verdict is Verdict.OPEN
    found = spent("X1", "X1", "X2", X2={"turns": None})[0]
    assert found.verdict is Verdict.FAIL
    assert found.low == -math.inf
    assert "X2 give no turns" in found.because


def test_without_stores_nothing_is_asked():
    assert spent("X1", stores={}) == []


# ---- what bolts say --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("record", "verdict", "words"),
    [
        ({"turns_between": [9, 11], "if_stuck": "back out"}, Verdict.PASS, "9 to 11 turns"),
        ({"turns_between": [9, 11]}, Verdict.FAIL, "what is done if it sticks"),
        ({"if_stuck": "back out"}, Verdict.FAIL, "the window of its turns"),
    ],
)
def test_bolts_say_their_window_and_what_to_do(record, verdict, words):
    (found,) = asked(turn_window, yard(fasteners={"X1": record}), step("s", turn("X1")), begin=HAD)
    assert found.verdict is verdict
    assert words in found.because


def test_a_bolt_that_says_nothing_fails_only_where_others_say_something():
    steps = step("s", turn("X1"), turn("X2"))
    assert asked(turn_window, yard(), steps, begin=HAD) == []
    told = yard(fasteners={"X1": {"turns_between": [9, 11], "if_stuck": "back out"}})
    assert verdicts(asked(turn_window, told, steps, begin=HAD)) == ["pass", "fail"]


@pytest.mark.parametrize(
    ("actions", "verdict"),
    [
        ((), Verdict.FAIL),
        ((take("X1"),), Verdict.PASS),
        ((put("B1", "X1"),), Verdict.PASS),
        ((take("lamp"),), Verdict.FAIL),
    ],
)
def test_what_is_not_captive_is_caught(actions, verdict):
    data = yard(fasteners={"X1": {"captive": False}}, items={"X1": {}})
    (found,) = asked(loose, data, step("s", turn("X1", loosen=True), *actions), begin=HAD)
    assert found.verdict is verdict


def test_captive_ones_stay_and_those_that_do_not_say_are_not_asked():
    out = step("s", turn("X1", loosen=True))
    (found,) = asked(loose, yard(fasteners={"X1": {"captive": True}}), out, begin=HAD)
    assert found.verdict is Verdict.PASS
    assert asked(loose, yard(), out, begin=HAD) == []
    kept = {"X1": {"items": ["B1"]}}
    data = yard(fasteners={"X1": {"captive": False}})
    assert verdicts(asked(loose, data, out, begin=HAD, guards=kept)) == ["pass"]
