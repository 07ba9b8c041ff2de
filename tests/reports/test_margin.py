"""A margin in words: who is short, who is inside, by how much, and nothing promised too much."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.finding import Finding, Verdict
from reach.reports.margin import margin_text

INF = math.inf


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [
        (0.11, 0.16, "m", "inside by 0.110 .. 0.160 m"),
        (0.11, INF, "m", "inside by 0.110 m at least"),
        (0.11, 0.11, "m", "inside by 0.110 m"),
        (-INF, -0.18, "m", "short by 0.180 m at least"),
        (-0.25, -0.18, "m", "short by 0.180 .. 0.250 m"),
        (-0.25, 0.1, "m", "between short by 0.250 m and inside by 0.100 m"),
        (-INF, 0.1, "m", "inside by 0.100 m at most"),
        (-0.1, INF, "m", "short by 0.100 m at most"),
        (-INF, INF, "m", "margin unknown"),
        (math.nan, math.nan, "m", "not asked"),
        (INF, INF, "m", "inside by an unlimited amount"),
        (0.0, 0.0, "", "met"),
        (-0.0, -0.0, "", "met"),
        (-1.0, -1.0, "", "not met"),
        (-1.0, -0.5, "", "short by 0.50 .. 1.00"),
        (0.0, 0.0, "m", "inside by 0.000 m"),
        (-1.0, -1.0, "s", "short by 1.0 s"),
        (-3.0, -3.0, "N m", "short by 3.0 N m"),
        (math.radians(20.0), math.radians(25.0), "rad", "inside by 20.0 .. 25.0 deg"),
    ],
)
def test_each_kind_of_interval_has_its_words(low: float, high: float, unit: str, text: str) -> None:
    assert margin_text(low, high, unit) == text


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (11.0, 11.1, "inside by 11.0 .. 11.1 s"),
        (-1200.0, -1200.0, "short by 20.0 min"),
        (-1201.0, -1201.0, "short by 20.1 min"),
        (723.3, 723.4, "inside by 12.0 .. 12.1 min"),
        (-7.0, 240.0, "between short by 0.2 min and inside by 4.0 min"),
        (INF, INF, "inside by an unlimited amount"),
        (39_600.0, 39_600.0, "inside by 11.0 h"),
        (2_505_600.0, 2_505_600.0, "inside by 29.0 d"),
    ],
)
def test_long_times_are_told_in_minutes_hours_and_days(low: float, high: float, text: str) -> None:
    assert margin_text(low, high, "s") == text


def test_both_systems_stand_side_by_side() -> None:
    assert margin_text(0.254, 0.508, "m", "both") == (
        "inside by 0.254 m (10.0 in) .. 0.508 m (20.0 in)"
    )
    assert margin_text(0.349, 0.349, "rad", "both") == "inside by 19.9 deg"


@pytest.mark.parametrize("unit", ["m", "rad", "N m", "N", ""])
@given(value=st.floats(1e-6, 1e3).filter(lambda value: value != 1.0))  # 1.0: "not met"
def test_one_number_never_shows_less_missing_or_more_left_than_there_is(
    value: float, unit: str
) -> None:
    def shown(text: str) -> float:
        return float(re.findall(r"\d+\.\d+", text)[0])

    inside = math.degrees(value) if unit == "rad" else value
    slack = 2e-5
    assert shown(margin_text(-value, -value, unit)) >= inside - slack
    assert shown(margin_text(value, value, unit)) <= inside + slack


def test_a_load_beyond_what_is_borne_is_rounded_up_and_a_proved_one_down() -> None:
    assert margin_text(-1.1588, -1.1588, "") == "short by 1.16"
    assert margin_text(-1.1588, -1.1512, "") == "short by 1.15 .. 1.16"
    assert margin_text(-INF, -1.1588, "") == "short by 1.15 at least"


def test_both_ends_show_as_many_digits() -> None:
    assert margin_text(0.0063, 0.01, "") == "inside by 0.006 .. 0.010"
    assert margin_text(1e-9, 0.2, "m") == "inside by 0.000000001 .. 0.200 m"


def test_a_shortage_too_small_to_print_does_not_print_as_zero() -> None:
    assert margin_text(-INF, -0.0004, "m") == "short by 0.0004 m at least"


def test_a_shortage_that_is_only_known_to_be_there_says_so() -> None:
    assert margin_text(-INF, -1e-9, "m") == "short, by how much is not known"


def test_rounding_widens_an_interval() -> None:
    assert margin_text(0.1109, 0.1601, "m") == "inside by 0.110 .. 0.161 m"
    assert margin_text(-0.1601, -0.1109, "m") == "short by 0.110 .. 0.161 m"


ends = st.floats(-1e3, 1e3) | st.sampled_from([-INF, INF, 0.0, -1.0])


@given(st.tuples(ends, ends).map(sorted), st.sampled_from(["m", "rad", "N m", "s", ""]))
def test_the_words_agree_with_the_verdict_and_keep_the_interval(
    interval: list[float], unit: str
) -> None:
    low, high = interval
    text = margin_text(low, high, unit)
    verdict = Finding("reach", "s", (), "", "So it is.", low, high, unit).verdict
    settled = not text.endswith("at most") and not text.startswith(("between", "margin"))
    assert (text.startswith(("inside by", "met")) and settled) == (verdict is Verdict.PASS)
    assert (text.startswith(("short", "not met")) and settled) == (verdict is Verdict.FAIL)
    if unit == "m" and " .. " in text:
        least, most = (float(number) for number in re.findall(r"\d+\.\d+", text))
        assert least <= min(abs(low), abs(high)) + 1e-6
        assert most >= max(abs(low), abs(high)) - 1e-6
