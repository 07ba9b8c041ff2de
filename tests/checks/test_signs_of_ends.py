"""Which end of a margin what counts: postures shown, hands, ways, fixes, from stated values."""

from __future__ import annotations

import math
from types import SimpleNamespace

import chores
import numpy as np
import pytest
from bench import bench, drive, resolved, step, the
from clocking import WORK, findings
from clocking import step as clocked
from errands import PACKED
from errands import asked as ledger_asked
from errands import step as chore
from errands import yard as errand_yard
from handing import at, crate, hold
from handing import resolved as handed
from moves import ALONG, the_move, wall

from reach.checks import (
    clearance,
    custody,
    error,
    fixes,
    glove,
    grips,
    helmets,
    meeting,
    parking,
    reach,
    sockets,
    tether,
)
from reach.checks.clearance import Closest, closest_of
from reach.checks.near_bodies import Apart
from reach.finding import Mark, Verdict
from reach.straying import Worst
from reach.worker.cover import Cover

FAIL, OPEN, PASS = Verdict.FAIL, Verdict.OPEN, Verdict.PASS
HERE = np.zeros(3)


# ---- errors --------------------------------------------------------------------------


@pytest.mark.parametrize(("limit", "verdict"), [(0.0, PASS), (0.03, OPEN), (0.2, FAIL)])
def test_what_errors_are_to_leave_comes_off_the_reach_that_is_left(monkeypatch, limit, verdict):
    """0.05 m are proved, and errors move it by 0.03 m; it surely moves by 0.01 m of 0.15 m."""
    site, (situation,) = resolved(
        bench(limits={"worst_error": limit}), step("s", "R", drive("easy"))
    )
    attempt = reach.best_attempt(site, situation)
    monkeypatch.setattr(error, "worst_of", lambda *asked: Worst(0.03, 0.0, 0.01))
    monkeypatch.setattr(error, "_proved", lambda *asked: Cover(0.05, 1, HERE))
    monkeypatch.setattr(error, "_most_left", lambda tried: 0.15)
    found = error._worst(site, situation, None, [attempt])
    assert (found.low, found.high) == pytest.approx((0.02 - limit, 0.14 - limit))
    assert found.verdict is verdict
    assert bool(found.fix) is (found.low < 0.0)
    if found.fix:
        assert f"leaves {limit - 0.02:.3f} m more" in found.fix


def test_how_far_one_hand_may_go_counts_only_where_the_other_never_gets():
    margin = SimpleNamespace(radius=0.1, within=0.02, ceiling=0.3)
    one = SimpleNamespace(short=-1.0, witness=1, margin=margin)
    for others, most in (((0.5,), 0.3), ((0.2,), math.inf), ((0.5, 0.2), math.inf), ((), 0.3)):
        tried = [one, *(SimpleNamespace(short=short) for short in others)]
        assert error._most_left(tried) == most
    margin.ceiling = 0.05
    assert error._most_left([one]) == pytest.approx(0.12)


def test_a_thing_that_one_hand_alone_can_reach_has_a_reach_to_lose(monkeypatch):
    site, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    asked = []
    for short, n in (((-0.1, 0.3), 2), ((0.1, 0.3), 0)):
        tried = [SimpleNamespace(short=one, witness=1) for one in short]
        monkeypatch.setattr(error, "ranked_attempts", lambda *_, tried=tried: tried)
        for name in ("_worst", "_likely"):
            monkeypatch.setattr(error, name, lambda *_, name=name: asked.append(name))
        asked.clear()
        error._findings(site, situation)
        assert len(asked) == n


# ---- along rails ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "to", "route", "verdict"),
    [
        ("lock", "RB@1.9", ["RA", "RB"], FAIL),
        ("lock", "RB@0.3", ["RA", "RB"], PASS),
        ("RB@0.1", "RC@1.0", ["RB", "RC"], FAIL),
        ("RB@1.7", "RC@1.0", ["RB", "RC"], PASS),
    ],
)
def test_a_thing_on_a_rail_is_in_the_way_only_of_who_passes_it(start, to, route, verdict):
    """The bag lies from 0.5 m to 1.5 m on RB; 0.92 m are spanned."""
    data = errand_yard(items={"B1": {"size": [1.0, 0.3, 0.2]}})
    begin = {"items": {**PACKED, "B1": "RB@1.0"}, "workers": {"W": start}}
    go = chore("go", {"do": "translate", "from": start, "to": to}, route=route)
    found = ledger_asked(parking, data, go, begin=begin)
    worst = min(one.low for one in found if one.answer == "gap" or one.unit == "m")
    assert (worst < 0.0) is (verdict is FAIL)


@pytest.mark.parametrize("rating", ["2 kN", "300 N"])
def test_an_anchor_is_marked_bad_just_where_it_bears_too_little(rating):
    found = the_move("anchor", wall(anchors={"A0": {"rating": rating}}))
    assert (found.low < 0.0) is (rating == "300 N")
    assert [mark.bad for mark in found.marks] == [found.low < 0.0]


def test_the_part_that_comes_too_near_on_the_way_is_named():
    beam = {"box": [8.0, 0.1, 0.1], "at": [3.5, 0.3, 0.02]}
    found = the_move("passing", wall(solids={"beam": beam}), ALONG)
    assert found.low < 0.0
    assert "comes too near to beam" in found.because
    assert "no part" not in found.because
    assert found.numbers


def test_the_line_that_is_too_short_is_pulled_tight_with_more_care(monkeypatch):
    real, asked = tether.tight_of, []

    def tight(*all_of_it, is_close):
        asked.append(is_close)
        return real(*all_of_it, is_close=is_close)

    monkeypatch.setattr(tether, "tight_of", tight)
    for length in (12.0, 4.0):
        the_move("tether", wall(tethers={"T1": {"length": length}}), ALONG)
    assert asked == [False, True]


def test_a_way_leaves_what_is_allowed_less_its_widest_gap():
    for end in (2.5, 2.7):
        found = the_move("route", wall(handrails={"RB": {"from": [end, 0.1, 0.0]}}))
        widest = max(0.5, end - 2.0)
        assert found.numbers["widest gap"] == pytest.approx(widest)
        assert found.low == pytest.approx(found.limits[0].value - widest, abs=1e-8)


# ---- postures shown ------------------------------------------------------------------


@pytest.mark.parametrize("check", [glove, clearance])
@pytest.mark.parametrize(("margin", "verdict"), [(0.02, PASS), (-0.02, OPEN)])
def test_a_posture_that_comes_too_near_proves_nothing_of_others(
    monkeypatch, check, margin, verdict
):
    closest = Closest(margin, 0.1 + margin, "glove", "panel", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    monkeypatch.setattr(check, "closest_of", lambda *asked: closest)
    found = the(check.NAME, bench(), step("s", "R", drive("easy")))
    assert (found.low, found.verdict) == (pytest.approx(margin, abs=1e-8), verdict)
    assert [mark.bad for mark in found.marks] == [margin < 0.0]
    if verdict is OPEN:
        assert found.high == math.inf


def test_what_the_clearest_posture_lacks_most_is_told(monkeypatch):
    site, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    nothing = SimpleNamespace(proved=False, n_cells=1, counts=(0, 0, 0))
    monkeypatch.setattr(clearance, "refuted_by_all", lambda *asked: nothing)
    for rooms, words in (((-0.2, 0.1), "0.200 m"), ((0.1, -0.3), "0.300 m"), ((0.1, 0.2), "")):
        miss = SimpleNamespace(body_room=rooms[0], arm_room=rooms[1])
        found = clearance._blocked(site, situation, SimpleNamespace(nearest_miss=miss))
        assert ("the nearest one lacks" in found.because) is bool(words)
        assert words in found.because


def test_of_a_hazard_the_place_shown_is_beside_the_part_that_is_nearest():
    data = bench()
    data["solids"] = {}
    data["hazards"]["heater"] |= {"at": [0.0, 0.0, 2.0], "stand_off": 0.0}
    _, (situation,) = resolved(data, step("s", "R", drive("easy")))
    balls = np.array([[x, 0.0, 2.0, x, 0.0, 2.0, 0.1] for x in (0.9, 0.4, 0.7)])
    names = ("far", "near", "middle")
    found = closest_of(situation.surroundings, np.eye(4), balls, np.zeros(3), names)
    assert (found.part, found.distance) == ("near", pytest.approx(0.25))
    assert found.on_part == pytest.approx((0.4, 0.0, 2.0))
    assert found.on_solid == pytest.approx((0.05, 0.0, 2.0), abs=1e-9)


def test_grips_are_held_as_far_off_as_is_shown_and_no_farther_than_is_excluded(monkeypatch):
    site, (situation,) = handed(crate(), at("take", "R", hold("G1", "G2")))
    holding = SimpleNamespace(when="", situation=situation)
    stated = SimpleNamespace(radius=0.1, ceiling=0.2, is_capped=False)
    told = SimpleNamespace(margin=stated, room=SimpleNamespace(body=1.0, arms=1.0, own=1.0))
    monkeypatch.setattr(grips, "grips_words", lambda *asked: "G1 and G2")
    for limit in (0.05, 0.15, 0.25):
        low, high, _, fix = grips._held(site, holding, told, "R", limit)
        assert (low, high) == pytest.approx((0.1 - limit, 0.2 - limit), abs=1e-8)
        assert bool(fix) is (limit > 0.1)


# ---- what hangs on what --------------------------------------------------------------


def test_a_thing_that_may_be_in_a_circle_of_bags_is_asked_about_though_other_bags_are_in_none(
    monkeypatch,
):
    """B1 and B2 may each be in the other, B3 is in neither."""
    inside = {"lamp": {"B1", "B3"}, "B1": {"B2"}, "B2": {"B1"}, "B3": {"lock"}}
    monkeypatch.setattr(custody, "holders_of", lambda outing, item: inside[item])
    outing = SimpleNamespace(
        ever=lambda name: frozenset(), scene=SimpleNamespace(items=dict.fromkeys(inside))
    )
    assert custody._hangs(outing, "lamp", frozenset())[1]
    assert not custody._hangs(outing, "B3", frozenset())[1]
    inside["B2"] = {"lock"}
    assert not custody._hangs(outing, "lamp", frozenset())[1]


# ---- fixes ---------------------------------------------------------------------------


def test_a_fix_says_by_which_hand_where_one_of_the_things_is_for_either(monkeypatch):
    site, mates = resolved(bench(), step("s", "R", drive("easy"), drive("low")))
    setting = SimpleNamespace(words="pitch 0", socket="SK1", hand="left")
    service = SimpleNamespace(short={"SK1": 0.1}, setting=setting)
    monkeypatch.setattr(fixes, "socket_shortage", lambda *asked: 0.1)
    monkeypatch.setattr(fixes, "service_of_step", lambda *asked: service)
    monkeypatch.setattr(fixes, "_from_the_start", lambda *asked: "")
    either = {"easy": ("right",), "low": ("right", "left")}
    for free in (True, False):
        hands = either if free else dict.fromkeys(either, ("right",))
        monkeypatch.setattr(fixes, "hands_of", lambda one, hands=hands: hands[one.head.name])
        (said,) = fixes._setting(site, mates[0])
        assert (", left hand" in said) is free


def test_a_socket_serves_what_has_a_posture_from_there_as_it_is_set(monkeypatch):
    site, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    monkeypatch.setattr(fixes, "setting_at", lambda *asked: None)
    for short, witness, serves in ((-0.1, 1, True), (0.1, 1, False), (-0.1, None, False)):
        tried = SimpleNamespace(short=short, witness=witness)
        monkeypatch.setattr(fixes, "attempt_of", lambda *_, tried=tried: tried)
        assert fixes._served_from(site, situation, "SK1") is serves
        assert not fixes._served_from(site, situation, "SK2")


# ---- phases --------------------------------------------------------------------------


def covered(n, **phase):
    steps = [clocked(f"s{i}", "A", f"00:{10 + i}", 1, WORK) for i in range(n)]
    steps += [clocked("at once", "A", "01:00", 0, WORK), clocked("last", "A", "01:00", 5, WORK)]
    phases = {"end": {"from": "last", "to": "last", "takes": "5 min", **phase}}
    return findings("clean-up", *steps, phases=phases)[0]


def test_a_moment_at_which_a_phase_begins_is_in_it():
    assert covered(0).verdict is PASS
    assert covered(1).numbers["steps"] == ["s0"]


@pytest.mark.parametrize(("n", "more"), [(1, ""), (6, ""), (8, "and 2 more")])
def test_of_the_steps_in_no_phase_six_are_named(n, more):
    because = covered(n).because
    assert ("more." in because) is bool(more)
    assert more in because
    assert because.count("'s") == min(n, 6)


# ---- places --------------------------------------------------------------------------


def test_a_place_is_asked_about_only_for_two_who_both_come_to_stand_there():
    def pairs(*steps):
        found = chores.findings(sockets, *steps, begin=chores.begun(items={"FR": "S2"}))
        return [one.about for one in found if {"W1", "W2"} <= set(one.about)]

    w1, w2 = chores.out("W1"), chores.out("W2")
    assert pairs(w1, chores.stand("W1"), w2) == []
    assert len(pairs(w1, w2, chores.stand("W1"), chores.stand("W2"))) == 1
    up = chores.stand("W1", "up"), chores.stand("W2", "up")
    assert pairs(w1, w2, up[0], chores.stand("W2")) == []
    assert len(pairs(w1, w2, *up)) == 1


@pytest.mark.parametrize(("limit", "is_bad"), [(0.0, False), (5.0, True)])
def test_a_head_too_near_the_boots_is_marked_so(limit, is_bad):
    data = bench(limits={"inner_margin": {"value": limit, "source": "these tests"}})
    found = the("inner", data, step("s", "R", drive("easy")))
    assert (found.high < 0.0) is is_bad
    assert [mark.bad for mark in found.marks] == [is_bad]


def test_who_has_ridden_off_on_a_crane_meanwhile_is_not_beside_anybody():
    def rides(worker, start):
        rider = None if worker is None else SimpleNamespace(worker=worker)
        return SimpleNamespace(rider=rider, start=start)

    def away(*carriages):
        site = SimpleNamespace(carriages=carriages, memo={})
        stood = SimpleNamespace(worker="L", start=100.0)
        return helmets._has_ridden(site, stood, 200.0)

    assert away(rides("R", 150.0), rides("L", 150.0))
    assert away(rides("L", 200.0))
    for start in (50.0, 100.0, 250.0, None):
        assert not away(rides("L", start))
    assert not away(rides("R", 150.0), rides(None, 150.0))


@pytest.mark.parametrize("low", [0.1, -0.1])
def test_two_who_meet_are_told_apart_or_with_nothing_to_keep_them_so(low):
    mark = Mark("segment", ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), "body to body")
    apart = Apart("bodies", low, low, low, (), mark)
    here = SimpleNamespace(case="", place=SimpleNamespace(name="S"))
    pair = [SimpleNamespace(worker=one, step="s", situation=here) for one in "RL"]
    known = SimpleNamespace(events_of=lambda *asked: ())
    found = meeting._finding(known, pair, ("this", "that"), apart)
    assert (found.low, found.verdict) == (low, PASS if low >= 0.0 else FAIL)
    assert ("keep apart in every order" in found.because) is (low >= 0.0)
    assert (found.numbers["orders"] == "all") is (low >= 0.0)
