"""Of all that has ended before a step only what nothing else waits for already is waited for."""

from __future__ import annotations

import numpy as np
import pytest

from reach.clock import Span
from reach.clock.tasks import SAME
from reach.timing import waits_of


def ended_before(spans, i, j):
    """Whether j had ended, as written, when i began; at the same moment the earlier row counts."""
    begin, end = spans[i].begin, spans[j].end
    return j != i and (end < begin - SAME or (j < i and end <= begin))


def closure(waits):
    """All that each waits for, by way of others too."""
    reached = np.zeros((len(waits), len(waits)), bool)
    for i, before in enumerate(waits):
        reached[i, before] = True
    for k in range(len(waits)):
        reached |= reached[:, [k]] & reached[[k]]
    return reached


@pytest.mark.parametrize("seed", range(20))
def test_each_comes_after_the_same_others_by_way_of_few(seed):
    rng = np.random.default_rng(seed)
    begins = np.sort(rng.integers(0, 12, 30))
    # Some take no time, some end just as others begin.
    spans = [
        Span(float(at), float(at + took))
        for at, took in zip(begins, rng.integers(0, 4, 30), strict=True)
    ]
    whole = [[j for j in range(30) if ended_before(spans, i, j)] for i in range(30)]
    few = waits_of(spans)
    assert np.array_equal(closure(few), closure(whole))
    assert sum(map(len, few)) < sum(map(len, whole)) / 2


def test_in_a_row_each_waits_for_the_one_before_it():
    assert waits_of([Span(float(i), float(i + 1)) for i in range(5)]) == [[], [0], [1], [2], [3]]
