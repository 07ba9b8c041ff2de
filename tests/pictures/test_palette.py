from __future__ import annotations

import itertools

import numpy as np
import pytest

from reach.finding import Verdict
from reach.pictures import palette
from reach.reports.verdicts import STYLE

# Source: Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color
# vision deficiency", IEEE TVCG 15(6), 2009, table 1, severity 1.0; acts on linear RGB.
SEEN_BY = {
    "common vision": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}
APART = 14.0
"""Least distance in CIE L*a*b*; 2.3 is just noticed side by side."""


def lab(colour: str, seen_by: str) -> np.ndarray:
    """CIE L*a*b* (D65) of an sRGB colour as seen with a kind of colour vision."""
    c = np.array(palette.rgb(colour)) / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    linear = np.clip(SEEN_BY[seen_by] @ linear, 0.0, 1.0)
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    t = to_xyz @ linear / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t * 841 / 108 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("seen_by", SEEN_BY)
def test_meanings_are_told_apart(seen_by):
    for (one, a), (other, b) in itertools.combinations(palette.APART.items(), 2):
        distance = np.linalg.norm(lab(a, seen_by) - lab(b, seen_by))
        assert distance > APART, f"{one} and {other} are {distance:.1f} apart for {seen_by}"


def test_white_is_a_hundred_in_lightness():
    assert lab("#ffffff", "common vision") == pytest.approx([100, 0, 0], abs=0.02)


def test_fails_and_open_answers_keep_the_colours_of_the_table():
    for verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW):
        assert palette.VERDICT[verdict] in STYLE[verdict]
