"""A bound above zero is a proof: no posture, however found or planted, may contradict it."""

import numpy as np
import pytest
from figures import figure, random_targets
from scipy.optimize import minimize
from twin import planted, torso_of

from reach.worker import bound
from reach.worker.figure import ACROSS, HIGH, LOW, N_PARAMETERS, R_MAX, Grip, figure_of
from reach.worker.posture import posture_of
from reach.worker.search import find_postures

FIGURES = [("S", "halden", "drive"), ("M", "unsuited", "drive"), ("L", "halden", "angled")]


@pytest.mark.parametrize("which", FIGURES)
def test_no_planted_posture_contradicts_a_bound(which):
    f = figure(*which)
    tips, directions = planted(f, 1000, seed=8)
    assert (bound.shortage(f, tips, directions, sharp=False) <= 0).all()
    assert (bound.too_near(f, tips, directions) <= 0).all()
    inner, outer = bound.tip_sphere(f)
    r = np.linalg.norm(tips, axis=1)
    assert (r >= inner).all() and (r <= outer).all()


@pytest.mark.parametrize("which", FIGURES)
def test_found_wrists_lie_inside_every_sphere_and_circle(which):
    f = figure(*which)
    tips, directions = random_targets(400, seed=9)
    answer = find_postures(f, tips, directions, "quick")
    ok = np.flatnonzero(answer.violation <= 0)
    assert len(ok) > 20
    centres = bound.wrist_centres(f, tips, directions)
    inner, outer = bound.reach_sphere(f)
    for i in ok:
        wrist = posture_of(f, answer.x[i], tips[i], directions[i]).wrist
        assert inner <= np.linalg.norm(wrist) <= outer
        assert np.linalg.norm(wrist - centres[i]) <= bound.wrist_slack(f) + 1e-8


@pytest.mark.parametrize("which", FIGURES)
def test_sphere_is_sharp(which):
    """Outer: an optimiser over the trunk comes within 5 mm of it; so for the inner."""
    f = figure(*which)
    rise = f.body.links.rise * f.suit.shoulder_rise
    limits = list(zip(f.p[LOW:HIGH], f.p[HIGH:N_PARAMETERS], strict=True))
    rng = np.random.default_rng(0)
    starts = [rng.uniform(f.p[LOW:HIGH], f.p[HIGH:N_PARAMETERS]) for _ in range(12)]

    def distance(q, up):
        _, torso, shoulder = torso_of(f, q)
        return float(np.linalg.norm(shoulder + up * torso[:, 2]))

    far = max(-minimize(lambda q: -distance(q, rise), s, bounds=limits).fun for s in starts)
    near = min(minimize(lambda q: distance(q, 0.0), s, bounds=limits).fun for s in starts)
    inner, outer = bound.reach_sphere(f)
    assert 0 <= outer - (far + f.p[R_MAX]) < 0.005
    assert 0 <= (near - f.p[R_MAX]) - inner < 0.005


def least_shortage(f, centre, direction, starts=6):
    """Least shortage (m) over the trunk that an optimiser finds, suited, tool along the hand.

    What the straight arm lacks to the circle of wrists, or what the upper arm lacks to the
    nearest elbow behind a wrist that may bend so far.
    """
    low, high = f.p[LOW:HIGH], f.p[HIGH:N_PARAMETERS]
    rng, k, across = np.random.default_rng(3), f.body.links, f.p[ACROSS]
    bend = max(f.suit.wrist_flexion, f.suit.wrist_deviation) + f.grip.tolerance
    turns = np.linspace(-bend, bend, 201)

    def lacking(q):
        x = centre - torso_of(f, q)[2]
        along = x @ direction
        off = np.sqrt(max(0.0, x @ x - along * along))
        straight = np.hypot(off - across, along) - f.p[R_MAX]
        elbows = np.hypot(along - k.forearm * np.cos(turns), off - k.forearm * np.sin(turns))
        return float(max(straight, elbows.min() - k.upper_arm - across))

    def settled(start):
        limits = list(zip(low, high, strict=True))
        return minimize(lacking, start, bounds=limits, method="Nelder-Mead").fun

    return min(settled(rng.uniform(low, high)) for _ in range(starts))


def test_sharp_shortage_is_the_missing_length_to_a_decimetre():
    f = figure()
    tips, directions = random_targets(200, seed=12)
    short = bound.shortage(f, tips, directions)
    some = np.flatnonzero(short > 0.02)[:8]
    assert len(some) == 8
    tilt = bound.wrist_slack(f) - f.p[ACROSS]
    for i in some:
        centre = bound.wrist_centres(f, tips[i], directions[i])[0]
        missing = least_shortage(f, centre, directions[i]) - tilt
        assert -1e-6 < missing - short[i] < 0.10


def test_a_tool_that_points_back_at_the_worker_is_proved_by_the_elbow():
    """Near enough for the arm, but the forearm would have to come from beyond the target."""
    f = figure()
    forward, back = bound.shortage(f, [[0.9, -0.2, 1.3]] * 2, [[1, 0, 0], [-1, 0, 0]])
    assert forward <= 0 < back
    assert find_postures(f, [0.9, -0.2, 1.3], [1, 0, 0], "quick").violation[0] <= 0


def test_shortage_is_no_less_than_that_of_the_plate_and_weak_proofs_are_proofs():
    f = figure()
    tips, directions = random_targets(300, seed=13)
    sharp = bound.shortage(f, tips, directions)
    weak = bound.shortage(f, tips, directions, sharp=False)
    distances = np.linalg.norm(bound.wrist_centres(f, tips, directions), axis=1)
    assert (sharp >= bound.plate_shortage(f, distances)).all()
    assert (weak <= sharp + bound.N_BOXES * 1e-12).all()
    assert ((weak > 0) == (sharp > 0)).mean() > 0.99


def test_shortage_is_a_distance_moving_the_target_changes_it_by_no_more():
    f = figure()
    far = np.array([[3.0, 0.4, 1.0], [0.0, 0.0, 4.0], [-2.5, -1.0, 0.5]])
    step = np.array([0.03, -0.02, 0.01])
    before, after = (bound.shortage(f, far + k * step, [0, 1, 0]) for k in (0, 1))
    assert (np.abs(after - before) <= np.linalg.norm(step) + 2e-3).all()


def test_plate_bound_holds_for_every_turn_of_the_plate():
    f = figure()
    centre = bound.wrist_centres(f, [2.4, 1.0, 0.8], [0, 0, 1])
    r = float(np.linalg.norm(centre))
    outer = bound.reach_sphere(f)[1]
    expected = r - outer - bound.wrist_slack(f) - bound.ROUNDING
    assert bound.plate_shortage(f, [r]) == pytest.approx([expected], abs=1e-12)
    assert expected > 0.4


def test_a_target_at_the_boots_is_proved_too_near_for_a_large_worker():
    f = figure("L")
    assert bound.too_near(f, [0.1, 0.0, 0.1], [1, 0, 0])[0] > 0.2
    assert bound.shortage(f, [0.1, 0.0, 0.1], [1, 0, 0])[0] > 0.2
    assert bound.plate_shortage(f, [0.1])[0] > 0.2


def test_a_longer_arm_never_lowers_the_outer_reach():
    f = figure()
    longer = dict(f.body.dims) | {"radialestylionlength": f.body.links.forearm + 0.03}
    body = type(f.body)(f.body.sex, longer, f.body.centres, "longer")
    taller = figure_of(body, f.suit, f.grip)
    assert bound.reach_sphere(taller)[1] > bound.reach_sphere(f)[1] + 0.02


def test_a_longer_tool_widens_the_sphere_of_tips():
    f = figure()
    inner, outer = bound.tip_sphere(f)
    longer = figure_of(f.body, f.suit, Grip(tip=(0.5, 0.0, 0.05)))
    assert bound.tip_sphere(longer)[1] > outer + 0.2
    assert bound.tip_sphere(longer)[0] < inner


def test_unreadable_targets_are_refused_and_none_is_none():
    with pytest.raises(ValueError, match="tips must be finite"):
        bound.shortage(figure(), [np.nan, 0, 0], [1, 0, 0])
    assert bound.shortage(figure(), np.empty((0, 3)), np.empty((0, 3))).shape == (0,)
