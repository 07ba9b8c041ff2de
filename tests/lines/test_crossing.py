"""Crossing lines: closed forms, and Gauss's integral by quadrature."""

import math
from itertools import pairwise

import numpy as np
import pytest

from reach.geometry import build
from reach.lines import (
    MovingLine,
    approaches,
    crossings,
    gauss_integral,
    seen_crossings,
    slack_gap,
    swing,
    touches,
)

OUT = (0.0, 0.0, 1.0)


def ring(middle, u, v, n=40):
    """A closed polyline round a circle of radius 1."""
    t = np.linspace(0.0, 2.0 * math.pi, n + 1)[:, None]
    return np.asarray(middle) + np.cos(t) * np.asarray(u) + np.sin(t) * np.asarray(v)


def gauss_by_quadrature(a, b, n=60):
    """The double integral of r . (da x db) / (4 pi r^3), by Gauss-Legendre on each pair."""
    nodes, weights = np.polynomial.legendre.leggauss(n)
    share, weights = (nodes + 1.0) / 2.0, weights / 2.0
    total = 0.0
    for p, q in pairwise(a):
        for r, s in pairwise(b):
            x, y = p + share[:, None] * (q - p), r + share[:, None] * (s - r)
            gap = x[:, None] - y[None]
            value = gap @ np.cross(q - p, s - r) / np.linalg.norm(gap, axis=2) ** 3
            total += weights @ value @ weights
    return total / (4.0 * math.pi)


def test_two_linked_rings_have_linking_number_one_and_apart_none():
    one = ring([0, 0, 0], [1, 0, 0], [0, 1, 0])
    other = ring([1, 0, 0], [1, 0, 0], [0, 0, 1])
    assert abs(gauss_integral(one, other)) == pytest.approx(1.0, abs=1e-9)
    assert gauss_integral(one, other[::-1]) == pytest.approx(-gauss_integral(one, other))
    assert gauss_integral(one, np.add(other, [3, 0, 0])) == pytest.approx(0.0, abs=1e-9)
    assert abs(seen_crossings(one, other, [0.2, 0.3, 1.0]).count) == 2


def test_gauss_integral_of_open_lines_equals_quadrature():
    rng = np.random.default_rng(3)
    for _ in range(5):
        a = rng.normal(size=(4, 3))
        b = rng.normal([0.0, 0.0, 5.0], size=(4, 3))
        assert gauss_integral(a, b) == pytest.approx(gauss_by_quadrature(a, b), abs=1e-9)
    across = [[-1.0, 0, 1], [1, 0, 1]], [[0.0, -1, 0], [0, 1, 0]]
    exact = gauss_by_quadrature(*(np.array(x) for x in across))
    assert gauss_integral(*across) == pytest.approx(exact, abs=1e-9)


def test_crossings_seen_from_all_sides_are_twice_the_gauss_integral():
    rng = np.random.default_rng(8)
    a, b = rng.normal(size=(5, 3)), rng.normal(size=(5, 3))
    views = rng.normal(size=(4000, 3))
    counts = np.array([seen_crossings(a, b, view).count for view in views])
    error = counts.std() / math.sqrt(len(counts))
    assert counts.mean() == pytest.approx(2.0 * gauss_integral(a, b), abs=4.0 * error)


def test_two_straight_lines_cross_in_their_middle():
    seen = seen_crossings([[-1, 0, 0.5], [1, 0, 0.5]], [[0, -1, 0], [0, 1, 0]], OUT)
    assert seen.count == 1 and seen.outside_a.tolist() == [True]
    np.testing.assert_allclose(seen.on_a, [[0, 0, 0.5]], atol=1e-6)
    np.testing.assert_allclose(seen.on_b, [[0, 0, 0]], atol=1e-6)
    under = seen_crossings([[-1, 0, -0.5], [1, 0, -0.5]], [[0, -1, 0], [0, 1, 0]], OUT)
    assert under.count == -1 and not under.outside_a.any()


def test_a_line_that_goes_over_and_back_adds_nothing_and_one_that_hooks_round_adds_two():
    b = [[0, -2, 0], [0, 2, 0]]
    back = seen_crossings([[-1, 0, 1], [1, 0, 1], [1, 1, 1], [-1, 1, 1]], b, OUT)
    assert len(back.sign) == 2 and back.count == 0
    hook = seen_crossings([[-1, 0, 1], [1, 0, 1], [1, 1, -1], [-1, 1, -1]], b, OUT)
    assert abs(hook.count) == 2


def test_passing_outboard_of_the_other_crosses_at_that_time_and_place():
    b = [(0.0, [[5, 0, 0], [5, 2, 0]])]
    a = [(0.0, [[0, 1, 0], [1, 1, 0.3]]), (10.0, [[0, 1, 0], [1, 1, 0.3], [9, 1, 0.3]])]
    (found,) = crossings(a, b, OUT)
    assert found.since <= 5.0 <= found.until and found.until - found.since <= 0.1
    assert found.outside == "a" and abs(found.change) == 1 and math.isnan(found.undone)
    np.testing.assert_allclose(found.on_b, [5, 1, 0], atol=1e-5)
    (other,) = crossings(b, a, OUT)
    assert other.outside == "b" and other.change == found.change


def test_a_crossing_that_is_taken_back_says_when():
    b = [(0.0, [[5, 0, 0], [5, 2, 0]])]
    out = [[0, 1, 0], [1, 1, 0.3], [9, 1, 0.3]]
    a = [(0.0, out[:2]), (10.0, out), (20.0, out[:2])]
    first, second = crossings(a, b, OUT)
    assert first.change == -second.change
    assert first.undone == second.undone == second.until and second.since <= 15.0 <= second.until


def test_parallel_lines_and_one_rail_shared_never_cross():
    a = [(0.0, [[0, 0, 0], [1, 0, 0]]), (10.0, [[0, 0, 0], [1, 0, 0], [9, 0, 0]])]
    b = [(0.0, [[0, 1, 0], [2, 1, 0]]), (10.0, [[0, 1, 0], [2, 1, 0], [9, 1, 0]])]
    assert crossings(a, b, OUT) == []
    # Both come onto the rail y = 0 from the same side and stay on it, one behind the other.
    a = [(0.0, [[0, 1, 0], [1, 0, 0], [5, 0, 0]]), (10.0, [[0, 1, 0], [1, 0, 0], [9, 0, 0]])]
    b = [
        (0.0, [[0, 2, 0], [2, 2, 0], [3, 0, 0]]),
        (10.0, [[0, 2, 0], [2, 2, 0], [3, 0, 0], [7, 0, 0]]),
    ]
    assert crossings(a, b, OUT) == []


def test_swapping_sides_on_the_way_is_seen_whatever_the_numbers_of_points():
    a = [(0.0, [[0, 0, 1], [3, 0, 1]]), (4.0, [[0, 0, 1], [1, 1, 1], [3, 3, 1]])]
    b = [(0.0, [[0, 1.5, 0], [3, 1.5, 0]])]
    (found,) = crossings(a, b, OUT)
    # The end goes straight from (3, 0) to (3, 3): half way.
    assert found.since <= 2.0 <= found.until and found.outside == "a"


def test_coming_near_is_bracketed_by_the_closed_form():
    b = [(0.0, [[0, 0, 0], [0, 0, 3]])]
    a = [(0.0, [[4, -5, 1], [4, 0, 1]]), (8.0, [[-4, -5, 1], [-4, 0, 1]])]
    a = [(t, np.add(line, [0, -0.5, 0])) for t, line in a]
    (found,) = approaches(a, b, 1.0)
    assert found.low <= 0.5 <= found.high <= 0.51 and found.low >= 0.2
    assert found.time == pytest.approx(4.0, abs=0.25)
    half = math.sqrt(1.0 - 0.25)
    assert found.since <= 4.0 - half and found.until >= 4.0 + half
    assert approaches(a, b, 0.1) == []


def test_a_line_is_paid_out_along_itself():
    line = MovingLine([(0.0, [[0, 0, 0], [1, 0, 0]]), (4.0, [[0, 0, 0], [2, 0, 0], [2, 3, 0]])])
    np.testing.assert_allclose(line.shape(2.0)[-1], [2, 1, 0])
    np.testing.assert_allclose(line.shape(9.0), [[0, 0, 0], [2, 0, 0], [2, 3, 0]])
    assert line.speed(1.0) == pytest.approx(1.0)


def test_what_is_no_moving_line_is_refused():
    with pytest.raises(ValueError, match="rise"):
        crossings([(1.0, [[0, 0, 0]]), (1.0, [[0, 0, 0]])], [(0.0, [[0, 0, 0]])], OUT)
    with pytest.raises(ValueError, match="direction"):
        seen_crossings([[0, 0, 0], [1, 0, 0]], [[0, 0, 0], [1, 0, 0]], [0, 0, 0])
    with pytest.raises(ValueError, match="shape"):
        MovingLine([(0.0, [[0, 0]])])


def test_a_line_touches_an_edge_where_it_is_nearest():
    line = [[0, 0, 1], [4, 0, 1], [4, 4, 1]]
    edges = [[[2, -1, 0.9], [2, 1, 0.9]], [[0, 9, 0], [4, 9, 0]], [[3, 3, 1], [5, 3, 1]]]
    first, second = touches(line, edges, 0.2)
    assert first.distance == pytest.approx(0.1) and (first.stretch, first.edge) == (0, 0)
    np.testing.assert_allclose([first.on_line, first.on_edge], [[2, 0, 1], [2, 0, 0.9]])
    assert second.distance == pytest.approx(0.0, abs=1e-12)
    assert (second.stretch, second.edge) == (1, 2)
    assert [touch.edge for touch in touches(line, edges, 0.05)] == [2]
    tree = build([[[1, -1, 0.5], [3, -1, 0.5], [2, 2, 0.5]]])
    (near,) = touches(line, tree, 0.6)
    assert near.distance == pytest.approx(0.5) and near.on_edge[2] == 0.5
    assert touches(line, np.empty((0, 2, 3)), 1.0) == []


def test_a_swing_is_the_distance_less_line_body_and_stand_off():
    wall = build([[[5, -9, -9], [5, 9, -9], [5, 0, 9]]])
    (one,) = swing([[0, 0, 0], [1, 0, 0]], [2.0, 2.5], 0.6, [("vent", wall, 0.5)])
    assert one.name == "vent" and one.held == 1
    assert (
        one.high == pytest.approx(4.0 - 2.5 - 0.6 - 0.5) and one.low <= one.high <= one.low + 1e-8
    )
    np.testing.assert_allclose(one.witness, [5, 0, 0])
    (broken,) = swing([1, 0, 0], 4.5, 0.6, [("vent", wall, 0.0)])
    assert broken.high == pytest.approx(-1.1)
    with pytest.raises(ValueError, match="0 or more"):
        swing([0, 0, 0], -1.0, 0.6, [])


def test_slack_gap_is_that_of_the_ellipsoid():
    # Half axes 2.5 and 1.5: focal points 4 m apart, line 5 m.
    a, b = [-2, 0, 0], [2, 0, 0]
    beside = build([[[-9, 2, -9], [9, 2, -9], [0, 2, 9]]])
    found = slack_gap(beside, a, b, 5.0)
    assert found.low <= 0.5 <= found.high + 1e-9 and found.high - found.low <= 2e-4
    ahead = build([[[3, -9, -9], [3, 9, -9], [3, 0, 9]]])
    found = slack_gap(ahead, a, b, 5.0)
    assert found.low <= 0.5 <= found.high + 1e-9 and found.high - found.low <= 2e-4
    through = slack_gap(build([[[-9, 1, -9], [9, 1, -9], [0, 1, 9]]]), a, b, 5.0)
    assert through.high == pytest.approx(-0.5, abs=2e-4)
    assert slack_gap(beside, [0, 0, 0], [0, 0, 0], 3.0).high == pytest.approx(0.5, abs=2e-4)
    assert slack_gap(beside, a, b, 4.0).high == pytest.approx(2.0, abs=2e-4)
    with pytest.raises(ValueError, match="cannot be held"):
        slack_gap(beside, a, b, 3.9)


def test_slack_gap_equals_the_nearest_of_many_points_of_the_ellipsoid():
    rng = np.random.default_rng(2)
    u = rng.normal(size=(100_000, 3))
    points = u / np.linalg.norm(u, axis=1)[:, None] * [2.5, 1.5, 1.5]
    for _ in range(5):
        target = rng.normal(size=3) * 2.0 + np.array([0, 3.5, 0])
        found = slack_gap(build([[target] * 3]), [-2, 0, 0], [2, 0, 0], 5.0)
        sampled = np.linalg.norm(points - target, axis=1).min()
        assert found.low <= sampled
        assert found.high == pytest.approx(sampled, abs=0.01)
