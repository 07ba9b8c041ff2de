"""What checks of moving things say of gaps that are put before them, and of what is not known."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, findings_of, resolved, step, the
from handing import JOB, crate
from handing import resolved as handed
from moves import move, the_move, wall
from yard import carry, moved, standing, yard

from reach.checks import bystander, pinch, sweep, two_handed
from reach.finding import Verdict
from reach.kept.noting import altered
from reach.payload.bystanders import nearest_of
from reach.payload.gaps import gaps_of

FAIL, OPEN, PASS, NOT_ASKED = Verdict.FAIL, Verdict.OPEN, Verdict.PASS, Verdict.NOT_ASKED
SOCKET = {"S": {"at": [0, 2.5, -1.0], "axis": [0, 0, 1], "zero": [1, 0, 0]}}
HERE = np.zeros(3)

# ---- bystander -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def beside():
    """Where a worker stands beside the way of a crate, and how near it comes."""
    site, carriage = moved(yard(sockets=SOCKET), standing("R", "S"), carry())
    (near,) = nearest_of(site, carriage)
    return site, carriage, near


def told(beside, carriage=None, **more):
    site, made, near = beside
    stated = {"on_part": HERE, "on_worker": HERE, "at": 0.5, **more}
    return bystander._finding(site, carriage or made, replace(near, **stated))


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [(0.2, 0.3, PASS), (-0.2, 0.3, OPEN), (-0.3, -0.2, FAIL)],
)
def test_the_distance_asked_comes_off_the_gap(beside, low, high, verdict):
    limit = beside[0].limit("worker_distance").value
    found = told(beside, low=limit + low, high=limit + high)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-8)
    assert found.verdict is verdict
    assert bool(found.fix) is (verdict is FAIL)
    words = "comes within" if low < 0.0 else "keeps"
    assert words in found.because
    assert [mark.bad for mark in found.marks] == [low < 0.0]


def test_contact_is_never_good(beside):
    found = told(beside, low=0.0, high=0.0)
    assert found.verdict is FAIL
    assert "contact" in found.because
    limitless = altered(beside[1], lane="R")  # who moves it may be near, not touched
    found = told(beside, limitless, low=0.0, high=0.0)
    assert found.verdict is FAIL
    assert "may be near, not touched" in found.because
    assert found.fix.startswith("Keep R out of the way")
    found = told(beside, limitless, low=0.05, high=0.06)
    assert (found.verdict, found.low) == (PASS, pytest.approx(0.05, abs=1e-8))
    assert "moves it" in found.because


def test_where_the_other_is_unknown_nothing_passes(beside):
    found = told(beside, low=2.0, high=math.inf, unknown="it is not known where R is")
    assert (found.verdict, found.low) == (OPEN, -math.inf)
    assert found.because == "It is not known where R is."
    found = told(beside, low=0.0, high=0.2, unknown="it is not known where R is")
    assert found.verdict is FAIL  # it comes so near wherever else R may be
    assert "meanwhile" in found.because


def test_a_moment_at_which_the_other_may_not_be_there_proves_nothing(beside):
    near = beside[2]
    later = replace(near.stay, is_later=True)
    found = told(beside, low=0.1, high=0.2, stay=later)
    assert (found.verdict, found.high) == (OPEN, math.inf)
    assert "not written" in found.because
    untimed = replace(near.stay, is_timed=False, begins=0.2)
    assert told(beside, low=0.1, high=0.2, stay=untimed).verdict is OPEN
    at_once = replace(near.stay, is_timed=False, begins=0.0)
    assert told(beside, low=0.1, high=0.2, stay=at_once).verdict is FAIL


@pytest.mark.parametrize(("at", "verdict"), [(0.0, FAIL), (0.5, OPEN), (1.0, FAIL)])
def test_of_a_chosen_way_only_its_two_ends_prove_anything(beside, at, verdict):
    chosen = altered(beside[1], is_found=True)
    assert len(chosen.legs) == 1
    found = told(beside, chosen, low=0.1, high=0.2, at=at)
    assert found.verdict is verdict


def test_nobody_near_at_all_is_told_without_a_place(beside):
    found = told(beside, low=5.0, high=math.inf, at=math.nan, on_part=np.full(3, np.nan))
    assert found.verdict is PASS
    assert "at least 5.000 m" in found.because
    assert found.marks == ()


# ---- sweep ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def past_the_wall():
    site, carriage = moved(yard())
    return site, carriage, gaps_of(site, carriage)[0]


def swept(past_the_wall, monkeypatch, carriage=None, **more):
    site, made, gap = past_the_wall
    monkeypatch.setattr(sweep, "gaps_of", lambda *asked: (replace(gap, **more),))
    (part,) = sweep.parts_of(site, made)
    return sweep._finding(site, carriage or made, part)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [(0.05, 0.06, PASS), (-0.05, 0.2, OPEN), (-0.06, -0.05, FAIL)],
)
def test_a_gap_has_left_what_is_beyond_its_stand_off(
    past_the_wall, monkeypatch, low, high, verdict
):
    found = swept(past_the_wall, monkeypatch, low=0.3 + low, high=0.3 + high, stand_off=0.3, at=0.5)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-8)
    assert found.verdict is verdict
    assert bool(found.fix) is (low < 0.0)
    assert [mark.bad for mark in found.marks] == [low < 0.0]


def test_contact_that_is_not_meant_fails_though_nothing_is_asked(past_the_wall, monkeypatch):
    found = swept(past_the_wall, monkeypatch, low=0.0, high=0.0, stand_off=0.0, at=0.5)
    assert found.verdict is FAIL
    assert "comes into contact" in found.because
    found = swept(past_the_wall, monkeypatch, low=0.0, high=0.0, stand_off=0.0, at=0.0)
    assert "is in contact" in found.because
    assert found.fix.startswith("Move left")
    found = swept(past_the_wall, monkeypatch, is_contact_meant=True)
    assert found.verdict is NOT_ASKED


def test_what_may_not_be_there_then_proves_no_fail(past_the_wall, monkeypatch):
    found = swept(
        past_the_wall, monkeypatch, low=0.1, high=0.2, stand_off=0.3, at=0.5, is_sure=False
    )
    assert (found.verdict, found.high) == (OPEN, math.inf)
    assert "may not be all the while" in found.because
    far = swept(past_the_wall, monkeypatch, low=0.5, high=math.inf, stand_off=0.3, at=math.nan)
    assert far.verdict is PASS
    assert "from everything" in far.because


def test_a_start_that_is_too_near_fails_whatever_way_is_taken(past_the_wall, monkeypatch):
    site, carriage, _ = past_the_wall
    blank = altered(carriage, is_blank=True)
    # The crate's side is 0.5 m off the wall at both ends.
    near = {"low": 0.1, "high": 0.2, "at": 0.5}
    found = swept(past_the_wall, monkeypatch, blank, stand_off=0.45, **near)
    assert (found.verdict, found.low, found.high) == (OPEN, -math.inf, math.inf)
    assert "Another way may be clear" in found.because
    found = swept(past_the_wall, monkeypatch, blank, stand_off=0.55, **near)
    assert found.verdict is FAIL
    assert "No way can be clear: at left" in found.because
    things = sweep.things_of(site, carriage)
    round_wall = tuple(replace(one, excess=0.1) for one in things)
    # Facets outside the true surface: the gap may be so much larger.
    monkeypatch.setattr(sweep, "things_of", lambda *asked: round_wall)
    assert swept(past_the_wall, monkeypatch, blank, stand_off=0.55, **near).verdict is OPEN


def test_a_gap_left_on_legs_between_says_nothing_of_the_ends(past_the_wall, monkeypatch):
    blank = altered(past_the_wall[1], is_blank=True)
    found = swept(
        past_the_wall, monkeypatch, blank, low=0.1, high=0.2, stand_off=0.9, at=0.5, legs=(7,)
    )
    assert found.verdict is OPEN


# ---- pinch ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def seating():
    site, _ = handed(crate(), *JOB)
    (carriage,) = [one for one in site.carriages if one.step == "seat"]
    return site, carriage, next(iter(carriage.holds))


def test_a_glove_that_may_be_anywhere_on_its_grip_proves_no_fail(seating, monkeypatch):
    site, carriage, worker = seating
    nowhere = altered(carriage, bystanders=(), rider=None)
    found = pinch._held(site, nowhere, worker)
    assert (found.verdict, found.high) == (PASS if found.low >= 0.0 else OPEN, math.inf)
    monkeypatch.setattr(pinch, "_seen_first", lambda *asked: None)
    found = pinch._held(site, nowhere, worker)
    assert (found.verdict, found.low, found.high) == (OPEN, -math.inf, math.inf)
    assert "in which suit" in found.because


def test_a_grip_without_a_direction_leaves_the_glove_open(seating, monkeypatch):
    site, carriage, worker = seating
    monkeypatch.setattr(pinch, "without_direction", lambda *asked: "G3")
    found = pinch._held(site, carriage, worker)
    assert (found.verdict, found.low) == (OPEN, -math.inf)
    assert "G3" in found.because


def at_work(site, carriage, monkeypatch, low, high, **stay):
    class Least:
        def __init__(self, *asked):
            self.low, self.high, self.at, self.row = low, high, 0.5, -1
            self.on_riding = self.on_still = HERE

        def meet(self, *asked):
            pass

    monkeypatch.setattr(pinch, "_Least", Least)
    monkeypatch.setattr(pinch, "capsules_of", lambda *asked: np.tile([0.0] * 6 + [0.06], (40, 1)))
    attempt = SimpleNamespace(
        witness=SimpleNamespace(posture=HERE), figure=None, target=None,
        bulk=SimpleNamespace(n_body=3), world_from_boots=np.eye(4),
    )  # fmt: skip
    monkeypatch.setattr(pinch, "best_attempt", lambda *asked: attempt)
    monkeypatch.setattr(pinch, "blank", lambda *asked: None)
    monkeypatch.setattr(pinch, "other_glove", lambda *asked: None)
    there = replace(carriage.bystanders[0], **stay)
    head = SimpleNamespace(name="bolt")
    situation = altered(there.situation, head=head)
    return pinch._at_work(site, carriage, replace(there, situation=situation), situation)


def test_a_hand_at_work_fails_only_where_it_is_there_all_the_while(seating, monkeypatch):
    site, carriage, _ = seating
    whole = {"is_timed": True, "begins": 0.0, "ends": 1.0}
    limit = site.limit("hand_clearance").value
    (found,) = at_work(site, carriage, monkeypatch, 0.06, 0.065, **whole)
    assert found.high == pytest.approx(0.065 - 0.06 - limit, abs=1e-8)
    assert found.low == pytest.approx(-limit - carriage.surroundings.error, abs=1e-8)
    assert found.numbers["gap"] == pytest.approx(0.065 - 0.06)
    assert (found.verdict, bool(found.fix)) == (FAIL, True) if limit > 0.005 else True
    for part in ({"ends": 0.9}, {"begins": 0.1}, {"is_timed": False}):
        (found,) = at_work(site, carriage, monkeypatch, 0.06, 0.065, **{**whole, **part})
        assert (found.verdict, found.high) == (OPEN, math.inf)
        assert not found.fix


def test_a_hand_without_a_posture_is_not_asked_about(seating, monkeypatch):
    site, carriage, _ = seating
    stay = carriage.bystanders[0]
    monkeypatch.setattr(pinch, "blank", lambda *asked: "The step names no place to work from.")
    assert pinch._at_work(site, carriage, stay, stay.situation) == []
    monkeypatch.setattr(pinch, "blank", lambda *asked: None)
    monkeypatch.setattr(pinch, "best_attempt", lambda *asked: SimpleNamespace(witness=None))
    turning = altered(stay.situation, head=SimpleNamespace(name="bolt"))
    assert pinch._at_work(site, carriage, replace(stay, situation=turning), turning) == []


# ---- two hands -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def turning():
    return resolved(bench(), step("s", "R", drive("easy")))


@pytest.mark.parametrize(
    ("shorts", "high"), [((0.3, 0.1), -0.1), ((0.1, 0.3), -0.1), ((0.3, -0.1), math.inf)]
)
def test_neither_hand_there_fails_by_the_hand_that_is_less_short(
    turning, monkeypatch, shorts, high
):
    site, (situation,) = turning
    tried = [SimpleNamespace(in_envelope=False, short=one) for one in shorts]
    monkeypatch.setattr(two_handed, "attempts", lambda *asked: tried)
    found = two_handed._finding(site, situation)
    assert found.high == pytest.approx(high)
    assert found.verdict is (FAIL if high < 0.0 else OPEN)


@pytest.mark.parametrize("reached", [(), ("left",), ("left", "right")])
def test_both_hands_on_the_tool_from_one_posture_pass_and_none_found_is_open(
    turning, monkeypatch, reached
):
    site, (situation,) = turning
    tried = [SimpleNamespace(in_envelope=True, short=-1.0, hand=one) for one in ("right", "left")]
    monkeypatch.setattr(two_handed, "attempts", lambda *asked: tried)
    monkeypatch.setattr(two_handed, "_both", lambda situation, one: one.hand in reached)
    found = two_handed._finding(site, situation)
    assert found.verdict is (PASS if reached else OPEN)
    if reached:
        assert found.numbers["leading hand"] == ("right" if "right" in reached else "left")


# ---- what is not known is not asked --------------------------------------------------

LAMP = {"kind": "sharp edge", "box": [0.1, 0.1, 0.1], "at": [3.5, 1.2, 0.0]}


@pytest.mark.parametrize("check", ["sag", "swing", "hook", "crossing", "line-home", "tether"])
def test_without_a_line_of_the_worker_nothing_of_it_is_asked(check):
    bare = wall(tethers={"T1": None, "T2": None}, hazards={"lamp": LAMP})
    found = the_move(check, bare)
    assert found.verdict is NOT_ASKED
    assert "No safety line of R is known" in found.because


@pytest.mark.parametrize("check", ["gap", "rails", "pace"])
def test_where_no_way_leads_there_is_nothing_to_look_at(check):
    cut = wall(handrails={"RB": None, "RC": None})
    found = the_move(check, cut, move(to="A4", route=None))
    assert found.verdict is NOT_ASKED
    assert found.because == "There is no way to look at."


def test_an_edge_that_is_not_there_while_the_step_lasts_is_not_asked():
    then = wall(hazards={"burr": {**LAMP, "active": [["2:00", "3:00"]]}})
    found = the_move("edge", then, {**move(), "start": "00:15"})
    assert found.verdict is NOT_ASKED
    assert "while the step lasts" in found.because


@pytest.mark.parametrize("check", ["line-home", "rescue"])
def test_without_a_hatch_there_is_no_way_home(check):
    data = wall(hatches={"hatch": None})
    found = the_move(check, data, move(start="RA@0.5"))
    assert found.verdict is NOT_ASKED
    assert "no hatch" in found.because


@pytest.mark.parametrize("check", ["torque", "load"])
def test_from_no_place_nothing_of_force_is_asked(check):
    nowhere = {"name": "s", "lane": "R", "actions": (drive("easy"),)}
    (found,) = findings_of(bench(), nowhere, only=(check,))
    assert found.verdict is NOT_ASKED
    assert "no place to work from" in found.because


def test_a_setting_left_blank_places_nobody_and_leaves_reach_open():
    blank = {**step("s", "R", drive("easy")), "setting": None}
    assert the("reach", bench(), blank).verdict is OPEN
