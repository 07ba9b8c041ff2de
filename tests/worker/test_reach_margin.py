"""The margin is a distance: all probes nearer are reached, and a proof caps it."""

import numpy as np
import pytest
from figures import figure
from twin import planted

from reach.worker.bound import shortage
from reach.worker.margin import (
    FARTHEST,
    FINEST,
    N_DIRECTIONS,
    reach_margin,
    reach_margins,
    sphere_points,
)
from reach.worker.search import find_postures


@pytest.fixture(scope="module")
def reached():
    f = figure()
    tips, directions = planted(f, 24, seed=21)
    tips, directions = (
        np.concatenate([tips, [[0.75, -0.2, 1.25]]]),
        np.vstack([directions, [1, 0, 0]]),
    )
    x = find_postures(f, tips, directions).x
    return f, tips, directions, x, reach_margins(f, tips, directions, x)


def test_margin_lies_between_nothing_and_its_ceiling(reached):
    *_, margins = reached
    for margin in margins:
        assert 0 <= margin.radius <= FARTHEST and margin.radius < margin.ceiling < np.inf
        assert margin.within == 0.015


def test_targets_inside_the_margin_are_reached_but_for_a_hair(reached):
    f, tips, directions, _, margins = reached
    rays = sphere_points(N_DIRECTIONS)
    for i in (-1, 0, 5):
        inside = tips[i] + 0.999 * margins[i].radius * rays
        violation = find_postures(f, inside, directions[i], "full").violation
        assert (violation <= 0).mean() > 0.9 and violation.max() < 0.02


def test_a_middle_target_has_room_and_its_worst_direction_fails(reached):
    f, tips, directions, _, margins = reached
    margin = margins[-1]
    assert margin.radius > 0.05
    beyond = tips[-1] + (margin.radius + 2 * FINEST) * margin.worst_direction
    assert find_postures(f, beyond, directions[-1], "quick").violation[0] > 0


def test_ceiling_is_a_proof(reached):
    """Some point at that distance is proved out of reach; most simply the worst or best ray."""
    f, tips, directions, _, margins = reached
    for i in (-1, 0, 1):
        ring = tips[i] + margins[i].ceiling * sphere_points(N_DIRECTIONS)
        assert (shortage(f, ring, directions[i], sharp=False) > 0).any()


def test_one_and_many_agree(reached):
    f, tips, directions, x, margins = reached
    one = reach_margin(f, tips[3], directions[3], x[3])
    assert (one.radius, one.ceiling) == (margins[3].radius, margins[3].ceiling)


def test_a_posture_that_does_not_reach_is_refused():
    f = figure()
    with pytest.raises(ValueError, match="posture 0 does not reach its target"):
        reach_margin(f, [5.0, 0, 1], [1, 0, 0], np.zeros(9))
    with pytest.raises(ValueError, match=r"1 targets need postures \(1, 9\), found \(2, 9\)"):
        reach_margins(f, [0.7, 0, 1], [1, 0, 0], np.zeros((2, 9)))


@pytest.mark.parametrize("n", [0, 1, 2, 60])
def test_rays_are_unit_vectors_spread_over_the_sphere(n):
    rays = sphere_points(n)
    assert rays.shape == (n, 3)
    assert np.linalg.norm(rays, axis=1) == pytest.approx(np.ones(n), abs=1e-12)
    if n == 60:
        assert np.abs(rays.mean(axis=0)).max() < 0.02
        nearest = np.sort(rays @ rays.T, axis=1)[:, -2]
        assert np.degrees(np.arccos(nearest)).min() > 15
