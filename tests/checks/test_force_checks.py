"""Effort, load and push: shares of strengths and ratings, with moments by an independent twin."""

import math

import numpy as np
import pytest
from bench import bench, drive, resolved, step, the

from reach.checks import check_named
from reach.easing import arm_points
from reach.finding import Verdict
from reach.loading import Load, lever_of, load_of
from reach.straining import JOINTS, least_strain, strain_of
from reach.work import attempt_of
from reach.worker.posing import CLEAR, SEEN
from reach.worker.posture import posture_of

AT = {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0]}
RATCHET = {"tool": "ratchet", "bit": "S-11"}


def of(check, fastener, more=None, **changes):
    data = bench(fasteners={"t": {**AT, **fastener}}, **changes)
    return the(check, data, step("s", "R", drive("t", **(more or {}))))


# ---- push --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fastener", "more", "margin"),
    [
        ({"push": "45 lbf"}, {}, 0.0),
        ({"push": "90 lbf"}, {}, -1.0),
        ({"push": 10.0}, {"force": "22.5 lbf"}, 0.5),
        ({"push": 30.0, "most_push": 40.0}, {}, 0.25),
        ({"push": 50.0, "most_push": 40.0}, {}, -0.25),
        ({"kind": "connector", "torque": "35 in lbf"}, {}, 0.0),
        ({"kind": "connector", "torque": 4.0}, {}, 1.0 - 4.0 / 3.9544),
        ({"kind": "connector", "torque": 4.0, "most_torque": 8.0}, {}, 0.5),
        ({"kind": "connector", "torque": 2.0, "most_torque": 8.0, "push": 190.0}, {}, 0.0508),
    ],
)
def test_a_push_is_held_to_what_the_thing_bears(fastener, more, margin):
    found = of("push", fastener, more)
    assert found.low == found.high == pytest.approx(margin, abs=1e-4)
    assert (found.verdict is Verdict.PASS) == (margin >= 0.0)
    assert bool(found.fix) == (margin < 0.0)


def test_a_push_that_nobody_gives_is_not_asked():
    assert of("push", {}).verdict is Verdict.NOT_ASKED
    assert of("push", {"torque": 500.0}).verdict is Verdict.NOT_ASKED  # a bolt: that is fit's
    zero = of("push", {"push": 1.0}, limits={"handling_force": "0 N"})
    assert zero.verdict is Verdict.FAIL


# ---- load --------------------------------------------------------------------------------

DISTANCE = float(np.linalg.norm([0.7, -0.2, 1.65]))


def test_the_load_is_force_times_lever_with_the_torque_added():
    found = of("load", {"push": 100.0, "torque": 20.0})
    assert found.numbers["force"] == 100.0
    assert found.numbers["moment"] == pytest.approx(100.0 * DISTANCE + 20.0)
    assert (
        found.low == found.high == pytest.approx(1.0 - (100.0 * DISTANCE + 20.0) / 474.54, abs=1e-5)
    )
    assert found.limits[0].name == "socket_moment"


def test_a_ratchet_loads_the_socket_by_a_force_at_the_end_of_its_lever():
    found = of("load", {"torque": 30.0}, RATCHET)
    assert found.numbers["force"] == pytest.approx(30.0 / 0.2)
    assert found.numbers["moment"] == pytest.approx(150.0 * (DISTANCE + 0.2))


@pytest.mark.parametrize("factor", [1.0, 1.0 + 1e-9])
def test_both_limits_hold_at_once_and_equal_passes(factor):
    force = 100.0 * factor
    rating = {"force": 100.0, "moment": 1e6}
    data = bench(sockets={"SK1": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}})
    data["sockets"]["SK1"]["rating"] = rating
    data["fasteners"]["t"] = {**AT, "push": force}
    found = the("load", data, step("s", "R", drive("t")))
    assert found.limits[0].name == "rating.force"
    assert found.verdict is (Verdict.PASS if factor == 1.0 else Verdict.FAIL)
    data["sockets"]["SK1"]["rating"] = {"force": 1e6, "moment": 100.0 * DISTANCE}
    found = the("load", data, step("s", "R", drive("t")))
    assert found.limits[0].name == "rating.moment"
    assert found.verdict is (Verdict.PASS if factor == 1.0 else Verdict.FAIL)


def test_more_force_never_leaves_more_of_the_socket():
    lows = [of("load", {"push": force, "torque": 10.0}).low for force in (1, 10, 100, 300, 1000)]
    assert lows == sorted(lows, reverse=True) and lows[-1] < 0.0 < lows[0]


def test_a_load_is_asked_of_rated_stations_and_of_nothing_without_a_number():
    floor = {"at": [0, 0, 0], "up": [0, 0, 1], "toes": [1, 0, 0], "restraint": "stand"}
    there = {"where": "floor", "restraint": "stand", "setting": None}
    data = bench(stations={"floor": floor}, fasteners={"t": {**AT, "push": 10.0}})
    assert the("load", data, step("s", "R", drive("t"), **there)).verdict is Verdict.NOT_ASKED
    data["stations"]["floor"]["rating"] = {"force": 20.0, "moment": 1000.0}
    found = the("load", data, step("s", "R", drive("t"), **there))
    assert (found.low, found.numbers["distance"]) == (0.5, pytest.approx(DISTANCE))
    assert of("load", {}).verdict is Verdict.NOT_ASKED


# ---- effort ------------------------------------------------------------------------------


def twin(points, tip, direction, push, torque, lever):
    """Moments by a chain of rigid links: forces and moments balanced link by link, hand first."""
    grip = points["grip"]
    arm = grip - tip
    best = dict.fromkeys(JOINTS, 0.0)
    for way in (1.0, -1.0):
        if lever:
            across = np.cross(direction, arm - direction * (arm @ direction))
            side = way * torque / lever * across / np.linalg.norm(across)
            couple = np.zeros(3)
        else:
            side, couple = np.zeros(3), way * torque * direction
        force = push * direction + side
        moment = couple + np.cross(tip - grip, push * direction)  # at the grip
        at = grip
        for name in reversed(JOINTS):
            moment = moment + np.cross(at - points[name], force)
            at = points[name]
            best[name] = max(best[name], float(np.linalg.norm(moment)))
    return best


@pytest.mark.parametrize("lever", [0.0, 0.2])
def test_moments_agree_with_links_balanced_one_by_one(lever):
    rng = np.random.default_rng(8)
    for _ in range(200):
        points = {name: rng.normal(size=3) for name in (*JOINTS, "grip")}
        tip, direction = rng.normal(size=3), rng.normal(size=3)
        direction /= np.linalg.norm(direction)
        push, torque = rng.uniform(0, 200), rng.uniform(0, 50)
        load = Load(0.0, push, torque)
        found = strain_of(points, tip, direction, load, lever)
        for name, moment in twin(points, tip, direction, push, torque, lever).items():
            assert getattr(found, name) == pytest.approx(moment, rel=1e-9, abs=1e-9)
        least = least_strain(load, lever)
        for name in (*JOINTS, "hand"):
            assert getattr(found, name) >= getattr(least, name) - 1e-9


def test_moments_agree_with_a_library_for_rigid_bodies():
    """The moments are those that joints of three axes at the same points need: J^T times wrench."""
    pinocchio = pytest.importorskip("pinocchio")
    rng = np.random.default_rng(9)
    for _ in range(20):
        points = {name: rng.normal(size=3) for name in (*JOINTS, "grip")}
        tip, direction = rng.normal(size=3), rng.normal(size=3)
        direction /= np.linalg.norm(direction)
        model, parent, last = pinocchio.Model(), 0, np.zeros(3)
        for name in JOINTS:
            offset = pinocchio.SE3(np.eye(3), points[name] - last)
            parent = model.addJoint(parent, pinocchio.JointModelSpherical(), offset, name)
            last = points[name]
        data, q = model.createData(), pinocchio.neutral(model)
        frame = model.addFrame(
            pinocchio.Frame(
                "tip", parent, pinocchio.SE3(np.eye(3), tip - last), pinocchio.FrameType.OP_FRAME
            )
        )
        data = model.createData()
        jacobian = pinocchio.computeFrameJacobian(
            model, data, q, frame, pinocchio.ReferenceFrame.LOCAL_WORLD_ALIGNED
        )
        push, torque = 80.0, 7.0
        tau = jacobian.T @ np.concatenate([push * direction, torque * direction])
        found = strain_of(points, tip, direction, Load(0.0, push, torque), 0.0)
        expected = np.linalg.norm(tau.reshape(3, 3), axis=1)
        assert [found.shoulder, found.elbow, found.wrist] == pytest.approx(expected)


def test_the_posture_judged_is_the_one_that_is_reached():
    site, (s,) = resolved(bench(), step("s", "R", drive("easy")))
    attempt = attempt_of(site, s, "right")
    x, target = attempt.witness.posture, attempt.target
    marks = posture_of(attempt.figure, x, target.tip, target.direction)
    for name, at in arm_points(attempt, x).items():
        assert at == pytest.approx(getattr(marks, name), abs=1e-9)
    assert attempt.allows(x, CLEAR | SEEN)
    assert not attempt.allows(x + 0.9, CLEAR | SEEN)


def test_effort_of_a_couple_is_known_exactly_and_equal_passes():
    """A drive without felt share puts its torque on every joint; the wrist is the weakest."""
    whole = {"tools": {"own": {**OWN, "felt": 1.0}}}
    found = of("effort", {"torque": 5.5}, {"tool": "own"}, **whole)  # half of 11 N m
    assert (found.verdict, found.low) == (Verdict.PASS, 0.0)
    assert found.limits[1].name == "wrist_strength_male"
    found = of("effort", {"torque": 5.6}, {"tool": "own"}, **whole)
    assert found.verdict is Verdict.FAIL and found.high == pytest.approx(0.5 - 5.6 / 11.0)
    assert "Whatever the posture" in found.because
    spared = of("effort", {"torque": 5.6}, {"tool": "own"}, tools={"own": {**OWN, "felt": 0.5}})
    assert spared.low == pytest.approx(0.5 - 2.8 / 11.0)


OWN = {"kind": "drive", "tip": [0.2, 0, 0.05], "axis": [1, 0, 0], "takes_bits": False}


def test_a_force_beyond_the_hand_fails_whatever_the_posture_even_out_of_reach():
    """Half of 450 N times the glove's 0.58 is the most at the peak, 15 % of it what is held."""
    assert of("effort", {"push": 131.0}).verdict is Verdict.FAIL
    assert of("effort", {}, {"force": 40.0}).verdict is Verdict.FAIL
    far = bench(fasteners={"t": {"at": [2.9, 0, 1.65], "axis": [-1, 0, 0], "push": 131.0}})
    assert the("effort", far, step("s", "R", drive("t"))).verdict is Verdict.FAIL
    far["fasteners"]["t"]["push"] = 100.0
    assert the("effort", far, step("s", "R", drive("t"))).verdict is Verdict.NOT_ASKED


def test_a_force_the_posture_found_is_too_weak_for_stays_open():
    data = {"limits": {"hand_strength_male": "5000 N"}}
    found = of("effort", {"push": 400.0}, **data)
    assert found.verdict is Verdict.OPEN
    assert found.low < 0.0 < found.high
    held = of("effort", {}, {"force": 100.0}, **data)
    assert held.verdict is Verdict.OPEN and "sustained" in held.because


def test_a_held_force_has_the_sharper_limit():
    peak, held = of("effort", {"push": 10.0}), of("effort", {}, {"force": 10.0})
    assert peak.limits[0].name == "effort_peak" and held.limits[0].name == "effort_sustained"
    assert held.low < peak.low


def test_the_sex_and_the_glove_set_the_strength():
    turn = step("s", "R", drive("t"))
    data = bench(fasteners={"t": {**AT, "push": 100.0}})
    small = the("effort", data, turn, sizes=("small",))
    assert small.limits[1].name.endswith("_female")
    bare = check_named("effort")._strength
    site, (s,) = resolved(data, turn)
    assert bare(site, s).hand == pytest.approx(450.0 * 0.58)


def test_nothing_to_hold_against_is_not_asked_and_a_blank_setting_neither():
    assert of("effort", {}).verdict is Verdict.NOT_ASKED
    data = bench(fasteners={"t": {**AT, "push": 10.0}})
    blank = step("s", "R", drive("t"), setting=None)
    assert the("effort", data, blank).verdict is Verdict.NOT_ASKED


def test_more_force_never_leaves_more_strength():
    lows = [of("effort", {"push": force}).high for force in (1.0, 20.0, 60.0, 120.0, 200.0)]
    assert lows == sorted(lows, reverse=True)


def test_levers_are_measured_square_to_the_axis_of_the_tool():
    site, (s,) = resolved(bench(), step("s", "R", drive("easy", **RATCHET)))
    assert lever_of(s.held) == pytest.approx(0.2)
    _, (s,) = resolved(bench(), step("s", "R", drive("easy")))
    assert lever_of(s.held) == 0.0
    assert load_of(s) == Load(0.0, 20.0, 20.0)
    assert math.isclose(site.limit("effort_sustained").value, 0.15)
