from __future__ import annotations

import numpy as np
import pytest
from slow_twins import all_point_distances, all_segment_distances, random_triangles

from reach.geometry import (
    STACK,
    build,
    point_distance,
    pose_of,
    rotation_about,
    segment_distance,
    segment_tree_distance2,
    transform_points,
)

FLAT = np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]])


def assert_witnesses_hold(found, p, q, triangles):
    gap = np.linalg.norm(found.on_query - found.on_mesh, axis=1)
    np.testing.assert_allclose(gap, found.distance, atol=1e-12)
    np.testing.assert_allclose(all_point_distances(triangles, found.on_mesh), 0.0, atol=1e-12)
    own = triangles[found.face]
    for i in range(0, len(p), max(1, len(p) // 200)):
        one = all_segment_distances(own[i : i + 1], p[i : i + 1], q[i : i + 1])
        assert one[0] == pytest.approx(found.distance[i], abs=1e-12)
    along = np.linalg.norm(found.on_query - p, axis=1) + np.linalg.norm(found.on_query - q, axis=1)
    np.testing.assert_allclose(along, np.linalg.norm(q - p, axis=1), atol=1e-12)


def test_a_hundred_thousand_queries_agree_with_all_5000_triangles(trusses, queries):
    triangles, tree = trusses["5k"]
    points, p, q = queries(tree, 100_000)
    exact = all_point_distances(triangles, points)
    np.testing.assert_allclose(point_distance(tree, points).distance, exact, rtol=0, atol=1e-9)
    exact = all_segment_distances(triangles, p, q)
    np.testing.assert_allclose(segment_distance(tree, p, q).distance, exact, rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", ["52k", "454k"])
def test_a_thousand_queries_agree_with_all_triangles_of_the_large_trusses(name, trusses, queries):
    triangles, tree = trusses[name]
    points, p, q = queries(tree, 1000)
    exact = all_point_distances(triangles, points)
    np.testing.assert_allclose(point_distance(tree, points).distance, exact, rtol=0, atol=1e-9)
    exact = all_segment_distances(triangles, p, q)
    np.testing.assert_allclose(segment_distance(tree, p, q).distance, exact, rtol=0, atol=1e-9)


def test_long_segments_agree_with_all_triangles(trusses, queries):
    triangles, tree = trusses["5k"]
    _, p, q = queries(tree, 2000, seed=8, pad=4.0, length=6.0)
    exact = all_segment_distances(triangles, p, q)
    np.testing.assert_allclose(segment_distance(tree, p, q).distance, exact, rtol=0, atol=1e-9)


def test_witness_points_lie_on_query_and_mesh_and_are_that_far_apart(trusses, queries):
    triangles, tree = trusses["5k"]
    points, p, q = queries(tree, 3000, seed=1)
    assert_witnesses_hold(point_distance(tree, points), points, points, triangles)
    assert_witnesses_hold(segment_distance(tree, p, q), p, q, triangles)


@pytest.mark.parametrize("within", [0.0, 0.05, 0.3, 10.0])
def test_within_is_answered_where_nothing_lies_closer(within, trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 2000, seed=2)
    full, cut = segment_distance(tree, p, q), segment_distance(tree, p, q, within)
    far = full.distance >= within
    np.testing.assert_array_equal(cut.distance, np.where(far, within, full.distance))
    np.testing.assert_array_equal(cut.face == -1, far)
    assert np.isnan(cut.on_query[far]).all()
    assert np.isnan(cut.on_mesh[far]).all()
    assert np.isfinite(cut.on_mesh[~far]).all()


def test_within_may_differ_from_query_to_query():
    found = point_distance(build(FLAT), [[0.2, 0.2, 0.5], [0.2, 0.2, 0.5]], [0.4, 0.6])
    np.testing.assert_array_equal(found.distance, [0.4, 0.5])
    np.testing.assert_array_equal(found.face, [-1, 0])


def test_moving_everything_changes_no_distance(trusses, queries):
    triangles, tree = trusses["5k"]
    _, p, q = queries(tree, 3000, seed=3)
    pose = pose_of(rotation_about([1.0, -2.0, 0.5], 1.1), [12.0, -7.0, 30.0])
    moved = build(transform_points(pose, triangles))
    there = segment_distance(moved, transform_points(pose, p), transform_points(pose, q))
    here = segment_distance(tree, p, q)
    np.testing.assert_allclose(there.distance, here.distance, rtol=0, atol=1e-9)


def test_the_order_of_triangles_and_queries_changes_no_distance(queries):
    rng = np.random.default_rng(4)
    triangles = random_triangles(rng, 800)
    tree = build(triangles)
    _, p, q = queries(tree, 3000)
    distance = segment_distance(tree, p, q).distance
    shuffled = build(rng.permutation(triangles))
    order = rng.permutation(len(p))
    again = segment_distance(shuffled, p[order], q[order]).distance
    np.testing.assert_array_equal(again, distance[order])


def test_adding_triangles_never_raises_a_distance(queries):
    triangles = random_triangles(np.random.default_rng(5), 800)
    few, all_ = build(triangles[:400]), build(triangles)
    _, p, q = queries(few, 2000)
    assert (segment_distance(all_, p, q).distance <= segment_distance(few, p, q).distance).all()


def test_a_cube_has_the_distance_of_a_box(cube, queries):
    tree = build(cube)
    points, _, _ = queries(tree, 3000, pad=2.0)
    beyond = np.maximum(np.abs(points) - 1.0, 0.0)
    outside = np.linalg.norm(beyond, axis=1)
    inside = (1.0 - np.abs(points)).min(axis=1)
    exact = np.where(inside > 0.0, inside, outside)
    np.testing.assert_allclose(point_distance(tree, points).distance, exact, atol=1e-14)


def test_a_fine_sphere_has_the_distance_of_a_sphere():
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=5, radius=2.0)
    sagitta = 2.0 - np.linalg.norm(ball.triangles_center, axis=1).min()
    points = np.random.default_rng(6).normal(scale=3.0, size=(2000, 3))
    exact = np.abs(np.linalg.norm(points, axis=1) - 2.0)
    found = point_distance(build(ball.triangles), points).distance
    np.testing.assert_allclose(found, exact, rtol=0, atol=sagitta + 1e-12)


@pytest.mark.parametrize(
    ("name", "triangles", "p", "q", "distance"),
    [
        ("one triangle", FLAT, [0.2, 0.2, 0.5], [0.2, 0.2, 3.0], 0.5),
        ("coincident triangles", np.repeat(FLAT, 9, axis=0), [0.2, 0.2, 0.5], [1, 1, 3], 0.5),
        ("parallel to the face", FLAT, [0.1, 0.1, 0.25], [0.3, 0.3, 0.25], 0.25),
        ("touching a corner", FLAT, [1.0, 0.0, 0.0], [2.0, 0.0, 0.0], 0.0),
        ("crossing", FLAT, [0.2, 0.2, -1.0], [0.2, 0.2, 1.0], 0.0),
        ("zero-length segment", FLAT, [0.2, 0.2, 0.5], [0.2, 0.2, 0.5], 0.5),
        ("triangle is a line", FLAT * [1, 0, 0], [0.5, 0.0, 0.5], [0.5, 3.0, 0.5], 0.5),
        ("triangle is a point", FLAT * 0.0, [0.0, 3.0, 4.0], [0.0, 6.0, 8.0], 5.0),
        ("both are points", FLAT * 0.0, [0.0, 3.0, 4.0], [0.0, 3.0, 4.0], 5.0),
    ],
)
def test_edge_cases_by_name(name, triangles, p, q, distance):
    found = segment_distance(build(triangles), p, q)
    assert found.distance[0] == pytest.approx(distance, abs=1e-15)
    assert np.linalg.norm(found.on_query - found.on_mesh) == pytest.approx(distance, abs=1e-15)


def test_no_query_gives_no_answer():
    found = segment_distance(build(FLAT), np.zeros((0, 3)), np.zeros((0, 3)))
    assert found.distance.shape == (0,)
    assert found.on_mesh.shape == (0, 3)
    assert point_distance(build(FLAT), []).face.shape == (0,)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_an_unknown_place_gives_an_unknown_distance(bad):
    p = np.zeros((3, 3))
    p[1, 2] = bad
    found = segment_distance(build(FLAT), p, np.zeros(3))
    np.testing.assert_array_equal(np.isnan(found.distance), [False, True, False])
    assert found.face[1] == -1
    np.testing.assert_array_equal(np.isnan(point_distance(build(FLAT), p).distance), [0, 1, 0])


@pytest.mark.parametrize(
    ("p", "q", "within", "message"),
    [
        (np.zeros((2, 2)), np.zeros(3), 1.0, r"p must have shape \(n, 3\) or \(3,\)"),
        (np.zeros((2, 3)), np.zeros((3, 3)), 1.0, "q has 3 rows where 2 are asked"),
        (np.zeros((2, 3)), np.zeros(3), [1.0, 2.0, 3.0], "within must be one value or 2 values"),
        (np.zeros((2, 3)), np.zeros(3), -1.0, "within must not be negative or nan, found -1.0"),
        (np.zeros((2, 3)), np.zeros(3), np.nan, "within must not be negative or nan"),
    ],
)
def test_what_does_not_fit_is_refused(p, q, within, message):
    with pytest.raises(ValueError, match=message):
        segment_distance(build(FLAT), p, q, within)


def test_the_scalar_routine_gives_the_row_of_the_batch(trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 50)
    found = segment_distance(tree, p, q)
    stack, depth = np.empty(STACK, np.int32), np.empty(STACK)
    arrays = (tree.tri, tree.box, tree.link)
    for i in range(50):
        d2, k = segment_tree_distance2(*arrays, p[i], q[i], np.inf, stack, depth)
        assert np.sqrt(d2) == found.distance[i]
        assert tree.face[k] == found.face[i]
        bound2 = 0.5 * d2
        assert segment_tree_distance2(*arrays, p[i], q[i], bound2, stack, depth) == (bound2, -1)
