"""A tube round a polyline: the gaps of its segments one by one."""

from __future__ import annotations

import numpy as np
import pytest

from reach.geometry import build, capsule_clearance, segment_distance, tube_clearance

PATH = [[-4.0, 0.0, 3.0], [0.0, 0.0, 3.0], [0.0, 0.0, 1.5], [0.0, 0.0, -0.5], [0.0, 0.0, 0.5]]


def test_a_path_into_a_cube_has_the_gaps_seen_on_paper(cube):
    tube = tube_clearance(build(cube), PATH, 0.25)
    np.testing.assert_allclose(tube.gap, [1.75, 0.25, -0.25, -0.75])
    np.testing.assert_array_equal(tube.inside, [False, False, False, True])
    apart = np.linalg.norm(tube.on_axis - tube.on_mesh, axis=1)
    np.testing.assert_allclose(apart, [2.0, 0.5, 0.0, 0.5], atol=1e-12)
    assert (tube.face >= 0).all()


def test_each_segment_is_a_capsule_and_the_least_is_that_of_the_whole(trusses):
    _, tree = trusses["5k"]
    low, high = tree.bounds
    path = np.random.default_rng(3).uniform(low - 0.5, high + 0.5, (400, 3))
    radius = np.linspace(0.0, 0.3, 399)
    tube = tube_clearance(tree, path, radius)
    one_by_one = capsule_clearance(tree, path[:-1], path[1:], radius)
    np.testing.assert_array_equal(tube.gap, one_by_one)
    share = np.linspace(0.0, 1.0, 200)[:, None, None]
    points = (path[:-1] + share * (path[1:] - path[:-1])).reshape(-1, 3)
    samples = segment_distance(tree, points, points).distance.reshape(200, 399).min(axis=0)
    outside = ~tube.inside
    assert (tube.gap[outside] <= (samples - radius)[outside] + 1e-12).all()


def test_within_makes_it_a_lower_bound_without_a_witness(cube):
    tube = tube_clearance(build(cube), PATH, 0.25, within=[1.0, 1.0, 1.0, 0.1])
    np.testing.assert_allclose(tube.gap, [0.75, 0.25, -0.25, -0.75])
    np.testing.assert_array_equal(tube.face == -1, [True, False, False, False])
    assert np.isnan(tube.on_mesh[0]).all()


def test_an_unknown_place_makes_both_its_segments_unknown(cube):
    path = np.array(PATH)
    path[1, 0] = np.nan
    tube = tube_clearance(build(cube), path, 0.25)
    np.testing.assert_array_equal(np.isnan(tube.gap), [True, True, False, False])


@pytest.mark.parametrize(
    ("points", "radius", "message"),
    [
        ([[0, 0, 0]], 0.1, "at least two points, found 1"),
        (np.zeros((3, 2)), 0.1, r"points must have shape"),
        (np.zeros((3, 3)), -0.1, "radius must not be negative"),
        (np.zeros((3, 3)), [0.1, 0.1, 0.1], "radius must be one value or 2 values"),
    ],
)
def test_what_does_not_fit_is_refused(points, radius, message, cube):
    with pytest.raises(ValueError, match=message):
        tube_clearance(build(cube), points, radius)
