from __future__ import annotations

import numpy as np
import pytest
from slow_twins import segment_to_segment

from reach.geometry import segment_pair_distance, segment_segment_distance

O = np.zeros(3)  # noqa: E741
X, Y, Z = np.eye(3)


@pytest.mark.parametrize(
    ("name", "ends", "distance"),
    [
        ("crossing", (-X, X, -Y, Y), 0.0),
        ("crossing above", (-X, X, Z - Y, Z + Y), 1.0),
        ("touching at an end", (O, X, X, X + Y), 0.0),
        ("parallel side by side", (O, 2 * X, Y - X, Y + X), 1.0),
        ("parallel apart", (O, X, 4 * X + 4 * Y, 5 * X + 4 * Y), 5.0),
        ("on one line, apart", (O, X, 3 * X, 4 * X), 2.0),
        ("on one line, overlapping", (O, 2 * X, X, 3 * X), 0.0),
        ("the same", (O, X, O, X), 0.0),
        ("the same, turned round", (O, X, X, O), 0.0),
        ("first without length", (Y, Y, -X, X), 1.0),
        ("second without length", (-X, X, Y, Y), 1.0),
        ("both without length", (O, O, 3 * X + 4 * Y, 3 * X + 4 * Y), 5.0),
    ],
)
def test_edge_cases_by_name(name, ends, distance):
    assert segment_segment_distance(*ends) == pytest.approx(distance, abs=1e-15)
    assert segment_segment_distance(*ends[2:], *ends[:2]) == pytest.approx(distance, abs=1e-15)


def test_the_batch_agrees_with_the_numpy_twin_and_with_the_scalar_routine():
    p0, p1, q0, q1 = np.random.default_rng(1).normal(size=(4, 2000, 3))
    found = segment_pair_distance(p0, p1, q0, q1)
    for i in range(2000):
        twin = segment_to_segment(p0[i], p1[i], q0[i], q1[i])
        assert found[i] == pytest.approx(twin, abs=1e-12)
        assert found[i] == segment_segment_distance(p0[i], p1[i], q0[i], q1[i])


def test_one_segment_may_face_many():
    found = segment_pair_distance([[0, 0, 0], [0, 0, 2]], [[1, 0, 0], [1, 0, 2]], -Y, Y)
    np.testing.assert_array_equal(found, [0.0, 2.0])


def test_unknown_ends_are_unknown_and_no_segment_gives_no_answer():
    assert np.isnan(segment_pair_distance([np.nan, 0, 0], X, Y, Z)[0])
    assert segment_pair_distance([], [], [], []).shape == (0,)
    with pytest.raises(ValueError, match="q1 has 2 rows where 1 are asked"):
        segment_pair_distance(O, X, Y, [Z, Z])
