from __future__ import annotations

import pickle

import numpy as np
import pytest
from slow_twins import random_triangles

from reach.geometry import STACK, build, point_distance
from reach.geometry.tree import LEAF


def depth_of(tree):
    depth = np.zeros(len(tree.link), dtype=int)
    for node, (first, _) in enumerate(tree.link):
        if first >= 0:
            depth[[first, first + 1]] = depth[node] + 1
    return depth.max()


def leaves_of(tree):
    return [(-first - 1, count, node) for node, (first, count) in enumerate(tree.link) if first < 0]


@pytest.mark.parametrize("n", [1, 2, LEAF, LEAF + 1, 100, 3000])
def test_every_triangle_is_in_one_leaf_inside_every_box_above_it(n):
    triangles = random_triangles(np.random.default_rng(n), n)
    tree = build(triangles)
    assert tree.n_triangles == n
    np.testing.assert_array_equal(np.sort(tree.face), np.arange(n))
    np.testing.assert_array_equal(tree.tri.reshape(-1, 3, 3), triangles[tree.face])
    rows = np.concatenate([np.arange(start, start + count) for start, count, _ in leaves_of(tree)])
    np.testing.assert_array_equal(np.sort(rows), np.arange(n))
    for start, count, node in leaves_of(tree):
        assert 1 <= count <= LEAF
        corners = tree.tri[start : start + count].reshape(-1, 3)
        assert (corners > tree.box[node, :3]).all()
        assert (corners < tree.box[node, 3:]).all()
    for node, (first, _) in enumerate(tree.link):
        for child in (first, first + 1) if first >= 0 else ():
            assert (tree.box[child, :3] >= tree.box[node, :3]).all()
            assert (tree.box[child, 3:] <= tree.box[node, 3:]).all()


def test_bounds_are_those_of_the_corners():
    triangles = random_triangles(np.random.default_rng(0), 50)
    corners = triangles.reshape(-1, 3)
    np.testing.assert_array_equal(build(triangles).bounds, [corners.min(0), corners.max(0)])


def test_the_same_triangles_give_the_same_tree():
    triangles = random_triangles(np.random.default_rng(1), 500)
    one, two = build(triangles), build(triangles.copy())
    for name in ("tri", "box", "link", "face", "moments"):
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))


def test_triangles_may_come_as_a_list_and_are_not_changed():
    triangles = random_triangles(np.random.default_rng(2), 20)
    before = triangles.copy()
    tree = build(triangles.tolist())
    np.testing.assert_array_equal(triangles, before)
    assert tree.tri.dtype == np.float64


@pytest.mark.parametrize(
    ("name", "centres"),
    [
        ("all in one place", np.zeros((2000, 3))),
        ("each ten times closer", np.outer(10.0 ** -np.arange(300.0), [1.0, 0.0, 0.0])),
        ("each ten times farther", np.outer(10.0 ** np.arange(150.0), [1.0, 1.0, 1.0])),
        ("a plane", np.random.default_rng(3).uniform(size=(2000, 3)) * [1.0, 1.0, 0.0]),
    ],
)
def test_no_input_makes_the_tree_deeper_than_the_stack(name, centres):
    tree = build(centres[:, None] + 1e-3 * np.eye(3))
    assert depth_of(tree) + 1 < STACK
    found = point_distance(tree, [0.0, 0.0, 1.0])
    assert np.isfinite(found.distance).all()


@pytest.mark.parametrize(
    ("triangles", "message"),
    [
        (np.zeros((0, 3, 3)), "at least one triangle"),
        (np.zeros((4, 3)), r"must have shape \(n, 3, 3\), not \(4, 3\)"),
        (np.full((1, 3, 3), np.nan), "triangle 0 has a corner that is not finite"),
        (np.concatenate([np.ones((2, 3, 3)), np.full((1, 3, 3), np.inf)]), "triangle 2 has a"),
    ],
)
def test_what_is_no_surface_is_refused(triangles, message):
    with pytest.raises(ValueError, match=message):
        build(triangles)


def test_a_tree_survives_the_way_to_another_process():
    tree = build(random_triangles(np.random.default_rng(4), 100))
    sent = pickle.loads(pickle.dumps(tree))
    p = np.random.default_rng(5).normal(size=(20, 3))
    np.testing.assert_array_equal(
        point_distance(sent, p).distance, point_distance(tree, p).distance
    )


def test_memory_is_below_130_bytes_a_triangle(trusses):
    _, tree = trusses["454k"]
    assert tree.nbytes < 130 * tree.n_triangles
