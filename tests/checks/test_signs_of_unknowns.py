"""What is not known, lines nobody sees, who is away when: a turned sign would pass it over."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, step, the
from clocking import OUT, WORK, findings
from clocking import step as clocked
from moves import situation_of, wall
from test_outing_checks import TWO, last, pair
from yard import moved, yard

from reach.checks import (
    crossing,
    error,
    hand_time,
    route,
    stays,
    watch,
)
from reach.clock import Span
from reach.finding import Verdict
from reach.ledger import names
from reach.passage import Line

FAIL, OPEN, PASS = Verdict.FAIL, Verdict.OPEN, Verdict.PASS
HERE = np.zeros(3)


# ---- what is not known ---------------------------------------------------------------


def test_a_way_that_is_not_known_is_not_watched_well(monkeypatch):
    site, carriage = moved(yard())
    monkeypatch.setattr(watch, "track_of", lambda *asked: None)
    monkeypatch.setattr(watch, "out_of_reach", lambda *asked: "")
    assert watch._finding(site, carriage).verdict is OPEN


def test_a_way_for_longer_arms_alone_is_no_way_known(monkeypatch):
    site, situation = situation_of(wall())
    span = SimpleNamespace(low=0.8, high=1.0)
    monkeypatch.setattr(route, "body_span", lambda *asked: span)
    found = route._none(site, situation, None)
    assert (found.verdict, found.low, found.high) == (OPEN, -math.inf, math.inf)


@pytest.mark.parametrize("n", [0, 1, 6, 8])
def test_of_the_rails_that_can_be_got_to_six_are_named(n):
    rails = tuple(f"R{i}" for i in range(n))
    said = route._listed(rails)
    assert said.count("R") == min(n, 6)
    assert said.endswith(" and 2 more") is (n == 8)
    assert ("more" in said) is (n == 8)


def test_who_is_back_as_a_phase_begins_need_not_go_home_in_it():
    away, back = ({"do": "translate", "to": to} for to in ("RB@2.0", "hatch"))
    steps = (
        clocked("out", "B", "00:00", 10, OUT),
        clocked("go", "B", "00:10", 20, away, route=["RA", "RB"]),
        clocked("back", "B", "00:50", 0, back, route=["RB", "RA"]),
        clocked("work", "A", "00:50", 10, WORK),
    )
    phases = {"work": {"from": "work", "to": "work", "takes": "5 min"}}
    _, found = findings("clean-up", *steps, phases=phases)
    assert "nobody is away" in found.because


def test_who_goes_away_as_a_phase_ends_need_not_go_home_from_there_in_it():
    go = {"do": "translate", "to": "RB@2.0"}
    steps = (
        clocked("out", "A", "00:00", 10, OUT),
        clocked("B out", "B", "00:00", 10, OUT),
        clocked("go", "B", "00:10", 30, go, route=["RA", "RB"]),
    )
    for end, words in (("out", "nobody is away"), ("go", "home from RB@2.0")):
        phases = {"near": {"from": "out", "to": end, "takes": "5 min"}}
        _, found = findings("clean-up", *steps, phases=phases)
        assert words in found.because


# ---- lines ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unled", "lost", "most"),
    [((), (), 0), (("T8",), (), 1), ((), ("T9",), 1), (("T8",), ("T9",), 2)],
)
def test_every_line_of_which_it_is_unknown_where_it_runs_may_be_crossed(
    monkeypatch, unled, lost, most
):
    """R wears T1 and perhaps T8; of the lines of L T2 is seen, nobody knows where T9 runs."""
    site, situation = situation_of(wall())
    (line,) = situation.worn
    worn = (line, *(Line(name, "A0", 9.0) for name in unled))
    ways = {line.tether: (HERE, HERE)}
    monkeypatch.setattr(crossing, "led_ends", lambda site, one, worn: ways.get(worn.tether, ()))
    others = [("L", Line("T2", "A4", 12.0), None)]
    away = [("L", name) for name in lost]
    monkeypatch.setattr(crossing, "_others", lambda *asked: (others, away))
    monkeypatch.setattr(crossing, "_crossed", lambda *asked: [])
    stated = SimpleNamespace(action=situation.action, worker="R", worn=worn)
    monkeypatch.setattr(crossing, "who", lambda one: "R")
    monkeypatch.setattr(crossing, "finding_on", lambda *asked: asked)
    _, _, _, low, high, *_ = crossing._finding(site, stated)
    assert (low, high) == (-most, 0.0)


@pytest.mark.parametrize(("start", "counts"), [(50.0, False), (100.0, True), (150.0, True)])
def test_a_ride_that_begins_with_a_step_takes_the_worker_along(start, counts):
    spans = {"wait": Span(100.0, 200.0), "ride": Span(start, start + 50.0)}
    outing = SimpleNamespace(spans=spans)
    riding = SimpleNamespace(rider=SimpleNamespace(worker="L"), step="ride")
    site = SimpleNamespace(carriages=(riding,))
    waits = SimpleNamespace(worker="L", step="wait")
    assert stays._rides(site, outing, waits) == (["ride"] if counts else [])
    assert stays._rides(site, outing, SimpleNamespace(worker="R", step="wait")) == []


def test_where_the_proof_ends_is_told_beside_the_head_on_the_side_on_which_it_ends():
    pose = np.eye(4)
    pose[:3, 3] = [1.0, 2.0, 3.0]
    target = SimpleNamespace(tip=np.array([0.5, 0.0, 0.0]))
    attempt = SimpleNamespace(world_from_boots=pose, target=target)
    told = error._in_world(attempt, np.array([0.1, 0.2, -0.3]))
    assert told == pytest.approx([1.6, 2.2, 2.7])


@pytest.mark.parametrize("limit", ["2 min", "300 min"])
def test_a_way_of_rescue_is_marked_and_mended_just_where_it_takes_too_long(limit):
    data = wall(**TWO)
    data["limits"] = {"return_time": limit}
    found = last("rescue", data, *pair())
    assert (found.low < 0.0) is (limit == "2 min")
    assert bool(found.fix) is (found.low < 0.0)
    assert found.marks and all(mark.bad is (found.low < 0.0) for mark in found.marks)


# ---- numbers -------------------------------------------------------------------------


def test_a_posture_that_is_found_has_room_in_its_joints_and_a_shaft_what_is_free_beside_it():
    turn = step("s", "R", drive("easy"))
    assert the("reach", bench(), turn).numbers["joint room"] >= 0.0
    post = {"box": [0.02, 0.02, 0.4], "at": [0.68, -0.1, 1.65]}
    found = the("access", bench(solids={"post": post}), turn)
    room = found.numbers["free radius"] - found.numbers["shaft radius"]
    assert room == pytest.approx(0.09 - found.numbers["shaft radius"], abs=1e-6)
    assert f"with {room:.3f} m to spare" in found.because
    (mark,) = found.marks
    assert mark.points[0] == pytest.approx((0.7 - 0.004, -0.2, 1.65))


def test_two_things_asked_of_a_crane_at_once_overlap_as_long_as_both_last():
    ride = {"do": "move crane", "to": "tip"}
    steps = (clocked("one", "CO", "01:00", 15, ride), clocked("two", "CO", "01:05", 20, ride))
    (found,) = findings("device", *steps)
    assert found.numbers["overlap"] == 600.0
    assert "for 10 min from 01:05" in found.because


@pytest.mark.parametrize("put_down", [True, False])
def test_hands_that_hold_something_from_step_to_step_are_busy_all_the_while(put_down):
    """From 100 s on to 300 s, or to the end at 500 s."""
    moments, hands = [50.0, 100.0, 200.0, 300.0], [(), ("A",), ("A",), () if put_down else ("A",)]
    state = names.hands("crate")
    outing = SimpleNamespace(
        steps=(SimpleNamespace(lane="B", actions=(), name="last"),),
        scene=SimpleNamespace(payloads={"crate": None}),
        deeds=[SimpleNamespace(moment=at, step=SimpleNamespace(name="s")) for at in moments],
        states=[{state: frozenset(one)} for one in [(), *hands]],
        end=500.0,
    )
    ((span, step),) = hand_time._holding(outing, "A")
    assert (span, step) == ((Span(100.0, 300.0), "s") if put_down else (Span(100.0, 500.0), "last"))
    assert list(hand_time._holding(outing, "B")) == []
