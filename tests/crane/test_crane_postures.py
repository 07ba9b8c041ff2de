"""A crane at a pose and on its way, against brute force and independent formulas."""

import sys
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "checks"))
from cranes import arm, crane_step, resolved, stand, yard

from reach.arm import (
    chain_of,
    duration,
    link_capsules,
    self_clearance,
    structure_clearance,
    tip_poses,
)
from reach.arm.margins import far_from_singular
from reach.crane import crane_at, rig_of
from reach.crane.along import farthest_moved, fastest_moved, least_singular, levers, quickest
from reach.geometry import segment_pair_distance

CHAIN = chain_of(arm())


@cache
def there(with_rider=True):
    steps = (stand("by the mast"),) if with_rider else (crane_step("by the mast"),)
    site, situations = resolved(yard(), *steps)
    if with_rider:
        (one,) = situations
        pose, around = one.place.world_from_boots, one.surroundings
        return site, around, crane_at(site, "Arm", pose, around, one)
    (carriage,) = site.carriages
    return (
        site,
        carriage.surroundings,
        crane_at(site, "Arm", carriage.poses[0], carriage.surroundings),
    )


def postures(n, seed):
    low, high = CHAIN.search_range()
    return low + np.random.default_rng(seed).random((n, CHAIN.n)) * (high - low)


def test_every_branch_holds_the_boots_where_they_are_asked_to_be():
    _, _, at = there()
    assert len(at.branches) > 3
    q = np.array([branch.posture.q for branch in at.branches])
    boots = at.rig.world_from_base @ tip_poses(CHAIN, q) @ at.rig.tip_from_boots
    assert np.abs(boots - at.world_from_boots).max() < 1e-6


def test_branches_differ_and_the_best_worst_margin_comes_first():
    _, _, at = there()
    worst = [branch.worst for branch in at.branches]
    assert worst == sorted(worst, reverse=True)
    q = np.array([branch.posture.q for branch in at.branches])
    apart = np.abs(q[:, None] - q[None]).max(axis=2)
    assert apart[~np.eye(len(q), dtype=bool)].min() > 0.2


def test_gaps_to_structure_and_to_itself_are_those_of_the_arm():
    _, around, at = there(with_rider=False)
    for branch in at.branches:
        near = {one.kind: one for one in branch.nearest}
        gaps = structure_clearance(
            CHAIN, branch.posture.q, around.tree, None, at.rig.world_from_base
        )
        assert near["structure"].gap == pytest.approx(gaps.min() - around.error, abs=1e-9)
        own = self_clearance(CHAIN, branch.posture.q)
        assert near["self"].gap == pytest.approx(own.gap[0], abs=1e-9)
        assert "rider" not in near


def test_the_gap_to_the_rider_is_that_of_capsules_in_the_world():
    _, _, at = there()
    rest = at.rider.resting
    pose, rows = rest.world_from_boots, rest.capsules
    body = [rows[:, k : k + 3] @ pose[:3, :3].T + pose[:3, 3] for k in (0, 3)]
    plate_moves_with = CHAIN.piece_of_link[-1]
    for branch in at.branches:
        links = link_capsules(CHAIN, branch.posture.q, at.rig.covers, at.rig.world_from_base)
        own = np.flatnonzero(at.rig.covers.piece != plate_moves_with)
        gaps = [
            segment_pair_distance(
                np.repeat(links.p[0, k][None], len(rows), axis=0),
                np.repeat(links.q[0, k][None], len(rows), axis=0), body[0], body[1],
            ) - rows[:, 6] - links.radius[k]
            for k in own
        ]  # fmt: skip
        near = next(one for one in branch.nearest if one.kind == "rider")
        assert near.gap == pytest.approx(np.min(gaps), abs=1e-7)


def test_where_links_and_rider_come_nearest_is_as_far_apart_as_is_said():
    _, _, at = there()
    asked = [near for near in at.best.nearest if near.kind in ("self", "rider") and near.gap > 0.0]
    assert asked
    for near in asked:
        apart = np.linalg.norm(np.subtract(near.on_link, near.on_thing))
        assert apart == pytest.approx(near.gap, abs=1e-6)


def test_the_posture_chosen_is_no_worse_than_the_plain_branches():
    from reach.arm import solutions
    from reach.crane.at_rest import worst_of

    site, around, at = there(with_rider=False)
    rig = rig_of(site, "Arm", around)
    plain = solutions(CHAIN, rig.base_from_tip(at.world_from_boots), rig.starts).postures
    for one in plain:
        gap = structure_clearance(CHAIN, one.q, around.tree, None, rig.world_from_base).min()
        own = self_clearance(CHAIN, one.q).gap[0]
        worst = worst_of(
            one.from_limits.min() - np.radians(3.0),
            one.singular - 0.02,
            min(gap - around.error - 0.1, own),
        )
        assert at.best.worst >= worst - 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_the_bracket_of_singular_values_holds_at_every_sample(seed):
    rows = postures(3, seed)
    found = least_singular(CHAIN, rows)
    share = np.linspace(0.0, 1.0, 1501)[:, None]
    fine = np.concatenate([(1 - share) * a + share * b for a, b in pairwise(rows)])
    seen = far_from_singular(CHAIN, fine).min()
    assert found.low <= seen
    assert found.high <= seen + 2e-3
    assert found.high - found.low <= 4e-3


@pytest.mark.parametrize("seed", range(4))
def test_the_farthest_and_the_fastest_of_a_motion_are_within_their_brackets(seed):
    rows = postures(3, 10 + seed)
    seconds = duration(CHAIN, rows)
    share = np.linspace(0.0, 1.0, 2001)[:, None]
    fine = [(1 - share) * a + share * b for a, b in pairwise(rows)]
    tips = [tip_poses(CHAIN, one)[:, :3, 3] for one in fine]
    far = max(np.linalg.norm(one, axis=1).max() for one in tips)
    found = farthest_moved(CHAIN, rows)
    assert found.low - 0.02 <= far <= found.high
    speeds = [
        np.linalg.norm(np.diff(one, axis=0), axis=1).max() * 2000 / lasts
        for one, lasts in zip(tips, seconds, strict=True)
    ]
    fastest = fastest_moved(CHAIN, rows, seconds)
    assert max(speeds) <= fastest.high + 1e-9
    assert fastest.low == pytest.approx(max(speeds), rel=2e-3)


def test_no_motion_at_the_rates_is_quicker_than_the_bound():
    rows = postures(200, 3)
    tips = tip_poses(CHAIN, rows)
    for k in range(199):
        bound = quickest(CHAIN, tips[k : k + 2])
        assert bound <= duration(CHAIN, rows[k : k + 2])[0] + 1e-9


def test_a_lever_is_no_shorter_than_the_tip_is_from_its_joint():
    from reach.arm import piece_poses

    rows = postures(300, 4)
    joints = piece_poses(CHAIN, rows)[:, 1:, :3, 3]
    away = np.linalg.norm(tip_poses(CHAIN, rows)[:, None, :3, 3] - joints, axis=2)
    assert (away <= levers(CHAIN) + 1e-9).all()
