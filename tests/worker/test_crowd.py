"""Drawing people: the same ones again, and nothing that was not asked for."""

import numpy as np
import pytest
from pydantic import ValidationError

from reach.files.people import draw_of, load_population
from reach.files.problem import InputError
from reach.model.population_draw import MOST_PEOPLE, PopulationDraw
from reach.worker.crowd import crowd_of, draw, middle_of


def bodies(n, sex="mixed", seed=1):
    return draw(PopulationDraw(n=n, sex=sex, seed=seed), load_population)


@pytest.mark.parametrize("sex", ["male", "female", "mixed"])
def test_more_people_never_change_who_the_first_ones_are(sex):
    few, many = bodies(7, sex), bodies(500, sex)
    for one, other in zip(few, many, strict=False):
        assert one.sex == other.sex
        assert one.dims == other.dims


def test_the_seed_and_the_sex_choose_the_people():
    statures = [
        [body.dims["stature"] for body in some]
        for some in (bodies(5, "male"), bodies(5, "female"), bodies(5, "male", 2))
    ]
    assert len({tuple(row) for row in statures}) == 3
    assert [b.dims for b in bodies(5, "male")] == [b.dims for b in bodies(5, "male")]
    mixed = bodies(6)
    assert [b.sex for b in mixed] == ["male", "female"] * 3
    assert [b.dims for b in mixed[::2]] == [b.dims for b in bodies(3, "male")]


def test_the_middle_person_is_near_the_mean_and_labelled_so():
    crowd = crowd_of(PopulationDraw(n=400, sex="male"), load_population)
    middle = crowd.bodies[middle_of(crowd.bodies)]
    assert crowd.middle.dims == middle.dims
    assert "nearest to the middle" in crowd.middle.label
    for name in ("stature", "span", "handlength"):
        column = np.array([body.dims[name] for body in crowd.bodies])
        assert abs(middle.dims[name] - column.mean()) < column.std()


def test_one_person_is_their_own_middle():
    crowd = crowd_of(PopulationDraw(n=1, sex="female"), load_population)
    assert crowd.middle.dims == crowd.bodies[0].dims
    assert [body.label for body in crowd.anchors] == ["female P5", "female P50", "female P95"]


@pytest.mark.parametrize(
    ("text", "n", "sex", "seed"),
    [
        ("1000", 1000, "mixed", 1),
        (12, 12, "mixed", 1),
        ("n=20, sex=female", 20, "female", 1),
        ("{ n = 3, sex = 'male', seed = 8 }", 3, "male", 8),
    ],
)
def test_a_draw_is_read_as_typed(text, n, sex, seed):
    assert draw_of(text) == PopulationDraw(n=n, sex=sex, seed=seed)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0", "population: n: must be at least 1, found 0"),
        ("n=1.5", "population: n: needs a whole number, found 1.5"),
        ("many", "population: n: needs a whole number, found 'many'"),
        ("n=5, sex=femal", "did you mean 'female'?"),
        ("n=5, sede=2", "population: sede: unknown key 'sede'; did you mean 'seed'?"),
        ("n=5, n=6", "population: n: is given twice"),
        ("sex=male", "population: key 'n' is missing"),
        (f"n={MOST_PEOPLE + 1}", "population: n: must be at most"),
        ("", "population: n: needs a whole number"),
    ],
)
def test_what_cannot_be_drawn_is_said(text, message):
    with pytest.raises(InputError) as caught:
        draw_of(text)
    assert message in str(caught.value)


def test_every_problem_is_listed_at_once():
    with pytest.raises(InputError) as caught:
        draw_of("n=0, sex=x, seed=-1, age=3")
    assert len(caught.value.problems) == 4


def test_a_record_takes_no_truth_for_a_number():
    with pytest.raises(ValidationError):
        PopulationDraw(n=True)
