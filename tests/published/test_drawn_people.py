"""People drawn from the survey against its statistics, its derived facts and its raw rows.

Tolerances are 4.5 standard errors of the sample plus what mapping through percentiles costs.
"""

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from test_body_data import MM, reached_by_links, searched_reaches

from reach.files.people import load_population
from reach.model.population_draw import PopulationDraw
from reach.worker.body import overhead_reach
from reach.worker.crowd import draw, drawn_dimensions

N = 40_000
SEXES = ("male", "female")
WATCHED = ("stature", "thumbtipreach", "span", "biacromialbreadth")
SEGMENTS = ("acromionradialelength", "radialestylionlength", "handlength")
SURVEY = Path(__file__).parents[3] / "shared/data/ansur2"
EACH_SEX = pytest.mark.parametrize("sex", SEXES)


@cache
def drawn(sex):
    """Columns of N drawn people by name, m."""
    population = load_population(sex)
    return dict(zip(population.names, drawn_dimensions(population, N, 1).T, strict=True))


@EACH_SEX
def test_means_and_deviations_are_those_of_the_survey(sex):
    population = load_population(sex)
    for name in population.names:
        i = population.index(name)
        mean, sd, column = population.mean[i], population.sd[i], drawn(sex)[name]
        # The surveyed values are rounded to the mm, and only 11 levels carry the shape.
        slack = 1.0 * MM if name != "weightkg" else 0.1
        assert column.mean() == pytest.approx(mean, abs=4.5 * sd / np.sqrt(N) + slack), name
        assert column.std() == pytest.approx(sd, rel=0.035), name
        if name in WATCHED:
            assert column.mean() == pytest.approx(mean, abs=4.5 * sd / np.sqrt(N) + 0.3 * MM)
            assert column.std() == pytest.approx(sd, rel=0.02), name


@EACH_SEX
def test_correlations_are_those_of_the_survey(sex):
    population = load_population(sex)
    columns = np.array([drawn(sex)[name] for name in population.names])
    off = np.abs(np.corrcoef(columns) - population.correlation)
    assert off.max() < 0.03
    which = [population.index(name) for name in (*WATCHED, *SEGMENTS, "acromialheight")]
    assert off[np.ix_(which, which)].max() < 0.015


# Source: ANSUR II; correlations as in the published table, standards rows 22 and 23.
@pytest.mark.parametrize(
    ("sex", "other", "expected"),
    [
        ("male", "thumbtipreach", 0.691),
        ("female", "thumbtipreach", 0.671),
        ("male", "acromialheight", 0.967),
        ("female", "acromialheight", 0.972),
    ],
)
def test_stature_goes_with_reach_and_shoulder_height(sex, other, expected):
    found = np.corrcoef(drawn(sex)["stature"], drawn(sex)[other])[0, 1]
    assert found == pytest.approx(expected, abs=0.012)


@pytest.mark.parametrize("name", WATCHED)
@EACH_SEX
def test_percentiles_1_to_99_are_those_of_the_survey(sex, name):
    population = load_population(sex)
    expected = population.percentiles[population.index(name)]
    sd = population.sd[population.index(name)]
    for level, value in zip(population.levels, expected, strict=True):
        share = level / 100.0
        # Standard error of a sample quantile: sqrt(p (1 - p) / n) over the density there.
        near = np.interp([level - 0.5, level + 0.5], population.levels, expected)
        density = 0.01 / max(near[1] - near[0], 0.005 * sd) if 1 < level < 99 else 0.0267 / sd
        error = 4.5 * np.sqrt(share * (1.0 - share) / N) / density
        assert np.percentile(drawn(sex)[name], level) == pytest.approx(value, abs=error + 0.3 * MM)


# Source: ANSUR II raw rows, upper arm + forearm + hand: sum of percentiles less percentile of the
# sum, mm (computed twice from the raw data).
@pytest.mark.parametrize(
    ("sex", "level", "expected"),
    [("male", 5, -7.0), ("female", 5, -8.75), ("male", 95, 9.0), ("female", 95, 7.0)],
)
def test_percentiles_of_segments_do_not_add(sex, level, expected):
    parts = [drawn(sex)[name] for name in SEGMENTS]
    apart = sum(np.percentile(part, level) for part in parts) - np.percentile(sum(parts), level)
    assert apart == pytest.approx(expected * MM, abs=3 * MM)
    assert (apart < 0) == (level < 50)


# Source: ANSUR II raw rows: inside P5 to P95 on stature, thumb-tip reach and biacromial breadth at
# once, share of people; not 0.90, and not 0.729 = 0.9 cubed.
@pytest.mark.parametrize(("sex", "expected"), [("male", 0.7812), ("female", 0.7790)])
def test_joint_accommodation_on_three_dimensions(sex, expected):
    population = load_population(sex)
    inside = np.ones(N, bool)
    for name in ("stature", "thumbtipreach", "biacromialbreadth"):
        levels = population.levels.tolist()
        row = population.percentiles[population.index(name)]
        column = drawn(sex)[name]
        inside &= (column >= row[levels.index(5)]) & (column <= row[levels.index(95)])
    assert inside.mean() == pytest.approx(expected, abs=0.015)


# Source: ANSUR II raw rows, share of people with that thumb-tip reach or more.
SHARES = {
    ("male", 700): 0.9971,
    ("male", 750): 0.9290,
    ("male", 800): 0.6046,
    ("female", 700): 0.8625,
    ("female", 750): 0.4315,
    ("female", 800): 0.1067,
}


@cache
def reached(sex):
    """Thumb-tip reach of 20,000 people by the model's own arm and shoulder, m."""
    bodies = draw(PopulationDraw(n=20_000, sex=sex), load_population)
    return np.array([reached_by_links(body)["thumbtipreach"] for body in bodies])


@pytest.mark.parametrize(("sex", "reach"), SHARES)
def test_shares_who_reach_are_within_a_point_and_a_half(sex, reach):
    found = np.mean(reached(sex) >= reach * MM)
    assert found == pytest.approx(SHARES[sex, reach], abs=0.015)


# Source: ANSUR II raw rows, span of arms hung at the acromion less measured span: 194, 172 mm.
@pytest.mark.parametrize(("sex", "expected"), [("male", 194), ("female", 172)])
def test_arms_hung_at_the_acromion_overstate_span_of_drawn_people(sex, expected):
    d = drawn(sex)
    hung = d["biacromialbreadth"] + 2 * sum(d[name] for name in SEGMENTS) - d["span"]
    assert hung.mean() == pytest.approx(expected * MM, abs=2 * MM)


# Source: ANSUR II raw rows, half men and half women: stature P5, P95 (the pooled sample, two thirds
# men, would give 1563 and 1855).
@pytest.mark.parametrize(("level", "expected"), [(5, 1547), (95, 1844)])
def test_a_mixed_draw_is_half_and_half(level, expected):
    n = 20_000
    bodies = draw(PopulationDraw(n=n, sex="mixed"), load_population)
    assert sum(body.sex == "male" for body in bodies) == n // 2
    stature = [body.dims["stature"] for body in bodies]
    assert np.percentile(stature, level) == pytest.approx(expected * MM, abs=4 * MM)


# Source: ANSUR II raw rows, regression of thumb-tip reach on stature at 1755 mm, men: 811.4 mm.
def test_regression_of_reach_on_stature():
    line = np.polyfit(drawn("male")["stature"], drawn("male")["thumbtipreach"], 1)
    assert np.polyval(line, 1.755) == pytest.approx(0.8114, abs=1 * MM)


# Source: ANSUR II raw rows: waist depth P5 of men is 188 mm; mean less 1.6449 SD gives 180.6 mm.
def test_a_skewed_dimension_is_not_drawn_as_a_normal_one():
    population = load_population("male")
    i = population.index("waistdepth")
    normal = population.mean[i] - 1.6449 * population.sd[i]
    found = np.percentile(drawn("male")["waistdepth"], 5)
    assert found == pytest.approx(0.188, abs=1.5 * MM)
    assert found - normal > 5 * MM


@EACH_SEX
def test_links_of_drawn_people_give_the_reaches_that_were_drawn(sex):
    for body in draw(PopulationDraw(n=2000, sex=sex, seed=5), load_population):
        reached = reached_by_links(body)
        for name in ("thumbtipreach", "span"):
            assert reached[name] == pytest.approx(body.dims[name], abs=1e-12)
        assert reached["ohs"] == pytest.approx(overhead_reach(body.dims), abs=1e-12)
        assert min(body.links.wall, body.links.half) > 0.0
        assert body.links.rise >= 0.0


@pytest.mark.parametrize("number", [0, 1])
def test_the_search_reaches_as_far_as_was_drawn(number):
    body = draw(PopulationDraw(n=2, sex="mixed", seed=9), load_population)[number]
    searched = searched_reaches(body)
    assert searched["thumbtipreach"] == pytest.approx(body.dims["thumbtipreach"], abs=0.003)
    assert searched["span"] == pytest.approx(body.dims["span"], abs=0.003)
    assert searched["ohs"] == pytest.approx(overhead_reach(body.dims), abs=0.003)


@EACH_SEX
@pytest.mark.skipif(not SURVEY.is_dir(), reason="the raw survey rows are not here")
def test_drawn_people_are_like_the_raw_rows(sex):
    """Shares and joint shares of single people, which no table of statistics holds."""
    with (SURVEY / f"{sex}.csv").open(encoding="latin-1") as file:
        names, *rows = csv.reader(file)
    survey = dict(zip(names, np.array(rows, float).T * MM, strict=True))
    # Row by row: who is short in stature and long in reach, or long in leg and short in arm.
    for one, other in (("stature", "thumbtipreach"), ("trochanterionheight", "span")):
        for sign in (1, -1):
            below = np.median(survey[one])
            above = np.median(survey[other])
            share = [
                np.mean((sign * d[one] < sign * below) & (sign * d[other] > sign * above))
                for d in (survey, drawn(sex))
            ]
            assert share[1] == pytest.approx(share[0], abs=0.02)
    # The three shoulder offsets are sums of six dimensions: their spread is a sharp test.
    for of in (_wall, _half):
        assert of(drawn(sex)).std() == pytest.approx(of(survey).std(), rel=0.05)
        assert of(drawn(sex)).mean() == pytest.approx(of(survey).mean(), abs=1.5 * MM)


def _wall(d):
    return d["thumbtipreach"] - 0.88 * d[SEGMENTS[0]] - d[SEGMENTS[1]] - 0.7 * d[SEGMENTS[2]]


def _half(d):
    return 0.5 * d["span"] - 0.88 * d[SEGMENTS[0]] - d[SEGMENTS[1]] - d[SEGMENTS[2]]
