from __future__ import annotations

import numpy as np
import pytest
from slow_twins import random_triangles, ray_hits, solid_angles

from reach.geometry import (
    STACK,
    build,
    first_hit,
    inside,
    point_distance,
    winding_number,
    winding_number_one,
)


def in_tube(points, axis, radius=0.3, half=1.0):
    across = np.linalg.norm(np.delete(points, axis, axis=1), axis=1)
    return (np.abs(points[:, axis]) < half) & (across < radius)


@pytest.fixture
def near_crossing():
    return np.random.default_rng(1).uniform(-0.6, 0.6, (3000, 3))


def test_exact_numbers_agree_with_the_sum_over_all_triangles():
    triangles = random_triangles(np.random.default_rng(2), 300)
    points = np.random.default_rng(3).uniform(-2.0, 2.0, (100, 3))
    twin = [solid_angles(p, triangles) for p in points]
    found = winding_number(build(triangles), points, beta=np.inf)
    np.testing.assert_allclose(found, twin, rtol=0, atol=1e-12)


def test_a_cube_winds_once_round_what_is_inside_and_not_round_the_rest(cube):
    points = np.random.default_rng(4).uniform(-2.0, 2.0, (2000, 3))
    found = winding_number(build(cube), points, beta=np.inf)
    np.testing.assert_allclose(found, (np.abs(points) < 1.0).all(axis=1), atol=1e-12)


def test_shells_that_overlap_wind_twice_round_their_common_part(crossed_tubes):
    tree = build(crossed_tubes)
    points = np.array([[0.0, 0.0, 0.0], [0.8, 0.0, 0.0], [0.0, -0.8, 0.1], [0.8, 0.8, 0.0]])
    found = winding_number(tree, points, beta=np.inf)
    np.testing.assert_allclose(found, [2.0, 1.0, 1.0, 0.0], atol=1e-12)


def test_inside_is_right_where_counting_crossings_is_wrong(crossed_tubes, near_crossing):
    tree = build(crossed_tubes)
    clear = point_distance(tree, near_crossing).distance > 0.005
    points = near_crossing[clear]
    truth = in_tube(points, 0) | in_tube(points, 1)
    np.testing.assert_array_equal(inside(tree, points), truth)
    direction = np.array([0.31, 0.17, 0.94])
    odd = [np.isfinite(ray_hits(p, direction, crossed_tubes)).sum() % 2 == 1 for p in points]
    both = in_tube(points, 0) & in_tube(points, 1)
    assert both.sum() > 20
    assert not np.array(odd)[both].any()


@pytest.mark.parametrize("beta", [2.0, 3.0, np.inf])
def test_dipoles_do_not_change_who_is_inside(beta, trusses, queries):
    _, tree = trusses["5k"]
    points, _, _ = queries(tree, 3000, pad=0.0)
    exact = np.abs(winding_number(tree, points, beta=np.inf)) > 0.5
    np.testing.assert_array_equal(inside(tree, points, beta), exact)
    assert exact.sum() > 30


def test_boxes_round_shells_do_not_change_who_is_inside(trusses):
    for _, tree in (trusses["5k"], trusses["52k"]):
        low, high = tree.bounds
        assert np.isfinite(tree.shell_boxes).all()
        points = np.random.default_rng(8).uniform(low - 0.1, high + 0.1, (4000, 3))
        number = winding_number(tree, points)
        assert np.array_equal(inside(tree, points), np.abs(number) > 0.5)


def test_a_hole_does_not_turn_the_inside_out(cube):
    tree = build(cube[:-1])
    assert inside(tree, [0.0, 0.0, 0.0])[0]
    assert not inside(tree, [0.0, 0.0, 3.0])[0]


def test_turning_a_shell_inside_out_changes_the_sign_and_not_the_inside(cube):
    points = np.random.default_rng(5).uniform(-2.0, 2.0, (500, 3))
    there, back = build(cube), build(cube[:, ::-1])
    np.testing.assert_allclose(
        winding_number(back, points), -winding_number(there, points), atol=1e-12
    )
    np.testing.assert_array_equal(inside(back, points), inside(there, points))


def test_a_cavity_is_outside(cube):
    hollow = build(np.concatenate([cube, 0.5 * cube[:, ::-1]]))
    np.testing.assert_array_equal(
        inside(hollow, [[0.0, 0.0, 0.0], [0.75, 0.0, 0.0], [1.5, 0.0, 0.0]]), [False, True, False]
    )


def test_an_eye_inside_a_solid_sees_its_wall(crossed_tubes):
    tree = build(crossed_tubes)
    assert inside(tree, [0.0, 0.0, 0.0])[0]
    assert np.isfinite(first_hit(tree, [0.0, 0.0, 0.0], [0.2, 0.1, 1.0]).t[0])


def test_degenerate_triangles_add_nothing(cube):
    flat = np.stack([cube[0, [0, 1, 1]], cube[0, [2, 2, 2]]])
    points = np.random.default_rng(6).uniform(-2.0, 2.0, (200, 3))
    np.testing.assert_allclose(
        winding_number(build(np.concatenate([cube, flat])), points, np.inf),
        winding_number(build(cube), points, np.inf),
        atol=1e-12,
    )


def test_unknown_places_are_unknown_and_no_place_gives_no_answer(cube):
    tree = build(cube)
    np.testing.assert_array_equal(
        np.isnan(winding_number(tree, [[0.0, 0.0, 0.0], [np.nan, 0.0, 0.0]])), [False, True]
    )
    assert winding_number(tree, []).shape == (0,)
    with pytest.raises(ValueError, match="beta must be positive, not 0"):
        winding_number(tree, [0.0, 0.0, 0.0], beta=0.0)


def test_the_scalar_routine_gives_the_row_of_the_batch(cube):
    tree, points = build(cube), np.random.default_rng(7).uniform(-2.0, 2.0, (20, 3))
    stack = np.empty(STACK, np.int32)
    for p, number in zip(points, winding_number(tree, points), strict=True):
        assert winding_number_one(tree.tri, tree.moments, tree.link, p, 3.0, stack) == number
