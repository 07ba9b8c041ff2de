"""Checks on people who hold a payload, give it to each other and bring it to its seat."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from handing import GIVE, JOB, READY, SEAT, TAKE, at, crate, findings_of, hold, of_step

from reach.finding import Verdict

FAR = {"SR": {"at": [-3.0, 0.0, 0.0]}}


@cache
def job(check):
    return findings_of(crate(), *JOB, only=(check,))


def by_answer(findings):
    return {one.answer: one for one in findings}


# ---- grips ------------------------------------------------------------------------------


def test_a_hold_within_reach_passes_by_what_was_shown():
    (found,) = of_step("grips", "take", crate(), TAKE)
    assert found.verdict is Verdict.PASS
    assert found.low == pytest.approx(found.numbers["margin"], abs=1e-6)
    assert found.high > found.low
    assert sorted(found.numbers["hands"]) == ["left", "right"]
    points = {mark.label: mark.points[0] for mark in found.marks if mark.kind == "point"}
    assert points["G1"] == pytest.approx((0.5, points["G1"][1], 1.35))


def test_a_hold_three_metres_off_fails_by_the_metres_missing():
    (found,) = of_step("grips", "take", crate(stations=FAR), TAKE)
    assert found.verdict is Verdict.FAIL
    # From 0.5 m ahead to 3.5 m ahead: nobody is nearer by more than what was to spare.
    assert 1.0 < -found.high < 3.0
    assert "outer bound" in found.because
    assert found.fix


def test_the_limit_on_the_margin_is_what_is_asked_beyond_reach():
    (lax,) = of_step("grips", "take", crate(), TAKE)
    (strict,) = of_step("grips", "take", crate(limits={"reach_margin": 0.02}), TAKE)
    assert strict.low == pytest.approx(lax.low - 0.02, abs=1e-9)


def test_no_pass_where_no_posture_keeps_clear():
    post = {"post": {"box": [0.2, 0.2, 0.6], "at": [0.1, 0.0, 1.3]}}
    (found,) = of_step("grips", "take", crate(solids=post), TAKE)
    assert found.verdict is Verdict.OPEN
    assert "keeps clear" in found.because


def test_a_hand_over_asks_both_people_and_whether_hands_are_free():
    found = by_answer(one for one in job("grips") if one.step == "give")
    assert set(found) == {"R while it is given", "L as it is taken", "hands of L"}
    assert all(one.verdict is Verdict.PASS for one in found.values())
    assert found["R while it is given"].numbers["grips"] == ["G1", "G2"]
    assert found["L as it is taken"].numbers["grips"] == ["G3", "G4"]


def test_whoever_holds_something_has_no_hands_to_take_more():
    busy = at("busy", "L", hold("G1", "G2"))
    found = by_answer(of_step("grips", "give", crate(), busy, TAKE, GIVE))["hands of L"]
    assert found.verdict is Verdict.FAIL
    assert (found.low, found.high) == (-2.0, -2.0)


def test_grips_that_the_taker_has_already_ask_for_no_more_hands():
    there = at("there", "L", hold("G3", "G4"))
    found = by_answer(of_step("grips", "give", crate(), there, TAKE, GIVE))["hands of L"]
    assert found.verdict is Verdict.PASS


def test_nothing_is_given_by_whoever_holds_nothing_and_nobody_takes_it_nowhere():
    found = of_step("grips", "give", crate(), GIVE)
    assert [one.verdict for one in found[:2]] == [Verdict.OPEN, Verdict.OPEN]
    assert "holds nothing" in found[0].because
    assert "not known where L is" in found[1].because


def test_a_taker_who_is_on_the_way_stands_nowhere():
    data = crate(hatches={"hatch": {"at": [0.0, 3.0, 0.0]}})
    walk = {
        "name": "walk", "lane": "L", "route": ["G3"],
        "actions": [{"do": "translate", "from": "SL", "to": "hatch"}],
    }  # fmt: skip
    found = by_answer(of_step("grips", "give", data, TAKE, walk, GIVE))["L as it is taken"]
    assert found.verdict is Verdict.OPEN
    assert "stands nowhere" in found.because


def test_an_alignment_is_asked_at_both_ends():
    found = by_answer(one for one in job("grips") if one.step == "seat")
    assert set(found) == {"L with crate at here", "L with crate at seat"}
    assert all(one.verdict is Verdict.PASS for one in found.values())


def test_an_alignment_to_where_arms_do_not_follow_fails_at_that_end_only():
    away = {"poses": {"here": {"at": [0.75, 0, 1.35]}, "seat": {"at": [-2.0, 0, 1.35]}}}
    found = by_answer(of_step("grips", "seat", crate(payloads={"crate": away}), *JOB))
    assert found["L with crate at here"].verdict is Verdict.PASS
    assert found["L with crate at seat"].verdict is Verdict.FAIL


def test_a_handhold_that_gives_no_direction_stays_open():
    data = crate(handholds={"K": {"in": "crate", "at": [-0.25, 0.2, 0.0]}})
    (found,) = of_step("grips", "take", data, at("take", "R", hold("K", "G2")))
    assert found.verdict is Verdict.OPEN
    assert "direction" in found.because


def test_sizes_are_asked_each_with_its_own_partner():
    found = findings_of(crate(), READY, TAKE, GIVE, only=("grips",), sizes=("small", "large"))
    cases = {(one.case, one.answer) for one in found if one.step == "give"}
    assert ("small", "L as it is taken") in cases
    assert ("large", "R while it is given") in cases
    # The taker named is of the same size class as the giver.
    for one in found:
        if one.answer == "L as it is taken":
            assert f"L ({one.case}" in one.because


# ---- helmets ----------------------------------------------------------------------------


def helmet_gap(distance):
    """The finding on helmets of two who stand at rest and look at each other."""
    data = crate(stations={"SL": {"at": [distance, 0.0, 0.0]}})
    steps = (READY, at("other", "R", {"do": "ingress"}, start=10.0, duration=20.0))
    return by_answer(of_step("helmets", "other", data, *steps))


def test_helmets_of_two_at_rest_are_as_far_apart_as_their_boots_less_what_sticks_out():
    near, far = helmet_gap(2.0), helmet_gap(2.5)
    # Helmet balls of radius 0.18 m stand 0.04 m ahead of the hips.
    assert near["helmets, L"].numbers["distance"] == pytest.approx(2.0 - 2 * 0.22, abs=1e-9)
    assert far["helmets, L"].low - near["helmets, L"].low == pytest.approx(0.5, abs=1e-9)
    assert near["helmets, L"].verdict is Verdict.PASS


def test_the_limit_decides_just_above_a_metre():
    assert helmet_gap(1.45)["helmets, L"].verdict is Verdict.PASS
    found = helmet_gap(1.43)["helmets, L"]
    assert found.verdict is Verdict.OPEN
    assert found.low == pytest.approx(1.43 - 0.44 - 1.0, abs=1e-6)


def test_bodies_whose_legs_stand_in_each_other_fail_for_sure():
    found = helmet_gap(0.1)["bodies, L"]
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.1 - 2 * 0.10, abs=1e-6)


def test_beyond_five_metres_and_without_times_nothing_is_asked():
    assert helmet_gap(5.1) == {}
    untimed = (at("ready", "L", {"do": "ingress"}), at("other", "R", {"do": "ingress"}))
    assert of_step("helmets", "other", crate(), *untimed) == []


def test_a_pair_is_asked_once_in_the_same_places_at_the_same_tasks():
    again = at("again", "R", {"do": "ingress"}, start=40.0, duration=10.0)
    steps = (READY, at("other", "R", {"do": "ingress"}, start=10.0, duration=20.0), again)
    assert of_step("helmets", "again", crate(), *steps) == []


def test_a_hand_over_and_an_alignment_tell_helmets_and_bodies_without_arms():
    for step in ("give", "seat"):
        found = [one for one in job("helmets") if one.step == step]
        assert len(found) == 2
        assert all(one.unit == "m" and one.marks for one in found)
    give_bodies = by_answer(one for one in job("helmets") if one.step == "give")
    assert any("without arms" in one.because for one in give_bodies.values())


# ---- momentum ---------------------------------------------------------------------------


def test_the_force_is_mass_times_speed_squared_over_twice_the_way():
    found = next(one for one in job("momentum") if one.step == "seat")
    # 100 kg over 0.1 m in 100 s, stopped over 0.1 m.
    force = 100.0 * 0.001**2 / (2.0 * 0.1)
    assert found.numbers["force"] == pytest.approx(force)
    assert found.low == pytest.approx(found.limits[0].value - force)
    assert found.about[0] == "crate"
    assert "L" in found.about


def carried(speed, seconds=None, **more):
    """A crate that R holds and moves along a path with a speed."""
    path = {"through": ["here", "seat"], "speed": speed}
    record = {"mass": 100.0, "paths": {"down": path}, **more}
    step = at("carry", "R", {"do": "move", "payload": "crate"}, path="down", duration=seconds)
    return of_step("momentum", "carry", crate(payloads={"crate": record}), TAKE, step)


def test_a_time_that_asks_for_more_than_the_path_allows_counts():
    quick, slow = (carried(0.01, seconds) for seconds in (0.01, 100.0))
    assert quick[0].numbers["speed"] == pytest.approx(0.1 / 0.01)
    assert slow[0].numbers["speed"] == 0.01


def test_too_fast_fails_and_the_fix_is_the_speed_that_just_stops():
    (slow,), (fast,) = carried(0.1), carried(1.0)
    assert slow.verdict is Verdict.PASS
    assert fast.verdict is Verdict.FAIL
    assert fast.high == pytest.approx(200.17 - 100.0 / 0.2, abs=0.1)
    most = float(fast.fix.split(" at ")[1].split(" m/s")[0])
    assert most == pytest.approx(np.sqrt(2.0 * 200.17 * 0.1 / 100.0), abs=2e-3)
    assert carried(most)[0].verdict is Verdict.PASS


def test_without_mass_or_time_nothing_is_asked_and_without_hands_nothing_at_all():
    (found,) = carried(0.1, mass=None)
    assert found.verdict is Verdict.NOT_ASKED
    untimed = {**SEAT, "start": None, "duration": None, "after": ["give"]}
    (found,) = of_step("momentum", "seat", crate(), READY, TAKE, GIVE, untimed)
    assert found.verdict is Verdict.NOT_ASKED
    assert of_step("momentum", "seat", crate(), SEAT) == []


# ---- pinch ------------------------------------------------------------------------------


def seated_over(height):
    """The finding on L's gloves where a ledge lies under the far grips at a height."""
    ledge = {"ledge": {"box": [0.05, 0.8, 0.05], "at": [1.0, 0.0, height - 0.025]}}
    return of_step("pinch", "seat", crate(solids=ledge), *JOB)


def test_a_glove_comes_as_near_as_the_crate_is_lowered():
    (found,) = seated_over(1.15)
    # Grips end at 1.25 m; the glove's radius and the limit come off.
    radius, limit = 0.06, found.limits[0].value
    assert found.numbers["gap at the grip"] == pytest.approx(0.10 - radius, abs=0.02)
    # The wrist hangs lower than the grip.
    gap = found.numbers["gap"]
    assert 0.0 < gap < found.numbers["gap at the grip"]
    assert found.low == pytest.approx(gap - limit, abs=2e-3)
    (lower,) = seated_over(1.05)
    more = lower.numbers["gap at the grip"] - found.numbers["gap at the grip"]
    assert more == pytest.approx(0.10, abs=2e-3)
    assert lower.low > found.low + 0.09
    assert lower.verdict is Verdict.PASS


def test_a_glove_that_is_lowered_onto_something_fails():
    (found,) = seated_over(1.25)
    assert found.verdict is Verdict.FAIL
    assert found.fix
    assert found.about[0] == "crate"


def test_hands_that_hold_nothing_are_not_asked_about():
    assert of_step("pinch", "seat", crate(), SEAT) == []


def test_a_hand_at_work_beside_what_moves_is_asked_about():
    bolt = {"bolt": {"at": [0.9, 1.0, 1.4], "axis": [1, 0, 0], "torque": 10.0}}
    turn = {"do": "drive", "fastener": "bolt", "tool": "glove"}
    data = crate(
        fasteners=bolt,
        stations={"SL": {"at": [1.5, 1.0, 0.0]}},
        payloads={"crate": {"mass": 100.0, "paths": {"down": {"through": ["here", "seat"]}}}},
    )
    work = at("work", "L", turn, start=0.0, duration=100.0)
    carry = at("carry", "R", {"do": "move", "payload": "crate"}, path="down", start=10.0,
               duration=20.0)  # fmt: skip
    found = by_answer(of_step("pinch", "carry", data, work, {**TAKE, "start": 0.0}, carry))
    assert set(found) == {"R holds", "L works"}
    assert found["L works"].verdict is Verdict.PASS
    # The crate's side is at y = 0.4, the bolt at 1.0.
    assert 0.3 < found["L works"].numbers["gap"] < 0.7


# ---- hand-hazard ------------------------------------------------------------------------


def hot(y, **more):
    knot = {"kind": "pinch", "box": [0.02, 0.02, 0.02], "at": [0.5, y, 1.35], "stand_off": 0.10}
    return of_step("hand-hazard", "take", crate(hazards={"knot": {**knot, **more}}), TAKE)[0]


def test_hands_keep_off_a_pinch_point_by_its_stand_off():
    assert hot(1.0).verdict is Verdict.PASS
    found = hot(0.2)
    assert found.verdict is Verdict.FAIL
    assert "knot" in found.fix
    # Wherever along the rail, a glove of 0.06 m is 0.11 m from the knot's middle at most.
    assert found.high == pytest.approx(0.01 + 0.10 - 0.06 - 0.10, abs=1e-6)


def test_a_hazard_that_is_not_active_then_or_is_none_of_the_hands_is_not_asked():
    assert hot(0.2, active=[[1000.0, 2000.0]]).verdict is Verdict.NOT_ASKED
    assert hot(0.2, kind="hot").verdict is Verdict.NOT_ASKED


def test_a_stored_energy_beside_a_grip_counts_too():
    assert hot(0.2, kind="stored energy").verdict is Verdict.FAIL


def test_other_actions_are_not_asked():
    data = crate(hazards={"knot": {"kind": "pinch", "box": [0.1, 0.1, 0.1]}})
    assert of_step("hand-hazard", "ready", data, READY) == []


def test_who_stands_by_two_who_align_is_asked_about_too():
    place = {"at": [0.75, 0.9, 0.0], "up": [0, 0, 1], "toes": [0, -1, 0], "restraint": "plate"}
    third = {"size": "medium", "hand": "right", "suit": "halden"}
    data = crate(stations={"SM": place}, workers={"M": third})
    near = at("by", "M", {"do": "ingress"}, start=0.0, duration=10.0)
    both = at("both", "L", hold("G3", "G4"), start=100.0, duration=10.0)
    lower = at("lower", "L", {"do": "align", "guide": "GU"}, start=150.0, duration=60.0)
    found = of_step("helmets", "lower", data, near, TAKE, both, lower)
    assert any("M (medium" in one.because for one in found)
    assert {one.answer for one in found} >= {"helmets, L", "helmets, M", "bodies, L", "bodies, M"}
