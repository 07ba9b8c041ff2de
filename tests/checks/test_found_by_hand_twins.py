"""What the slow twins of hands, cranes' stops and sockets caught, named after what broke."""

import cranes
import numpy as np
import pytest
from handing import READY, TAKE, at, crate, give, hold, of_step

from reach.finding import Verdict

NEAR_G3 = {"kind": "pinch", "box": [0.3, 0.3, 0.3], "at": [1.0, 0.2, 1.35]}


def by_answer(found):
    return {one.answer: one for one in found}


# ---- grips ------------------------------------------------------------------------------


def test_a_grip_that_the_taker_has_already_must_be_held_together_with_the_new_one():
    """One hand on G3, the other takes a grip 2 m away: each by itself is easy from there."""
    far = {"G5": {"in": "crate", "from": [2.0, 0.1, 0.0], "to": [2.0, 0.3, 0.0]}}
    data = crate(
        handrails=far,
        solids={"box": {"in": "crate", "box": [0.2, 0.2, 0.2]}},
        stations={"SL": {"at": [1.875, 0.9, 0.0], "toes": [0, -1, 0]}},
    )
    there = at("there", "L", hold("G3"), start=0.0, duration=60.0)
    took = at("take", "R", hold("G1"), start=60.0, duration=60.0)
    gives = at("give", "R", give("L", "G5"), start=120.0, duration=60.0)
    found = by_answer(of_step("grips", "give", data, there, took, gives))["L as it is taken"]
    assert found.numbers["grips"] == ["G3", "G5"]
    assert found.verdict is not Verdict.PASS
    alone = of_step("grips", "give", data, {**READY, "name": "there"}, took, gives)
    assert by_answer(alone)["L as it is taken"].numbers["grips"] == ["G5"]


def test_a_hand_that_had_hold_before_a_hand_over_still_has_it_when_things_move():
    there = at("there", "L", hold("G3"), start=0.0, duration=60.0)
    gives = at("give", "R", give("L", "G4"), start=120.0, duration=60.0)
    seat = at("seat", "L", {"do": "align", "guide": "GU"}, start=180.0, duration=100.0)
    steps = (there, TAKE, gives, seat)
    (found,) = of_step("pinch", "seat", crate(), *steps)
    assert {"G3", "G4"} <= set(found.about)


# ---- hands and hazards ------------------------------------------------------------------


def test_a_hand_whose_posture_is_not_known_does_not_pass_beside_a_pinch_point():
    """The giver's hands are clear; the taker stands too far away to be found."""
    far = {"SL": {"at": [2.6, 0.0, 0.0]}}
    gives = at("give", "R", give(), start=120.0, duration=60.0)
    data = crate(hazards={"knot": NEAR_G3}, stations=far)
    (found,) = of_step("hand-hazard", "give", data, READY, TAKE, gives)
    assert found.verdict is not Verdict.PASS
    beside = {"knot": {**NEAR_G3, "at": [1.0, 6.0, 1.35]}}
    (found,) = of_step(
        "hand-hazard", "give", crate(hazards=beside, stations=far), READY, TAKE, gives
    )
    assert found.verdict is Verdict.PASS


def test_who_is_nowhere_known_keeps_off_nothing():
    gives = at("give", "R", give(), start=120.0, duration=60.0)
    knot = {**NEAR_G3, "at": [1.0, 6.0, 1.35]}
    (found,) = of_step("hand-hazard", "give", crate(hazards={"knot": knot}), TAKE, gives)
    assert found.verdict is Verdict.OPEN
    assert "L" in found.because


def test_the_other_hand_of_a_tool_for_two_keeps_off_too():
    """The hand that leads is clear of it, the second grip is in it."""
    knot = {"kind": "pinch", "box": [0.1, 0.1, 0.1], "at": [0.55, 0.3, 1.35]}
    tool = {"kind": "wrench", "tip": [0.15, 0.0, 0.0], "axis": [1, 0, 0], "torque": 50.0}
    data = crate(
        hazards={"knot": knot},
        tools={"long": {**tool, "second_grip": [0.0, 0.25, 0.0]}},
        fasteners={"bolt": {"at": [0.7, 0.0, 1.35], "axis": [-1, 0, 0], "torque": 10.0}},
        solids={"box": {"in": "crate", "box": [0.02, 0.02, 0.02], "at": [3.0, 0.0, 0.0]}},
        handrails={name: {"in": "crate", "from": [3.0, 0, 0], "to": [3.0, 0.2, 0]}
                   for name in ("G1", "G2", "G3", "G4")},
    )  # fmt: skip
    verdicts = {}
    for hand in ("own", "both"):
        work = at("work", "R", {"do": "drive", "fastener": "bolt", "tool": "long", "hand": hand})
        (found,) = of_step("hand-hazard", "work", data, work)
        verdicts[hand] = found.verdict
    assert verdicts["both"] is not Verdict.PASS


# ---- pinch ------------------------------------------------------------------------------


def passing(*actions, work_lasts=100.0, **changes):
    """What is found of L's hand while the crate is lowered past what L turns."""
    bolts = {
        "far": {"at": [0.9, 1.4, 1.4], "axis": [1, 0, 0], "torque": 10.0},
        "near": {"at": [0.9, 0.55, 1.3], "axis": [1, 0, 0], "torque": 10.0},
    }
    data = crate(
        fasteners=bolts,
        stations={"SL": {"at": [1.5, 1.0, 0.0]}},
        payloads={"crate": {"mass": 100.0, "paths": {"down": {"through": ["here", "seat"]}}}},
        **changes,
    )
    turns = [{"do": "drive", "fastener": one, "tool": "glove"} for one in actions]
    work = at("work", "L", *turns, start=0.0, duration=work_lasts)
    carry = at("carry", "R", {"do": "move", "payload": "crate"}, path="down", start=50.0,
               duration=20.0)  # fmt: skip
    found = of_step("pinch", "carry", data, work, {**TAKE, "start": 0.0}, carry)
    return {one.about[-1]: one for one in found if one.answer == "L works"}


def test_all_that_a_step_turns_is_asked_about_beside_what_moves():
    alone = passing("near")["near"]
    assert alone.verdict is not Verdict.NOT_ASKED
    both = passing("far", "near")
    assert set(both) == {"far", "near"}
    assert both["near"].low == pytest.approx(alone.low, abs=1e-9)
    # Of two it is not known which is turned while the crate passes.
    assert both["near"].high == np.inf


def test_a_hand_whose_step_is_over_is_no_proof():
    assert passing("near", work_lasts=40.0)["near"].high == np.inf
    assert passing("near")["near"].high < np.inf


def test_a_glove_inside_of_a_solid_is_not_far_from_its_skin():
    """Nothing of the block's skin is within 1 m of the hands."""
    data = crate(solids={"block": {"box": [6.0, 6.0, 6.0], "at": [1.0, 0.0, 1.35]}})
    seat = at("seat", "R", {"do": "align", "guide": "GU"}, start=180.0, duration=100.0)
    (found,) = of_step("pinch", "seat", data, READY, TAKE, seat)
    assert found.verdict is not Verdict.PASS
    assert found.low < -1.0


def test_the_wrist_of_a_glove_counts_and_not_only_its_fist():
    """What is told is the gap of the whole glove; that at the grip alone is no smaller."""
    seat = at("seat", "R", {"do": "align", "guide": "GU"}, start=180.0, duration=100.0)
    (free,) = of_step("pinch", "seat", crate(), READY, TAKE, seat)
    assert free.verdict is Verdict.PASS
    assert free.numbers["gap"] <= free.numbers["gap at the grip"]


# ---- momentum ---------------------------------------------------------------------------


def carried(**more):
    path = {"through": ["here", "seat"], "speed": 0.02}
    record = {"mass": 300.0, "paths": {"down": path}}
    step = at("carry", "R", {"do": "move", "payload": "crate"}, path="down", **more)
    (found,) = of_step("momentum", "carry", crate(payloads={"crate": record}), TAKE, step)
    return found


def test_the_least_that_a_step_may_last_counts_without_a_likely_duration():
    slow = carried()
    assert slow.verdict is Verdict.PASS
    quick = carried(between=[0.1, 60.0])
    assert quick.numbers["speed"] == pytest.approx(0.1 / 0.1)
    assert quick.verdict is not Verdict.PASS


@pytest.mark.parametrize("duration", [None, 30.0])
def test_what_may_take_no_time_is_not_slow(duration):
    found = carried(between=[0.0, 60.0], duration=duration)
    assert found.verdict is Verdict.OPEN


# ---- stop -------------------------------------------------------------------------------


def boots_of(data, *steps):
    found = [one for one in cranes.findings("stop", data, *steps) if one.answer == "boots"]
    return found[-1]


BOX = {
    "solids": {"crate-box": {"in": "crate", "box": [0.4, 0.4, 0.4]}},
    "handrails": {"H": {"in": "crate", "from": [-0.2, 0.25, 0], "to": [0.2, 0.25, 0]}},
}


def turning(about):
    """A crate that turns by a right angle about a point of it, with R on the tip."""
    turn = [{"axis": [0, 0, 1], "angle": "90 deg"}]
    poses = {"a": {"at": [7, 3, 2]}, "b": {"at": [6, 4, 2], "turn": turn}}
    paths = {"way": {"through": ["a", "b"], "about": about}}
    box = {**BOX, "payloads": {"crate": {"mass": 100.0, "poses": poses, "paths": paths}}}
    take = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["H"]}]}
    go = {"name": "go", "lane": "CO", "path": "way", "duration": 20.0,
          "actions": [{"do": "move crane", "payload": "crate"}]}  # fmt: skip
    return boots_of(cranes.yard(**box), cranes.stand("near"), take, go)


def test_what_swings_round_a_tip_that_stays_is_slowed_down_too():
    """The tip, at (6, 3, 1), is the point that stays; the crate is 1.41 m away from it."""
    found = turning([-1.0, 0.0, -1.0])
    assert found.numbers["speed"] == pytest.approx(0.0, abs=1e-9)
    # R stands upright over it and only turns; the crate swings at a metre round the axis.
    speed = 0.5 * np.pi / 20.0
    assert found.numbers["speeds"]["crate"] == pytest.approx(speed, rel=1e-3)
    assert found.numbers["force"] == pytest.approx(100.0 * speed / 2.0, rel=1e-3)


def test_a_payload_that_the_rider_holds_counts_where_the_step_does_not_name_it():
    here = {"a": {"at": [6.6, 3, 2.3]}}
    box = {**BOX, "payloads": {"crate": {"mass": 500.0, "poses": here}}}
    take = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["H"]}]}
    go = cranes.crane_step("by the mast", duration="4 min")
    light = boots_of(cranes.yard(**box), cranes.stand("near"), go)
    heavy = boots_of(cranes.yard(**box), cranes.stand("near"), take, go)
    assert set(light.numbers["masses"]) == {"R"}
    assert heavy.numbers["masses"]["crate"] == 500.0
    assert heavy.numbers["force"] > 2.0 * light.numbers["force"]


def test_a_crane_that_may_take_no_time_is_not_slow():
    go = cranes.crane_step("by the mast", duration="4 min", between=[0.0, 600.0])
    assert boots_of(cranes.yard(), cranes.stand("near"), go).verdict is Verdict.OPEN


def test_the_other_hand_of_a_tool_for_two_is_caught_too_by_what_moves():
    """The second grip lies ahead, beside the crate that passes; its glove may be any way round."""
    tool = {"kind": "wrench", "tip": [0.15, 0.0, 0.0], "axis": [1, 0, 0], "torque": 50.0}
    lows = {}
    for hand in ("own", "both"):
        data = crate(
            tools={"long": {**tool, "second_grip": [0.6, 0.0, 0.0]}},
            fasteners={"bolt": {"at": [0.9, 1.0, 1.4], "axis": [1, 0, 0], "torque": 10.0}},
            stations={"SL": {"at": [1.5, 1.0, 0.0]}},
            payloads={"crate": {"mass": 100.0, "paths": {"down": {"through": ["here", "seat"]}}}},
        )
        turn = {"do": "drive", "fastener": "bolt", "tool": "long", "hand": hand}
        work = at("work", "L", turn, start=0.0, duration=100.0)
        carry = at("carry", "R", {"do": "move", "payload": "crate"}, path="down", start=50.0,
                   duration=20.0)  # fmt: skip
        found = of_step("pinch", "carry", data, work, {**TAKE, "start": 0.0}, carry)
        (lows[hand],) = [one.low for one in found if one.answer == "L works"]
    assert lows["both"] < lows["own"] - 0.05
