from __future__ import annotations

import numpy as np
import pytest
from slow_twins import random_triangles

from reach.geometry import (
    STACK,
    build,
    cylinder_overlap,
    cylinder_overlap_one,
    frame_from_axes,
    pose_of,
    rotation_about,
    segment_distance,
    transform_points,
)

FLAT = np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]])


def inner_points(p, q, radius, n, rng):
    """Random points inside cylinders, shape (len(p), n, 3)."""
    points = np.empty((len(p), n, 3))
    for i in range(len(p)):
        z = q[i] - p[i]
        frame = frame_from_axes(z, np.eye(3)[np.argmin(np.abs(z))])
        r, turn = radius * np.sqrt(rng.uniform(size=n)), rng.uniform(0.0, 2.0 * np.pi, n)
        flat = np.column_stack([r * np.cos(turn), r * np.sin(turn), np.zeros(n)])
        points[i] = p[i] + rng.uniform(size=(n, 1)) * z + flat @ frame.T
    return points


def depth_inside(points, p, q, radius):
    """How deep points (n, 3) lie inside one cylinder, negative outside."""
    z = (q - p) / np.linalg.norm(q - p)
    along = (points - p) @ z
    across = np.linalg.norm(points - p - along[:, None] * z, axis=1)
    ends = np.minimum(along, np.linalg.norm(q - p) - along)
    return np.minimum(ends, radius - across)


def sampled_overlap(p, q, radius, triangles, rng):
    """How deep any of many points on the triangles lies inside one cylinder."""
    weight = rng.dirichlet([1.0, 1.0, 1.0], (len(triangles), 400))
    weight[:, :3] = np.eye(3)
    points = np.einsum("tsk,tkj->tsj", weight, triangles).reshape(-1, 3)
    return depth_inside(points, p, q, radius).max()


def test_overlap_agrees_with_many_points_on_the_triangles():
    """Sampling finds no overlap that is missed, and misses only shallow ones."""
    rng = np.random.default_rng(1)
    triangles = random_triangles(rng, 60)
    p, half = rng.uniform(-2.0, 2.0, (600, 3)), rng.normal(scale=0.3, size=(600, 3))
    touches = cylinder_overlap(build(triangles), p - half, p + half, 0.2)
    depth = np.array(
        [sampled_overlap(p[i] - half[i], p[i] + half[i], 0.2, triangles, rng) for i in range(600)]
    )
    assert touches[depth > 0.0].all()
    assert 0.2 < touches.mean() < 0.9
    assert (touches & (depth < -0.05)).sum() == 0
    assert (touches & (depth < 0.0)).mean() < 0.05


def test_overlap_lies_between_the_capsules_inside_and_around(trusses, queries):
    """The capsule with the same ends contains the cylinder; one shorter by a radius is inside."""
    _, tree = trusses["52k"]
    _, p, q = queries(tree, 20_000, length=0.3)
    radius = 0.06
    touches = cylinder_overlap(tree, p, q, radius)
    inset = radius * (q - p) / 0.3
    assert touches[segment_distance(tree, p + inset, q - inset).distance < radius - 1e-9].all()
    assert not touches[segment_distance(tree, p, q).distance > radius + 1e-9].any()


def test_moving_everything_changes_no_answer(trusses, queries):
    triangles, tree = trusses["5k"]
    _, p, q = queries(tree, 5000, seed=2)
    pose = pose_of(rotation_about([0.3, 1.0, 2.0], 2.2), [3.0, 20.0, -4.0])
    moved = build(transform_points(pose, triangles))
    there = cylinder_overlap(moved, transform_points(pose, p), transform_points(pose, q), 0.07)
    np.testing.assert_array_equal(there, cylinder_overlap(tree, p, q, 0.07))


def test_either_end_may_come_first(trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 5000, seed=3)
    np.testing.assert_array_equal(
        cylinder_overlap(tree, p, q, 0.07), cylinder_overlap(tree, q, p, 0.07)
    )


@pytest.mark.parametrize(
    ("name", "triangles", "p", "q", "radius", "touches"),
    [
        ("axis pierces the face", FLAT, [0.3, 0.3, -1], [0.3, 0.3, 1], 0.01, True),
        ("flat end over the face", FLAT, [0.3, 0.3, 0.01], [0.3, 0.3, 1], 0.5, False),
        ("flat end on the face", FLAT, [0.3, 0.3, 0.0], [0.3, 0.3, 1], 0.1, True),
        ("a round end would touch", FLAT, [0.3, 0.3, 0.05], [0.3, 0.3, 1], 0.1, False),
        ("triangle wholly inside", FLAT, [0.3, 0.3, -5], [0.3, 0.3, 5], 9.0, True),
        ("triangle across, corners outside", FLAT * 9 - 3, [0, 0, -9], [0, 0, 9], 0.1, True),
        ("beside an edge", FLAT, [0.5, -0.2, -1], [0.5, -0.2, 1], 0.19, False),
        ("reaches an edge", FLAT, [0.5, -0.2, -1], [0.5, -0.2, 1], 0.21, True),
        ("beside a corner", FLAT, [1.2, 0.0, -1], [1.2, 0.0, 1], 0.19, False),
        ("reaches a corner", FLAT, [1.2, 0.0, -1], [1.2, 0.0, 1], 0.21, True),
        ("rim cuts the face only", FLAT * 9 - 3, [0, 0, -2.9], [0, 0.6, 0.3], 0.7, True),
        ("no radius, through", FLAT, [0.3, 0.3, -1], [0.3, 0.3, 1], 0.0, True),
        ("no radius, beside", FLAT, [0.8, 0.8, -1], [0.8, 0.8, 1], 0.0, False),
        ("lying on the face", FLAT, [0.1, 0.1, 0.1], [0.3, 0.1, 0.1], 0.1, True),
        ("lying above the face", FLAT, [0.1, 0.1, 0.11], [0.3, 0.1, 0.11], 0.1, False),
        ("coincident triangles", np.repeat(FLAT, 9, 0), [0.3, 0.3, -1], [0.3, 0.3, 1], 0.1, True),
        ("triangle is a line", FLAT * [1, 0, 0], [0.5, 0.1, -1], [0.5, 0.1, 1], 0.11, True),
        ("triangle is a point", FLAT * 0, [0.0, 0.1, -1], [0.0, 0.1, 1], 0.11, True),
        ("triangle is a point beside", FLAT * 0, [0.0, 0.1, -1], [0.0, 0.1, 1], 0.09, False),
    ],
)
def test_edge_cases_by_name(name, triangles, p, q, radius, touches):
    assert cylinder_overlap(build(triangles), p, q, radius)[0] == touches


def test_a_cylinder_wholly_inside_a_solid_does_not_touch_its_skin(cube):
    assert not cylinder_overlap(build(cube), [0, 0, -0.5], [0, 0, 0.5], 0.2)[0]


def test_no_cylinder_gives_no_answer():
    assert cylinder_overlap(build(FLAT), [], [], 0.1).shape == (0,)


@pytest.mark.parametrize(
    ("p", "q", "radius", "message"),
    [
        ([0, 0, 0], [0, 0, 0], 0.1, "cylinder 0 has no length"),
        ([0, 0, np.nan], [0, 0, 1], 0.1, "p row 0 is not finite"),
        ([0, 0, 0], [0, 0, 1], -0.1, "radius must not be negative"),
    ],
)
def test_what_is_no_cylinder_is_refused(p, q, radius, message):
    with pytest.raises(ValueError, match=message):
        cylinder_overlap(build(FLAT), p, q, radius)


def test_the_scalar_routine_gives_the_row_of_the_batch(trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 50)
    stack = np.empty(STACK, np.int32)
    for i, touches in enumerate(cylinder_overlap(tree, p, q, 0.2)):
        one = cylinder_overlap_one(tree.tri, tree.box, tree.link, p[i], q[i], 0.2, stack)
        assert one == touches
