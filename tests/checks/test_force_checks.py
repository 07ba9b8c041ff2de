"""Effort, load and push: shares of strengths and ratings, with moments by an independent twin."""

import math

import numpy as np
import pytest
from bench import bench, drive, resolved, step, the

from reach.checks import check_named
from reach.easing import arm_points
from reach.finding import Verdict
from reach.loading import Load, lever_of, load_of
from reach.straining import JOINTS, least_of_two, least_strain, strain_of
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

ARM = math.hypot(0.2, 1.65)
"""From the socket in the origin to the axis of the bolt, which runs along x."""
WHOLE = {
    "tools": {
        "own": {"kind": "drive", "tip": [0.2, 0, 0.05], "axis": [1, 0, 0], "takes_bits": False}
    }
}


def test_the_load_of_push_and_torque_is_exact_where_the_hand_feels_the_torque_in_full():
    """The moment of the push is square to the axis of the torque."""
    found = of("load", {"push": 100.0, "torque": 20.0}, {"tool": "own"}, **WHOLE)
    moment = math.hypot(100.0 * ARM, 20.0)
    assert found.numbers["force"] == found.numbers["certain force"] == 100.0
    assert found.numbers["moment"] == found.numbers["certain moment"] == pytest.approx(moment)
    assert found.low == pytest.approx(found.high) == pytest.approx(1.0 - moment / 474.54, abs=1e-5)
    assert found.limits[0].name == "socket_moment"


def test_of_a_torque_that_the_tool_takes_in_part_the_share_felt_alone_is_certain():
    found = of("load", {"torque": 600.0})
    assert found.numbers["moment"] == pytest.approx(600.0)
    assert found.numbers["certain moment"] == pytest.approx(0.08 * 600.0)
    assert found.verdict is Verdict.OPEN


def brute_moments(at, axis, out, lever, push, torque):
    """Moments |r x F| about the origin for every side the lever may stand on, either way round."""
    n = np.asarray(axis, float)
    across = np.cross(n, [0.3, 0.5, 0.8])
    u = across / np.linalg.norm(across)
    v = np.cross(n, u)
    found = []
    for angle in np.linspace(0.0, 2.0 * np.pi, 721):
        way = math.cos(angle) * u + math.sin(angle) * v
        grip = np.asarray(at) + out * n + lever * way
        side = torque / lever * np.cross(n, way)
        found += [
            np.linalg.norm(np.cross(at, push * n) + np.cross(grip, sign * side))
            for sign in (1.0, -1.0)
        ]
    return min(found), max(found)


def test_a_ratchet_out_along_the_axis_loads_the_socket_as_in_closed_form():
    """Head 0.5 m up the axis, grip 0.4 m farther and 0.2 m aside, 200 N: |r x F| = 184.4 N m."""
    tool = {"kind": "wrench", "tip": [0.4, 0, 0.2], "axis": [1, 0, 0], "takes_bits": False}
    data = {"tools": {"own": tool}}
    turned = {"at": [0, 0, 0.5], "axis": [0, 0, 1], "torque": 40.0}
    found = of("load", turned, {"tool": "own", "bit": None}, **data)
    expected = 200.0 * math.hypot(0.9, 0.2)
    assert expected == pytest.approx(184.4, abs=0.05)
    assert found.numbers["moment"] == pytest.approx(expected)
    assert found.numbers["certain moment"] == pytest.approx(expected)
    assert found.low == pytest.approx(found.high)


@pytest.mark.parametrize("seed", range(6))
def test_every_side_of_a_lever_lies_between_the_ends_of_the_load(seed):
    rng = np.random.default_rng(seed)
    at, axis = rng.uniform(-1.0, 1.0, 3), rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    out, lever = rng.uniform(0.0, 0.4), rng.uniform(0.05, 0.3)
    push, torque = rng.uniform(0.0, 200.0), rng.uniform(1.0, 60.0)
    tool = {"kind": "ratchet", "tip": [out, 0, lever], "axis": [1, 0, 0], "takes_bits": False}
    turned = {"at": at.tolist(), "axis": axis.tolist(), "push": push, "torque": torque}
    found = of("load", turned, {"tool": "own", "bit": None}, tools={"own": tool})
    least, most = brute_moments(at, axis, out, lever, push, torque)
    assert found.numbers["certain moment"] <= least + 1e-9
    assert most <= found.numbers["moment"] + 1e-9
    assert found.numbers["moment"] < 2.0 * most
    assert found.numbers["force"] == pytest.approx(math.hypot(push, torque / lever))


def test_a_push_straight_through_the_socket_has_no_moment_and_cannot_fail_by_it():
    data = bench(fasteners={"t": {"at": [0.0, 0.0, 1.65], "axis": [0, 0, 1], "push": 1000.0}})
    data["sockets"]["SK1"]["rating"] = {"force": 2000.0, "moment": 1.0}
    found = the("load", data, step("s", "R", drive("t")))
    assert found.numbers["moment"] == 0.0
    assert found.verdict is Verdict.PASS and found.low == found.high == 0.5


def test_two_hands_may_turn_a_lever_without_any_side_force():
    bar = {"kind": "wrench", "tip": [0.03, 0, 0.36], "axis": [1, 0, 0], "takes_bits": False}
    bar["second_grip"] = [0, 0, 0.17]
    turned = {"torque": 170.0, "push": 20.0}
    one = of("load", turned, {"tool": "own"}, tools={"own": bar})
    two = of("load", turned, {"tool": "own", "hand": "both"}, tools={"own": bar})
    assert one.numbers["certain force"] == pytest.approx(math.hypot(20.0, 170.0 / 0.36))
    assert two.numbers["certain force"] == 20.0
    assert two.numbers["force"] == pytest.approx(math.hypot(20.0, 170.0 / 0.19))
    assert two.low < one.low and two.high > one.high


@pytest.mark.parametrize("factor", [1.0, 1.0 + 1e-8])
def test_both_limits_hold_at_once_and_equal_passes(factor):
    force = 100.0 * factor
    rating = {"force": 100.0, "moment": 1e6}
    data = bench(sockets={"SK1": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}})
    data["sockets"]["SK1"]["rating"] = rating
    data["fasteners"]["t"] = {**AT, "push": force}
    found = the("load", data, step("s", "R", drive("t")))
    assert found.limits[0].name == "rating.force"
    assert found.verdict is (Verdict.PASS if factor == 1.0 else Verdict.FAIL)
    # A moment hangs on where things are: there equal is too near to call.
    data["fasteners"]["t"] = {"at": [0.75, 0.0, 1.0], "axis": [-1, 0, 0], "push": force}
    data["sockets"]["SK1"]["rating"] = {"force": 1e6, "moment": 100.0}
    found = the("load", data, step("s", "R", drive("t")))
    assert found.limits[0].name == "rating.moment"
    assert found.verdict is (Verdict.REVIEW if factor == 1.0 else Verdict.FAIL)


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
    assert (found.low, found.numbers["arm of the push"]) == (0.5, pytest.approx(ARM))
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


def test_two_hands_may_turn_by_opposite_forces_so_no_couple_is_certain():
    """One hand fails by 5.6 of 11 N m, twice that would be half each: two need no couple at all."""
    own = {"tools": {"own": {**OWN, "felt": 1.0, "second_grip": [0.05, 0, 0.09]}}}
    for torque in (5.6, 11.5, 60.0):
        one = of("effort", {"torque": torque}, {"tool": "own"}, **own)
        two = of("effort", {"torque": torque}, {"tool": "own", "hand": "both"}, **own)
        assert one.verdict is Verdict.FAIL
        assert two.verdict is Verdict.OPEN and two.high >= 0.0
    assert of("effort", {"push": 262.0}, {"tool": "own", "hand": "both"}, **own).verdict is (
        Verdict.FAIL
    )


def test_what_two_hands_cannot_do_with_less_is_below_every_way_to_share():
    """Random shares of a push and of a torque made by forces at two levers."""
    rng = np.random.default_rng(3)
    for _ in range(300):
        push, levers = rng.uniform(0.0, 100.0, 2), rng.uniform(0.05, 0.4, 2)
        side = rng.uniform(-100.0, 100.0, 2)
        load = Load(0.0, float(push.sum()), abs(float(side @ levers)))
        least = least_of_two(load, tuple(levers))
        assert least.hand <= np.hypot(push, side).max() + 1e-9
        assert (least.shoulder, least.elbow, least.wrist) == (0.0, 0.0, 0.0)


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
