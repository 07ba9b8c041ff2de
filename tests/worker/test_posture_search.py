"""The search finds what can be reached, always answers alike, and never calls a miss a proof."""

import numpy as np
import pytest
from figures import figure, random_targets
from twin import planted

from reach.worker import chance
from reach.worker.bound import shortage
from reach.worker.figure import HIGH, LOW, N_PARAMETERS, mirrored
from reach.worker.search import SEED, Effort, find_postures
from reach.worker.trunks import trunks_of


def test_random_targets_are_reached_proved_or_open():
    """A small one of the completeness run in the benchmarks; the box holds mostly far targets."""
    f = figure()
    tips, directions = random_targets(200, seed=11)
    answer = find_postures(f, tips, directions)
    longer = find_postures(f, tips, directions, Effort(1024, 128, 300, near=0.9), ask_bound=False)
    either = (answer.violation <= 0) | (longer.violation <= 0)
    proved = shortage(f, tips, directions) > 0
    assert not (proved & either).any()
    assert (either & (answer.violation > 0)).sum() <= 1
    assert proved.sum() >= 0.7 * (~either).sum()
    assert 0.1 < either.mean() < 0.5


@pytest.mark.parametrize(
    ("which", "missed"),
    [
        (("M", "halden", "drive"), 1),
        (("S", "halden", "drive"), 1),
        (("M", "halden", "angled"), 2),
    ],
)
def test_planted_postures_are_found(which, missed):
    """Tips and axes by forward kinematics of legal joints must be found, whatever the joints."""
    f = figure(*which)
    tips, directions = planted(f, 1000, seed=1)
    answer = find_postures(f, tips, directions)
    assert not np.isinf(answer.violation).any()
    assert (answer.violation > 0).sum() <= missed


def test_answers_do_not_depend_on_order_number_or_threads():
    f = figure()
    tips, directions = random_targets(60, seed=4)
    whole = find_postures(f, tips, directions, "quick")
    order = np.random.default_rng(0).permutation(60)
    shuffled = find_postures(f, tips[order], directions[order], "quick")
    assert (whole.x[order] == shuffled.x).all()
    assert (whole.violation[order] == shuffled.violation).all()
    alone = find_postures(f, tips[7], directions[7], "quick")
    assert (alone.x[0] == whole.x[7]).all()


def test_left_hand_is_the_mirrored_right_hand_bit_for_bit():
    f = figure()
    tips, directions = random_targets(60, seed=5)
    right = find_postures(f, tips, directions, "quick")
    left = find_postures(f, mirrored(mirrored(tips)), mirrored(mirrored(directions)), "quick")
    assert (right.x == left.x).all() and (right.violation == left.violation).all()
    assert (
        shortage(f, tips, directions) == shortage(f, mirrored(mirrored(tips)), directions)
    ).all()


def test_noise_below_the_lattice_changes_nothing():
    f = figure()
    tips, directions = random_targets(60, seed=6)
    lattice = np.round(tips, 6)
    noise = np.random.default_rng(1).uniform(-1e-13, 1e-13, (60, 3))
    still = find_postures(f, lattice, directions, "quick")
    moved = find_postures(f, lattice + noise, 3.0 * directions, "quick")
    assert (still.x == moved.x).all()


def test_more_tolerance_never_loses_a_target():
    """A posture for the tight tool is one for the loose tool: its violation must carry over."""
    f = figure()
    tips, directions = planted(f, 200, seed=2)
    tight = figure("M", "halden", "drive")
    answer = find_postures(tight, tips, directions, "quick")
    assert (answer.violation <= 0).mean() > 0.97


def test_found_trunks_and_tilts_stay_inside_their_limits():
    f = figure()
    tips, directions = planted(f, 300, seed=3)
    x = find_postures(f, tips, directions, "quick").x
    assert (x[:, :5] >= f.p[LOW:HIGH]).all() and (x[:, :5] <= f.p[HIGH:N_PARAMETERS]).all()
    assert np.hypot(x[:, 5], x[:, 6]).max() <= np.tan(f.grip.tolerance) + 1e-12


def test_one_direction_serves_all_tips_and_length_does_not_matter():
    f = figure()
    tips = [[0.7, -0.2, 1.3], [0.6, 0.0, 1.2]]
    one = find_postures(f, tips, [2.0, 0.0, 0.0], "quick")
    each = find_postures(f, tips, [[1.0, 0, 0], [5.0, 0, 0]], "quick")
    assert (one.x == each.x).all() and (one.violation <= 0).all()


def test_no_targets_no_answers():
    answer = find_postures(figure(), np.empty((0, 3)), np.empty((0, 3)))
    assert answer.violation.shape == (0,) and answer.x.shape == (0, 9)


def test_target_at_the_shoulder_is_an_ordinary_one_at_the_plate_and_far_away_proved_out():
    f = figure()
    shoulder = trunks_of(f, 128).shoulder[0]
    tips = [shoulder, [0.0, 0.0, 0.0], [1e6, 0.0, 0.0], [0.0, 0.0, 50.0]]
    answer = find_postures(f, tips, [1.0, 0.0, 0.0])
    assert np.isfinite(answer.violation[0])
    assert np.isinf(answer.violation[1:]).all()


@pytest.mark.parametrize(
    ("tip", "direction", "message"),
    [
        ([np.nan, 0, 0], [1, 0, 0], r"tips must be finite, row 0 is \[nan, 0.0, 0.0\]"),
        ([0, 0, 0], [np.inf, 0, 0], "directions must be finite, row 0"),
        ([0, 0, 0], [0, 0, 0], "direction 0 has no length"),
        ([0, 0], [1, 0, 0], r"tips need the shape \(n, 3\), found \(2,\)"),
        ([[0, 0, 0]] * 3, [[1, 0, 0]] * 2, "3 tips need as many directions, found 2"),
    ],
)
def test_bad_targets_are_named(tip, direction, message):
    with pytest.raises(ValueError, match=message):
        find_postures(figure(), tip, direction)


def test_unknown_effort_is_named():
    with pytest.raises(ValueError, match="no effort 'huge'; there are quick, full"):
        find_postures(figure(), [0.7, 0, 1.3], [1, 0, 0], "huge")


def test_random_numbers_are_uniform_and_bell_shaped():
    state = np.array([SEED])
    u = np.array([chance.uniform(state) for _ in range(20_000)])
    z = np.array([chance.bell(state) for _ in range(20_000)])
    assert u.min() >= 0 and u.max() < 1
    assert [u.mean(), u.std()] == pytest.approx([0.5, 12**-0.5], abs=0.01)
    assert [z.mean(), z.std()] == pytest.approx([0.0, 1.0], abs=0.02)


def test_trunk_samples_start_neutral_and_hold_every_limit():
    trunks = trunks_of(figure(), 128)
    p = figure().p
    assert (trunks.q[0] == 0).all()
    assert (trunks.q.min(axis=0) == p[LOW:HIGH]).all()
    assert (trunks.q.max(axis=0) == p[HIGH:N_PARAMETERS]).all()
    assert len(np.unique(trunks.q, axis=0)) == 128
