"""Turns against scipy's; bounds of patches against points sampled from them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from reach.geometry import build, point_distance, rotation_about, segment_distance
from reach.geometry.motion import (
    ends_at,
    fill_paths,
    patch_box2,
    patch_frame,
    patch_triangle,
    stray,
    swing_radius,
    turn_between,
)


def test_turns_agree_with_scipy():
    rng = np.random.default_rng(1)
    first, last = (Rotation.random(2000, random_state=rng) for _ in range(2))
    axis, angle = turn_between(first.as_matrix(), last.as_matrix())
    theirs = (first.inv() * last).as_rotvec()
    np.testing.assert_allclose(axis * angle[:, None], theirs, atol=1e-12)


@pytest.mark.parametrize("angle", [1e-9, 1e-6, 1e-3, 1.0, np.pi - 1e-6, np.pi - 1e-9, np.pi])
def test_turns_keep_their_digits_near_none_and_half_a_turn(angle):
    rng = np.random.default_rng(2)
    for _ in range(50):
        about = rng.normal(size=3)
        first = Rotation.random(random_state=rng).as_matrix()
        last = first @ rotation_about(about, angle)
        axis, found = turn_between(first[None], last[None])
        assert found[0] == pytest.approx(angle, abs=1e-14)
        again = first @ rotation_about(axis[0], found[0])
        np.testing.assert_allclose(again, last, atol=1e-14)


def test_no_turn_has_an_axis_all_the_same():
    axis, angle = turn_between(np.eye(3)[None], np.eye(3)[None])
    assert angle[0] == 0.0
    assert np.linalg.norm(axis[0]) == 1.0


def drawn_motion(rng, angle):
    paths = np.empty((2, 3, 3))
    turn, axis = Rotation.random(random_state=rng).as_matrix(), rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    arms = rng.uniform(-1, 1, (2, 3))
    fill_paths(turn, rng.normal(size=3), axis, arms, paths)
    return paths, rng.normal(size=3), angle, (turn, axis, arms)


def test_paths_begin_and_end_at_the_poses():
    rng = np.random.default_rng(3)
    paths, step, angle, (turn, axis, arms) = drawn_motion(rng, 1.2)
    origin = paths[0, 0] + paths[0, 1] - turn @ arms[0]
    for t in (0.0, 0.3, 1.0):
        there = origin + t * step + arms @ (turn @ rotation_about(axis, angle * t)).T
        np.testing.assert_allclose(ends_at(paths, 0, step, angle, t), there, atol=1e-14)


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.5, np.pi])
def test_an_axis_strays_no_farther_from_its_patch_than_the_bound(angle):
    rng = np.random.default_rng(4)
    worst = 0.0
    for _ in range(30):
        paths, step, angle, _ = drawn_motion(rng, angle)
        first, last = (np.array(ends_at(paths, 0, step, angle, t)) for t in (0.2, 0.9))
        bound = stray(angle, swing_radius(paths, 0), 0.7)
        for f in np.linspace(0.0, 1.0, 21):
            exact = np.array(ends_at(paths, 0, step, angle, 0.2 + 0.7 * f))
            off = np.linalg.norm(exact - first - f * (last - first), axis=1).max()
            assert off <= bound + 1e-14
            worst = max(worst, off / bound if bound else 0.0)
    # Tight for small turns, so that a bound that is too small by a little would be seen.
    assert worst > 0.9 or angle in (0.0, 1.5, np.pi)


def drawn_patch(rng, twisted):
    p0, q0, p1 = rng.uniform(-1, 1, (3, 3))
    q1 = rng.uniform(-1, 1, 3) if twisted else q0 + p1 - p0
    return tuple(tuple(float(x) for x in end) for end in (p0, q0, p1, q1))


def points_of_patch(patch, n=41):
    p0, q0, p1, q1 = (np.array(x) for x in patch)
    s, f = np.meshgrid(*[np.linspace(0.0, 1.0, n)] * 2)
    s, f = s.reshape(-1, 1), f.reshape(-1, 1)
    return (1 - f) * ((1 - s) * p0 + s * q0) + f * ((1 - s) * p1 + s * q1)


@pytest.mark.parametrize("twisted", [False, True])
def test_no_point_of_a_patch_is_nearer_to_a_box_than_the_bound(twisted):
    rng = np.random.default_rng(5)
    tight = []
    for _ in range(400):
        patch = drawn_patch(rng, twisted)
        low = rng.uniform(-2, 2, 3)
        box = np.array([[*low, *(low + rng.uniform(0, 0.5, 3))]])
        bound = np.sqrt(patch_box2(patch_frame(patch), box, 0))
        points = points_of_patch(patch)
        near = np.linalg.norm(points - np.clip(points, box[0, :3], box[0, 3:]), axis=1).min()
        assert bound <= near + 1e-12
        tight.append(bound / near if near > 0.1 else 1.0)
    assert np.median(tight) > 0.8


@pytest.mark.parametrize("twisted", [False, True])
def test_no_point_of_a_patch_is_nearer_to_a_triangle_than_the_bound(twisted):
    rng = np.random.default_rng(6)
    tight = []
    for _ in range(400):
        patch = drawn_patch(rng, twisted)
        triangle = rng.uniform(-2, 2, 3) + rng.normal(scale=0.3, size=(1, 3, 3))
        low, f, d = patch_triangle(patch, triangle.reshape(1, 9), 0, np.inf, 1e-9)
        points = points_of_patch(patch)
        near = point_distance(build(triangle), points).distance.min()
        assert 0.0 <= low <= near + 1e-12
        p0, q0, p1, q1 = (np.array(x) for x in patch)
        there = segment_distance(build(triangle), p0 + f * (p1 - p0), q0 + f * (q1 - q0))
        assert there.distance[0] == pytest.approx(d, abs=1e-12)
        tight.append(d - low)
    # Of a translation it is the distance itself.
    assert np.median(tight) < (0.1 if twisted else 1e-9)
    if not twisted:
        assert max(tight) < 1e-3
