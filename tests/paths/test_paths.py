"""Planned paths: certified, and checked by dense samples of another library; what is proved."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise

import numpy as np
import pytest

from benchmarks import path_sites
from benchmarks.paths import sampled_clearance
from reach.geometry import build, path_gap, pose_of, rotation_x, rotation_z
from reach.paths import Cargo, Obstacle, find_path, is_kept
from reach.paths.keeping import leg_kept, new_desk
from reach.paths.states import between, pose_from, state_of
from reach.paths.world import FLAT, pack, shrunk

STILL = np.eye(3)
CLEARANCE = 0.05


def at(x, y=0.0, z=0.0, turn=STILL):
    return pose_of(turn, (x, y, z))


def crate(size=1.0, middle=(0.0, 0.0, 0.0)):
    return build(path_sites.box((size, size, size), middle))


@pytest.fixture(scope="module")
def cargo():
    return Cargo((build(path_sites.box((1.2, 0.3, 0.3))),), (0.0,), np.zeros(3))


@pytest.fixture(scope="module")
def wall():
    return [Obstacle("wall", build(path_sites.box((0.2, 4.0, 4.0))), CLEARANCE)]


@pytest.fixture(scope="module")
def plate():
    return [Obstacle("plate", build(path_sites.box((0.002, 6.0, 6.0))), 0.02)]


def test_nothing_in_the_way_is_a_straight_line(cargo):
    found = find_path([Obstacle("far", crate(1.0, (0, 9, 0)), 0.1)], cargo, at(-3), at(3))
    assert found.reason == "found" and len(found.poses) == 2 and found.motions < 10


def test_no_obstacles_at_all_is_a_path(cargo):
    found = find_path([], cargo, at(-3), at(3))
    assert found.reason == "found"


def test_ends_are_the_ones_given(cargo, wall):
    ends = at(-2, 0.1, 0.2, rotation_z(0.4)), at(2, 0, 0, rotation_x(1.0))
    found = find_path(wall, cargo, *ends)
    assert np.array_equal(found.poses[0], ends[0]) and np.array_equal(found.poses[-1], ends[1])


@pytest.mark.parametrize("plain", [True, False])
def test_a_path_keeps_its_clearance_by_another_library(cargo, wall, plain):
    for seed in range(3):
        found = find_path(wall, cargo, at(-2), at(2, 0, 0, rotation_z(1.2)), seed=seed, plain=plain)
        assert found.reason == "found" and is_kept(wall, cargo, found.poses)
        assert sampled_clearance(wall, cargo, found.poses, 200) >= -1e-9


def test_the_same_seed_gives_the_same_path_whatever_the_time(cargo, wall):
    ask = [
        find_path(wall, cargo, at(-2), at(2), seed=4, plain=False, seconds=s) for s in (60.0, 90.0)
    ]
    assert np.array_equal(ask[0].poses, ask[1].poses) and ask[0].motions == ask[1].motions


def test_a_plate_of_two_millimetres_on_twenty_metres_is_never_gone_through(cargo, plate):
    start, goal = at(-10), at(10)
    assert not is_kept(plate, cargo, [start, goal])
    for plain in (True, False):
        found = find_path(plate, cargo, start, goal, plain=plain)
        sideways = np.abs(found.poses[:, 1:3, 3]).max()
        assert found.reason == "found" and sideways > 3.0
        assert is_kept(plate, cargo, found.poses)


def test_a_start_in_contact_is_a_proof(cargo, wall):
    found = find_path(wall, cargo, at(0.3), at(2))
    assert (found.reason, found.obstacle, found.gap) == ("start in contact", "wall", 0.0)
    assert found.poses is None and found.motions == 0


def test_contact_is_told_where_no_gap_is_wanted(cargo):
    touched = [Obstacle("wall", build(path_sites.box((0.2, 4.0, 4.0))), 0.0)]
    assert find_path(touched, cargo, at(0.3), at(2)).reason == "start in contact"


def test_a_cargo_buried_in_a_solid_is_in_contact(cargo):
    solid = [Obstacle("rock", crate(9.0), 0.0)]
    assert find_path(solid, cargo, at(9), at(0)).reason == "goal in contact"
    hollow = Cargo((crate(9.0),), (0.0,), np.zeros(3))
    inner = [Obstacle("pea", crate(0.1), 0.0)]
    assert find_path(inner, hollow, at(0), at(9)).reason == "start in contact"
    assert not is_kept(solid, cargo, [at(0), at(0)])


def test_a_goal_too_near_is_a_proof_with_its_gap(cargo, wall):
    found = find_path(wall, cargo, at(-2), at(0.1 + 0.6 + 0.03))
    assert (found.reason, found.obstacle) == ("goal too near", "wall")
    assert found.gap == pytest.approx(0.03, abs=1e-3)


def test_what_the_cargos_facets_leave_off_is_asked_too(cargo, wall):
    near = at(0.1 + 0.6 + CLEARANCE + 0.01)
    assert find_path(wall, cargo, at(2), near).reason == "found"
    round_cargo = Cargo(cargo.trees, (0.02,), cargo.centre)
    assert find_path(wall, round_cargo, at(2), near).reason == "goal too near"


def test_what_cannot_be_left_is_not_found_not_impossible(cargo):
    shut = np.concatenate(
        [
            path_sites.box([0.1 if i == j else 3.2 for j in range(3)], s * 1.6 * np.eye(3)[i])
            for i in range(3)
            for s in (-1, 1)
        ]
    )
    found = find_path([Obstacle("cell", build(shut), 0.01)], cargo, at(0), at(6), motions=800)
    assert found.reason == "not found within the budget" and found.poses is None
    assert 0 < found.motions < 2000


def test_no_leg_turns_by_half_a_turn(cargo, wall):
    for turn in (rotation_z(np.pi), rotation_x(np.pi - 1e-4)):
        found = find_path(wall, cargo, at(-2), at(-2.5, 0.2, 0.3, turn))
        turns = [a[:3, :3].T @ b[:3, :3] for a, b in pairwise(found.poses)]
        angles = [np.arccos(np.clip((np.trace(r) - 1) / 2, -1, 1)) for r in turns]
        assert found.reason == "found" and max(angles) < FLAT


def test_bounds_keep_the_search_on_one_side(cargo, wall):
    bounds = [[-3.0, -1.0, -1.0], [3.0, 1.0, 1.0]]
    found = find_path(wall, cargo, at(-2), at(2), bounds=bounds, motions=600)
    assert found.reason == "not found within the budget"


def test_a_rider_is_carried_and_kept_clear(wall):
    boom, rider = build(path_sites.box((1.2, 0.3, 0.3))), crate(0.4, (0.0, 0.0, -1.5))
    both = Cargo((boom, rider), (0.0, 0.0), np.zeros(3))
    found = find_path(wall, both, at(-2), at(2), plain=False, seed=1)
    assert found.reason == "found"
    assert sampled_clearance(wall, both, found.poses, 200) >= -1e-9


def test_a_slot_is_gone_through_when_the_way_round_is_closed():
    problem = path_sites.slot(4.0)
    found = find_path(
        problem.obstacles,
        problem.cargo,
        problem.start,
        problem.goal,
        bounds=path_sites.shut_in(problem),
        seconds=200.0,
    )
    assert found.reason == "found"
    assert sampled_clearance(problem.obstacles, problem.cargo, found.poses, 300) >= -1e-9


def test_wrong_numbers_are_refused(cargo, wall):
    with pytest.raises(ValueError, match="via must be"):
        find_path(wall, cargo, at(-2), at(2), via="other")
    with pytest.raises(ValueError, match="bounds must be"):
        find_path(wall, cargo, at(-2), at(2), bounds=[[1, 1, 1], [0, 0, 0]])
    with pytest.raises(ValueError, match="must not be negative"):
        find_path([Obstacle("x", crate(), -0.1)], cargo, at(-2), at(2))
    with pytest.raises(ValueError, match="extra for each tree"):
        Cargo((crate(),), (), np.zeros(3))


def test_progress_is_told_and_a_stop_passes_through(cargo, wall):
    told = []
    find_path(wall, cargo, at(-2), at(2), say=lambda *words: told.append(words), plain=False)
    assert told and all(len(words) == 3 for words in told)

    def stop(*_):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        find_path(wall, cargo, at(-2), at(2), say=stop)


def test_a_leg_is_judged_as_the_guaranteed_sweep_judges_it():
    rng = np.random.default_rng(2)
    about = np.array([0.2, -0.1, 0.3])
    cargo = Cargo((build(path_sites.box((0.8, 0.3, 0.5))),), (0.0,), np.zeros(3))
    things = [Obstacle(str(k), crate(0.7, rng.uniform(-2, 2, 3)), 0.05) for k in range(6)]
    world = pack(things, cargo, about)
    desk, agreed = new_desk(len(world.pairs)), [0, 0]
    for _ in range(200):
        poses = [at(*rng.uniform(-3, 3, 3), rotation_z(rng.uniform(0, 3))) for _ in range(2)]
        kept = leg_kept(world, *(state_of(p, about) for p in poses), desk)
        gaps = [path_gap(o.tree, cargo.trees[0], poses, about=about).gap.low for o in things]
        assert kept == (min(gaps) >= 0.05)
        agreed[kept] += 1
    assert min(agreed) > 20


def test_states_and_poses_are_the_same_thing():
    about = np.array([0.2, -0.1, 0.3])
    for angle in (0.0, 1e-9, 1.0, 3.1, np.pi):
        pose = at(1, 2, 3, rotation_z(angle) @ rotation_x(0.5))
        assert np.allclose(pose_from(state_of(pose, about), about), pose, atol=1e-12)
    a, b, c = state_of(at(0), about), state_of(at(2, 0, 0, rotation_z(1.0)), about), np.empty(7)
    between(a, b, 0.5, c)
    assert np.allclose(pose_from(c, about)[:3, :3], rotation_z(0.5), atol=1e-12)


def test_a_shrunk_cargo_is_smaller_about_its_centre(cargo, wall):
    small = shrunk(pack(wall, cargo, np.zeros(3)), 0.5)
    assert np.abs(small.cargo_tri).max() == pytest.approx(0.3)


def test_the_library_planner_finds_certified_paths_without_noise():
    pytest.importorskip("ompl")
    code = """
import numpy as np
from benchmarks import path_sites
from reach.geometry import build, pose_of
from reach.paths import Cargo, Obstacle, find_path, is_kept
wall = [Obstacle("wall", build(path_sites.box((0.2, 4.0, 4.0))), 0.05)]
cargo = Cargo((build(path_sites.box((1.2, 0.3, 0.3))),), (0.0,), np.zeros(3))
ends = [pose_of(np.eye(3), (x, 0.0, 0.0)) for x in (-2.0, 2.0)]
found = find_path(wall, cargo, *ends, via="ompl", plain=False, seconds=60.0)
assert found.by == "ompl" and found.reason == "found", found
assert is_kept(wall, cargo, found.poses)
print("kept")
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.stderr, done.returncode) == ("kept", "", 0)
