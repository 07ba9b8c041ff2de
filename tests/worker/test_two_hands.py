"""Both hands at once: one trunk, and each arm as good as a one-handed answer."""

import math

import numpy as np
import pytest
from figures import BARE_HAND, DRIVE, figure

from reach.worker import chain
from reach.worker.figure import figure_of, mirrored
from reach.worker.search import find_postures
from reach.worker.two_hands import find_two_handed

AHEAD = [1.0, 0.0, 0.0]


def in_front(n, seed):
    rng = np.random.default_rng(seed)
    right = rng.uniform([0.4, -0.4, 1.0], [0.8, 0.0, 1.5], (n, 3))
    left = rng.uniform([0.4, 0.0, 1.0], [0.7, 0.4, 1.5], (n, 3))
    return right, left


@pytest.fixture(scope="module")
def answers():
    f = figure()
    right, left = in_front(40, seed=1)
    free = find_two_handed(f, BARE_HAND, right, AHEAD, left)
    held = find_two_handed(f, BARE_HAND, right, AHEAD, left, AHEAD)
    return f, right, left, free, held


@pytest.mark.parametrize("which", [3, 4])
def test_both_arms_reach_from_one_trunk(answers, which):
    f, right, left, *_ = answers
    answer = answers[which]
    other = figure_of(f.body, f.suit, BARE_HAND)
    work, out = chain.work_arrays()
    ok = np.flatnonzero(answer.violation <= 0)
    assert len(ok) >= 25
    right_shoulder = np.empty(3)
    for i in ok:
        x, y = answer.right[i], answer.left[i]
        assert (y[:5] * [-1, 1, 1, -1, -1] == x[:5]).all()
        tip = np.round(right[i], 9)
        assert chain.evaluate(f.p, tip, np.array(AHEAD), x, work, out) <= 1e-6
        torso = work[0:3].copy()
        right_shoulder[:] = work[9]
        way = mirrored(answer.left_directions[i])
        tip = np.round(mirrored(left[i]), 9)
        assert chain.evaluate(other.p, tip, way, y, work, out) <= 1e-6
        flip = np.diag([1.0, -1.0, 1.0])
        assert flip @ work[0:3] @ flip == pytest.approx(torso, abs=1e-12)
        assert np.linalg.norm(mirrored(work[9]) - right_shoulder) == pytest.approx(
            2 * f.body.links.half, abs=1e-12
        )


def test_two_hands_reach_no_more_than_each_alone(answers):
    f, right, left, free, held = answers
    alone = find_postures(f, right, AHEAD).violation <= 0
    other = (
        find_postures(figure_of(f.body, f.suit, BARE_HAND), mirrored(left), AHEAD).violation <= 0
    )
    assert not ((free.violation <= 0) & ~alone).any()
    assert not ((held.violation <= 0) & ~(alone & other)).any()
    assert (free.violation <= 0).sum() >= (held.violation <= 0).sum() - 1


def test_given_direction_is_kept_and_free_one_is_told(answers):
    *_, free, held = answers
    assert (held.left_directions == AHEAD).all()
    ok = free.violation <= 0
    length = np.linalg.norm(free.left_directions[ok], axis=1)
    assert length == pytest.approx(np.ones(ok.sum()), abs=1e-12)


def test_mirrored_pair_with_hands_swapped_is_reached_too():
    f = figure()
    right, left = in_front(12, seed=5)
    one = find_two_handed(f, DRIVE, right, AHEAD, left, AHEAD).violation <= 0
    two = find_two_handed(f, DRIVE, mirrored(left), AHEAD, mirrored(right), AHEAD).violation <= 0
    assert (one != two).sum() <= 1


@pytest.mark.parametrize("way", [None, AHEAD])
def test_hand_that_cannot_reach_is_proved(way):
    answer = find_two_handed(figure(), BARE_HAND, [0.7, -0.2, 1.3], AHEAD, [0.5, 9.0, 1.0], way)
    assert math.isinf(answer.violation[0])


def test_numbers_of_targets_must_match():
    with pytest.raises(ValueError, match="2 right tips need as many left ones, not 1"):
        find_two_handed(figure(), BARE_HAND, [[0.7, 0, 1]] * 2, AHEAD, [[0.5, 0.2, 1.0]])
    with pytest.raises(ValueError, match="tips must be finite"):
        find_two_handed(figure(), BARE_HAND, [0.7, 0, 1], AHEAD, [0.5, np.nan, 1.0])
