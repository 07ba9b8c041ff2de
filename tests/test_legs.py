"""Which way a payload turns on a leg, and the poses put in where a turn is long."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from reach.geometry import pose_of, rotation_about
from reach.legs import legs_in_between, turn_of_leg
from reach.model.carrying import Leg

Z = (0.0, 0.0, 1.0)


def turned(angle, axis=Z, at=(0.0, 0.0, 0.0)):
    return pose_of(rotation_about(axis, angle), np.asarray(at, float))


def test_without_an_axis_it_turns_the_shortest_way():
    axis, angle = turn_of_leg(turned(0.2), turned(-0.5), Leg())
    assert angle == pytest.approx(0.7)
    assert axis == pytest.approx([0.0, 0.0, -1.0])


def test_half_a_turn_without_an_axis_is_refused():
    with pytest.raises(ValueError, match="say about which axis"):
        turn_of_leg(np.eye(4), turned(math.pi), Leg())


def test_half_a_turn_about_an_axis_goes_round_that_way():
    for sign in (1.0, -1.0):
        poses = legs_in_between(np.eye(4), turned(math.pi), Leg(axis=(0.0, 0.0, sign)))
        assert len(poses) == 3
        assert poses[1][:3, 0] == pytest.approx([0.0, sign, 0.0])


def test_an_axis_that_does_not_lead_there_is_refused():
    with pytest.raises(ValueError, match="no turn about this axis"):
        turn_of_leg(np.eye(4), turned(1.0), Leg(axis=(1.0, 0.0, 0.0)))


def test_the_long_way_round_is_cut_into_turns_that_are_the_shortest_way():
    leg = Leg(axis=(0.0, 0.0, -1.0), about=(1.0, 0.0, 0.0))
    start, stop = turned(0.0), turned(0.5 * math.pi, at=(1.0, 2.0, 3.0))
    poses = legs_in_between(start, stop, leg)
    assert len(poses) == 3
    points = poses[:, :3, :3] @ [1.0, 0.0, 0.0] + poses[:, :3, 3]
    assert np.diff(points, axis=0)[0] == pytest.approx(np.diff(points, axis=0)[1])
    assert Rotation.from_matrix(poses[1, :3, :3]).as_rotvec()[2] == pytest.approx(-0.75 * math.pi)


@given(
    st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1),
    st.floats(0.01, 6.2),
)
def test_a_turn_about_a_named_axis_is_found_again(axis, angle):
    unit = tuple(np.asarray(axis) / np.linalg.norm(axis))
    start = turned(0.7, (1.0, 2.0, -0.5))
    stop = start @ turned(angle, unit)
    found, size = turn_of_leg(start, stop, Leg(axis=unit))
    assert size == pytest.approx(angle, abs=1e-6)
    assert found == pytest.approx(unit)
