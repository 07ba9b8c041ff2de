"""Ways that an arm follows: what is proved of them holds at every sampled moment."""

import numpy as np
import pinocchio as pin
import pytest
from arms import Oracle, chain, random_postures

from reach.arm import (
    duration,
    follow,
    follow_all,
    full_reach,
    piece_poses,
    posture_for,
    shortage,
    tightest,
    tip_poses,
)
from reach.arm.asked import way_of
from reach.geometry import inverse, pose_of, rotation_about, rotation_z
from reach.geometry.motion_chain import chain_of as motions_of

TIP_FROM_BODY = pose_of(rotation_about([1.0, 2.0, 0.5], 0.7), [0.4, -0.2, 1.1])
ABOUT = np.array([0.3, 0.1, -0.2])


def asked_at(poses, tip_from_body, about, at):
    """Where the tip is asked to be: straight steps and pinocchio's log and exp of the turn."""
    k = min(int(at), len(poses) - 2)
    t = at - k
    start, end = poses[k], poses[k + 1]
    turn = start[:3, :3] @ pin.exp3(t * pin.log3(start[:3, :3].T @ end[:3, :3]))
    place = [pose[:3, :3] @ about + pose[:3, 3] for pose in (start, end)]
    body = pose_of(turn, (1 - t) * place[0] + t * place[1] - turn @ about)
    return body @ inverse(tip_from_body)


def demo_path():
    """Payload poses (base frame of the crane) and how the boot plate holds the payload."""
    places = [((5.6, 0, 2.9), 0), ((10, 3.2, 2.9), 0), ((20, 3.8, 2.3), 0), ((22.5, 3.6, 0.4), -90)]
    base = np.array([10.5, -0.6, 1.3])
    poses = [pose_of(rotation_z(np.radians(yaw)), np.array(at) - base) for at, yaw in places]
    payload_from_tip = pose_of(rotation_z(np.pi / 2), (-0.6, -1.4, -0.6))
    return np.array(poses), inverse(payload_from_tip)


def near_path(name, q, way):
    """Two corners on from the tip of a posture, a turn in each."""
    poses = tip_poses(chain(name), q)
    steps = [pose_of(rotation_about(axis, 0.3), step) for axis, step in way]
    return np.array([poses[0], poses[0] @ steps[0], poses[0] @ steps[0] @ steps[1]])


@pytest.mark.parametrize("tip_from_body", [np.eye(4), TIP_FROM_BODY])
def test_the_asked_way_is_the_motion_of_the_body(tip_from_body):
    poses, _ = demo_path()
    way = way_of(chain("brackenfall"), poses, tip_from_body, ABOUT)
    motion = motions_of(poses, ABOUT)
    body_from_tip = inverse(tip_from_body)
    for at in (0.0, 0.3, 1.0, 1.5, 2.0, 2.2, 2.9, 3.0):
        row = way.targets(at)[0]
        expected = asked_at(poses, tip_from_body, ABOUT, at)
        assert row[:9].reshape(3, 3) == pytest.approx(expected[:3, :3], abs=1e-12)
        assert row[9:] == pytest.approx(expected[:3, 3], abs=1e-12)
        k = min(int(at), 2)
        assert motion.placed(k, at - k, body_from_tip[None, :3, 3])[0] == pytest.approx(row[9:])


def test_the_crane_follows_the_way_of_the_demo_and_no_sample_strays_more_than_is_proved():
    arm, oracle = chain("brackenfall"), Oracle("brackenfall")
    poses, tip_from_payload = demo_path()
    found = follow(arm, poses, tip_from_body=tip_from_payload)
    assert found.found
    assert found.at[0] == 0.0
    assert found.at[-1] == 3.0
    assert set(found.at) >= {1.0, 2.0}
    assert (np.diff(found.at) > 0.0).all()
    assert found.off <= 2e-3
    assert found.off_turn <= 2e-3
    assert np.isnan(found.stuck_at)
    assert (found.shortage, found.stuck_by) == (0.0, "")
    assert ((found.q >= arm.lower) & (found.q <= arm.upper)).all()
    worst, worst_turn = 0.0, 0.0
    for n in range(len(found.q) - 1):
        for s in (0.0, 0.21, 0.5, 0.83):
            place = oracle.place(found.q[n] + s * (found.q[n + 1] - found.q[n])).homogeneous
            at = found.at[n] + s * (found.at[n + 1] - found.at[n])
            pose = asked_at(poses, tip_from_payload, np.zeros(3), at)
            worst = max(worst, np.linalg.norm(place[:3, 3] - pose[:3, 3]))
            turn = np.linalg.norm(pin.log3(place[:3, :3].T @ pose[:3, :3]))
            worst_turn = max(worst_turn, turn)
    assert found.off >= worst > 0.5 * found.off
    assert found.off_turn >= worst_turn > 0.1 * found.off_turn
    assert np.isfinite(duration(arm, found.q)).all()
    assert tightest(arm, found.q).worth > 0.05


@pytest.mark.parametrize("name", ["brackenfall", "mixed", "elbow"])
def test_what_is_proved_holds_for_turning_sliding_and_endless_joints(name):
    arm, oracle = chain(name), Oracle(name)
    size = 0.03 * np.linalg.norm(tip_poses(arm, np.zeros(arm.n))[0, :3, 3])
    way = [([1.0, 0.0, 1.0], [size, 0.0, size]), ([0.0, 1.0, 0.3], [0.0, -size, 0.0])]
    n_followed = 0
    for q in random_postures(name, 25, seed=11):
        poses = near_path(name, q, way)
        found = follow(arm, poses, from_posture=q, off=1e-2, off_turn=1e-2)
        if not found.found:
            assert 0.0 <= found.stuck_at < 2.0
            continue
        n_followed += 1
        assert found.q[0] == pytest.approx(q)
        for n in range(len(found.q) - 1):
            for s in (0.3, 0.5, 0.7):
                place = oracle.place(found.q[n] + s * (found.q[n + 1] - found.q[n])).homogeneous
                at = found.at[n] + s * (found.at[n + 1] - found.at[n])
                pose = asked_at(poses, np.eye(4), np.zeros(3), at)
                assert np.linalg.norm(place[:3, 3] - pose[:3, 3]) <= found.off
                turn = pin.log3(place[:3, :3].T @ pose[:3, :3])
                assert np.linalg.norm(turn) <= found.off_turn
    assert n_followed >= 4


def test_less_straying_takes_more_postures():
    arm = chain("brackenfall")
    poses, held = demo_path()
    rough, fine = (follow(arm, poses, tip_from_body=held, off=off) for off in (0.02, 2e-4))
    assert rough.off <= 0.02
    assert fine.off <= 2e-4
    assert len(fine.q) > 2 * len(rough.q)


def test_what_is_out_of_reach_is_proved_and_where():
    arm = chain("brackenfall")
    pose = np.tile(np.eye(4), (3, 1, 1))
    pose[:, :3, 3] = [[10.0, 0.0, 2.0], [13.0, 0.0, 2.0], [18.0, 0.0, 2.0]]
    found = follow(arm, pose)
    assert not found.found
    assert found.proved_out_of_reach
    assert found.shortage == pytest.approx(shortage(arm, pose[2])[0])
    assert found.shortage_at == 2.0
    assert 1.0 < found.stuck_at < 2.0
    assert found.q.shape == (0, 7)
    # By the proof alone the tip cannot be where the walk has come to.
    further = pose[1].copy()
    further[0, 3] = 13.0 + 5.0 * (found.stuck_at - 1.0) + 0.5
    assert not posture_for(arm, further).found.any()


def test_a_joint_that_ends_its_range_is_named():
    """Drawn in to the shoulder the wrist stops where the elbow is at its limit of -2.95 rad.

    Two legs of hypot(7, 0.25) m, the hinge atan(0.25 / 7) rad off each: the wrist is then
    ``2 a sin((pi - 2.95) / 2 + atan(0.25 / 7))`` from the shoulder, 1.84 m.
    """
    arm = chain("brackenfall")
    q = np.array([0.0, -1.0, 0.0, -1.4, 0.9, 0.0, 0.0])
    pieces = piece_poses(arm, q)[0]
    wrist, shoulder = pieces[5, :3, 3], np.array([0.0, 0.0, 0.4])
    poses = tip_poses(arm, [q, q])
    poses[1, :3, 3] += 0.97 * (shoulder - wrist)
    found = follow(arm, poses, from_posture=q)
    assert not found.found
    assert found.stuck_by == "elbow_pitch"
    assert not found.proved_out_of_reach
    nearest = 2 * np.hypot(7.0, 0.25) * np.sin((np.pi - 2.95) / 2 + np.arctan(0.25 / 7))
    left = (1 - 0.97 * found.stuck_at) * np.linalg.norm(wrist - shoulder)
    # The wrist's second axis stands 0.15 m on: leaning with it buys no more than that.
    assert nearest - 0.15 <= left <= nearest + 0.02


def test_a_reserve_is_kept_and_too_large_a_one_refused():
    arm = chain("brackenfall")
    poses, held = demo_path()
    kept = follow(arm, poses, tip_from_body=held, reserve=0.05)
    assert tightest(arm, kept.q).from_limit >= 0.05
    with pytest.raises(ValueError, match="leaves a joint of brackenfall no range"):
        follow(arm, poses, tip_from_body=held, reserve=1.6)


def test_a_reserve_proves_nothing_out_of_reach():
    """A sliding joint kept from its ends makes the arm shorter, but it can go there."""
    arm = chain("mixed")
    poses = np.tile(np.eye(4), (2, 1, 1))
    poses[:, 0, 3] = full_reach(arm) + np.array([0.5, 0.7])
    found = follow(arm, poses, reserve=0.05)
    assert arm.slides.any()
    assert found.shortage == pytest.approx(shortage(arm, poses[1])[0])


def test_a_start_that_is_none_is_refused():
    arm = chain("brackenfall")
    q = np.array([0.0, -1.0, 0.0, -1.4, 0.3, 0.2, 1.0])
    poses = tip_poses(arm, [q, q])
    poses[1, 0, 3] += 0.1
    with pytest.raises(ValueError, match="not at the first pose"):
        follow(arm, poses, from_posture=q + 0.01)
    with pytest.raises(ValueError, match="wrist_roll outside its limits"):
        follow(arm, poses, from_posture=[0, 0, 0, 0, 0, 0, 6.0])
    with pytest.raises(ValueError, match="two poses"):
        follow(arm, poses[:1])


def test_branches_differ_and_the_first_round_is_sorted():
    arm = chain("brackenfall")
    poses, held = demo_path()
    every = follow_all(arm, poses, tip_from_body=held)
    first = [next(every) for _ in range(5)]
    worths = [tightest(arm, one.q).worth for one in first]
    assert np.allclose(first[0].q, follow(arm, poses, tip_from_body=held).q)
    # Sorted as walked; postures put between may be a little tighter.
    assert worths == pytest.approx(sorted(worths, reverse=True), abs=0.01)
    for n, one in enumerate(first):
        corners = one.q[np.isin(one.at, range(4))]
        others = [two.q[np.isin(two.at, range(4))] for two in first[:n]]
        assert all(np.abs(corners - other).max() > 0.2 for other in others)
