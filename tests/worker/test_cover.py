"""Proved balls: bounds against moved arms, a closed form, the search, and opposite proofs."""

import math

import numpy as np
import pytest
from figures import BOX, figure, random_targets
from scipy.spatial.transform import Rotation

from reach.worker.carry import N_LIMITS, N_TERMS, SPARE, desk, ease, excess_within
from reach.worker.chain import SWIVEL, evaluate, work_arrays
from reach.worker.cover import MOST, prove_ball
from reach.worker.figure import (
    ALONG,
    CONE,
    CONE_X,
    CONE_Z,
    DEVIATION,
    FLEXION,
    HIGH,
    LOW,
    PRONATION,
    R_MAX,
    R_MIN,
    TOLERANCE,
    TWIST,
    Figure,
    Grip,
    figure_of,
)
from reach.worker.margin import reach_margin
from reach.worker.search import find_postures
from reach.worker.trunks import trunks_of

FIGURES = [("M", "halden", "drive"), ("L", "halden", "angled"), ("S", "unsuited", "hand")]


def random_postures(f, n, seed):
    """Targets and posture vectors with the wrist within the length of the arm, limits or not."""
    rng = np.random.default_rng(seed)
    work, out = work_arrays()
    found = []
    most = math.tan(f.p[TOLERANCE])
    while len(found) < n:
        t, d = rng.uniform(*BOX), rng.normal(size=3)
        d /= np.linalg.norm(d)
        x = np.concatenate(
            (
                rng.uniform(f.p[LOW:HIGH], f.p[HIGH:]),
                rng.uniform(-0.7, 0.7, 2) * most,
                rng.uniform(0, 2 * math.pi, 2),
            )
        )
        evaluate(f.p, t, d, x, work, out)
        if f.p[R_MIN] < np.linalg.norm(work[11]) < f.p[R_MAX]:
            found.append((t, d, x))
    return found


def carried(f, t, d, x, moved):
    """The posture at a moved target: trunk and hand as they were, arm plane carried along."""
    work, out = work_arrays()
    evaluate(f.p, t, d, x, work, out)
    before, hinge = work[11] / np.linalg.norm(work[11]), out[6:9].copy()
    evaluate(f.p, moved, d, x, work, out)
    after = work[11] / np.linalg.norm(work[11])
    axis = np.cross(before, after)
    angle = math.atan2(np.linalg.norm(axis), before @ after)
    axis /= max(np.linalg.norm(axis), 1e-300)
    up = Rotation.from_rotvec(axis * angle).apply(np.cross(before, hinge))
    cone = f.p[CONE_X : CONE_Z + 1]
    zero = cone - (cone @ after) * after
    zero /= np.linalg.norm(zero)
    y = x.copy()
    y[SWIVEL] = math.atan2(up @ np.cross(after, zero), up @ zero)
    return y


@pytest.mark.parametrize("which", FIGURES)
def test_bounds_hold_for_random_postures_and_moved_targets(which):
    f, rng = figure(*which), np.random.default_rng(11)
    work, out = work_arrays()
    here, bound, there = np.empty(N_TERMS), np.empty(N_TERMS), np.empty(N_TERMS)
    used = np.zeros(N_LIMITS)
    for t, d, x in random_postures(f, 1000, 3):
        radius = 10.0 ** rng.uniform(-4.0, -1.4)
        excess_within(f.p, t, d, x, 0.0, work, out, here)
        excess_within(f.p, t, d, x, radius, work, out, bound)
        if bound[0] > 0.0 or bound[1] > 0.0 or bound[2] + f.p[CONE] > 3.0:
            continue
        way = rng.normal(size=3)
        moved = t + way * radius / np.linalg.norm(way)
        y = carried(f, t, d, x, moved)
        excess_within(f.p, moved, d, y, 0.0, work, out, there)
        if abs(out[13]) > 1.4:
            continue  # next to where pronation and flexion are one axis nothing is claimed
        assert (there <= bound + 1e-7)[:N_LIMITS].all(), (bound - there, radius)
        used = np.maximum(used, ((there - here) / np.maximum(bound - here, 1e-9))[:N_LIMITS])
    assert (used > 0.3).all(), used  # no bound is much larger than what some posture needs


@pytest.mark.parametrize("which", FIGURES)
def test_an_eased_posture_serves_every_target_that_it_promises(which):
    f, rng = figure(*which), np.random.default_rng(5)
    work, out = work_arrays()
    served = 0
    for t, d, x in random_postures(f, 150, 7):
        radius = float(rng.uniform(0.002, 0.04))
        if ease(f.p, t, d, x, radius, 30, desk()) > -SPARE:
            continue
        served += 1
        assert (x[:5] >= f.p[LOW:HIGH]).all() and (x[:5] <= f.p[HIGH:]).all()
        assert math.hypot(x[5], x[6]) <= math.tan(f.p[TOLERANCE]) + 1e-15
        for way in rng.normal(size=(20, 3)):
            moved = t + way * radius / np.linalg.norm(way)
            y = carried(f, t, d, x, moved)
            assert evaluate(f.p, moved, d, y, work, out) <= 0.0
    assert served >= 20


def hinged(r):
    """A figure whose trunk and hand cannot move, with the arm's length its one limit; its target.

    The tip is r plus the hand's length from the shoulder.
    """
    base = figure("M")
    f = figure_of(base.body, base.suit, Grip(tip=(0.2, 0.0, 0.0), tolerance=0.0))
    p = np.array(f.p)
    p[LOW:] = 0.0
    p[[CONE, TWIST, PRONATION, FLEXION, DEVIATION]] = 50.0
    f = Figure(f.body, f.suit, f.grip, p)
    way = np.array([0.8, -0.5, 0.1])
    d = way / np.linalg.norm(way)
    return f, trunks_of(f, 1).shoulder[0] + (r + p[ALONG]) * d, d


@pytest.mark.parametrize("r", [0.30, 0.36, 0.41, 0.50, 0.53])
def test_with_the_length_of_the_arm_as_the_one_limit_the_ball_is_that_of_the_closed_form(r):
    f, t, d = hinged(r)
    exact = min(f.p[R_MAX] - r, r - f.p[R_MIN])
    found = prove_ball(f, t, d, np.zeros(9), MOST)
    assert 0.75 * exact - 0.006 <= found.radius <= exact
    assert found.radius > 0.015


def some_targets(f, n, seed):
    """Reached targets with the direction of the tool, and a posture for each."""
    tips, directions = random_targets(600, seed)
    found = find_postures(f, tips, directions, "quick")
    which = np.flatnonzero(found.violation <= 0.0)[:n]
    return [(tips[i], directions[i], found.x[i]) for i in which]


@pytest.mark.parametrize("which", FIGURES)
def test_every_place_in_a_proved_ball_is_reached_by_the_search_and_none_proved_out(which):
    f, rng = figure(*which), np.random.default_rng(2)
    radii = []
    for t, d, x in some_targets(f, 4, 21):
        found = prove_ball(f, t, d, x, 0.12)
        radii.append(found.radius)
        assert found.radius <= reach_margin(f, t, d, x).ceiling
        ways = rng.normal(size=(500, 3))
        length = found.radius * rng.random((500, 1)) ** (1.0 / 3.0)
        tips = t + ways * length / np.linalg.norm(ways, axis=1)[:, None]
        assert (find_postures(f, tips, d, "full").violation <= 0.0).all()
    assert max(radii) > 0.03


def test_what_is_asked_for_only_ends_the_work():
    f = figure("M")
    for t, d, x in some_targets(f, 3, 22):
        most = prove_ball(f, t, d, x, MOST)
        for wanted in (0.004, 0.02, 0.05, 0.09):
            found = prove_ball(f, t, d, x, wanted)
            assert found.radius == min(wanted, most.radius)
            assert np.isnan(found.blocked).all() == (found.radius == wanted)
            if found.radius < wanted:
                assert found.radius - 1e-9 <= np.linalg.norm(found.blocked) < found.radius + 0.04


def test_nothing_is_proved_round_a_place_out_of_reach():
    found = prove_ball(figure("M"), [2.9, 0.0, 1.3], [1, 0, 0], np.zeros(9), 0.05)
    assert found.radius == 0.0 and (found.blocked == 0.0).all()
