"""Landmarks hang together: bones keep their length, the tool is on its target, left mirrors."""

import numpy as np
import pytest
from figures import figure
from twin import planted

from reach.worker.figure import mirrored
from reach.worker.posture import JOINTS, Posture, joint_angles, posture_of, shoulder_rise
from reach.worker.search import find_postures

FIGURES = [("M", "halden", "drive"), ("S", "unsuited", "angled")]


def some(f, n=40):
    tips, directions = planted(f, n, seed=31)
    answer = find_postures(f, tips, directions)
    ok = answer.violation <= 0
    assert ok.sum() > 0.9 * n
    return zip(tips[ok], directions[ok], answer.x[ok], strict=True)


@pytest.mark.parametrize("which", FIGURES)
def test_bones_keep_their_length_and_the_tool_is_on_its_target(which):
    f = figure(*which)
    k, axis = f.body.links, np.asarray(f.grip.axis, float) / np.linalg.norm(f.grip.axis)
    for tip, direction, x in some(f):
        a = posture_of(f, x, tip, direction)
        assert a.violation <= 0 and a.hand == "right"
        for one, other, length in (
            (a.shoulder, a.elbow, k.upper_arm),
            (a.elbow, a.wrist, k.forearm),
            (a.wrist, a.grip, k.grip),
            (a.idle_shoulder, a.idle_elbow, k.upper_arm),
            (a.idle_elbow, a.idle_wrist, k.forearm),
            (a.ankle, a.hip, k.hip - k.ankle),
        ):
            assert np.linalg.norm(one - other) == pytest.approx(length, abs=1e-9)
        assert np.abs(a.grip + a.hand_rotation @ np.asarray(f.grip.tip) - tip).max() < 2e-9
        assert np.abs(a.tip - tip).max() < 1e-9
        off = np.arccos(min(1.0, a.hand_rotation @ axis @ direction))
        assert off <= f.grip.tolerance + 1e-9


@pytest.mark.parametrize("which", FIGURES)
def test_idle_shoulder_and_eye_sit_on_the_torso(which):
    f = figure(*which)
    for tip, direction, x in some(f, 10):
        a = posture_of(f, x, tip, direction)
        rise = shoulder_rise(f, x, tip, direction)
        low = a.shoulder - rise * a.torso_rotation[:, 2]
        across = a.torso_rotation.T @ (a.idle_shoulder - low)
        assert across == pytest.approx([0, 2 * f.body.links.half, 0], abs=1e-9)
        eye = a.torso_rotation.T @ (a.eye - a.hip)
        shoulder = a.torso_rotation.T @ (low - a.hip)
        assert eye[:2] == pytest.approx([f.suit.eye_ahead, 0], abs=1e-9)
        assert 0.15 < eye[2] - shoulder[2] < 0.30


def test_suited_shoulder_never_rises_unsuited_by_no_more_than_its_rise():
    suited, bare = figure("M"), figure("M", "unsuited")
    up = {"tip": [0.1, -0.2, 1.9], "direction": [0, 0, 1]}
    for f, most in ((suited, 0.0), (bare, bare.body.links.rise)):
        answer = find_postures(f, up["tip"], up["direction"])
        rise = shoulder_rise(f, answer.x[0], up["tip"], up["direction"])
        assert -1e-15 <= rise <= most
        if most:
            assert rise > 0.5 * most


def test_left_posture_is_the_mirrored_right_one_bit_for_bit():
    f = figure()
    for tip, direction, x in some(f, 10):
        right = posture_of(f, x, tip, direction)
        left = posture_of(f, x, mirrored(tip), mirrored(direction), hand="left")
        assert left.hand == "left" and left.violation == right.violation
        for name in Posture.__slots__:
            one, other = getattr(right, name), getattr(left, name)
            if name.endswith("_rotation"):
                assert np.linalg.det(other) == pytest.approx(1, abs=1e-12)
            elif isinstance(one, np.ndarray):
                assert (mirrored(one) == other).all(), name


def test_joint_angles_are_named_and_inside_the_trunk_limits():
    f = figure()
    for tip, direction, x in some(f, 10):
        angles = dict(zip(JOINTS, joint_angles(f, x, tip, direction), strict=True))
        assert [angles[name] for name in JOINTS[:5]] == list(x[:5])
        low, high = f.suit.elbow
        assert low - 1e-9 <= angles["elbow"] <= high + 1e-9


def test_unknown_hand_is_named():
    with pytest.raises(ValueError, match="'right' or 'left', found 'both'"):
        posture_of(figure(), np.zeros(9), [0.7, 0, 1], [1, 0, 0], hand="both")
