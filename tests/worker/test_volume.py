"""Capsules of the suited body: where suit and body say, whole, and bounded when the trunk moves."""

import numpy as np
import pytest
from figures import figure
from planting import body_points, eye_point, random_trunk
from twin import planted, torso_of

from reach.geometry import segment_pair_distance
from reach.worker.cells import _capsule_lever, _lever
from reach.worker.chain import trunk_fk
from reach.worker.figure import mirrored
from reach.worker.posing import Target, capsules_of, eye_of
from reach.worker.posture import posture_of
from reach.worker.search import find_postures
from reach.worker.volume import ARM_NAMES, N_ARM, N_IDLE, N_LEGS, bulk_of, view_excess

FIGURES = [("M", "halden", "drive"), ("S", "unsuited", "angled"), ("L", "halden", "hand")]
TOOL = np.array([[0.02, 0.0, 0.0, 0.2, 0.0, 0.05, 0.03], [0.0, 0.0, -0.06, 0.0, 0.0, 0.05, 0.02]])
NOWHERE = Target(np.zeros(3), np.array([1.0, 0, 0]), np.zeros((1, 3)), np.zeros(1), 0.5, 1.0)


def bulk(f):
    return bulk_of(f, f.suit, TOOL)


@pytest.mark.parametrize("which", FIGURES)
def test_legs_shells_and_eye_are_where_the_suit_says(which):
    f = figure(*which)
    rng = np.random.default_rng(1)
    for _ in range(20):
        q = random_trunk(f, rng)
        x = np.concatenate((q, np.zeros(4)))
        found = capsules_of(f, bulk(f), NOWHERE, x)[: bulk(f).n_body]
        assert found == pytest.approx(body_points(f, bulk(f), q), abs=1e-12)
        assert eye_of(f, bulk(f), x) == pytest.approx(eye_point(f, q), abs=1e-12)


@pytest.mark.parametrize("which", FIGURES)
def test_arms_and_tool_follow_the_landmarks(which):
    f = figure(*which)
    b = bulk(f)
    tips, directions = planted(f, 12, seed=3)
    answer = find_postures(f, tips, directions)
    n_found = 0
    for tip, d, x in zip(tips, directions, answer.x, strict=True):
        marks = posture_of(f, x, tip, d)
        if marks.violation > 0:
            continue
        n_found += 1
        found = capsules_of(f, b, Target(tip, d, tip[None], np.zeros(1), 0.5, 1.0), x)
        arm = found[b.n_body + N_IDLE :]
        chain = [marks.shoulder, marks.elbow, marks.wrist, marks.grip]
        assert arm[:N_ARM, :3] == pytest.approx(np.array(chain[:-1]), abs=1e-8)
        assert arm[:N_ARM, 3:6] == pytest.approx(np.array(chain[1:]), abs=1e-8)
        for i in range(len(TOOL)):
            for at, part in ((0, TOOL[i, :3]), (3, TOOL[i, 3:6])):
                expected = marks.grip + marks.hand_rotation @ part
                assert arm[N_ARM + i, at : at + 3] == pytest.approx(expected, abs=1e-8)
        idle = found[b.n_body : b.n_body + N_IDLE]
        assert idle[0, :3] == pytest.approx(marks.idle_shoulder, abs=1e-9)
        assert idle[0, 3:6] == pytest.approx(marks.idle_elbow, abs=1e-9)
        assert idle[1, :3] == pytest.approx(marks.idle_elbow, abs=1e-9)
    assert n_found > 6


@pytest.mark.parametrize("which", FIGURES)
def test_names_and_counts_fit(which):
    f = figure(*which)
    b = bulk(f)
    assert b.names[:N_LEGS] == ("left leg", "right leg")
    assert b.names[N_LEGS : b.n_body] == tuple(f.suit.torso)
    assert b.names[b.n_body + N_IDLE :] == (*ARM_NAMES, "tool", "tool")
    x = np.zeros(9)
    capsules = capsules_of(f, b, NOWHERE, x)
    assert len(capsules) == len(b.names)
    radius = dict(zip(b.names, capsules[:, 6], strict=True))
    assert radius["left leg"] == f.suit.leg_radius
    assert radius["upper arm"] == radius["idle upper arm"] == f.suit.upper_arm_radius
    assert radius["forearm"] == radius["idle forearm"] == f.suit.forearm_radius
    assert radius["hand"] == f.suit.hand_radius
    left = capsules[0, 1], capsules[0, 4]
    assert min(left) > 0 > max(capsules[1, 1], capsules[1, 4])


def test_the_body_is_one_piece():
    """Every capsule overlaps another: so a body clear of a surface is all on one side of it."""
    for which in FIGURES:
        f = figure(*which)
        rng = np.random.default_rng(2)
        for _ in range(10):
            x = np.concatenate((random_trunk(f, rng), np.zeros(4)))
            body = capsules_of(f, bulk(f), NOWHERE, x)[: bulk(f).n_body + N_IDLE]
            joined = {0}
            for _ in body:
                for i, a in enumerate(body):
                    near = [
                        segment_pair_distance(a[:3], a[3:6], o[:3], o[3:6])[0] < a[6] + o[6]
                        for o in body[sorted(joined)]
                    ]
                    if any(near):
                        joined.add(i)
            assert joined == set(range(len(body)))


def test_field_of_view_is_measured_from_the_torso():
    view = np.radians([120.0, 105.0, 90.0, 60.0, 45.0, 40.0])
    eye = np.array([0.1, 0.0, 1.7])
    turned = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
    for R in (np.eye(3), turned):
        for side, lift, expected in (
            (0.0, 0.0, -40.0),
            (50.0, 0.0, -10.0),
            (-70.0, 0.0, 10.0),
            (0.0, 39.0, -1.0),
            (0.0, 41.0, 1.0),
            (0.0, -44.0, -1.0),
            (0.0, -47.0, 2.0),
            (61.0, 42.0, 2.0),
        ):
            a, b = np.radians(side), np.radians(lift)
            line = np.array([np.cos(a) * np.cos(b), np.sin(a) * np.cos(b), np.sin(b)])
            found = view_excess(R, eye, eye + R @ line, view)
            assert np.degrees(found) == pytest.approx(expected, abs=1e-9)


def test_the_torso_twin_and_the_kernel_agree_on_the_hip():
    f = figure("M", "halden", "drive")
    rng = np.random.default_rng(4)
    R, S = np.empty((3, 3)), np.empty(3)
    for _ in range(20):
        q = random_trunk(f, rng)
        hip, torso, shoulder = torso_of(f, q)
        assert trunk_fk(f.p, q, R, S) == pytest.approx(hip, abs=1e-12)
        assert pytest.approx(torso, abs=1e-12) == R
        assert pytest.approx(shoulder, abs=1e-12) == S
        x = np.concatenate((q, np.zeros(4)))
        flipped = np.concatenate((q * [-1, 1, 1, -1, -1], np.zeros(4)))
        one, other = (body_points(f, bulk(f), v[:5]) for v in (x, flipped))
        assert mirrored(one[0, :3]) == pytest.approx(other[1, :3], abs=1e-12)


@pytest.mark.parametrize("which", FIGURES)
def test_no_point_of_the_body_moves_farther_than_its_lever(which):
    f = figure(*which)
    b = bulk(f)
    rng = np.random.default_rng(6)
    leg = f.body.links.hip - f.body.links.ankle
    up = f.body.links.shoulder - f.body.links.hip
    closest = np.zeros(b.n_body + 2)
    for _ in range(60):
        middle = random_trunk(f, rng)
        h = rng.uniform(0, 1, 5) * rng.choice([0.02, 0.1, 0.5], 5) * rng.integers(0, 2, 5)
        levers = [_capsule_lever(i, b.shells, b.sizes, leg, h) for i in range(b.n_body)]
        levers.append(_lever(leg, f.suit.shoulder_ahead, f.body.links.half, up, h))
        levers.append(_lever(leg, b.sizes[5], 0.0, b.sizes[6], h))
        was = body_points(f, b, middle)
        for _ in range(12):
            q = middle + h * np.clip(2.0 * rng.uniform(-1, 1, 5), -1, 1)
            now = body_points(f, b, q)
            moved = [
                max(np.linalg.norm(m[:3] - w[:3]), np.linalg.norm(m[3:6] - w[3:6]))
                for m, w in zip(now, was, strict=True)
            ]
            moved.append(np.linalg.norm(torso_of(f, q)[2] - torso_of(f, middle)[2]))
            moved.append(np.linalg.norm(eye_point(f, q) - eye_point(f, middle)))
            for i, (m, lever) in enumerate(zip(moved, levers, strict=True)):
                assert m <= lever + 1e-12
                closest[i] = max(closest[i], m / max(lever, 1e-9))
            turned = torso_of(f, q)[1][:, 2] @ torso_of(f, middle)[1][:, 2]
            assert np.arccos(np.clip(turned, -1, 1)) <= h.sum() + 1e-7
    # The levers are no wild guesses: each is nearly reached somewhere.
    assert closest.min() > 0.6
