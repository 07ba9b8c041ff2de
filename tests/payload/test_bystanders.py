"""Two things that move at once, and everyone who stands or walks while something is moved."""

from __future__ import annotations

import math

import numpy as np
import pytest
from moves import WALL
from yard import carry, moved, standing, yard, yard_of

from reach.geometry import build, inverse, path_gap, pose_of, rotation_z, transform_points
from reach.payload.bodies import body_of, boots_box
from reach.payload.bystanders import is_anywhere, nearest_of, others_of
from reach.payload.courses import course_of, meeting, resting_course
from reach.payload.facets import box_facets
from reach.payload.struck import struck
from reach.travel.sides import corridor_of

CUBE = build(box_facets(np.full(3, -0.5), np.full(3, 0.5)))


def body_capsules_in(site, situation, frame_from_boots):
    """The capsules of a body in another frame, its boots one capsule from heel to toes."""
    capsules, _ = body_of(site, situation)
    low, high = boots_box(situation)
    middle, radius = 0.5 * (low + high), 0.5 * float(high[1] - low[1])
    boots = np.array([low[0], middle[1], middle[2], high[0], middle[1], middle[2], radius])
    rows = np.vstack([capsules, boots])
    rows[:, :3] = transform_points(frame_from_boots, rows[:, :3])
    rows[:, 3:6] = transform_points(frame_from_boots, rows[:, 3:6])
    return rows


def at(*place):
    return pose_of(np.eye(3), np.array(place, float))


def straight(start, stop, knots=(0.0, 1.0)):
    poses = np.array([at(*start), at(*stop)])
    return course_of(poses, np.zeros((1, 3)), np.array(knots), 0.9)


def test_a_box_that_passes_one_at_rest():
    found = meeting(
        (CUBE, straight((-5, 0, 0), (5, 0, 0))), (CUBE, resting_course(at(0, 3, 0))), (0.0, 1.0)
    )
    assert found.low <= 2.0 <= found.high + 1e-9
    assert found.high - found.low <= 0.021
    assert found.moment == pytest.approx(0.5, abs=0.11)


def test_two_boxes_that_cross_at_different_times_miss_each_other():
    first, second = straight((-5, 0, 0), (5, 0, 0)), straight((0, -2, 0), (0, 8, 0))
    found = meeting((CUBE, first), (CUBE, second), (0.0, 1.0))
    # x = 10 t - 5 and y = x + 3: nearest where both are 1.5 m off the crossing.
    assert found.low <= math.sqrt(0.5) <= found.high + 1e-9
    assert found.high == pytest.approx(math.sqrt(0.5), abs=0.021)


@pytest.mark.parametrize(
    ("y", "excess", "is_shown"),
    [(0.69, 0.0, True), (0.7, 0.0, False), (0.71, 0.0, False), (3.0, 0.0, False),
     (0.0, 0.0, True), (0.69, 0.02, False), (0.67, 0.02, True)],
)  # fmt: skip
def test_contact_is_shown_where_a_ball_goes_into_a_box_that_passes(y, excess, is_shown):
    """A ball of 0.2 m beside a cube of 1 m: less excess, deeper than a hair, or not at all."""
    ball = np.array([[0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.2]])
    course = straight((-5, 0, 0), (5, 0, 0))
    hit = struck((CUBE, course), ball, resting_course(at(0, y, 0)), (0.0, 1.0), excess)
    assert (hit is not None) is is_shown
    if hit is not None:
        assert hit.on_other == pytest.approx([0.0, y, 0.0])
        x = 10.0 * hit.moment - 5.0
        assert abs(x) < 0.7
        assert np.abs(hit.on_one - [x, 0.0, 0.0]).max() == pytest.approx(0.5)


def test_contact_at_no_shared_moment_is_not_shown():
    ball = np.array([[0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.2]])
    course = straight((-5, 0, 0), (5, 0, 0))
    there = resting_course(at(0, 0.3, 0))
    assert struck((CUBE, course), ball, there, (0.0, 0.3), 0.0) is None
    assert struck((CUBE, course), ball, there, (0.3, 0.7), 0.0) is not None


def test_at_unknown_times_they_may_meet():
    first, second = straight((-5, 0, 0), (5, 0, 0)), straight((0, -2, 0), (0, 8, 0))
    found = meeting((CUBE, first), (CUBE, second), (0.0, 1.0), (0.0, 1.0))
    assert found.low == 0.0
    assert found.high <= 0.02


def test_only_the_time_they_share_counts():
    first = straight((-5, 0, 0), (5, 0, 0))
    found = meeting((CUBE, first), (CUBE, resting_course(at(0, 3, 0))), (0.0, 0.3))
    assert found.low <= math.hypot(1.0, 2.0) <= found.high + 1e-9
    assert found.high == pytest.approx(math.hypot(1.0, 2.0), abs=0.021)


def test_a_turn_in_next_to_no_time_counts():
    poses = np.array([at(0, 0, 0), pose_of(rotation_z(math.pi / 2), np.zeros(3))])
    long = build(box_facets(np.array([-2.0, -0.1, -0.1]), np.array([2.0, 0.1, 0.1])))
    there = course_of(
        np.array([at(0, 0, 0), *poses]), np.zeros((2, 3)), np.array([0.0, 0.5, 0.500001]), 2.1
    )
    found = meeting((long, there), (CUBE, resting_course(at(0, 4, 0))), (0.0, 1.0))
    # Its corner comes nearest, a little before the turn ends.
    assert found.low <= 3.5 - math.hypot(2.0, 0.1) <= found.high + 1e-9


def test_brackets_hold_against_samples():
    rng = np.random.default_rng(7)
    for _ in range(4):
        ends = rng.uniform(-4.0, 4.0, (4, 3))
        turns = [pose_of(rotation_z(float(a)), end) for a, end in zip(rng.uniform(-3, 3, 4), ends,
                                                                      strict=True)]  # fmt: skip
        first, second = (
            course_of(np.array(two), np.zeros((1, 3)), np.array([0.0, 1.0]), 0.9)
            for two in (turns[:2], turns[2:])
        )
        found = meeting((CUBE, first), (CUBE, second), (0.0, 1.0))
        seen = math.inf
        for t in np.linspace(0.0, 1.0, 60):
            pose = inverse(second.pose_at(t)) @ first.pose_at(t)
            seen = min(seen, path_gap(CUBE, CUBE, np.array([pose, pose])).gap.high)
        assert found.low <= seen + 1e-9
        assert found.high <= seen + 0.03


SOCKETS = {
    "S": {"at": [0.0, 1.5, -1.5], "axis": [0, 0, 1], "zero": [1, 0, 0]},
    "T": {"at": [0.0, 9.0, -1.5], "axis": [0, 0, 1], "zero": [1, 0, 0]},
}


def test_a_worker_at_rest_is_as_far_as_their_capsules_say():
    site, carriage = moved(yard(sockets=SOCKETS), standing("R", "S"), carry())
    (near,) = nearest_of(site, carriage)
    (stay,) = carriage.bystanders
    capsules = body_capsules_in(site, stay.situation, stay.situation.place.world_from_boots)
    # The crate sweeps a beam of 1 x 1 m along x: the nearest capsule is told by its ends.
    ends = np.concatenate([capsules[:-1, :3], capsules[:-1, 3:6]])
    off = np.maximum(np.abs(ends[:, 1:]) - 0.5, 0.0)
    least = float((np.linalg.norm(off, axis=1) - np.tile(capsules[:-1, 6], 2)).min())
    assert near.low <= least + 0.005
    assert near.high == pytest.approx(least, abs=0.03)
    assert near.how == "at rest at S"


def test_a_left_handed_worker_is_the_mirror_image():
    right, left = (
        body_capsules_in(site, carriage.bystanders[0].situation, np.eye(4))
        for site, carriage in (
            moved(yard(sockets=SOCKETS), standing(lane, "T"), carry()) for lane in ("R", "L")
        )
    )
    flip = np.array([1.0, -1.0, 1.0])
    assert left[:-1, :3] == pytest.approx(right[:-1, :3] * flip)
    assert left[:-1, 3:6] == pytest.approx(right[:-1, 3:6] * flip)


def test_boots_are_below_the_capsules_of_the_body():
    site, carriage = moved(yard(sockets=SOCKETS), standing("R", "S"), carry())
    situation = carriage.bystanders[0].situation
    low, high = boots_box(situation)
    capsules, _ = body_of(site, situation)
    lowest = (np.minimum(capsules[:, 2], capsules[:, 5]) - capsules[:, 6]).min()
    assert high[2] == pytest.approx(lowest)
    assert high[0] - low[0] > situation.body.dims["footlength"]


def test_who_holds_the_payload_is_no_bystander():
    bar = {"bar": {"in": "crate", "from": [-0.2, 0.6, 0.0], "to": [0.2, 0.6, 0.0]}}
    hold = {
        "name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["bar"]}],
        "start": "00:55", "duration": "5 min",
    }  # fmt: skip
    data = yard(sockets=SOCKETS, handrails=bar)
    steps = standing("R", "S"), standing("L", "T"), hold
    own = {**carry(), "lane": "R", "start": "01:20"}
    (carriage,) = yard_of(data, *steps, own).carriages
    assert set(others_of(carriage)) == {"L"}
    # From whom it is moved away may have let go.
    (carriage,) = yard_of(data, *steps, carry()).carriages
    assert set(others_of(carriage)) == {"L", "R"}


def passing_yard(start):
    """A worker who goes along rails of a wall while a board is moved along behind them."""
    data = yard(solids={"wall": {"box": [12.0, 1.0, 6.0], "at": [4.0, -0.5, 0.0]}})
    data["handrails"], data["hatches"] = WALL["handrails"], WALL["hatches"]
    data["solids"]["crate-box"]["box"] = [30.0, 0.2, 8.0]
    poses = data["payloads"]["crate"]["poses"]
    poses["left"], poses["right"] = {"at": [3.0, 3.1, 0.0]}, {"at": [5.0, 3.1, 0.0]}
    walk = {
        "name": "walk", "lane": "R", "route": ["RA", "RB", "RC"], "duration": "5 min",
        "actions": [{"do": "translate", "from": "hatch", "to": "RC@1.0"}],
    }  # fmt: skip
    if start:
        walk["start"] = start
    return data, walk


@pytest.mark.parametrize("start", ["01:00", None])
def test_a_worker_on_the_way_is_as_far_as_the_body_stands_off_the_wall(start):
    data, walk = passing_yard(start)
    site = yard_of(data, walk, carry())
    (carriage,) = site.carriages
    (near,) = nearest_of(site, carriage)
    mover = corridor_of(site, near.stay.situation).mover
    axis = 0.1 + site.limit("corridor_radius").value
    # The body's x points to the wall.
    outward = max(
        float((-ends[: mover.n_body, 0] + mover.radius[: mover.n_body]).max())
        for ends in (mover.p, mover.q)
    )
    least = 3.0 - axis - outward
    assert is_anywhere(near.stay) == (start is None)
    assert near.how == "on the way to RC@1.0"
    assert near.low <= least <= near.high
    assert near.high - near.low <= 0.05


def test_where_a_way_follows_no_rail_nothing_is_known():
    data, walk = passing_yard("01:00")
    walk["route"], walk["actions"] = None, [{"do": "translate", "from": "RA@1.0", "to": "S"}]
    data["sockets"] = {"S": {**SOCKETS["S"], "at": [30.0, 9.0, 0.0]}}
    site = yard_of(data, walk, carry())
    (near,) = nearest_of(site, site.carriages[0])
    if corridor_of(site, near.stay.situation) is None:
        assert near.unknown
        assert near.low == 0.0
    else:
        pytest.fail("this way was meant to follow no rail")
