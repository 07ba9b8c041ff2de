"""Waits between steps, lamps in the dark, turns that another drive has left, arms that share."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, resolved, scene_of, the
from bench import step as work
from clocking import MINUTE, findings, step
from moves import the_move, wall
from test_light_and_touch import lit
from test_tool_checks import spent

from reach.checks import effort, light, swing
from reach.finding import Verdict
from reach.loading import Load
from reach.travel.body_ball import ball_of, middle_of

FAIL, OPEN, PASS = Verdict.FAIL, Verdict.OPEN, Verdict.PASS

# ---- waits ---------------------------------------------------------------------------


def test_the_least_time_between_two_steps_of_a_worker_is_what_is_left():
    steps = (
        step("a", "A", "00:00", 10), step("b", "A", "00:17", 8),
        step("c", "A", "00:30", 5), step("d", "A", "01:00", 5),
    )  # fmt: skip
    (found,) = (one for one in findings("lanes", *steps) if one.about == ("A",))
    assert found.low == found.high == 5 * MINUTE
    assert found.numbers["waits"] == (7 + 5 + 25) * MINUTE
    assert "waits are 37 min in all, the longest 25 min from 00:35" in found.because
    steps = (step("a", "A", "00:00", 10), step("b", "A", "00:10", 5))
    (found,) = (one for one in findings("lanes", *steps) if one.about == ("A",))
    assert (found.low, found.verdict) == (0.0, PASS)


# ---- lamps ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lamp", "ends", "verdict"),
    [(2.0, (0.5, 1.0), PASS), (1.2, (-0.3, 0.2), OPEN), (0.8, (-0.7, -0.2), FAIL)],
)
def test_a_lamp_fails_where_it_does_not_reach_from_the_nearest_that_an_eye_may_be(
    monkeypatch, lamp, ends, verdict
):
    """The eye found is 1.5 m from the bolt, none can come nearer than 1 m."""
    eye = np.array([0.7, -0.2, 1.65 + 1.5])
    monkeypatch.setattr(light, "seen_from", lambda *asked: (eye, 1.0))
    (found,), *_ = lit(lamp)
    assert (found.low, found.high) == pytest.approx(ends, abs=1e-8)
    assert (found.verdict, bool(found.fix)) == (verdict, verdict is FAIL)
    assert [mark.bad for mark in found.marks] == [verdict is FAIL]


# ---- turns ---------------------------------------------------------------------------


def test_another_drive_is_asked_for_no_more_turns_than_it_has_left():
    """D1 is 20 short; D2 has 15 left, enough for one bolt of 10."""
    bolts = {name: {"turns": 10, "at": [3.0, 0.5, 0.0], "axis": [0, 1, 0], "torque": 20.0}
             for name in ("X1", "X2", "X3")}  # fmt: skip
    stores = {"D1": {"turns": 10}, "D2": {"turns": 15}}
    found = spent("X1", "X2", "X3", stores=stores, **bolts)[0]
    assert found.low == -20.0
    assert found.fix == "Turn X3 with D2; bring 10 turns more."
    stores["D2"]["turns"] = 20
    assert spent("X1", "X2", "X3", stores=stores, **bolts)[0].fix == "Turn X2 and X3 with D2."


# ---- arms ----------------------------------------------------------------------------

BAR = {
    "kind": "wrench", "tip": [0.03, 0, 0.36], "axis": [1, 0, 0], "takes_bits": False,
    "second_grip": [0, 0, 0.17],
}  # fmt: skip


def turned(torque, push=None, **more):
    data = bench(tools={"own": BAR})
    data["fasteners"]["easy"] |= {"torque": torque, "push": push}
    return the("effort", data, work("s", "R", drive("easy", tool="own", bit=None, **more)))


def test_two_hands_on_a_lever_cannot_turn_with_less_than_both_levers_give():
    """0.36 m and 0.19 m: the stronger-loaded of the hands puts torque / 0.55 m at least."""
    limit = scene_of(bench()).limits["effort_peak"].value
    strength = 0.58 * 450.0  # of a gloved hand, as shipped
    most = limit * strength * (0.36 + 0.19)
    beyond = turned(1.02 * most, hand="both")
    assert (beyond.verdict, bool(beyond.fix)) == (FAIL, True)
    assert beyond.high == pytest.approx(limit * (1.0 - 1.02), abs=1e-9)


def test_of_two_hands_that_may_the_one_that_has_more_left_does_it(monkeypatch):
    """Whatever is asked, the right one has 0.3 left and the left one 0.1, or the other way."""
    left = {}
    monkeypatch.setattr(effort, "easier_posture", lambda attempt, x, *asked: x)
    monkeypatch.setattr(effort, "arm_points", lambda attempt, x: {"of": attempt.hand})
    monkeypatch.setattr(effort, "strain_of", lambda points, *asked: _Weak(points["of"]))
    monkeypatch.setattr(
        effort, "_room", lambda site, situation, peak, held: {("wrist", "peak"): left[peak.hand]}
    )
    site, (situation,) = resolved(bench(), work("s", "R", drive("easy", hand="either")))
    for hands in ({"left": 0.1, "right": 0.3}, {"left": 0.3, "right": 0.1}):
        left |= hands
        found = effort._easiest(site, situation, Load(0.0, 1.0, 1.0), 0.0)
        assert found[0] == 0.3
        assert found[2].hand == max(hands, key=hands.__getitem__)


@dataclass(frozen=True)
class _Weak:
    hand: str
    shoulder: float = 0.0
    elbow: float = 0.0
    wrist: float = 0.0


@pytest.mark.parametrize(("push", "is_short"), [(5.0, False), (5000.0, True)])
def test_an_easier_way_is_told_just_where_an_arm_is_too_weak(push, is_short):
    data = bench()
    data["fasteners"]["easy"] |= {"torque": None, "push": push}
    found = the("effort", data, work("s", "R", drive("easy")))
    assert (found.low < 0.0) is is_short is bool(found.fix)
    assert all(mark.bad is is_short for mark in found.marks)


# ---- drifting ------------------------------------------------------------------------


def test_who_drifts_on_a_way_of_unknown_sides_is_as_far_off_as_can_be_across_a_gap(monkeypatch):
    off = {"RA": np.array([0.0, 0.3, 0.4]), "RB": np.array([0.0, 1.2, 0.0])}
    mover = {}

    def mover_of(site, situation):
        mover["is"] = real(site, situation)
        return mover["is"]

    real = swing.mover_of
    monkeypatch.setattr(swing, "mover_of", mover_of)
    corridor = SimpleNamespace(offsets=off, off=off.__getitem__, route=None)
    monkeypatch.setattr(
        swing, "corridor_of", lambda *_: SimpleNamespace(**vars(corridor), mover=mover["is"])
    )
    lamp = {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [3.5, 9.0, 0.0]}
    found = the_move("swing", wall(hazards={"lamp": lamp}))
    middle = float(np.linalg.norm(middle_of(mover["is"])))
    assert found.numbers["body"] == pytest.approx(ball_of(mover["is"]))
    assert found.numbers["off"][1] == pytest.approx(middle + 1.2 + 0.5)
    assert found.numbers["off"][0] is None
    assert math.isfinite(middle) and middle > 0.0
