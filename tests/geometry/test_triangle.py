from __future__ import annotations

import math

import numpy as np
import pytest
from slow_twins import point_to_triangle, segment_to_segment, segment_to_triangle

from reach.geometry.triangle import point_triangle, segment_segment, segment_triangle

INF = math.inf
FLAT = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
SHAPES = {
    "ordinary": FLAT,
    "needle": np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [4.0, 1e-7, 0.0]]),
    "cap": np.array([[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [1.0, 1e-7, 0.0]]),
    "line": np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 0.0], [3.0, 3.0, 0.0]]),
    "two corners coincide": np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 0.0, 0.0]]),
    "point": np.full((3, 3), 0.5),
}


def triple(x):
    return tuple(float(v) for v in x)


def point_answer(p, triangle, bound2=INF):
    a, b, c = triangle
    d2, v, w = point_triangle(triple(p), triple(a), triple(b), triple(c), bound2)
    return math.sqrt(d2), a + v * (b - a) + w * (c - a)


def segment_answer(p, q, triangle, bound2=INF):
    a, b, c = triangle
    d2, s, v, w = segment_triangle(
        triple(p), triple(q - p), triple(a), triple(b), triple(c), bound2
    )
    return math.sqrt(d2), p + s * (q - p), a + v * (b - a) + w * (c - a)


def draws(n, seed):
    rng = np.random.default_rng(seed)
    for _ in range(n):
        yield rng.normal(size=3), rng.normal(size=3), rng.normal(size=(3, 3))


def test_point_to_triangle_agrees_with_the_numpy_twin():
    for p, _, triangle in draws(2000, 1):
        distance, foot = point_answer(p, triangle)
        assert distance == pytest.approx(point_to_triangle(p, triangle), abs=1e-12)
        assert np.linalg.norm(p - foot) == pytest.approx(distance, abs=1e-12)


def test_segment_to_triangle_agrees_with_the_numpy_twin():
    n_crossing = 0
    for p, q, triangle in draws(2000, 2):
        distance, on_segment, on_triangle = segment_answer(p, q, triangle)
        assert distance == pytest.approx(segment_to_triangle(p, q, triangle), abs=1e-12)
        assert np.linalg.norm(on_segment - on_triangle) == pytest.approx(distance, abs=1e-12)
        n_crossing += distance == 0.0
    assert n_crossing > 100


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_of_triangle_agrees_with_the_numpy_twin(shape):
    triangle = SHAPES[shape]
    for p, q, _ in draws(300, 3):
        distance, foot = point_answer(p, triangle)
        assert distance == pytest.approx(point_to_triangle(p, triangle), abs=1e-9)
        assert np.linalg.norm(p - foot) == pytest.approx(distance, abs=1e-9)
        distance, on_segment, on_triangle = segment_answer(p, q, triangle)
        assert distance == pytest.approx(segment_to_triangle(p, q, triangle), abs=1e-9)
        assert np.linalg.norm(on_segment - on_triangle) == pytest.approx(distance, abs=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_order_of_corners_does_not_matter(shape):
    for p, q, _ in draws(50, 4):
        turned = [np.roll(SHAPES[shape], k, axis=0)[:: 1 - 2 * f] for k in range(3) for f in (0, 1)]
        answers = [segment_answer(p, q, triangle)[0] for triangle in turned]
        assert np.ptp(answers) < 1e-9


@pytest.mark.parametrize(
    ("p", "q", "distance"),
    [
        ((0.2, 0.2, -1.0), (0.2, 0.2, 1.0), 0.0),  # through the face
        ((0.2, 0.2, 0.0), (0.2, 0.2, 1.0), 0.0),  # from the face
        ((-1.0, 0.5, 0.0), (1.0, 0.5, 0.0), 0.0),  # in the plane, across
        ((0.1, 0.1, 0.0), (0.2, 0.1, 0.0), 0.0),  # in the plane, inside
        ((0.1, 0.1, 0.3), (0.3, 0.1, 0.3), 0.3),  # parallel, over the face
        ((-1.0, -0.4, 0.3), (2.0, -0.4, 0.3), 0.5),  # parallel to an edge, beside
        ((0.0, 0.0, -1.0), (0.0, 0.0, 1.0), 0.0),  # through a corner
        ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.0),  # along an edge
        ((0.2, 0.2, 2.0), (0.2, 0.2, 2.0), 2.0),  # without length
        ((3.0, 0.0, -1.0), (3.0, 0.0, 1.0), 2.0),  # beyond a corner
    ],
)
def test_a_segment_has_the_distance_seen_on_paper(p, q, distance):
    assert segment_answer(np.array(p), np.array(q), FLAT)[0] == pytest.approx(distance, abs=1e-15)


def test_a_bound_gives_the_exact_distance_below_it_and_nothing_smaller_above():
    for p, q, triangle in draws(500, 5):
        exact = segment_answer(p, q, triangle)[0]
        for bound in (0.1, 0.5, 2.0):
            found = segment_answer(p, q, triangle, bound * bound)[0]
            assert found == exact if exact < bound else found >= bound
        exact = point_answer(p, triangle)[0]
        for bound in (0.1, 0.5, 2.0):
            found = point_answer(p, triangle, bound * bound)[0]
            assert found == exact if exact < bound else found >= bound


def test_two_segments_agree_with_the_numpy_twin():
    rng = np.random.default_rng(6)
    for p, q, a, b in rng.normal(size=(2000, 4, 3)):
        d2, s, t = segment_segment(triple(p), triple(q - p), triple(a), triple(b - a))
        assert math.sqrt(d2) == pytest.approx(segment_to_segment(p, q, a, b), abs=1e-12)
        assert 0.0 <= s <= 1.0
        assert 0.0 <= t <= 1.0


@pytest.mark.parametrize("angle", [1e-3, 1e-5, 1e-7, 1e-9, 1e-12, 0.0])
def test_segments_that_cross_at_a_tiny_angle_meet(angle):
    u = np.array([2.0 * np.cos(angle), 2.0 * np.sin(angle), 0.0])
    d2, _, _ = segment_segment(triple(-0.3 * u), triple(u), (-1.4, 0.0, 0.0), (2.0, 0.0, 0.0))
    assert math.sqrt(d2) < 1e-12
