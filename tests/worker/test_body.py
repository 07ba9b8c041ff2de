"""A body is one person: surveyed dimensions that fit together, and the links that follow."""

import numpy as np
import pytest

from reach.files.people import load_population
from reach.worker.body import AXIS, measured_body, percentile_body, percentile_of

SEXES = ("male", "female")


@pytest.mark.parametrize("sex", SEXES)
@pytest.mark.parametrize("percentile", [1, 5, 33.3, 50, 95, 99])
def test_percentile_body_has_stature_at_that_percentile(sex, percentile):
    population = load_population(sex)
    body = percentile_body(population, percentile)
    at = percentile_of(population, "stature", body.dims["stature"])
    assert at == pytest.approx(percentile, abs=1e-9)


@pytest.mark.parametrize("sex", SEXES)
def test_percentile_body_lies_on_the_principal_axis(sex):
    population = load_population(sex)
    which = [population.index(name) for name in AXIS]

    def standardised(percentile):
        dims = percentile_body(population, percentile).dims
        values = np.array([dims[name] for name in AXIS])
        return (values - population.mean[which]) / population.sd[which]

    values, vectors = np.linalg.eigh(population.correlation[np.ix_(which, which)])
    ratio = standardised(95) / vectors[:, np.argmax(values)]
    assert ratio == pytest.approx(np.full(len(AXIS), ratio[0]), rel=1e-9)


def test_every_link_grows_with_the_percentile():
    population = load_population("female")
    small, large = (percentile_body(population, level).links for level in (5, 95))
    for name in small.__slots__:
        assert getattr(small, name) < getattr(large, name), name


def test_percentile_outside_the_survey_is_refused():
    with pytest.raises(ValueError, match=r"within 1 to 99, found 99\.5"):
        percentile_body(load_population("male"), 99.5)


def test_measured_body_keeps_what_was_measured_and_names_what_was_filled():
    population = load_population("male")
    given = {"stature": 1.81, "handlength": 0.19, "trochanterionheight": 0.95}
    body = measured_body(population, given, label="A")
    assert {name: body.dims[name] for name in given} == given
    assert set(body.filled) == set(population.names) - set(given)
    assert (body.label, body.links.hip, body.links.hand) == ("A", 0.95, 0.19)


def test_filled_dimension_is_the_regression_on_one_measurement():
    population = load_population("male")
    body = measured_body(population, {"stature": 1.9})
    i, j = population.index("span"), population.index("stature")
    slope = population.correlation[i, j] * population.sd[i] / population.sd[j]
    expected = population.mean[i] + slope * (1.9 - population.mean[j])
    assert body.dims["span"] == pytest.approx(expected, abs=1e-12)


def test_nobody_measured_is_the_mean_person():
    population = load_population("female")
    body = measured_body(population, {})
    assert body.dims["span"] == population.mean[population.index("span")]


def test_more_measurements_than_independent_ones_are_kept():
    population = load_population("male")
    given = dict(zip(population.names, population.mean.tolist(), strict=True))
    assert measured_body(population, given).dims == given


def test_problems_are_listed_together_with_the_nearest_name():
    given = {"statur": 1.8, "handlenght": 0.2, "span": 4.0, "weightkg": float("nan")}
    with pytest.raises(ValueError) as caught:
        measured_body(load_population("male"), given)
    text = str(caught.value)
    assert "'statur', the nearest is 'stature'" in text
    assert "'handlenght', the nearest is 'handlength'" in text
    assert "span must be within 1.306 to 2.322 m, found 4.0" in text
    assert "weightkg must be within" in text and "kg, found nan" in text


@pytest.mark.parametrize("value", [1.2, 1.5, 1.9, 2.2])
def test_percentile_of_grows_with_the_value(value):
    population = load_population("male")
    assert 0 < percentile_of(population, "stature", value) < 100
    below, above = (percentile_of(population, "stature", value + d) for d in (-0.01, 0.01))
    assert below < percentile_of(population, "stature", value) < above


def test_unknown_sex_and_dimension_are_named():
    with pytest.raises(ValueError, match="no population 'x'; there are male, female"):
        load_population("x")
    with pytest.raises(ValueError, match="no dimension 'height'"):
        load_population("male").index("height")


@pytest.mark.parametrize("sex", SEXES)
def test_correlations_are_those_of_people(sex):
    correlation = load_population(sex).correlation
    assert (correlation == correlation.T).all() and (np.diag(correlation) == 1).all()
    assert np.linalg.eigvalsh(correlation).min() > 0
