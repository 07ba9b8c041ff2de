"""Which of several counts, and which way: what a turned `min`, sign or comparison would change."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, resolved, step, the
from clocking import OUT, WORK, findings
from clocking import step as clocked
from errands import PACKED, turn
from errands import asked as ledger_asked
from errands import step as chore
from errands import yard as errand_yard
from handing import JOB, at, crate, hold, of_step
from handing import resolved as handed
from moves import ALONG, situation_of, the_move, wall
from yard import moved, yard

from reach.checks import (
    dial,
    fixes,
    grips,
    hand_hazard,
    helmets,
    kept,
    kick,
    links,
    momentum,
    near_bodies,
    reach,
    socket,
    stop,
    unpowered,
)
from reach.checks.near_bodies import Apart, Body, how_near
from reach.crane.along import Extreme
from reach.finding import Limit, Mark, Verdict
from reach.kept.noting import altered
from reach.model.provenance import Provenance
from reach.payload.kept import Kept
from reach.payload.link_gaps import LinkGap
from reach.travel.near import Near
from reach.worker.figure import ANKLE, HIGH, HIP, LOW, SHOULDER

FAIL, OPEN, PASS, NOT_ASKED = Verdict.FAIL, Verdict.OPEN, Verdict.PASS, Verdict.NOT_ASKED
HERE = np.zeros(3)


# ---- two bodies ----------------------------------------------------------------------


def leaning(monkeypatch, above, ranges):
    """A body of 0.9 m from ankle to hip and 0.5 m on to the shoulders, joints of some ranges."""
    p = np.zeros(64)
    p[ANKLE], p[HIP], p[SHOULDER] = 0.1, 1.0, 1.5
    p[HIGH : HIGH + 5] = ranges
    assert p[LOW : LOW + 5] == pytest.approx(0.0)
    monkeypatch.setattr(near_bodies, "figure_of", lambda *asked: SimpleNamespace(p=p))
    shell = SimpleNamespace(above=above, start=(0.0, 0.0, 0.1), end=(0.0, 0.0, 0.3))
    suit = SimpleNamespace(torso={"helmet": shell, "pack": SimpleNamespace(start=(9.0, 0.0, 0.0))})
    return near_bodies._play(SimpleNamespace(body=None, suit=suit))


@pytest.mark.parametrize(("above", "trunk"), [("shoulders", 0.8), ("hips", 0.3)])
def test_a_lean_brings_a_helmet_as_far_as_legs_and_trunk_let_it(monkeypatch, above, trunk):
    """Of legs alone it goes round the ankle, of the trunk alone round the hip."""
    far = 0.9 + trunk
    legs = leaning(monkeypatch, above, [0.4, 0.2, 0.0, 0.0, 0.0])
    assert legs == pytest.approx(2.0 * far * math.sin(0.3))
    alone = leaning(monkeypatch, above, [0.0, 0.0, 0.3, 0.1, 0.1])
    assert alone == pytest.approx(2.0 * trunk * math.sin(0.25))
    both = leaning(monkeypatch, above, [0.4, 0.2, 0.3, 0.1, 0.1])
    assert both == pytest.approx(legs + alone)
    round_about = leaning(monkeypatch, above, [9.0] * 5)
    assert round_about == pytest.approx(2.0 * far + 2.0 * trunk)


@pytest.mark.parametrize(("apart", "is_bad"), [(0.7, False), (0.3, True)])
def test_bodies_that_are_in_each_other_are_marked(apart, is_bad):
    site, situation = situation_of(wall())

    def body(x):
        legs = [[x, y, 0.0, x, y, 1.0, 0.2] for y in (0.0, 0.1)]
        return Body(situation, np.array(legs), ("left leg", "right leg"), "at rest")

    (found,) = how_near(site, body(0.0), body(apart))
    assert found.what == "bodies"
    assert found.gap == pytest.approx(apart - 0.4)
    assert found.low == pytest.approx(apart - 0.4, abs=1e-8)
    assert found.mark.bad is is_bad


@pytest.mark.parametrize("order", [(0.1, -0.2), (-0.2, 0.1)])
def test_of_the_moments_of_an_alignment_the_one_that_leaves_least_is_told(monkeypatch, order):
    left = list(order)
    mark = Mark("segment", ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), "body to body")

    def near(site, one, other, together=False):
        low = left.pop(0)
        yield Apart("bodies", low, low, low, (), mark)

    monkeypatch.setattr(helmets, "how_near", near)
    site, situations = handed(crate(), *JOB)
    (seating,) = (one for one in situations if one.step == "seat")
    (found,) = helmets._together(site, seating)
    assert (left, found.low) == ([], -0.2)


# ---- hands ---------------------------------------------------------------------------


def test_a_hand_whose_posture_is_unknown_may_be_as_far_from_the_head_as_tool_and_glove_reach(
    monkeypatch,
):
    _, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    nothing = SimpleNamespace(witness=None, hand="right")
    monkeypatch.setattr(hand_hazard, "best_attempt", lambda *asked: nothing)
    (glove,) = hand_hazard._turning(None, situation)
    tool = float(np.linalg.norm(situation.held.tip))
    fist = situation.suit.hand_radius + situation.body.links.grip
    assert glove.capsule == pytest.approx(
        [*situation.head.point, *situation.head.point, tool + fist]
    )
    assert not glove.is_known


def test_a_fix_is_told_of_grips_and_hands_just_where_they_are_short():
    take = at("take", "R", hold("G1", "G2"))
    (good,) = of_step("grips", "take", crate(), take)
    (short,) = of_step("grips", "take", crate(limits={"reach_margin": 0.35}), take)
    assert (good.verdict, good.fix) == (PASS, "")
    assert good.marks and not any(mark.bad for mark in good.marks)
    assert short.low < 0.0 and short.fix.startswith("Bring boots and grips")
    _, situations = handed(crate(), *JOB)
    giving = next(one for one in situations if one.step == "give")
    for held, left in ((None, 0.0), (("G1",), -1.0)):
        has = {} if held is None else {"L": SimpleNamespace(grips=held, parted=())}
        found = grips._hands_free(altered(giving, holds=has), giving.action)
        assert found.low == left
        assert bool(found.fix) is (left < 0.0)


# ---- what is moved -------------------------------------------------------------------


def test_a_step_that_may_take_no_time_fails_by_the_speed_that_it_is_known_to_have():
    site, _ = handed(crate(), *JOB)
    carriage = next(one for one in site.carriages if one.step == "seat")
    limit, way = (site.limit(name).value for name in ("handling_force", "stop_distance"))
    speed = math.sqrt(2.0 * limit * way / 100.0)  # the crate has 100 kg
    for share, verdict in ((0.5, OPEN), (2.0, FAIL)):
        found = momentum._finding(site, altered(carriage, shortest=0.0, speed=share * speed))
        assert found.verdict is verdict
        assert found.low == -math.inf
        assert found.high == pytest.approx(limit * (1.0 - share**2), abs=1e-6)


@pytest.mark.parametrize(("left", "verdict"), [(0.2, PASS), (-0.2, OPEN)])
def test_a_link_on_its_way_is_marked_just_where_it_is_too_near(left, verdict):
    site, carriage = moved(yard())
    asked = site.limit("link_clearance").value
    gap = LinkGap("boom", "wall", "solid", asked + left, math.inf, 0.0, math.nan, HERE, HERE + 1.0)
    far = replace(gap, thing="mast", low=asked + 5.0)
    way = SimpleNamespace(gaps=(far, gap))
    found = links._nearest_on(site, altered(carriage, crane="Arm"), way)
    assert (found.verdict, found.low) == (verdict, pytest.approx(left, abs=1e-8))
    assert [mark.bad for mark in found.marks] == [left < 0.0]
    assert bool(found.fix) is (left < 0.0)


def test_a_cover_in_something_is_told_as_such_and_a_gap_as_a_gap():
    assert links._off("boom", 0.2, "the wall").startswith("the boom is ")
    assert "reaches" in links._off("boom", -0.2, "the wall")


# ---- ways ----------------------------------------------------------------------------


@pytest.mark.parametrize("first", ["round", "flat"])
def test_of_two_that_bear_no_kick_the_one_that_may_be_nearer_counts(monkeypatch, first):
    """Facets of the round one lack 0.1 m: at 0.50 m it may be nearer than what is at 0.45 m."""
    gaps = {"round": (0.50, 0.1), "flat": (0.45, 0.0)}
    order = [first, *({"round", "flat"} - {first})]
    weak = [kick._Weak(name, 100.0, name, gaps[name][1]) for name in order]

    def near(corridor, tree, *asked):
        return Near(gaps[tree][0], gaps[tree][0], "left leg", 0, HERE, HERE, 0.2)

    monkeypatch.setattr(kick, "_weak", lambda *asked: weak)
    monkeypatch.setattr(kick, "moving_near", near)
    lamp = {"kind": "hot", "box": [0.1, 0.1, 0.1], "at": [3.5, 9.0, 0.0], "kick_load": "100 N"}
    found = the_move("kick", wall(hazards={"lamp": lamp}), ALONG)
    band = found.limits[0].value
    assert found.low == pytest.approx(0.40 - band, abs=1e-8)
    assert "round" in found.because


def test_the_longest_line_of_a_scene_says_whether_one_could_lead_home():
    """The short one beside it proves nothing."""
    far = wall(anchors={"A8": {"at": [9.0, 0.1, 0.1]}}, tethers={"T1": {"anchor": "A8"}})
    assert the_move("line-home", far).verdict is NOT_ASKED
    short = wall(
        anchors={"A8": {"at": [9.0, 0.1, 0.1]}},
        tethers={"T1": {"anchor": "A8"}, "short": {"length": 0.5}},
    )
    assert the_move("line-home", short).verdict is NOT_ASKED


@pytest.mark.parametrize("length", [12.0, 5.0])
def test_a_line_that_is_long_enough_needs_no_fix(length):
    found = the_move("tether", wall(tethers={"T1": {"length": length}}), ALONG)
    assert (found.low >= 0.0) is (length == 12.0)
    assert bool(found.fix) is (length == 5.0)


# ---- sockets, fixes ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("short", "left", "high"),
    [({"SK1": 0.3, "SK2": -0.2}, "SK2", 0.2), ({"SK1": -0.1, "SK2": 0.4}, "SK1", 0.1),
     ({}, "no socket", math.inf)],
)  # fmt: skip
def test_the_sockets_that_are_not_excluded_are_named_and_leave_the_answer_open(
    monkeypatch, short, left, high
):
    site, (situation,) = resolved(bench(), step("s", "R", drive("far")))
    service = SimpleNamespace(short=short, is_impossible=False, setting=None)
    monkeypatch.setattr(socket, "service_of", lambda *asked: service)
    found = socket._finding(site, situation)
    assert (found.verdict, found.low, found.high) == (OPEN, -math.inf, pytest.approx(high))
    assert f"; {left} cannot be excluded." in found.because


def test_a_split_names_a_socket_only_if_it_has_a_setting_for_each_thing(monkeypatch):
    site, mates = resolved(bench(), step("s", "R", drive("easy"), drive("low")))
    known = {"easy": SimpleNamespace(words="pitch 0", socket="SK9")}
    service = SimpleNamespace(short={"SK1": -0.1}, setting=known["easy"])
    monkeypatch.setattr(fixes, "service_of_step", lambda *asked: service)
    monkeypatch.setattr(fixes, "service_of", lambda *asked: service)
    monkeypatch.setattr(fixes, "setting_at", lambda site, one, *asked: known.get(one.head.name))
    said = fixes.split(site, mates[0], mates)
    assert said.endswith(
        "and no one socket either: easy alone is served by stand in SK9 at pitch 0"
    )
    known["low"] = SimpleNamespace(words="pitch 30", socket="SK9")
    said = fixes.split(site, mates[0], mates)
    assert said.endswith("put stand in SK1 for all of them: easy at pitch 0; low at pitch 30")


# ---- tools ---------------------------------------------------------------------------


def test_room_round_a_shaft_is_told_as_spare_and_what_is_blocked_as_blocked():
    free = the("access", bench(), step("s", "R", drive("easy")))
    assert "to spare all round" in free.because
    lid = {"box": [0.02, 0.1, 0.1], "at": [0.66, -0.2, 1.65]}
    blocked = the("access", bench(solids={"lid": lid}), step("s", "R", drive("easy")))
    assert blocked.verdict is not PASS
    assert "only through structure" in blocked.because


def test_what_the_nearest_posture_lacks_is_told_unless_none_comes_near():
    miss = SimpleNamespace(violation=0.1, body_room=-0.05, arm_room=0.1, own_room=0.1)
    assert reach.lacking(miss) == "0.050 m of clearance of body, 5.7 deg of joint range"
    miss.violation = 100.0
    assert reach.lacking(miss) == "more than can be told: none comes near"


@pytest.mark.parametrize("ceilings", [(0.02, 0.3), (0.3, 0.02), (0.3, None)])
def test_of_two_hands_that_are_blocked_either_may_do_better_than_the_other(monkeypatch, ceilings):
    site, (situation,) = resolved(
        bench(limits={"reach_margin": 0.05}), step("s", "R", drive("easy"))
    )
    tried = [
        SimpleNamespace(
            short=-0.1, in_envelope=one is not None, margin=SimpleNamespace(ceiling=one)
        )
        for one in ceilings
    ]
    monkeypatch.setattr(reach, "attempts", lambda *asked: tried)
    nothing = SimpleNamespace(proved=False, n_cells=1, counts=(0, 0, 0))
    monkeypatch.setattr(reach, "refuted_by_all", lambda *asked: nothing)
    monkeypatch.setattr(reach, "lacking", lambda miss: "room")
    monkeypatch.setattr(reach, "_numbers", lambda attempt: {})
    found = reach._blocked(site, situation, SimpleNamespace(nearest_miss=None))
    limit = site.limit("reach_margin").value
    most = math.inf if None in ceilings else max(ceilings)
    assert (found.verdict, found.high) == (OPEN, pytest.approx(most - limit))


# ---- clocks --------------------------------------------------------------------------


def test_a_clock_that_runs_is_not_started_again():
    clocks = {"off": {"from": "X1", "to": "X2", "limit": "1 h"}}
    steps = (
        chore("a", turn("X1"), start="00:00"),
        chore("again", turn("X1"), start="00:20"),
        chore("b", turn("X2"), start="00:40"),
    )
    found = ledger_asked(unpowered, errand_yard(), *steps, clocks=clocks)
    assert [(one.step, one.low) for one in found] == [("b", 1200.0)]


def test_a_step_of_which_the_time_is_written_keeps_its_window_whatever_others_take():
    """It begins and ends with its window; how long another lane takes is drawn."""
    mate = {"do": "mate", "fastener": "C1"}
    steps = (
        clocked("mate", "A", "01:00", 60, mate, where="S"),
        clocked("other", "B", "00:00", None, between=["5 min", "20 min"]),
    )
    windows = {"night": {"spans": [["01:00", "02:00"]]}}
    guards = {"C1": {"window": "night"}}
    (found,) = findings("window", *steps, windows=windows, guards=guards)
    assert found.low == 0.0
    assert found.numbers["probability"][1] == 1.0
    whole, *_ = findings("outing", *steps, limits={"outing_time": "2 h"})
    assert whole.low == 0.0
    assert whole.numbers["probability"][1] == 1.0


def test_who_arrives_as_a_phase_ends_need_not_go_home_from_there_in_it():
    """That B is elsewhere is written for just that moment."""
    go = {"do": "translate", "to": "RB@2.0"}
    steps = (
        clocked("out", "A", "00:00", 10, OUT),
        clocked("B out", "B", "00:00", 10, OUT),
        clocked("work", "A", "00:10", 30, WORK),
        clocked("go", "B", "00:40", 0, go, route=["RA", "RB"]),
        clocked("wait", "B", "00:40", 10, {"do": "wait"}),
    )
    phases = {"near": {"from": "out", "to": "work", "takes": "5 min"}}
    _, found = findings("clean-up", *steps, phases=phases)
    assert "nobody is away" in found.because
    phases = {"near": {"from": "out", "to": "wait", "takes": "5 min"}}
    _, found = findings("clean-up", *steps, phases=phases)
    assert "home from RB@2.0" in found.because


# ---- what is said --------------------------------------------------------------------


def test_helmets_that_are_too_near_are_to_be_kept_as_much_farther_off(monkeypatch):
    _, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    body = Body(situation, HERE, (), "at rest")
    limit = Limit("helmet_distance", 0.5, "m", Provenance())
    mark = Mark("segment", ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), "helmet to helmet")
    for gap, words in ((0.2, "0.300 m farther off"), (0.7, "")):
        near = Apart("helmets", gap, gap - 0.5, gap, (limit,), mark)
        monkeypatch.setattr(helmets, "how_near", lambda *_, near=near: [near])
        (found,) = helmets._findings(None, situation, body, body, "", False)
        assert words in found.fix
        assert bool(found.fix) is bool(words)


@pytest.mark.parametrize("answer", [None, False])
def test_a_distance_that_is_not_surely_kept_has_left_what_the_gap_has(monkeypatch, answer):
    site, carriage = moved(yard())
    for gap in (0.25, 0.45):
        found = Kept(answer, "crate", "wall", 0.2, gap, 0.5, HERE, HERE + 1.0)
        monkeypatch.setattr(kept, "kept", lambda *_, found=found: found)
        told = kept.kept_finding("sweep", site, carriage, 0.3)
        if answer is None:
            assert (told.low, told.high) == pytest.approx((-0.1, gap - 0.3))
        else:
            assert told.high == pytest.approx(min(gap - 0.3, 0.0), abs=1e-5)
            assert told.verdict is FAIL


def test_where_the_tip_is_fastest_is_told_by_where_on_the_way_the_postures_stand(monkeypatch):
    way = SimpleNamespace(q=np.zeros((4, 1)), at=np.array([0.0, 0.2, 0.4, 2.0]), chain=None)
    crane = SimpleNamespace(plate=None)
    site = SimpleNamespace(scene=SimpleNamespace(cranes={"Arm": crane}))
    carriage = SimpleNamespace(payload="", crane="Arm", duration=9.0, shortest=9.0)
    for name in ("_seconds", "placed_pose"):
        monkeypatch.setattr(stop, name, lambda *asked: None)
    monkeypatch.setattr(stop, "_found", lambda way: True)
    for seen, at_ in ((0.5, 0.1), (1.5, 0.3), (2.5, 1.2), (3.0, 2.0)):
        seen_at = Extreme(1.0, 1.0, seen)
        monkeypatch.setattr(stop, "fastest_moved", lambda *_, seen_at=seen_at: seen_at)
        assert stop._fastest(site, carriage, way, None).at == pytest.approx(at_)


def test_a_tool_is_to_be_set_to_the_least_that_a_fastener_wants():
    had = {"items": {**PACKED, "D1": "W"}, "tools": {"D1": {"torque": 20.0}}}

    def fix(**fastener):
        data = errand_yard(fasteners={"X1": fastener})
        loosen = {"loosen": True} if "breakaway" in fastener else {}
        (found,) = ledger_asked(dial, data, chore("one", turn("X1", **loosen)), begin=had)
        return found.fix

    assert fix(breakaway=30.0) == "Set D1 to 30.0 N m for X1."
    assert fix(torque=25.0, most_torque=28.0) == "Set D1 to 25.0 N m for X1."
    assert fix(torque=None, most_torque=5.0) == "Set D1 to 5.0 N m for X1."
