"""The share of people who can: counts against single attempts, and what must not change them."""

from dataclasses import replace

import numba
import numpy as np
import pytest
from bench import bench, drive, resolved, step, the

from reach.checks import reach, share
from reach.crowd_work import turnouts_of
from reach.finding import Verdict
from reach.model.population_draw import PopulationDraw
from reach.proportion import interval
from reach.work import attempt_of

EASY = (step("easy", "R", drive("easy")),)
FAR = (step("far", "R", drive("far")),)
EDGE = (step("edge", "R", drive("edge")),)
HALF = {"population_share": {"value": 0.5, "source": "these tests"}}


def world(n=None, sex="mixed", **changes):
    """The bench with a fastener that some people reach; R may be a population."""
    fasteners = {"edge": {"at": [0.6, -0.3, 2.35], "axis": [0, 0, -1], "torque": 20.0}}
    workers = {}
    if n:
        workers = {"R": {"population": {"n": n, "sex": sex}, "hand": "right", "suit": "halden"}}
    return bench(fasteners=fasteners, workers=workers, solids=NOTHING, **changes)


NOTHING = {"hood": {"box": [0.1, 0.1, 0.1], "at": [9.0, 9.0, 9.0]}}


def turnout(population, *steps):
    site, (situation,) = resolved(world(), *steps, population=population)
    (found,) = turnouts_of(site, situation)
    return found


def test_what_everybody_reaches_has_the_share_of_all():
    found = the("share", world(40, limits=HALF), *EASY)
    assert (found.numbers["can"], found.numbers["cannot"], found.numbers["not known"]) == (40, 0, 0)
    assert found.low == interval(40, 40)[0] - 0.5
    assert found.high == 1.0 - 0.5
    assert found.verdict is Verdict.PASS
    assert found.numbers["limiting person's room"] > 0.0


def test_what_nobody_reaches_is_proved_for_each_and_has_a_fix():
    found = the("share", world(40, limits=HALF), *FAR)
    assert (found.numbers["can"], found.numbers["cannot"]) == (0, 40)
    assert found.low == -0.5
    assert found.high == interval(0, 40)[1] - 0.5
    assert found.verdict is Verdict.FAIL
    assert "nearer" in found.fix
    assert found.numbers["limiting person's room"] < 0.0
    assert found.numbers["limiting stature"] < 1.6  # the short ones are short by the most


def test_few_people_leave_the_share_open_even_if_all_can():
    found = the("share", world(5), *EASY)
    assert found.numbers["can"] == 5
    assert found.verdict is Verdict.OPEN


def test_nobody_is_asked_about_without_a_crowd():
    site, situations = resolved(world(), *EASY)
    assert share.find(site, situations) == []


def test_counts_agree_with_attempts_of_single_people():
    people = PopulationDraw(n=24, seed=3)
    site, (situation,) = resolved(world(), *EDGE, population=people)
    (found,) = turnouts_of(site, situation)
    assert found.can.any() and found.cannot.any()
    for i, body in enumerate(situation.crowd.bodies):
        alone = attempt_of(site, replace(situation, body=body, case=body.label), "right")
        if alone.short > 0.0:
            assert not found.can[i]
        elif alone.witness is not None:
            assert not found.cannot[i]
        # The crowd's proofs are the attempts' own, and its witnesses hold by joint limits.
        if found.short[i] > 0.0:
            assert alone.short > 0.0
        if found.can[i]:
            assert found.margin(i).radius >= 0.0
    assert not (found.can & found.cannot).any()


def test_the_number_of_threads_changes_nothing():
    people = PopulationDraw(n=40, seed=3)
    before = numba.get_num_threads()
    answers = []
    try:
        for n_threads in {1, before}:
            numba.set_num_threads(n_threads)
            answers.append(turnout(people, *EDGE))
    finally:
        numba.set_num_threads(before)
    for one in answers[1:]:
        assert np.array_equal(one.can, answers[0].can)
        assert np.array_equal(one.cannot, answers[0].cannot)
        assert np.array_equal(one.short, answers[0].short)
        assert np.array_equal(one.x, answers[0].x)


def test_more_people_change_no_proof_about_the_first_ones():
    few = turnout(PopulationDraw(n=10, seed=3), *EDGE)
    many = turnout(PopulationDraw(n=60, seed=3), *EDGE)
    assert np.array_equal(few.short, many.short[:10])


def test_a_worker_who_is_a_population_is_judged_in_the_body_of_the_middle_person():
    site, situations = resolved(world(30), *EASY)
    (found,) = reach.find(site, situations)
    assert found.case == "middle person"
    assert "nearest to the middle" in found.because
    assert found.verdict is Verdict.PASS


def test_a_population_on_top_leaves_the_workers_their_own_bodies():
    people = PopulationDraw(n=20, sex="female", seed=6)
    site, situations = resolved(world(), *EASY, population=people)
    (own,) = reach.find(site, situations)
    assert (own.case, situations[0].body.label) == ("medium", "male P50")
    (found,) = share.find(site, situations)
    assert found.case == "20 female people seed 6"
    assert found.numbers["n"] == 20


def test_several_sizes_ask_a_crowd_once():
    people = PopulationDraw(n=10)
    site, situations = resolved(world(), *EASY, sizes=("small", "large"), population=people)
    assert len(situations) == 2
    assert len(share.find(site, situations)) == 1


def test_percentile_bodies_are_the_worst_case_only_as_long_as_nobody_between_them_fails():
    people = PopulationDraw(n=30, seed=3)
    site, (situation,) = resolved(world(), *EASY, population=people)
    crowd, nobody, all_of_them = situation.crowd, np.zeros(30, bool), np.ones(30, bool)
    said = [
        share._percentiles(site, situation, crowd, can, cannot)
        for can, cannot in (
            (all_of_them, nobody),
            (nobody, nobody),
            (nobody, all_of_them),
        )
    ]
    assert said[0] == ""
    assert "may not be the worst case here" in said[1]
    assert "Percentile bodies are not the worst case here" in said[2]
    assert "male P5, male P50, male P95, female P5, female P50, female P95 can" in said[2]
    bounds = {body.label: body.dims["stature"] for body in crowd.anchors}
    between = sum(
        bounds[f"{body.sex} P5"] <= body.dims["stature"] <= bounds[f"{body.sex} P95"]
        for body in crowd.bodies
    )
    assert 0 < between < 30
    assert f"yet {between} of those" in said[2]
    assert f"for {between} people" in said[1]
    far_site, (far,) = resolved(world(), *FAR, population=people)
    assert share._percentiles(far_site, far, far.crowd, nobody, all_of_them) == ""


def test_a_blank_setting_is_open():
    found = the("share", world(5), step("blank", "R", drive("easy"), setting=None))
    assert found.verdict is Verdict.OPEN
    assert "blank" in found.because


@pytest.mark.parametrize("step_of", [EASY, FAR])
def test_a_finding_says_its_counts_and_the_limiting_person(step_of):
    found = the("share", world(12), *step_of)
    for key in ("can", "cannot", "not known"):
        assert str(found.numbers[key]) in found.because
    assert found.numbers["limiting person"] in found.because
