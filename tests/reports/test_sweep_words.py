"""Words of a payload's way on made-up values: rounding outward, the curve as one line."""

from __future__ import annotations

import numpy as np
import pytest

from reach.payload.records import Curve
from reach.reports.sweep_words import bracket, down, sparkline, up


def curve_of(margins: list[float], n_legs: int) -> Curve:
    """Return a curve with evenly many spans to a leg."""
    each = len(margins) // n_legs
    start = np.concatenate([leg + np.arange(each) / each for leg in range(n_legs)])
    low = np.array(margins)
    return Curve(
        "crate", start, start + 1.0 / each, low + 0.2, low + 0.2, low, low, ("post",) * len(low)
    )


@pytest.mark.parametrize("value", [0.4611, -0.1389, 0.2, -0.2, 1e-9, 0.0])
def test_rounding_promises_no_more_than_was_shown(value: float) -> None:
    assert down(value) <= value + 1e-6
    assert up(value) >= value - 1e-6
    assert up(value) - down(value) <= 1e-3 + 1e-9


def test_a_bracket_holds_both_ends() -> None:
    assert bracket(0.12345, 0.12399) == "0.123 .. 0.124"
    assert bracket(0.0, 0.0) == "0.000"


def test_every_leg_has_its_columns_and_short_spans_a_cross() -> None:
    line = sparkline(curve_of([0.8, 0.4, -0.1, 0.2, 0.05, 0.8], 2), 2, 3, 0.8)
    assert line == "█▅×|▃▁█"


def test_a_column_shows_the_least_of_its_spans() -> None:
    margins = [0.8] * 5 + [-0.01] + [0.8] * 6
    assert sparkline(curve_of(margins, 1), 1, 4, 0.8) == "█×██"


def test_a_span_that_is_longer_than_a_column_counts_in_each() -> None:
    assert sparkline(curve_of([-0.1, 0.8], 1), 1, 4, 0.8) == "××██"
