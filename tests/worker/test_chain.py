"""The chain from plate to tool tip, against rotations turned one by one and another library."""

import math

import numpy as np
import pinocchio as pin
import pytest
from figures import figure, random_targets
from twin import X, excess, planted, torso_of

from reach.worker import chain
from reach.worker.figure import FOREARM, R_MAX, SHOULDER, UPPER_ARM
from reach.worker.posture import joint_angles, posture_of, shoulder_rise
from reach.worker.search import find_postures

FIGURES = [
    ("S", "halden", "drive"),
    ("M", "halden", "drive"),
    ("L", "halden", "hand"),
    ("M", "unsuited", "drive"),
    ("M", "halden", "angled"),
]


def found(f, n=400, seed=3):
    """Targets and postures that the search says it reaches."""
    tips, directions = planted(f, n // 2, seed)
    more = random_targets(n // 2, seed)
    tips, directions = np.concatenate([tips, more[0]]), np.concatenate([directions, more[1]])
    answer = find_postures(f, tips, directions, "quick")
    ok = answer.violation <= 0
    assert ok.sum() > 0.4 * n
    return tips[ok], directions[ok], answer.x[ok]


def revolute_chain(f, rise):
    """The figure as a general rigid-body library builds it: offsets and axes only."""
    model, joint, links, suit = pin.Model(), 0, f.body.links, f.suit

    def add(axis, offset):
        nonlocal joint
        place = pin.SE3(np.eye(3), np.array(offset, float))
        kind = getattr(pin, f"JointModelR{axis}")()
        joint = model.addJoint(joint, kind, place, f"joint{model.njoints}")

    add("X", (0, 0, links.ankle + suit.sole))
    add("Y", (0, 0, 0))
    add("Y", (0, 0, links.hip - links.ankle))
    add("X", (0, 0, 0))
    add("Z", (0, 0, 0))
    add("Z", (suit.shoulder_ahead, -links.half, links.shoulder - links.hip + rise))
    add("Y", (0, 0, 0))
    add("X", (0, 0, 0))
    add("Z", (links.upper_arm, 0, 0))
    add("X", (links.forearm, 0, 0))
    add("Z", (0, 0, 0))
    add("Y", (0, 0, 0))
    tip = pin.SE3(np.eye(3), np.array([links.grip, 0, 0]) + np.asarray(f.grip.tip))
    frame = model.addFrame(pin.Frame("tip", joint, 0, tip, pin.FrameType.OP_FRAME))
    return model, frame


@pytest.mark.parametrize("which", FIGURES)
def test_found_posture_agrees_with_another_library(which):
    f = figure(*which)
    axis = np.asarray(f.grip.axis, float) / np.linalg.norm(f.grip.axis)
    for tip, direction, x in zip(*found(f), strict=True):
        model, frame = revolute_chain(f, shoulder_rise(f, x, tip, direction))
        data = model.createData()
        pin.framesForwardKinematics(model, data, joint_angles(f, x, tip, direction))
        place = data.oMf[frame]
        assert np.abs(place.translation - tip).max() < 1e-6
        off = math.acos(min(1.0, place.rotation @ axis @ direction))
        assert off <= f.grip.tolerance + 1e-6


@pytest.mark.parametrize("which", FIGURES)
def test_found_posture_keeps_every_limit_of_the_slow_twin(which):
    f = figure(*which)
    for tip, direction, x in zip(*found(f), strict=True):
        hip, torso, low = torso_of(f, x[:5])
        posture = posture_of(f, x, tip, direction)
        rise = shoulder_rise(f, x, tip, direction)
        at = posture.shoulder
        assert np.abs(posture.hip - hip).max() < 1e-12
        assert np.abs(at - low - rise * torso[:, 2]).max() < 1e-12
        over = excess(f.suit, torso, at, posture.elbow, posture.wrist, posture.hand_rotation)
        assert max(over.values()) <= 1e-6, over
        for value, name in zip(
            x, ("ankle_roll", "ankle_pitch", "hip_flexion", "waist_lateral", "waist_twist"),
            strict=False,
        ):  # fmt: skip
            low_limit, high_limit = getattr(f.suit, name)
            assert low_limit <= value <= high_limit


@pytest.mark.parametrize("which", FIGURES)
def test_violation_is_the_worst_excess_of_the_slow_twin(which):
    """Random postures, legal or not: the kernel's number is the twin's, to the last limit."""
    f = figure(*which)
    rng = np.random.default_rng(7)
    seen = set()
    work, out = chain.work_arrays()
    for _ in range(400):
        x = rng.normal(size=9) * np.array([0.1, 0.2, 0.3, 0.1, 0.4, 0.01, 0.01, 2, 2])
        low = torso_of(f, x[:5])[2]
        aim = rng.normal(size=3)
        direction = aim / np.linalg.norm(aim)
        tip = low + direction * f.p[R_MAX] * rng.uniform(0.6, 1.2)
        violation = chain.evaluate(f.p, tip, direction, x, work, out)
        posture = posture_of(f, x, tip, direction)
        reach = np.linalg.norm(posture.wrist - posture.shoulder)
        if abs(np.linalg.norm(posture.wrist - posture.elbow) - f.p[FOREARM]) > 1e-8:
            assert violation > 0  # the bones do not meet: too far, or nearer than the elbow bends
            continue
        over = excess(
            f.suit, posture.torso_rotation, posture.shoulder, posture.elbow, posture.wrist,
            posture.hand_rotation,
        )  # fmt: skip
        over.pop("elbow")
        assert reach <= f.p[R_MAX] + 1e-9
        # The kernel also knows a bend beyond the wrist's larger half axis, in rad.
        assert violation >= max(over.values()) - 1e-7
        worst = max(over, key=over.get)
        if worst != "wrist":
            seen.add(worst)
            fore = (posture.wrist - posture.elbow) / f.p[FOREARM]
            bend = math.acos(np.clip(fore @ posture.hand_rotation[:, 0], -1, 1))
            limit = max(f.suit.wrist_flexion, f.suit.wrist_deviation)
            assert violation == pytest.approx(max(over[worst], bend - limit), abs=1e-7)
    assert seen >= {"twist", "pronation"}


def test_hanging_arm_with_bent_elbow_and_thumb_up_is_not_pronated():
    """The trap: forearm and hand frames differ by 90 deg, which forward kinematics cannot see."""
    p = figure("M", "unsuited").p
    w, out = np.array([p[FOREARM], 0.0, -p[UPPER_ARM]]), np.empty(chain.N_OUT)
    hanging = []
    for swivel in np.linspace(-math.pi, math.pi, 7201):
        chain.arm(p, w, np.eye(3), swivel, 1e9, out)
        hanging.append((out[2], *out[9:]))
    down, elbow, _, pronation, flexion, deviation = min(hanging)
    assert down == pytest.approx(-1, abs=1e-5)
    assert elbow == pytest.approx(math.pi / 2, abs=1e-3)
    assert [pronation, flexion, deviation] == pytest.approx([0, 0, 0], abs=2e-3)


def test_neutral_worker_stands_upright():
    p = figure().p
    rotation, shoulder = np.empty((3, 3)), np.empty(3)
    hip = chain.trunk_fk(p, np.zeros(5), rotation, shoulder)
    assert (rotation == np.eye(3)).all()
    assert hip[:2] == (0.0, 0.0)
    assert shoulder[2] == pytest.approx(p[SHOULDER], abs=1e-12) and shoulder[1] < 0


@pytest.mark.parametrize("which", FIGURES)
def test_hand_frame_is_a_rotation_whose_tool_axis_is_tilted_as_told(which):
    f = figure(*which)
    axis = np.asarray(f.grip.axis, float) / np.linalg.norm(f.grip.axis)
    rng, hand = np.random.default_rng(1), np.empty((3, 3))
    poles = [np.array([0, 0, 1.0]), np.array([0, 0, -1.0]), X]
    for d in [*poles, *(v / np.linalg.norm(v) for v in rng.normal(size=(50, 3)))]:
        a, b, roll = rng.normal(size=3) * [0.1, 0.1, 3.0]
        chain.hand_frame(f.p, d, a, b, roll, hand)
        assert hand.T @ hand == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(hand) == pytest.approx(1, abs=1e-12)
        assert math.acos(min(1.0, hand @ axis @ d)) == pytest.approx(
            math.atan(math.hypot(a, b)), abs=1e-7
        )


@pytest.mark.parametrize("w", [[0, 0, 0], [1e-9, 0, 0], [float("nan"), 0, 0]])
def test_wrist_at_the_shoulder_is_impossible_not_an_error(w):
    out = np.empty(chain.N_OUT)
    assert chain.arm(figure().p, np.array(w, float), np.eye(3), 0.0, 1e9, out) == chain.IMPOSSIBLE


def test_wrist_on_the_cone_axis_has_a_swivel_all_the_same():
    p, out = figure().p, np.empty(chain.N_OUT)
    axis = p[8:11].copy()
    answers = [chain.arm(p, 0.4 * axis, np.eye(3), s, 1e9, out) for s in np.linspace(0, 6, 50)]
    assert np.isfinite(answers).all() and np.ptp(answers) > 0.1
