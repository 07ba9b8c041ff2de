from __future__ import annotations

import numpy as np
import pytest

from reach.geometry import build, capsule_clearance, segment_distance

CASES = [
    ("outside", [3, 0, 0], [4, 0, 0], 0.5, 1.5),
    ("touching", [2, 0, 0], [4, 0, 0], 1.0, 0.0),
    ("overlapping, axis outside", [1.2, 0, 0], [4, 0, 0], 0.5, -0.3),
    ("axis crosses the wall", [0, 0, 0], [4, 0, 0], 0.5, -0.5),
    ("axis inside", [0.0, 0, 0], [0.6, 0, 0], 0.1, -0.5),
    ("sphere in the middle", [0, 0, 0], [0, 0, 0], 0.2, -1.2),
    ("point in the middle", [0, 0, 0], [0, 0, 0], 0.0, -1.0),
]


@pytest.mark.parametrize(("name", "p", "q", "radius", "gap"), CASES)
def test_a_capsule_at_a_cube_has_the_gap_seen_on_paper(name, p, q, radius, gap, cube):
    assert capsule_clearance(build(cube), p, q, radius)[0] == pytest.approx(gap, abs=1e-14)


def test_outside_it_is_the_distance_of_the_axis_less_the_radius(trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 2000)
    distance = segment_distance(tree, p, q).distance
    gap = capsule_clearance(tree, p, q, 0.1)
    np.testing.assert_array_equal(gap[distance == 0.0], -0.1)
    assert (gap <= distance - 0.1).all()
    inside = gap < -0.1
    np.testing.assert_array_equal(gap[inside], -distance[inside] - 0.1)
    np.testing.assert_array_equal(gap[~inside], distance[~inside] - 0.1)
    assert inside.any()


def test_within_makes_it_a_lower_bound_and_leaves_the_inside_alone(cube, queries):
    tree = build(cube)
    _, p, q = queries(tree, 3000, pad=2.0)
    full, cut = capsule_clearance(tree, p, q, 0.1), capsule_clearance(tree, p, q, 0.1, 0.2)
    np.testing.assert_allclose(cut, np.minimum(full, 0.2 - 0.1), rtol=0, atol=1e-15)


def test_an_overlap_of_shells_is_inside_though_a_wall_is_near(crossed_tubes):
    gap = capsule_clearance(build(crossed_tubes), [-0.05, 0, 0], [0.05, 0, 0], 0.1)
    assert gap[0] < -0.1 - 0.05


def test_each_capsule_may_have_its_radius(cube):
    gap = capsule_clearance(build(cube), [[3, 0, 0], [3, 0, 0]], [4, 0, 0], [0.5, 0.7])
    np.testing.assert_allclose(gap, [1.5, 1.3])


def test_unknown_places_are_unknown_and_no_capsule_gives_no_answer(cube):
    tree = build(cube)
    assert np.isnan(capsule_clearance(tree, [np.nan, 0, 0], [0, 0, 0], 0.1)[0])
    assert capsule_clearance(tree, [], [], 0.1).shape == (0,)
    with pytest.raises(ValueError, match="radius must not be negative"):
        capsule_clearance(tree, [0, 0, 0], [0, 0, 0], -0.1)
