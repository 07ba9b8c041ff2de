"""Gloves beside what moves, others who stand by, a crowd, a full bag: answers from stated gaps."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, resolved, step
from errands import PACKED, asked, put, take
from errands import step as chore
from errands import yard as errand_yard
from handing import JOB, crate
from handing import resolved as handed
from test_stated_gaps import at_work

from reach.checks import bystander, pinch, share, slots
from reach.checks.wording import finding_on
from reach.finding import Verdict
from reach.geometry import build
from reach.kept.noting import altered
from reach.proportion import interval

FAIL, OPEN, PASS, REVIEW = Verdict.FAIL, Verdict.OPEN, Verdict.PASS, Verdict.REVIEW
HERE = np.zeros(3)
ERROR, EXCESS = 0.01, 0.02
"""How far true surfaces may stand outside facets, and facets outside them, m."""


@pytest.fixture(scope="module")
def seating():
    """L aligns a crate that R holds too; all about them is round."""
    site, _ = handed(crate(), *JOB)
    (carriage,) = [one for one in site.carriages if one.step == "seat"]
    around = carriage.surroundings
    around = replace(around, errors=np.full_like(around.errors, ERROR), excess=EXCESS)
    return site, altered(carriage, surroundings=around)


# ---- gloves --------------------------------------------------------------------------


def told(monkeypatch, *gaps):
    """Put gaps (low, high) before the check, one a call."""
    left = iter(gaps)

    def along(*asked):
        low, high = next(left)
        return SimpleNamespace(low=low, high=high, at=0.5, row=0, on_riding=HERE, on_still=HERE)

    monkeypatch.setattr(pinch, "_riding_along", along)


@pytest.mark.parametrize(
    ("glove", "fist", "verdict"),
    [((0.50, 0.51), (0.6, 0.61), PASS), ((0.05, 0.06), (0.2, 0.21), OPEN),
     ((0.03, 0.035), (0.03, 0.035), FAIL)],
)  # fmt: skip
def test_a_glove_found_passes_by_all_of_it_and_fails_by_its_fist(
    seating, monkeypatch, glove, fist, verdict
):
    site, carriage = seating
    worker = next(iter(carriage.holds))
    situation = pinch._holder(carriage, worker)
    grips = carriage.holds[worker].grips
    grasped = SimpleNamespace(found=True, grips=grips, points=np.zeros((len(grips), 3)))
    monkeypatch.setattr(pinch, "grasped_of", lambda *asked: grasped)
    monkeypatch.setattr(pinch, "_gloves", lambda *asked: np.zeros((1, 2, 3)))
    told(monkeypatch, glove, fist)
    found = pinch._held(site, carriage, worker)
    limit, radius = site.limit("hand_clearance").value, situation.suit.hand_radius
    assert (found.low, found.high) == pytest.approx(
        (glove[0] - radius - ERROR - limit, fist[1] - radius + EXCESS - limit), abs=1e-8
    )
    assert found.verdict is verdict
    assert [mark.bad for mark in found.marks] == [found.low < 0.0]


def test_a_glove_that_may_be_any_way_round_its_grip_needs_that_much_more(seating, monkeypatch):
    site, carriage = seating
    worker = next(iter(carriage.holds))
    nowhere = altered(carriage, bystanders=(), rider=None)
    first = pinch._seen_first(site, worker)
    told(monkeypatch, (0.5, 0.51))
    monkeypatch.setattr(pinch, "_holder", lambda *asked: None)
    found = pinch._held(site, nowhere, worker)
    limit = site.limit("hand_clearance").value
    taken = first.suit.hand_radius + first.body.links.grip + ERROR
    assert found.low == pytest.approx(0.5 - taken - limit, abs=1e-8)
    assert found.high == math.inf
    assert f"on {carriage.holds[worker].grips[0]} comes" in found.because


def test_a_hand_at_work_has_facets_counted_against_it_at_the_low_end(seating, monkeypatch):
    site, carriage = seating
    whole = {"is_timed": True, "begins": 0.0, "ends": 1.0}
    limit = site.limit("hand_clearance").value
    for low, high in ((0.40, 0.41), (0.07, 0.08)):
        (found,) = at_work(site, carriage, monkeypatch, low, high, **whole)
        ends = (low - 0.06 - ERROR - limit, high - 0.06 + EXCESS - limit)
        assert (found.low, found.high) == pytest.approx(ends, abs=1e-8)
        assert [mark.bad for mark in found.marks] == [found.low < 0.0]


def test_what_rides_along_is_led_from_pose_to_pose(monkeypatch):
    """Along x for 2 m, then along y for 2 m; a bead stands 0.3 m off the second leg's middle."""
    poses = [np.eye(4) for _ in range(3)]
    poses[1][:3, 3], poses[2][:3, 3] = [2.0, 0.0, 0.0], [2.0, 2.0, 0.0]
    legs = (SimpleNamespace(about=None), SimpleNamespace(about=None))
    bead = build([[[2.3, 1.0, 0.0]] * 3])
    rider = build([[[0.0, 0.0, 0.0]] * 3])
    least = pinch._Least(SimpleNamespace(poses=poses, legs=legs), bead, rider)
    assert least.low <= 0.3 <= least.high + 1e-9
    assert (least.low, least.at) == pytest.approx((0.3, 1.5), abs=0.02)
    assert least.on_riding - least.on_still == pytest.approx([-0.3, 0.0, 0.0], abs=0.05)


@pytest.mark.parametrize(
    ("before", "inside", "after"),
    [(0.3, 0.2, 0.3), (0.3, -0.1, -0.1), (-0.1, -0.05, -0.1), (-0.1, -0.2, -0.2)],
)
def test_what_begins_inside_a_solid_counts_only_where_it_is_deeper(
    monkeypatch, before, inside, after
):
    least = object.__new__(pinch._Least)
    least.low, least.high, least.at, least.row = before, before + 0.01, 0.5, 7
    least.on_riding = least.on_still = HERE
    monkeypatch.setattr(pinch, "capsule_clearance", lambda *asked: np.array([inside]))
    least.meet(None, np.ones((1, 2, 3)))
    assert least.low == after
    assert (least.at, least.row) == ((0.0, 0) if after == inside else (0.5, 7))


def test_hands_on_what_moves_are_asked_about_on_ways_of_any_number_of_legs(monkeypatch):
    monkeypatch.setattr(pinch, "hands_on", lambda carriage: ("R",))
    monkeypatch.setattr(pinch, "_held", lambda site, carriage, worker: worker)

    def asked_of(n, payload="crate"):
        return pinch.find(None, (SimpleNamespace(payload=payload, poses=[0] * n, bystanders=()),))

    assert [asked_of(n) for n in (1, 2, 3, 4)] == [[], ["R"], ["R"], ["R"]]
    assert asked_of(3, payload="") == []


# ---- others --------------------------------------------------------------------------


def test_of_all_places_of_another_the_worst_verdict_counts_and_the_least_low_end():
    site, _ = resolved(bench(), step("s", "R", drive("easy")))
    (situation,) = site.asked

    def finding(low, high):
        return finding_on("bystander", situation, "So it is.", low, high, "m")

    passes, open_, fails = finding(0.2, 0.3), finding(-1.0, 0.5), finding(-0.3, -0.2)
    worse = finding(-0.5, -0.4)
    for some, low, high in (
        ((passes, finding(0.4, 0.5)), 0.2, 0.3),
        ((passes, open_), -1.0, 0.5),
        ((passes, open_, fails), -1.0, -0.2),
        ((fails, worse), -0.5, -0.4),
    ):
        for order in (some, some[::-1]):
            found = bystander._worst(list(order))
            assert (found.low, found.high) == (low, high)


# ---- a crowd -------------------------------------------------------------------------


def flags(n, of=10):
    return np.arange(of) < n


def stated_crowd(monkeypatch, n_can, n_cannot, of=10):
    site, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    can, cannot = flags(n_can, of), np.arange(of) >= of - n_cannot
    turnout = SimpleNamespace(can=can, cannot=cannot, short=np.zeros(of), fault=np.zeros(of))
    monkeypatch.setattr(share, "turnouts_of", lambda *asked: (turnout,))
    monkeypatch.setattr(share, "_limiting", lambda *asked: (0, 0.1))
    monkeypatch.setattr(share, "_percentiles", lambda *asked: ("", {}))
    for name in ("_limits_of", "_lacking"):
        monkeypatch.setattr(share, name, lambda *asked: {})
    monkeypatch.setattr(share, "_fix", lambda *asked: "Bring it nearer.")
    asked_of = SimpleNamespace(title="a crowd")
    crowd = SimpleNamespace(bodies=[situation.body] * of, anchors=(), asked=asked_of, case="crowd")
    return site, share._finding(site, situation, crowd)


@pytest.mark.parametrize(
    ("n_can", "n_cannot", "verdict"), [(990, 5, PASS), (500, 0, OPEN), (500, 490, FAIL)]
)
def test_people_who_are_not_known_count_for_the_high_end_of_a_share(
    monkeypatch, n_can, n_cannot, verdict
):
    site, found = stated_crowd(monkeypatch, n_can, n_cannot, 1000)
    limit = site.limit("population_share").value
    ends = interval(n_can, 1000)[0], interval(1000 - n_cannot, 1000)[1]
    assert (found.low, found.high) == pytest.approx((ends[0] - limit, ends[1] - limit))
    assert found.verdict is verdict
    assert bool(found.fix) is (found.high < 0.0)


def test_the_limiting_person_is_who_is_proved_short_by_the_most_else_has_least_room():
    body = resolved(bench(), step("s", "R", drive("easy")))[1][0].body
    crowd = SimpleNamespace(bodies=[body] * 3)
    yes, no = np.ones(3, bool), np.zeros(3, bool)

    def turnout(can=no, short=(0.0, 0.0, 0.0), fault=(0.0, 0.0, 0.0), room=0.0):
        return SimpleNamespace(
            can=can, short=np.array(short), fault=np.array(fault),
            margin=lambda i: SimpleNamespace(radius=room),
        )  # fmt: skip

    cannot = np.array([True, True, False])
    one = turnout(short=(0.1, 0.3, 0.0))
    assert share._limiting((one,), crowd, no, cannot) == (1, -0.3)
    other = turnout(short=(0.5, 0.05, 0.0))  # the better hand of each counts
    assert share._limiting((one, other), crowd, no, cannot) == (0, -0.1)
    lacking = turnout(fault=(0.2, 0.4, share.UNTRIED))
    found = share._limiting((lacking,), crowd, no, np.array([True, True, False]))
    assert found[0] == 1 and math.isnan(found[1])
    hands = turnout(can=yes, room=0.03), turnout(can=yes, room=0.08)
    assert share._limiting(hands, crowd, yes, no)[1] == 0.08
    assert "short" in share._person(body, -0.3)
    assert "to spare" in share._person(body, 0.08)


# ---- a bag ---------------------------------------------------------------------------


@pytest.mark.parametrize(("n_more", "taken", "verdict"), [(0, 3.0, PASS), (1, 4.0, FAIL)])
def test_a_bag_is_told_of_as_it_is_when_it_is_fullest(n_more, taken, verdict):
    """Three slots hold two drives and a lamp; ties put in are one too many, then all comes out."""
    more = [chore("in", put("B1", "ties"))] * n_more
    begin = {"items": {**PACKED, "ties": "W", "B1": "W", "FR": "SK1"}}
    found = asked(slots, errand_yard(), *more, chore("out", take("D1", "lamp")), begin=begin)
    (mine,) = [one for one in found if "B1" in one.about]
    assert (mine.verdict, mine.numbers["taken"]) == (verdict, taken)
    assert set(mine.numbers["inside"]) == {"D1", "D2", "lamp", *["ties"] * n_more}
