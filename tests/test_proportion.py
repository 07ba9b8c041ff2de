"""Intervals of counted shares agree with an independent library."""

import pytest
from scipy.stats import binomtest

from reach.proportion import interval


@pytest.mark.parametrize("n", [1, 7, 40, 1000])
@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_ends_are_those_of_the_exact_binomial_test(n, level):
    for successes in {0, 1, n // 3, n // 2, n - 1, n}:
        expected = binomtest(successes, n).proportion_ci(level, "exact")
        assert interval(successes, n, level) == pytest.approx(
            (expected.low, expected.high), abs=1e-12
        )


@pytest.mark.parametrize(("successes", "n"), [(-1, 5), (6, 5), (0, 0)])
def test_counts_that_make_no_sense_are_refused(successes, n):
    with pytest.raises(ValueError, match="successes"):
        interval(successes, n)


def test_a_level_outside_0_to_1_is_refused():
    with pytest.raises(ValueError, match="level"):
        interval(1, 2, 1.0)
