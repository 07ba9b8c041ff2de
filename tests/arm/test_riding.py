"""Arms seen from the tip, what rides there, and gaps over many motions in a row."""

from itertools import pairwise

import numpy as np
import pytest
from arms import chain, random_postures

from reach.arm import (
    best_posture,
    chain_gap,
    chain_of,
    covers_of,
    describe,
    gap_to_limits,
    link_capsules,
    nearest_at,
    part_name,
    self_chain_gap,
    self_clearance,
    self_gap,
    solutions,
    structure_clearance,
    structure_gap,
    tightest,
    tip_poses,
    turned_round,
    with_rider,
)
from reach.geometry import build, inverse, transform_points
from reach.model.shapes import Shaped
from reach.solids import triangles_of

BODY = (
    np.array([[[0.0, 0.0, 0.1], [0.0, 0.0, 1.5]], [[0.1, 0.3, 0.9], [0.4, 0.3, 1.2]]]),
    [0.3, 0.1],
)
ARMS = ("brackenfall", "mixed", "elbow")


def box(size, at):
    return triangles_of(Shaped(box=size)) + np.asarray(at, float)


@pytest.mark.parametrize("name", ARMS)
def test_the_pose_of_an_arm_turned_round_is_the_inverse(name):
    arm = chain(name)
    seen = chain_of(turned_round(arm.arm))
    q = random_postures(name, 100, seed=1)
    assert tip_poses(seen, q[:, ::-1]) == pytest.approx(
        np.array([inverse(pose) for pose in tip_poses(arm, q)]), abs=1e-12
    )
    assert seen.lower == pytest.approx(arm.lower[::-1])
    assert np.array_equal(seen.velocity, arm.velocity[::-1], equal_nan=True)
    assert [joint.name for joint in seen.arm.moving] == [
        joint.name for joint in arm.arm.moving[::-1]
    ]
    assert (seen.arm.base, seen.arm.tip) == (arm.arm.tip, arm.arm.base)


@pytest.mark.parametrize("name", ["brackenfall", "mixed"])
def test_links_are_where_they_were_seen_from_the_tip(name):
    arm = chain(name)
    seen = chain_of(turned_round(arm.arm))
    for q in random_postures(name, 20, seed=2):
        tip_from_base = inverse(tip_poses(arm, q)[0])
        there, here = link_capsules(arm, q), link_capsules(seen, q[::-1])
        expected = {
            (arm.arm.links[n].name, *np.round(transform_points(tip_from_base, p[None])[0], 9))
            for n, p in zip(there.link, there.p[0], strict=True)
        }
        found = {
            (seen.arm.links[n].name, *np.round(p, 9))
            for n, p in zip(here.link, here.p[0], strict=True)
        }
        assert {each[0] for each in expected} == {each[0] for each in found}
        a = np.array(sorted(each[1:] for each in expected))
        b = np.array(sorted(each[1:] for each in found))
        assert a == pytest.approx(b, abs=1e-8)


def test_turned_round_twice_is_the_same_arm():
    arm = chain("brackenfall")
    again = chain_of(turned_round(turned_round(arm.arm)))
    q = random_postures("brackenfall", 10, seed=3)
    assert tip_poses(again, q) == pytest.approx(tip_poses(arm, q), abs=1e-12)


def test_the_gap_between_a_crane_and_what_it_carries_is_that_of_samples():
    """The carried box moves with the tip in the samples and stands still in the proof."""
    arm = chain("brackenfall")
    seen = chain_of(turned_round(arm.arm))
    carried = box((2.0, 0.6, 0.6), (0.0, 1.2, 0.8))
    rows = np.array([[0, -1.0, 0, -1.4, 0.0, 0, 0], [0.3, -1.2, 0.2, -1.8, 1.9, 0.9, 1.0]])
    own = {"boot_plate", "adapter"}
    found = chain_gap(seen, rows[:, ::-1], build(carried), without=own)
    sampled = np.inf
    for s in np.linspace(0.0, 1.0, 60):
        q = rows[0] + s * (rows[1] - rows[0])
        moved = transform_points(tip_poses(arm, q)[0], carried.reshape(-1, 3)).reshape(-1, 3, 3)
        sampled = min(sampled, structure_clearance(arm, q, build(moved), without=own).min())
    assert found.low <= sampled
    assert sampled - found.low < 0.02
    assert found.high - found.low <= 1e-3


def test_a_rider_counts_as_a_part_of_its_own():
    arm = chain("brackenfall")
    covers = with_rider(arm, covers_of(arm), BODY)
    n_links = len(arm.arm.links)
    q = random_postures("brackenfall", 20, seed=4)
    there = link_capsules(arm, q, covers)
    assert list(there.link[-2:]) == [n_links, n_links + 1]
    for pose, p, end in zip(tip_poses(arm, q), there.p, there.q, strict=True):
        assert np.stack([p[-2:], end[-2:]], axis=1).reshape(-1, 3) == pytest.approx(
            transform_points(pose, BODY[0].reshape(-1, 3))
        )
    assert (part_name(arm, 3), part_name(arm, n_links + 1)) == ("upper_boom", "rider 1")
    again = with_rider(arm, covers, (BODY[0][:1], [0.2]))
    assert again.link[-1] == n_links + 2
    for bad in ((BODY[0], [0.3]), (BODY[0], [0.3, -0.1]), (np.zeros((1, 3)), [0.1])):
        with pytest.raises(ValueError, match="capsule"):
            with_rider(arm, covers, bad)


def test_a_rider_nearest_to_a_wall_is_told_with_its_place():
    """Boom straight up, plate on top: the body's side is 0.3 m nearer to the wall at x = 1."""
    arm = chain("brackenfall")
    q = [0.0, -np.pi / 2, 0.0, 0.0, 0.0, 0.0, 0.0]
    wall = build(box((0.2, 40.0, 40.0), (1.1, 0.0, 10.0)))
    alone = nearest_at(arm, q, wall)
    covers = with_rider(arm, covers_of(arm), (BODY[0][:1], [0.45]))
    found = nearest_at(arm, q, wall, covers)
    gaps = structure_clearance(arm, q, wall, covers)[0]
    assert len(gaps) == len(arm.arm.links) + 1
    assert (found.name, found.part) == ("rider 0", len(arm.arm.links))
    assert found.gap == pytest.approx(gaps[-1]) == pytest.approx(gaps.min())
    assert found.on_structure[0] == pytest.approx(1.0)
    assert np.linalg.norm(found.on_arm - found.on_structure) == pytest.approx(found.gap)
    assert found.gap == pytest.approx(0.55, abs=1e-8)
    corners = box((0.2, 40.0, 40.0), (1.1, 0.0, 10.0))[found.face]
    assert np.abs(corners[:, 0] - 1.0).max() < 1e-12
    assert alone.name != "rider 0"
    moved = np.eye(4)
    moved[0, 3] = 0.3
    there = nearest_at(arm, q, wall, covers, moved)
    assert there.gap == pytest.approx(found.gap - 0.3)
    assert nearest_at(arm, q, wall, without=[link.name for link in arm.arm.links]).part == -1


def test_a_cover_inside_structure_is_as_deep_as_told():
    arm = chain("brackenfall")
    q = [0.0, -np.pi / 2, 0.0, 0.0, 0.0, 0.0, 0.0]
    block = build(box((4.0, 4.0, 60.0), (0.0, 0.0, 10.0)))
    found = nearest_at(arm, q, block)
    assert found.gap < -1.0
    assert np.linalg.norm(found.on_arm - found.on_structure) == pytest.approx(-found.gap)


def test_a_rider_is_compared_with_the_wrist_and_the_booms_but_not_with_its_plate():
    arm = chain("brackenfall")
    covers = with_rider(arm, covers_of(arm), (np.array([[[0, 0, 0.5], [0, 0, 1.5]]]), [0.8]))
    out = [0.0, -1.0, 0.0, -1.4, 0.0, 0.0, 0.0]
    bent = [0.0, -1.0, 0.0, -1.4, 2.4, 0.0, 0.0]
    slim = with_rider(arm, covers_of(arm), (np.array([[[0, 0, 0.1], [0, 0, 1.5]]]), [0.3]))
    assert self_clearance(arm, out, slim).gap[0] == self_clearance(arm, out).gap[0]
    found = self_clearance(arm, bent, covers)
    names = {part_name(arm, found.first[0]), part_name(arm, found.second[0])}
    assert names == {"fore_boom", "rider 0"}
    # A cross-bar behind the plate goes through the wrist: its neighbour, and yet compared.
    behind = (np.array([[[-1.0, 0, -0.75], [1.0, 0, -0.75]]]), [0.1])
    found = self_clearance(arm, out, with_rider(arm, covers_of(arm), behind))
    assert part_name(arm, found.first[0]) == "wrist"
    assert found.gap[0] < 0.0


@pytest.mark.parametrize("name", ["brackenfall", "mixed"])
def test_a_row_of_motions_is_as_near_as_its_nearest_motion(name):
    arm, rng = chain(name), np.random.default_rng(5)
    for _ in range(3):
        rows = random_postures(name, 6, seed=int(rng.integers(1000)))
        tree = build(box((1.0, 1.0, 1.0), rng.uniform(-1, 1, 3) * 5.0))
        each = [structure_gap(arm, a, b, tree) for a, b in pairwise(rows)]
        found = chain_gap(arm, rows, tree)
        assert found.high - found.low <= 1e-3
        assert max(found.low, min(one.low for one in each)) <= min(
            found.high, min(one.high for one in each)
        )
        assert each[found.piece].low <= found.high
        q = rows[found.piece] + found.moment * (rows[found.piece + 1] - rows[found.piece])
        assert structure_clearance(arm, q, tree).min() == pytest.approx(found.high)
        each = [self_gap(arm, a, b) for a, b in pairwise(rows)]
        found = self_chain_gap(arm, rows)
        assert max(found.low, min(one.low for one in each)) <= min(
            found.high, min(one.high for one in each)
        )
        q = rows[found.piece] + found.moment * (rows[found.piece + 1] - rows[found.piece])
        assert self_clearance(arm, q).gap[0] == pytest.approx(found.high)


def test_a_row_of_motions_costs_little_where_nothing_is_near():
    arm = chain("brackenfall")
    rows = np.linspace([-1.0, -1, 0, -1.4, 0, 0, 0], [1.0, -1, 0, -1.4, 0, 0, 0], 101)
    tree = build(box((0.5, 0.5, 0.5), (9.0, 0.0, 0.0)))
    one_by_one = sum(structure_gap(arm, *pair, tree).postures for pair in pairwise(rows))
    assert chain_gap(arm, rows, tree).postures < one_by_one / 3


def test_the_best_posture_is_away_from_limits_and_singular_poses_at_once():
    arm = chain("brackenfall")
    for q in random_postures("brackenfall", 6, seed=6):
        pose = tip_poses(arm, q)[0]
        best = best_posture(arm, pose)
        ways = solutions(arm, pose).postures
        worth = [min(way.limit_share, way.singular / 0.1) for way in ways]
        assert min(best.limit_share, best.singular / 0.1) == max(worth)
    far = np.eye(4)
    far[0, 3] = 40.0
    assert best_posture(arm, far) is None


def test_where_a_row_of_postures_is_tightest():
    arm = chain("brackenfall")
    rows = random_postures("brackenfall", 30, seed=7)
    each = [describe(arm, q) for q in rows]
    found = tightest(arm, rows)
    least = [gap_to_limits(one) for one in each]
    assert found.from_limit == min(least)
    assert found.at == int(np.argmin(least))
    assert found.joint == arm.arm.moving[int(each[found.at].from_limits.argmin())].name
    assert found.share == pytest.approx(min(one.limit_share for one in each))
    assert found.singular == pytest.approx(min(one.singular for one in each))
    assert found.worth == pytest.approx(min(found.share, found.singular / 0.1))
    endless = tightest(chain("elbow"), np.zeros((1, 6)))
    assert (endless.joint, endless.share) == ("", 1.0)
    with pytest.raises(ValueError, match="no posture"):
        tightest(arm, np.empty((0, 7)))
