"""The verdict follows from the interval, and the exit code from the verdicts."""

from __future__ import annotations

import math
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.finding import NARROW, RANK, Finding, Mark, Verdict, count_of, exit_code

INF, NAN = math.inf, math.nan


def finding(low: float, high: float, unit: str = "m", because: str = "So it is.") -> Finding:
    return Finding("reach", "step", ("W1",), "small", because, low, high, unit)


OF = {
    Verdict.FAIL: finding(-0.2, -0.1),
    Verdict.OPEN: finding(-0.2, 0.1),
    Verdict.REVIEW: finding(-0.005, 0.005),
    Verdict.PASS: finding(0.1, 0.2),
    Verdict.NOT_ASKED: finding(NAN, NAN),
}


@pytest.mark.parametrize("verdict", list(Verdict))
def test_each_verdict_has_its_interval(verdict: Verdict) -> None:
    assert OF[verdict].verdict is verdict


@pytest.mark.parametrize(
    ("low", "high", "unit", "verdict"),
    [
        (0.0, 0.0, "", Verdict.PASS),
        (0.0, INF, "m", Verdict.PASS),
        (-INF, -1e-300, "m", Verdict.FAIL),
        (-1e-12, 0.0, "m", Verdict.REVIEW),
        (-INF, INF, "m", Verdict.OPEN),
        (-0.01, 0.01, "m", Verdict.REVIEW),
        (-0.02, 0.01, "m", Verdict.OPEN),
        (-0.01, 0.01, "furlong", Verdict.OPEN),
        (math.radians(-0.4), math.radians(0.4), "rad", Verdict.REVIEW),
    ],
)
def test_the_edges_of_a_verdict(low: float, high: float, unit: str, verdict: Verdict) -> None:
    assert finding(low, high, unit).verdict is verdict


@given(st.floats(allow_nan=False), st.floats(allow_nan=False), st.sampled_from(list(NARROW)))
def test_every_interval_has_a_verdict_and_a_pass_is_never_negative(
    a: float, b: float, unit: str
) -> None:
    low, high = sorted((a, b))
    verdict = finding(low, high, unit).verdict
    assert (verdict is Verdict.PASS) == (low >= 0.0)
    assert (verdict is Verdict.FAIL) == (high < 0.0)
    assert verdict is not Verdict.NOT_ASKED


@pytest.mark.parametrize(
    ("low", "high", "because", "message"),
    [
        (0.2, 0.1, "So it is.", "runs backwards"),
        (NAN, 0.1, "So it is.", "one end"),
        (0.1, NAN, "So it is.", "one end"),
        (0.1, 0.2, "so it is", "must be a sentence"),
    ],
)
def test_a_finding_that_says_nothing_clear_cannot_be_made(
    low: float, high: float, because: str, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        finding(low, high, because=because)


def test_a_mark_has_as_many_points_as_its_kind_needs() -> None:
    here, there = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0)
    assert Mark("segment", (here, there), "gap").radius == 0.0
    for kind, points in (("segment", (here,)), ("sphere", (here, there)), ("cloud", (here,))):
        with pytest.raises(ValueError, match=f"kind '{kind}'"):
            Mark(kind, points, "gap")


def test_worst_comes_first() -> None:
    order = [Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW, Verdict.PASS, Verdict.NOT_ASKED]
    assert sorted(Verdict, key=RANK.__getitem__) == order
    assert list(count_of([])) == order


@pytest.mark.parametrize(
    ("verdicts", "code"),
    [
        ((), 3),
        ((Verdict.NOT_ASKED,), 3),
        ((Verdict.PASS,), 0),
        ((Verdict.PASS, Verdict.NOT_ASKED), 0),
        ((Verdict.PASS, Verdict.OPEN), 3),
        ((Verdict.PASS, Verdict.REVIEW), 3),
        ((Verdict.PASS, Verdict.OPEN, Verdict.FAIL), 1),
        ((Verdict.FAIL, Verdict.NOT_ASKED), 1),
    ],
)
def test_the_exit_code_is_that_of_the_worst(verdicts: tuple[Verdict, ...], code: int) -> None:
    for order in permutations(verdicts):
        assert exit_code([OF[verdict] for verdict in order]) == code


def test_counts_add_up() -> None:
    assert count_of([OF[Verdict.OPEN], OF[Verdict.PASS], OF[Verdict.OPEN]]) == {
        Verdict.FAIL: 0,
        Verdict.OPEN: 2,
        Verdict.REVIEW: 0,
        Verdict.PASS: 1,
        Verdict.NOT_ASKED: 0,
    }
