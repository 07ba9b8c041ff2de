"""Body data and body model against published figures; every number stands in a CSV beside."""

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from reach.files.people import load_population, load_suits
from reach.worker.body import Body, percentile_body
from reach.worker.figure import HIGH, LOW, N_PARAMETERS, Figure, Grip, figure_of
from reach.worker.search import Effort, find_postures

HERE = Path(__file__).parent
MM = 1e-3
MODEL_TOLERANCE = 0.020
"""What a percentile body may be off the surveyed reach, m."""

PERCENTILES = (5, 50, 95)
SEXES = ("male", "female")


def rows(name):
    with (HERE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def surveyed(sex, dimension, percentile):
    """Percentile in the shipped statistics, m."""
    population = load_population(sex)
    at = population.levels.tolist().index(percentile)
    return float(population.percentiles[population.index(dimension), at])


def mean(sex, dimension):
    population = load_population(sex)
    return float(population.mean[population.index(dimension)])


# Source: ANSUR II public data set; transcription in ansur2-percentiles.csv.
@pytest.mark.parametrize("row", rows("ansur2-percentiles.csv"), ids=lambda r: r["row"] + r["sex"])
def test_shipped_statistics_agree_with_the_survey(row):
    levels = [level for level in (1, 5, 50, 95, 99) if row[f"p{level}"]]
    assert levels
    for level in levels:
        expected = float(row[f"p{level}"]) * MM
        found = surveyed(row["sex"], row["dimension"], level)
        assert found == pytest.approx(expected, abs=float(row["tol_raw"]) * MM)


def reached_by_links(body: Body):
    """The three surveyed reaches as sums of links, m."""
    k = body.links
    arm = k.upper_arm + k.forearm
    return {
        "thumbtipreach": k.wall + arm + k.thumb,
        "span": 2 * (k.half + arm + k.hand),
        "ohs": k.shoulder + k.rise + arm + k.hand,
    }


def expected_reach(sex, dimension, percentile):
    if dimension != "ohs":
        return surveyed(sex, dimension, percentile)
    # Source: derived from the raw ANSUR II rows; transcription in ansur2-derived.csv.
    (row,) = [r for r in rows("ansur2-derived.csv") if r["sex"] == sex]
    return float(row[f"p{percentile}"]) * MM


def furthest(figure: Figure, start, toward):
    """Largest distance along a ray that the posture search reaches, trunk locked upright, m."""
    p = figure.p.copy()
    p[LOW:N_PARAMETERS] = 0.0
    locked = Figure(figure.body, figure.suit, figure.grip, p)
    assert p[HIGH] == 0.0
    low, high = 0.2, 1.4
    effort = Effort(n_trunks=2, n_seeds=2, n_steps=1000, near=1.5)
    while high - low > 0.0005:
        middle = 0.5 * (low + high)
        tip = np.asarray(start) + middle * np.asarray(toward)
        reached = find_postures(locked, tip, toward, effort).violation[0] <= 1e-6
        low, high = (middle, high) if reached else (low, middle)
    return low


@cache
def reached_by_search(sex, percentile):
    """The three surveyed reaches of a percentile body in working clothes, m."""
    return searched_reaches(percentile_body(load_population(sex), percentile))


def searched_reaches(body: Body):
    """The three surveyed reaches of any body in working clothes, m."""
    k, suit = body.links, load_suits()["unsuited"]
    shoulder = np.array([0.0, -k.half, k.shoulder])

    def reach(tip_from_wrist, toward):
        grip = Grip(tip=(tip_from_wrist - k.grip, 0.0, 0.0), tolerance=np.radians(3.0))
        return furthest(figure_of(body, suit, grip), shoulder, toward)

    return {
        "thumbtipreach": k.wall + reach(k.thumb, (1.0, 0.0, 0.0)),
        "span": 2 * (k.half + reach(k.hand, (0.0, -1.0, 0.0))),
        "ohs": k.shoulder + reach(k.hand, (0.0, 0.0, 1.0)),
    }


@pytest.mark.parametrize("dimension", ["thumbtipreach", "span", "ohs"])
@pytest.mark.parametrize("percentile", PERCENTILES)
@pytest.mark.parametrize("sex", SEXES)
def test_unsuited_percentile_body_reaches_as_far_as_surveyed(sex, percentile, dimension):
    expected = expected_reach(sex, dimension, percentile)
    searched = reached_by_search(sex, percentile)[dimension]
    assert searched == pytest.approx(expected, abs=MODEL_TOLERANCE)
    body = percentile_body(load_population(sex), percentile)
    assert searched == pytest.approx(reached_by_links(body)[dimension], abs=0.003)


# Source: ANSUR II raw rows, mean over people of span built from arms hung at the acromion:
# 194 mm (men) and 172 mm (women) over the measured span, to 1 mm; a mean of sums is the sum of
# means, so the shipped means must give it.
@pytest.mark.parametrize(("sex", "too_long"), [("male", 194), ("female", 172)])
def test_arms_hung_at_the_acromion_overstate_span_but_ours_do_not(sex, too_long):
    segments = ("acromionradialelength", "radialestylionlength", "handlength")
    hung = mean(sex, "biacromialbreadth") + 2 * sum(mean(sex, name) for name in segments)
    assert hung - mean(sex, "span") == pytest.approx(too_long * MM, abs=1 * MM)
    population = load_population(sex)
    dims = dict(zip(population.names, population.mean.tolist(), strict=True))
    ours = reached_by_links(Body(sex, dims, population.centres, "mean"))["span"]
    assert ours == pytest.approx(mean(sex, "span"), abs=MODEL_TOLERANCE)


# Source: NUREG-0700 Rev. 3, Table 11.4 (MIL-STD-1472G App. B), nureg-0700-table-11-4.csv.
def test_functional_reach_of_the_95th_percentile_man():
    plain, _ = rows("nureg-0700-table-11-4.csv")
    expected = float(plain["mm_95m"]) * MM
    assert surveyed("male", "thumbtipreach", 95) == pytest.approx(expected, abs=1 * MM)
    ours = reached_by_links(percentile_body(load_population("male"), 95))["thumbtipreach"]
    assert ours == pytest.approx(expected, abs=MODEL_TOLERANCE)


# Source: NUREG-0700 Rev. 3, Table 11.4: pushing the shoulder forward adds 58 mm (5F), 56 mm (95M).
@pytest.mark.parametrize(
    ("column", "sex", "percentile", "gain"),
    [("mm_5f", "female", 5, 58), ("mm_95m", "male", 95, 56)],
)
def test_leaning_in_adds_what_the_table_says_and_more_than_our_shoulder_can(
    column, sex, percentile, gain
):
    plain, extended = (float(row[column]) for row in rows("nureg-0700-table-11-4.csv"))
    assert extended - plain == pytest.approx(gain, abs=1)
    # The model keeps the shoulder on the trunk when reaching ahead, so it is on the safe side.
    ours = reached_by_links(percentile_body(load_population(sex), percentile))["thumbtipreach"]
    assert ours < extended * MM - 0.02
