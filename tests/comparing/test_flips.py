"""What becomes of answers: matched question by question, worse, better, fallen, gone."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.comparing.flips import Change, Flip, change_of, flips
from reach.comparing.pairing import paired
from reach.comparing.threshold import LEAST, Threshold, threshold_of
from reach.finding import Finding

NAN, INF = math.nan, math.inf
FAIL, OPEN, REVIEW, PASS, SILENT = (
    (-0.3, -0.2), (-0.3, 0.3), (-0.005, 0.005), (0.2, 0.3), (NAN, NAN),
)  # fmt: skip


def answer(low: float, high: float, **more: Any) -> Finding:
    asked: dict[str, Any] = {
        "check": "reach", "step": "turn", "about": ("W1", "IB1", "SK3"), "case": "medium",
        "because": "It was looked at.", "unit": "m",
    }  # fmt: skip
    return Finding(low=low, high=high, **(asked | more))


def change(old: tuple[float, float] | None, new: tuple[float, float] | None) -> Change:
    a, b = (None if ends is None else answer(*ends) for ends in (old, new))
    return change_of(a, b, threshold_of(None))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (PASS, FAIL, Change.WORSE),
        (PASS, OPEN, Change.WORSE),
        (PASS, REVIEW, Change.WORSE),
        (REVIEW, OPEN, Change.WORSE),
        (OPEN, FAIL, Change.WORSE),
        (FAIL, PASS, Change.BETTER),
        (FAIL, OPEN, Change.BETTER),
        (OPEN, REVIEW, Change.BETTER),
        (PASS, SILENT, Change.NOT_ASKED_NOW),
        (FAIL, SILENT, Change.NOT_ASKED_NOW),
        (SILENT, PASS, Change.NEW),
        (None, FAIL, Change.NEW),
        (PASS, None, Change.GONE),
        (SILENT, None, Change.ALIKE),
        (None, SILENT, Change.ALIKE),
        (SILENT, SILENT, Change.ALIKE),
        (PASS, PASS, Change.ALIKE),
    ],
)
def test_verdicts_are_held_against_each_other(
    old: tuple[float, float] | None, new: tuple[float, float] | None, said: Change
) -> None:
    assert change(old, new) is said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ((0.2, 0.3), (0.1, 0.17), Change.FELL),  # apart by more than 0.02 m
        ((0.2, 0.3), (0.1, 0.185), Change.MAY_HAVE_FALLEN),  # apart by less than 0.02 m
        ((0.2, 0.3), (0.1, 0.3), Change.MAY_HAVE_FALLEN),  # they overlap, one end fell
        ((0.2, 0.3), (0.2, 0.25), Change.ALIKE),  # as much is sure to be left
        ((-0.3, 0.3), (-0.3, 0.1), Change.MAY_HAVE_FALLEN),  # of an open answer both ends tell
        ((0.2, 0.3), (0.19, 0.3), Change.ALIKE),  # no more than the threshold
        ((0.2, 0.3), (0.25, 0.3), Change.ALIKE),  # no less is left
        ((0.2, 0.3), (0.33, 0.4), Change.ROSE),
        ((0.2, INF), (0.2, INF), Change.ALIKE),
        ((0.2, INF), (0.2, 0.5), Change.ALIKE),
        ((-INF, -0.2), (-INF, -0.2), Change.ALIKE),
        ((-INF, -0.2), (-INF, -0.3), Change.MAY_HAVE_FALLEN),
        ((-0.3, -0.2), (-0.5, -0.4), Change.FELL),
    ],
)
def test_a_margin_fell_for_certain_only_where_the_intervals_are_apart(
    old: tuple[float, float], new: tuple[float, float], said: Change
) -> None:
    assert change(old, new) is said


ends = st.tuples(st.floats(-1, 1), st.floats(0, 1)).map(lambda e: (e[0], e[0] + e[1]))


@given(ends, ends)
def test_what_fell_one_way_rose_the_other_and_what_flipped_flips_back(
    old: tuple[float, float], new: tuple[float, float]
) -> None:
    back = {Change.WORSE: Change.BETTER, Change.BETTER: Change.WORSE,
            Change.FELL: Change.ROSE, Change.ROSE: Change.FELL}  # fmt: skip
    there, again = change(old, new), change(new, old)
    assert back.get(there, again) is again
    assert change(old, old) is Change.ALIKE


WORSE = {
    ("pass", "fail"), ("pass", "fails by more"), ("pass", "open"),
    ("fail", "fails by more"),
    ("nothing", "fail"), ("nothing", "fails by more"), ("nothing", "open"),
    ("not asked", "fail"), ("not asked", "fails by more"), ("not asked", "open"),
}  # fmt: skip
STATES = {
    "nothing": None, "pass": PASS, "passes by less": (0.03, 0.04), "fail": FAIL,
    "fails by more": (-0.6, -0.5), "open": OPEN, "not asked": SILENT,
}  # fmt: skip


@pytest.mark.parametrize("new", STATES)
@pytest.mark.parametrize("old", ["nothing", "pass", "fail", "not asked"])
def test_worse_is_what_does_not_pass_and_did_or_was_not_there_or_fails_by_more(
    old: str, new: str
) -> None:
    was, now = STATES[old], STATES[new]
    a, b = (None if ends is None else answer(*ends) for ends in (was, now))
    assert Flip(change(was, now), a, b).is_worse is ((old, new) in WORSE)


# ---- threshold -------------------------------------------------------------------------


def test_a_threshold_holds_for_its_unit_and_the_others_keep_theirs() -> None:
    least = threshold_of("5 cm, 3 deg, 2 min")
    assert least.of("m", 1.0) == pytest.approx(0.05)
    assert least.of("rad", 1.0) == pytest.approx(math.radians(3.0))
    assert least.of("s", 1.0) == 120.0
    assert least.of("N m", 1.0) == LEAST["N m"]


def test_a_share_is_of_what_was_left_or_missing_and_the_larger_holds() -> None:
    least = threshold_of("20 %, 0.1")
    assert least.of("m", 0.5) == pytest.approx(0.1)
    assert least.of("m", -0.5) == pytest.approx(0.1)
    assert least.of("m", 0.01) == LEAST["m"]
    assert least.of("m", INF) == LEAST["m"]
    assert least.of("", 0.2) == pytest.approx(0.1)


@pytest.mark.parametrize("text", ["5 kg", "much", "-0.1 m", "-5 %", "0.1 furlong", "x %"])
def test_what_is_no_amount_of_a_margin_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"found|negative|needs"):
        threshold_of(text)


# ---- which answer belongs to which -----------------------------------------------------


def pair_of(old: list[Finding], new: list[Finding], **renamed: str) -> list[tuple[int, int]]:
    """Indices of each pair; -1 where there is no such answer."""

    def index(some: list[Finding], one: Finding | None) -> int:
        return next((k for k, each in enumerate(some) if each is one), -1)

    return [(index(old, a), index(new, b)) for a, b in paired(old, new, renamed)]


def test_answers_of_the_same_question_are_matched_whatever_their_order() -> None:
    old = [answer(*PASS), answer(*FAIL, case="small"), answer(*PASS, check="sight")]
    assert pair_of(old, old[::-1]) == [(2, 0), (1, 1), (0, 2)]


def test_a_step_done_from_another_place_by_another_is_the_same_question() -> None:
    old = [answer(*FAIL, about=("W2", "IB1", "SK3"), case="small")]
    new = [answer(*PASS, about=("W1", "IB1", "SK4"), case="medium")]
    assert pair_of(old, new) == [(0, 0)]


def test_of_several_answers_those_with_most_names_in_common_are_one_question() -> None:
    old = [answer(*FAIL, about=("W1", "IB1", "SK3")), answer(*PASS, about=("W1", "IB2", "SK3"))]
    new = [answer(*PASS, about=("W1", "IB2", "SK4")), answer(*PASS, about=("W1", "IB1", "SK4"))]
    assert pair_of(old, new) == [(1, 0), (0, 1)]


def test_kinds_of_answer_of_one_check_are_never_mixed_up() -> None:
    worst = answer(*PASS, check="error", numbers={"answer": "worst case"})
    share = answer(*PASS, check="error", numbers={"answer": "probability 99.6 % at least"})
    less = answer(*FAIL, check="error", numbers={"answer": "probability 91.2 % at least"})
    assert pair_of([worst, share], [less, worst]) == [(1, 0), (0, 1)]
    assert pair_of([worst], [less]) == [(-1, 0), (0, -1)]


def test_a_renamed_step_takes_its_answers_along() -> None:
    old, new = [answer(*PASS)], [answer(*FAIL, step="turn it")]
    assert pair_of(old, new, turn="turn it") == [(0, 0)]


def test_a_question_asked_once_may_be_asked_in_another_step() -> None:
    old = [answer(*FAIL, check="rescue", step="7 SK1")]
    assert pair_of(old, [answer(*FAIL, check="rescue", step="12 CB1")]) == [(0, 0)]
    other = [answer(*FAIL, check="rescue", step="12 CB1", about=("W1", "SK9"))]
    assert pair_of(old, other) == [(-1, 0), (0, -1)]


def test_every_answer_is_in_one_pair() -> None:
    old = [answer(*PASS, step=f"s{k % 3}", case=f"c{k % 2}") for k in range(9)]
    new = [answer(*PASS, step=f"s{k % 4}", case=f"c{k % 3}") for k in range(8)]
    pairs = pair_of(old, new)
    assert sorted(i for i, _ in pairs if i >= 0) == list(range(9))
    assert sorted(j for _, j in pairs if j >= 0) == list(range(8))


def test_answers_of_a_removed_step_go_along_with_it_and_are_not_worse() -> None:
    old = [answer(*PASS), answer(*FAIL, step="gone", about=("W1", "IB9", "SK3"))]
    least = Threshold(LEAST)
    _, gone = flips(old, old[:1], least, removed=["gone"])
    assert (gone.change, gone.is_worse) == (Change.GONE_WITH_STEP, False)
    _, lost = flips(old, old[:1], least)
    assert lost.change is Change.GONE


def test_what_is_worse_is_put_under_its_new_cause_and_what_is_better_under_the_old_one() -> None:
    cause = {"cause": "BG-2 stays on RL30"}
    (worse,) = flips([answer(*PASS)], [answer(*FAIL, numbers=cause)], threshold_of(None))
    (better,) = flips([answer(*FAIL, numbers=cause)], [answer(*PASS)], threshold_of(None))
    (bare,) = flips([answer(*FAIL)], [answer(*PASS)], threshold_of(None))
    assert (worse.cause, better.cause, bare.cause) == (
        "BG-2 stays on RL30", "BG-2 stays on RL30", "step turn",
    )  # fmt: skip
