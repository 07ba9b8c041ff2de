"""Postures that are clear and see: what is called a witness is one, the same every time."""

import numpy as np
import pytest
from figures import figure
from planting import body_points, box, eye_point, ranges
from twin import excess, planted, torso_of

from reach.geometry import any_hit, build, segment_distance, transform_points
from reach.worker.figure import TOLERANCE
from reach.worker.posing import CLEAR, SEEN, Target, capsules_of, find_held
from reach.worker.posture import posture_of
from reach.worker.room import FAR, own_room, scratch_arrays
from reach.worker.trunks import trunks_of
from reach.worker.volume import N_IDLE, bulk_of

TOOL = np.array([[0.05, 0.0, 0.05, 0.15, 0.0, 0.05, 0.03]])
NEED = 0.03


def question(f, rng, tip, d):
    """A target with a panel just behind it and some boxes about."""
    bulk = bulk_of(f, f.suit, TOOL)
    boxes = [box(rng, tip + 0.16 * d, [0.1, 0.1, 0.1])]
    boxes += [box(rng, [0, 0, 1.2] + 0.8 * rng.normal(size=3), [0.2, 0.3, 0.1]) for _ in range(3)]
    spots = tip - 0.005 * d + 0.01 * rng.normal(size=(7, 3))
    return bulk, build(np.concatenate(boxes)), Target(
        tip, d, spots, np.full(len(bulk.names), NEED), 0.5, np.radians(80.0)
    )  # fmt: skip


@pytest.mark.parametrize("which", [("M", "halden", "drive"), ("S", "unsuited", "drive")])
def test_a_witness_is_legal_clear_and_sees(which):
    f = figure(*which)
    rng = np.random.default_rng(14)
    low, high = ranges(f)
    tips, directions = planted(f, 30, seed=15)
    n_found = 0
    for tip, d in zip(np.round(tips, 9), directions, strict=True):
        bulk, tree, target = question(f, rng, tip, d)
        held = find_held(f, bulk, tree, np.eye(4), target, trunks_of(f, 128))
        if held.fault > 0.0:
            continue
        n_found += 1
        x = held.posture
        assert (x[:5] >= low - 1e-12).all() and (x[:5] <= high + 1e-12).all()
        assert np.hypot(x[5], x[6]) <= np.tan(f.p[TOLERANCE]) + 1e-12
        marks = posture_of(f, x, tip, d)
        _, torso, shoulder = torso_of(f, x[:5])
        if not f.suit.shoulder_rise:
            assert marks.shoulder == pytest.approx(shoulder, abs=1e-9)
        over = excess(f.suit, torso, marks.shoulder, marks.elbow, marks.wrist, marks.hand_rotation)
        assert max(over.values()) < 1e-6
        tool = marks.grip + marks.hand_rotation @ np.asarray(f.grip.tip)
        assert np.linalg.norm(tool - tip) < 1e-6
        capsules = capsules_of(f, bulk, target, x)
        assert capsules[: bulk.n_body] == pytest.approx(body_points(f, bulk, x[:5]), abs=1e-9)
        room = segment_distance(tree, capsules[:, :3], capsules[:, 3:6]).distance
        room = room - capsules[:, 6] - NEED
        assert room.min() >= -1e-9
        assert min(held.body_room, FAR) == pytest.approx(
            min(room[: bulk.n_body].min(), FAR), abs=1e-8
        )
        eye = eye_point(f, x[:5])
        seen = ~any_hit(tree, np.tile(eye, (7, 1)), target.spots - eye, 1.0)
        assert held.share == pytest.approx(seen.mean()) and held.share >= 0.5
        line = eye - tip
        off = np.arccos(-line @ d / np.linalg.norm(line))
        assert held.off == pytest.approx(off, abs=1e-9) and off <= target.angle
        assert held.own_room >= 0.0
    assert n_found >= 4


def test_the_same_question_in_a_moved_world_has_the_same_posture():
    f = figure("M", "halden", "drive")
    rng = np.random.default_rng(16)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    pose = np.eye(4)
    pose[:3, :3], pose[:3, 3] = turn * np.linalg.det(turn), [30.0, -20.0, 10.0]
    tips, directions = planted(f, 10, seed=17)
    n_found = 0
    for tip, d in zip(np.round(tips, 9), directions, strict=True):
        bulk, tree, target = question(f, rng, tip, d)
        here = find_held(f, bulk, tree, np.eye(4), target, trunks_of(f, 128))
        triangles = transform_points(pose, np.asarray(tree.tri).reshape(-1, 3)).reshape(-1, 3, 3)
        spots = transform_points(pose, target.spots)
        moved = Target(tip, d, spots, target.need, target.share, target.angle)
        there = find_held(f, bulk, build(triangles), pose, moved, trunks_of(f, 128))
        assert np.array_equal(here.posture, there.posture)
        n_found += here.fault <= 0.0
    assert n_found >= 2


def test_asking_for_more_never_finds_more():
    f = figure("M", "halden", "drive")
    rng = np.random.default_rng(18)
    tips, directions = planted(f, 14, seed=19)
    counts = dict.fromkeys((0, CLEAR, SEEN, CLEAR | SEEN), 0)
    for tip, d in zip(np.round(tips, 9), directions, strict=True):
        bulk, tree, target = question(f, rng, tip, d)
        for wanted in counts:
            held = find_held(f, bulk, tree, np.eye(4), target, trunks_of(f, 128), wanted)
            counts[wanted] += held.fault <= 0.0
    assert counts[0] > counts[CLEAR | SEEN] > 0
    assert counts[0] >= max(counts[CLEAR], counts[SEEN])
    assert min(counts[CLEAR], counts[SEEN]) >= counts[CLEAR | SEEN]


def test_room_to_the_own_body_is_the_closed_form():
    # One vertical body capsule, one hand capsule beside it, far idle arm.
    far = [9.0, 9, 9, 9, 9, 9, 0.0]
    body = np.array([[0.0, 0, 0, 0, 0, 1, 0.2], *[far] * N_IDLE])
    upper = [0.0, 0, 0.5, 0.1, 0, 0.5, 0.1]  # touches, and is allowed to
    fore, hand = [0.5, 0, 0.5, 0.6, 0, 0.5, 0.09], [0.45, 0, 0.5, 0.5, 0, 0.5, 0.05]
    found = own_room(body, 1, np.array([upper, fore, hand]), scratch_arrays())
    assert found == pytest.approx(0.45 - 0.2 - 0.05)
    thin = [0.26, 0, 0.5, 0.6, 0, 0.5, 0.09]  # cloth may touch cloth: no thickness of its own
    found = own_room(body, 1, np.array([upper, thin, hand]), scratch_arrays())
    assert found == pytest.approx(0.06)
