"""The share of people who can: counts against single attempts, and what must not change them."""

from dataclasses import replace

import numba
import numpy as np
import pytest
from bench import bench, drive, resolved, step, the
from scipy.spatial.transform import Rotation

from reach.checks import reach, share
from reach.crowd_work import turnouts_of
from reach.files.people import load_population
from reach.finding import Verdict
from reach.model.population_draw import PopulationDraw
from reach.proportion import interval
from reach.work import attempt_of
from reach.worker.body import percentile_of
from reach.worker.bound import shortage
from reach.worker.figure import AHEAD, ANKLE, GRIP, HIGH, HIP, LOW, R_MAX, RISE, SHOULDER
from reach.worker.figure import HALF as HALF_BREADTH
from reach.worker.posing import CLEAR, SEEN
from reach.worker.search import find_postures

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


def test_its_answer_says_how_many_can_and_who_has_the_least_room():
    found = the("share", world(40, limits=HALF), *EASY)
    low = np.floor(interval(40, 40)[0] * 1000) / 10
    who = found.numbers["limiting person"]
    assert found.answer == f"40 of 40 can ({low:.1f} .. 100.0 %), limiting {who}"


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


def world_past_the_percentiles():
    """A bolt low in front, turned from the right: all percentile bodies bring their tool onto it.

    The higher a shoulder, the longer the arm has to be that comes down to it.
    """
    fasteners = {
        "low": {"at": [0.992, 0.127, 0.776], "axis": [-0.233, -0.888, 0.397], "torque": 20.0}
    }
    away = {"box": [0.1, 0.1, 0.1], "at": [9.0, 9.0, 7.0]}
    return bench(fasteners=fasteners, solids={**NOTHING, "panel": away, "post": away})


DEEP = (step("low", "R", drive("low")),)
PEOPLE = PopulationDraw(n=300, seed=1)


def test_people_between_percentile_bodies_that_can_are_proved_not_to():
    site, situations = resolved(world_past_the_percentiles(), *DEEP, population=PEOPLE)
    (found,) = share.find(site, situations)
    everybody = "male P5, male P50, male P95, female P5, female P50, female P95"
    n = found.numbers["of a stature between theirs, cannot"]
    assert n > 10
    assert (
        f"Percentile bodies are not the worst case here: {everybody} can, yet {n} people with a "
        "stature between theirs are proved not to, the farthest by at least"
    ) in found.because
    assert found.numbers["percentile bodies that can"] == everybody.split(", ")
    # The percentile bodies' own postures, by joint limits, room and sight.
    (situation,) = situations
    crowd = situation.crowd
    bounds = {}
    for body in crowd.anchors:
        alone = attempt_of(site, replace(situation, body=body, case=body.label), "right")
        assert alone.short <= 0.0
        assert alone.margin.radius >= 0.0
        assert alone.allows(alone.witness.posture, CLEAR | SEEN)
        bounds[body.label] = body.dims["stature"]
    # The limiting person between them is nobody odd.
    numbers = found.numbers
    (person,) = [one for one in crowd.bodies if one.label == numbers["limiting person between"]]
    assert person.label in found.because
    low, high = bounds[f"{person.sex} P5"], bounds[f"{person.sex} P95"]
    assert low < numbers["limiting stature between"] == person.dims["stature"] < high
    population = load_population(person.sex)
    for key in share.SHOWN:
        assert 0.1 < percentile_of(population, key, person.dims[key]) < 99.9
    # Twins: the same person alone, the bound and the longest search by joint limits only.
    alone = attempt_of(site, replace(situation, body=person, case=person.label), "right")
    proof = shortage(alone.figure, alone.target.tip, alone.target.direction)[0]
    assert proof == pytest.approx(-numbers["limiting person's room between"], abs=1e-9)
    assert proof > 0.005
    rng = np.random.default_rng(8)
    shifts = rng.standard_normal((200, 3))
    shifts *= 0.99 * proof / np.linalg.norm(shifts, axis=1)[:, None]
    tips = np.vstack([alone.target.tip, alone.target.tip + shifts])
    tried = find_postures(alone.figure, tips, np.tile(alone.target.direction, (201, 1)), "full")
    assert (tried.violation > 0.0).all()
    # Brute force: no trunk brings the shoulder within an arm of any wrist.
    assert nearest_wrist(alone, rng) > alone.figure.p[R_MAX] + proof
    middle = crowd.anchors[1]
    able = attempt_of(site, replace(situation, body=middle, case=middle.label), "right")
    assert nearest_wrist(able, rng) < able.figure.p[R_MAX]


def nearest_wrist(attempt, rng, n=200_000):
    """Least distance from a shoulder to a wrist that holds the tool right, random postures, m.

    Joints are turned one after another, often near their ends, where a far target has them; the
    tool axis is anywhere in its tolerance.
    """
    p, target = attempt.figure.p, attempt.target
    grip = attempt.figure.grip
    low, high = p[LOW : LOW + 5], p[HIGH : HIGH + 5]
    roll, pitch, hip, side, twist = (low + (high - low) * rng.beta(0.3, 0.3, (n, 5))).T
    leg, ankle = p[HIP] - p[ANKLE], np.array([0.0, 0.0, p[ANKLE]])
    rise = p[RISE] * rng.uniform(0.0, 1.0, n)
    at = np.column_stack(
        [np.full(n, p[AHEAD]), np.full(n, -p[HALF_BREADTH]), p[SHOULDER] - p[HIP] + rise]
    )
    for axis, angle in (("z", twist), ("x", side), ("y", hip)):
        at = Rotation.from_euler(axis, angle[:, None]).apply(at)
    at[:, 2] += leg
    for axis, angle in (("y", pitch), ("x", roll)):
        at = Rotation.from_euler(axis, angle[:, None]).apply(at)
    shoulders = at + ankle
    tilt = rng.standard_normal((n, 3))
    tilt *= grip.tolerance * rng.uniform(0.0, 1.0, (n, 1)) / np.linalg.norm(tilt, axis=1)[:, None]
    onto = Rotation.align_vectors(target.direction[None], np.asarray(grip.axis)[None])[0]
    spin = Rotation.from_rotvec(rng.uniform(-np.pi, np.pi, (n, 1)) * target.direction)
    hand = Rotation.from_rotvec(tilt) * spin * onto
    wrists = target.tip - hand.apply(np.asarray(grip.tip) + np.array([p[GRIP], 0.0, 0.0]))
    return float(np.linalg.norm(shoulders - wrists, axis=1).min())


def test_percentile_bodies_are_the_worst_case_as_long_as_nobody_between_them_fails():
    found = the("share", world(40), *EASY)
    assert found.numbers["percentile bodies that can"]
    assert found.numbers["of a stature between theirs, cannot"] == 0
    assert found.numbers["of a stature between theirs, not known"] == 0
    assert "worst case" not in found.because


def test_nothing_is_said_of_percentile_bodies_that_cannot_themselves():
    found = the("share", world(40), *FAR)
    assert found.numbers["percentile bodies that can"] == []
    assert found.numbers["of a stature between theirs, cannot"] == 0
    assert "worst case" not in found.because


def test_people_nobody_found_a_posture_for_make_percentile_bodies_doubtful_only():
    people = PopulationDraw(n=30, seed=3)
    _, (situation,) = resolved(world(), *EASY, population=people)
    crowd, nobody = situation.crowd, np.zeros(30, bool)
    text, counts = share._percentiles(crowd.anchors, crowd, nobody, nobody, np.full(30, -1.0))
    bounds = {body.label: body.dims["stature"] for body in crowd.anchors}
    between = sum(
        bounds[f"{body.sex} P5"] <= body.dims["stature"] <= bounds[f"{body.sex} P95"]
        for body in crowd.bodies
    )
    assert 0 < between < 30
    assert counts["of a stature between theirs, not known"] == between
    assert "may not be the worst case here" in text
    assert f"for {between} people" in text


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
