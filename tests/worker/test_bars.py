"""Hands on bars: what the compiled routines measure and move, against plain arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from figures import figure

from reach.worker.bars import bar_target, excess_of, nudge_hold, pull_back
from reach.worker.chain import evaluate, work_arrays
from reach.worker.figure import Grip, figure_of
from reach.worker.search import SEED
from reach.worker.two_hands import find_two_handed, mirror_trunk

BARS = np.array([[[0.45, -0.2, 1.3], [0.45, -0.4, 1.3]], [[0.45, 0.4, 1.3], [0.45, 0.2, 1.3]]])
SIGNS, FLIPS = np.ones(2), np.array([1.0, -1.0])


def held():
    """A pair of postures with both hands in the middle of their bars."""
    fist = Grip((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 0.2)
    one = figure_of(figure().body, figure().suit, fist)
    middle, way = BARS.mean(axis=1), BARS[:, 1] - BARS[:, 0]
    found = find_two_handed(one, one.grip, middle[0], way[0], middle[1], way[1])
    assert found.violation[0] <= 0.0
    return one.p, np.array([found.right[0], found.left[0]])


def test_the_target_is_the_place_on_the_bar_and_the_way_to_its_thumb_side():
    tip, way = np.empty(3), np.empty(3)
    bar_target(BARS[0], 0.25, -1.0, -1.0, tip, way)
    assert tip == pytest.approx([0.45, 0.25, 1.3], abs=1e-9)  # mirrored: y the other way
    assert way == pytest.approx([0.0, -1.0, 0.0], abs=1e-12)


def test_places_are_put_on_the_lattice_of_all_searches():
    tip, way = np.empty(3), np.empty(3)
    bar_target(BARS[0] + 1.0 / 3.0, 1.0 / 7.0, 1.0, 1.0, tip, way)
    assert tip.tolist() == [round(x, 9) for x in tip]


def test_the_excess_is_that_of_the_worse_hand():
    p, postures = held()
    work, out = work_arrays()
    shares, alone = np.array([0.9, 0.5]), []
    for i in range(2):
        tip, way = np.empty(3), np.empty(3)
        bar_target(BARS[i], shares[i], SIGNS[i], FLIPS[i], tip, way)
        alone.append(evaluate(p, tip, way, postures[i], work, out))
    assert excess_of(p, BARS, shares, SIGNS, FLIPS, postures) == max(alone)


def test_after_a_step_both_hands_still_hang_on_one_trunk_and_on_their_bars():
    p, postures = held()
    shares, state = np.array([0.5, 0.99]), np.array([SEED], np.uint64)
    for _ in range(200):
        new_shares, new = np.empty(2), np.empty_like(postures)
        nudge_hold(p, shares, postures, 0.4, state, new_shares, new)
        mirrored = np.empty(9)
        mirror_trunk(new[0], mirrored)
        assert mirrored[:5].tolist() == new[1, :5].tolist()
        assert (new_shares >= 0.0).all() and (new_shares <= 1.0).all()
        shares, postures = new_shares, new


def test_bars_that_are_moved_a_little_are_held_again_and_far_ones_are_not():
    p, postures = held()
    for by, is_held in (([0.0, 0.03, 0.02], True), ([2.0, 0.0, 0.0], False)):
        bars, shares, new = BARS + by, np.array([0.5, 0.5]), postures.copy()
        state = np.array([SEED], np.uint64)
        before = excess_of(p, bars, shares, SIGNS, FLIPS, new)
        left = pull_back(p, bars, shares, SIGNS, FLIPS, new, 300, state)
        assert left == excess_of(p, bars, shares, SIGNS, FLIPS, new) <= before
        assert (left <= 0.0) == is_held
