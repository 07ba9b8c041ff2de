"""Forward, inverse and the proof of what is out of reach, against pinocchio and closed forms."""

import numpy as np
import pytest
from arms import Oracle, chain, random_postures

from reach.arm import (
    describe,
    full_reach,
    posture_for,
    shortage,
    solutions,
    starts_of,
    tip_jacobian,
    tip_poses,
)

ARMS = ("brackenfall", "mixed", "elbow")


@pytest.mark.parametrize("name", ARMS)
def test_the_tip_is_where_pinocchio_has_it(name):
    oracle, q = Oracle(name), random_postures(name, 200, seed=1)
    for row, pose in zip(q, tip_poses(chain(name), q), strict=True):
        assert np.abs(oracle.place(row).homogeneous - pose).max() < 1e-13


@pytest.mark.parametrize("name", ARMS)
def test_the_jacobian_is_that_of_pinocchio(name):
    oracle = Oracle(name)
    for row in random_postures(name, 50, seed=2):
        assert np.abs(oracle.jacobian(row) - tip_jacobian(chain(name), row)).max() < 1e-12


@pytest.mark.parametrize(("name", "n"), [("brackenfall", 2000), ("mixed", 500), ("elbow", 500)])
def test_reachable_poses_are_solved_inside_the_limits(name, n):
    arm, oracle = chain(name), Oracle(name)
    poses = tip_poses(arm, random_postures(name, n, seed=3))
    solved = posture_for(arm, poses)
    assert solved.found.mean() >= 0.995
    assert np.isnan(solved.q[~solved.found]).all()
    q = solved.q[solved.found]
    assert (q >= arm.lower).all()
    assert (q <= arm.upper).all()
    right = [oracle.error(*pair) < 1e-6 for pair in zip(q, poses[solved.found], strict=True)]
    assert all(right)


def test_the_same_poses_have_the_same_postures_in_any_company():
    arm = chain("brackenfall")
    poses = tip_poses(arm, random_postures("brackenfall", 60, seed=4))
    together = posture_for(arm, poses).q
    alone = np.concatenate([posture_for(arm, pose).q for pose in poses])
    assert np.array_equal(together, alone, equal_nan=True)


def test_an_arm_with_a_spherical_wrist_has_eight_postures():
    """Shoulder left and right, elbow up and down, wrist and its flip: 2 x 2 x 2.

    D. L. Pieper, The kinematics of manipulators under computer control, 1968: a spherical
    wrist splits the question; the counts are those of the usual closed form.
    """
    arm, oracle = chain("elbow"), Oracle("elbow")
    n_asked = 0
    for q in random_postures("elbow", 40, seed=5):
        if describe(arm, q).singular < 0.03:
            continue  # near singular poses branches meet
        pose = tip_poses(arm, q)[0]
        found = solutions(arm, pose).postures
        # The shoulder stands aside of the column: a wrist may be within reach of one side only.
        assert len(found) in (4, 8)
        assert min(np.abs(_turned(q, other.q)).max() for other in found) < 1e-6
        assert all(oracle.error(other.q, pose) < 1e-6 for other in found)
        n_asked += len(found) == 8
    assert n_asked >= 15


def _turned(a, b):
    return (a - b + np.pi) % (2 * np.pi) - np.pi


def test_branches_of_the_crane_differ_and_are_sorted_by_their_limits():
    arm, oracle = chain("brackenfall"), Oracle("brackenfall")
    for q in random_postures("brackenfall", 8, seed=6):
        pose = tip_poses(arm, q)[0]
        found = solutions(arm, pose)
        assert found.postures
        assert not found.proved_out_of_reach
        shares = [each.limit_share for each in found.postures]
        assert shares == sorted(shares, reverse=True)
        assert shares[0] >= describe(arm, q).limit_share - 0.02
        for n, one in enumerate(found.postures):
            assert oracle.error(one.q, pose) < 1e-6
            assert (one.from_limits >= 0.0).all()
            assert all(np.abs(one.q - two.q).max() > 0.2 for two in found.postures[:n])


def test_the_numbers_of_a_posture_are_what_they_say():
    arm = chain("brackenfall")
    q = np.array([0.0, -1.0, 0.0, -1.45, 0.0, 0.0, 4.6])
    found = describe(arm, q)
    assert found.limited_by == "wrist_roll"
    assert found.limit_share == pytest.approx(0.1 / 4.7)
    assert found.from_limits[3] == pytest.approx(1.5)
    jacobian = Oracle("brackenfall").jacobian(q)
    jacobian[:3] /= full_reach(arm)
    assert found.singular == pytest.approx(np.linalg.svd(jacobian)[1][-1])


def test_a_straight_arm_is_singular_and_uses_its_whole_reach():
    arm = chain("brackenfall")
    bend = 2 * np.arctan2(0.25, 7.0)  # the hinge stands 0.25 m off the line of the booms
    q = np.array([0.0, -np.pi / 2 + bend / 2, 0.0, -bend, bend / 2, 0.0, 0.0])
    pose = tip_poses(arm, q)[0]
    assert np.linalg.norm(pose[:3, 3]) == pytest.approx(full_reach(arm), abs=1e-12)
    assert full_reach(arm) == pytest.approx(15.2, abs=1e-3)
    assert describe(arm, q).singular < 1e-9
    assert shortage(arm, pose)[0] <= 0.0
    assert solutions(arm, pose).reach_used == pytest.approx(1.0)


@pytest.mark.parametrize("name", ARMS)
def test_nothing_that_is_reached_is_proved_out_of_reach(name):
    poses = tip_poses(chain(name), random_postures(name, 20_000, seed=7))
    assert shortage(chain(name), poses).max() <= 0.0


def test_what_is_farther_than_the_links_are_long_is_proved():
    arm = chain("brackenfall")
    pose = np.eye(4)
    pose[:3, 3] = [18.19, 0.0, 0.4]
    found = solutions(arm, pose)
    assert found.proved_out_of_reach
    assert found.shortage > 18.19 - 14.8 - 1e-3  # the column's 0.4 m does not help sideways
    assert found.postures == ()
    pose[:3, 3] = [14.79, 0.0, 0.4]
    turned_back = pose @ np.diag([-1.0, 1.0, -1.0, 1.0])
    assert shortage(arm, turned_back)[0] > 0.0  # the wrist would have to be beyond the booms


def test_a_pose_that_is_none_is_refused():
    arm, starts = chain("brackenfall"), starts_of(chain("brackenfall"))
    with pytest.raises(ValueError, match="no rotation"):
        posture_for(arm, np.diag([1.0, 1.0, -1.0, 1.0]), starts)
    with pytest.raises(ValueError, match="not finite"):
        solutions(arm, np.full((4, 4), np.nan), starts)
    with pytest.raises(ValueError, match="7 values"):
        tip_poses(arm, np.zeros(6))


@pytest.mark.parametrize(
    ("place", "used"),
    [
        ((21.1, 4.2, -0.2), 0.77),  # handover
        ((22.9, 2.4, -0.75), 0.85),
        ((28.5, 1.9, 0.6), 18.19 / 15.2),
    ],
)
def test_places_of_the_demo_are_reached_or_proved_out_of_reach(place, used):
    """The crane stands at (10.5, -0.6, 1.3): shares of 15.2 m by Pythagoras, plate upright."""
    pose = np.eye(4)
    pose[:3, 3] = np.array(place) - [10.5, -0.6, 1.3]
    found = solutions(chain("brackenfall"), pose)
    assert found.reach_used == pytest.approx(used, abs=0.005)
    assert found.proved_out_of_reach == (used > 1.0)
    assert bool(found.postures) == (used <= 1.0)
