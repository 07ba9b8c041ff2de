"""The gap of a mesh at one pose: as a library measures it, and as a motion that stays."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from test_payload_sweep import at, box, by_coal, crates, poses_between

from reach.geometry import build, pose_gap, pose_of, swept_gap, transform_points
from reach.geometry.motion_chain import chain_of


def drawn(rng, n=40):
    """Poses round a heap of crates, some in it."""
    turns = Rotation.random(n, random_state=rng).as_matrix()
    return [pose_of(turn, rng.uniform(-4.0, 4.0, 3)) for turn in turns]


@pytest.fixture
def rng():
    return np.random.default_rng(11)


def test_the_gap_at_a_pose_is_that_of_coal_and_of_a_motion_that_stays(rng):
    scene, payload = crates(rng, 12, 1.0, 2.5), crates(rng, 3, 0.5, 0.3)
    trees, poses = (build(scene), build(payload)), drawn(rng)
    for pose, distance in zip(poses, by_coal(scene, payload, poses), strict=True):
        gap, still = pose_gap(*trees, pose), swept_gap(*trees, pose, pose)
        if still.high == 0.0:  # one inside the other, or through it, which coal tells as -depth
            assert (gap.low, gap.high) == (0.0, 0.0)
            continue
        assert gap.low <= distance + 1e-9 and gap.high == pytest.approx(distance, abs=1e-9)
        assert gap.high - gap.low <= 1e-3
        assert gap.high == pytest.approx(still.high, abs=1e-12)


def test_its_points_lie_on_the_triangles_it_names(rng):
    scene, payload = crates(rng, 6, 1.0, 2.0), crates(rng, 2, 0.5, 0.3)
    trees = build(scene), build(payload)
    for pose in drawn(rng, 20):
        gap = pose_gap(*trees, pose)
        if gap.high > 0.0:
            apart = np.linalg.norm(gap.on_payload - gap.on_scene)
            assert apart == pytest.approx(gap.high, abs=1e-12)
            corner = transform_points(pose, payload[gap.face_payload])
            normal = np.cross(corner[1] - corner[0], corner[2] - corner[0])
            off = (gap.on_payload - corner[0]) @ normal / np.linalg.norm(normal)
            assert off == pytest.approx(0.0, abs=1e-9)


def test_beyond_what_matters_nothing_is_looked_for_and_the_bound_says_so():
    gap = pose_gap(build(box((1, 1, 1))), build(box((1, 1, 1))), at(5.0, 0.0, 0.0), beyond=2.0)
    assert gap.high == 2.0 and gap.low == pytest.approx(2.0, abs=2e-9)
    assert gap.face_payload == -1 and np.isnan(gap.on_scene).all()


@pytest.mark.parametrize("inner_moves", [True, False])
def test_what_lies_wholly_inside_is_in_contact(inner_moves):
    room, crate = build(box((4, 4, 4))), build(box((1, 1, 1)))
    trees = (room, crate) if inner_moves else (crate, room)
    gap = pose_gap(*trees, at(0.3, 0.2, -0.4))
    assert (gap.low, gap.high) == (0.0, 0.0)


def test_a_pose_that_is_none_is_refused():
    one = build(box((1, 1, 1)))
    with pytest.raises(ValueError, match="not a rigid pose"):
        pose_gap(one, one, 2.0 * np.eye(4))
    with pytest.raises(ValueError, match="must be one pose"):
        pose_gap(one, one, np.stack([np.eye(4)] * 2))
    with pytest.raises(ValueError, match="within"):
        pose_gap(one, one, np.eye(4), within=0.0)


def test_poses_at_many_moments_are_those_of_a_library_of_rotations(rng):
    ends, about, points = drawn(rng, 2), np.array([0.3, -0.2, 0.1]), rng.normal(size=(5, 3))
    chain, times = chain_of(np.stack(ends), about), np.linspace(0.0, 1.0, 9)
    poses = list(poses_between(*ends, times, about))
    assert np.allclose(chain.poses_at(0, times), poses, rtol=0.0, atol=1e-12)
    placed = np.array([transform_points(pose, points) for pose in poses])
    assert np.allclose(chain.placed_at(0, times, points), placed, rtol=0.0, atol=1e-12)
