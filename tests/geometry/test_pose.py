from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.geometry import (
    angle_between,
    frame_from_axes,
    inverse,
    mirrored_pose,
    pose_of,
    rotation_about,
    rotation_x,
    rotation_y,
    rotation_z,
    transform_directions,
    transform_points,
)

X, Y, Z = np.eye(3)
angles = st.floats(-10.0, 10.0)
numbers = st.floats(-30.0, 30.0)
vectors = st.tuples(numbers, numbers, numbers).map(np.array)
directions = vectors.filter(lambda v: np.linalg.norm(v) > 1e-3)


@st.composite
def poses(draw):
    return pose_of(rotation_about(draw(directions), draw(angles)), draw(vectors))


@pytest.mark.parametrize(
    ("rotation", "turned", "onto"), [(rotation_x, Y, Z), (rotation_y, Z, X), (rotation_z, X, Y)]
)
def test_a_quarter_turn_follows_the_right_hand_rule(rotation, turned, onto):
    np.testing.assert_allclose(rotation(np.pi / 2) @ turned, onto, atol=1e-15)


@given(directions, angles)
def test_a_rotation_is_orthonormal_and_keeps_its_axis(axis, angle):
    rotation = rotation_about(axis, angle)
    np.testing.assert_allclose(rotation @ rotation.T, np.eye(3), atol=1e-14)
    assert np.linalg.det(rotation) == pytest.approx(1.0, abs=1e-14)
    np.testing.assert_allclose(rotation @ axis, axis, atol=1e-12)


@given(directions, angles, angles)
def test_turns_about_one_axis_add(axis, first, second):
    both = rotation_about(axis, first) @ rotation_about(axis, second)
    np.testing.assert_allclose(both, rotation_about(axis, first + second), atol=1e-13)


@given(poses(), vectors)
def test_the_inverse_brings_a_point_back(pose, p):
    there = transform_points(pose, p)
    np.testing.assert_allclose(transform_points(inverse(pose), there), p, atol=1e-12)
    np.testing.assert_allclose(inverse(pose) @ pose, np.eye(4), atol=1e-12)


@given(poses(), vectors, vectors)
def test_directions_turn_but_do_not_move(pose, p, q):
    moved = transform_points(pose, [p, q])
    np.testing.assert_allclose(moved[1] - moved[0], transform_directions(pose, q - p), atol=1e-12)


def test_points_keep_their_leading_shape():
    pose = pose_of(np.eye(3), [1.0, 2.0, 3.0])
    assert transform_points(pose, np.zeros((4, 5, 3))).shape == (4, 5, 3)
    np.testing.assert_array_equal(transform_points(pose, np.zeros(3)), [1.0, 2.0, 3.0])


@given(directions, directions)
def test_a_frame_has_the_asked_axes(z, x):
    if angle_between(z, x) < 1e-6 or angle_between(z, -x) < 1e-6:
        return
    frame = frame_from_axes(z, x)
    np.testing.assert_allclose(frame.T @ frame, np.eye(3), atol=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    np.testing.assert_allclose(frame[:, 2], z / np.linalg.norm(z), atol=1e-12)
    assert frame[:, 0] @ x > 0.0
    assert abs(frame[:, 1] @ x) < 1e-6 * np.linalg.norm(x)


@pytest.mark.parametrize(
    ("z", "x", "message"),
    [
        ([0, 0, 0], [1, 0, 0], "z has no direction"),
        ([0, 0, 1], [0, 0, 0], "x has no direction"),
        ([0, 0, 1], [0, 0, -3], "are parallel"),
        ([0, 0, np.nan], [1, 0, 0], "z has no direction"),
        ([0, 0], [1, 0, 0], r"z must have shape \(3,\)"),
    ],
)
def test_a_frame_that_axes_do_not_give_is_refused(z, x, message):
    with pytest.raises(ValueError, match=message):
        frame_from_axes(z, x)


@pytest.mark.parametrize("angle", [0.0, 1e-12, 1e-8, 1e-3, 1.0, np.pi - 1e-8, np.pi])
def test_angles_are_exact_near_nothing_and_near_half_a_turn(angle):
    b = np.array([np.cos(angle), np.sin(angle), 0.0])
    assert float(angle_between(X, 7.0 * b)) == pytest.approx(angle, rel=1e-12, abs=1e-15)


def test_the_angle_of_nothing_is_nan():
    assert np.isnan(angle_between(X, np.zeros(3)))


@given(poses(), vectors)
def test_a_mirrored_pose_moves_mirrored_points_to_mirrored_places(pose, p):
    flip = np.array([1.0, -1.0, 1.0])
    mirrored = mirrored_pose(pose)
    np.testing.assert_allclose(
        transform_points(mirrored, flip * p), flip * transform_points(pose, p), atol=1e-12
    )
    assert np.linalg.det(mirrored[:3, :3]) == pytest.approx(1.0)
    np.testing.assert_array_equal(mirrored_pose(mirrored), pose)
