"""A hold puts both hands on their grips from one trunk; what is far is proved out of reach."""

import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "checks"))

from handing import TAKE, at, crate, hold, resolved

from reach.geometry import (
    inverse,
    pose_of,
    rotation_z,
    segment_pair_distance,
    transform_points,
)
from reach.grasp import Grasp
from reach.grasping import (
    DIRECTIONS,
    MOST,
    bars_of,
    body_of,
    grasped_of,
    moved_around,
    short_of,
    trees_of,
    without_direction,
)
from reach.grasping.holds import OTHER, OWN, excess, find_holds, target_of
from reach.grasping.margins import shifted
from reach.worker.bound import tip_sphere
from reach.worker.chain import evaluate, work_arrays
from reach.worker.figure import HIGH, LOW


def grasp(*grips):
    return Grasp(grips, ("crate",) * len(grips))


BOTH = grasp("G1", "G2")


@cache
def asked(own="R", where="SR", **at_pose):
    (site, (situation,)) = resolved(crate(), at("take", own, hold(), where=where))
    return site, situation


@cache
def held():
    site, situation = asked()
    return grasped_of(site, situation, BOTH)


def moved(site, situation, by):
    pose = situation.surroundings.world_from["crate"].copy()
    pose[:3, 3] += by
    around = moved_around(site, situation.surroundings, "crate", pose)
    return replace(situation, surroundings=around)


def test_both_hands_are_on_their_rails_one_each():
    site, situation = asked()
    grasped = held()
    assert grasped.found
    assert sorted(grasped.hands) == ["left", "right"]
    for bar, point in zip(bars_of(site, situation.surroundings, BOTH), grasped.points, strict=True):
        assert segment_pair_distance(bar.start, bar.end, point, point)[0] < 1e-9


def test_the_posture_is_within_every_limit_and_both_arms_share_one_trunk():
    grasped = held()
    p, x = grasped.figure.p, grasped.hold.postures
    work, out = work_arrays()
    for i, bar in enumerate(grasped.bars):
        side = grasped.hold.sides[i]
        tip, way = target_of(bar, grasped.hold.shares[i], grasped.hold.signs[i], side)
        assert evaluate(p, tip, way, x[i], work, out) <= 0.0
        assert (x[i, :5] >= p[LOW : LOW + 5] - 1e-12).all()
        assert (x[i, :5] <= p[HIGH : HIGH + 5] + 1e-12).all()
    assert x[0, [1, 2]] == pytest.approx(x[1, [1, 2]])
    assert x[0, [0, 3, 4]] == pytest.approx(-x[1, [0, 3, 4]])


def test_hands_of_the_body_end_where_the_grips_are_held():
    _, situation = asked()
    grasped = held()
    for hand, point in zip(grasped.hands, grasped.points, strict=True):
        capsule = grasped.capsules[grasped.names.index(f"{hand} hand")]
        end = transform_points(situation.place.world_from_boots, capsule[None, 3:6])[0]
        assert end == pytest.approx(point, abs=1e-6)
    assert len(grasped.names) == len(grasped.capsules)
    helmet = grasped.capsules[grasped.names.index("helmet")]
    assert np.linalg.norm(grasped.eye - helmet[3:6]) < 0.25


@pytest.mark.parametrize("axis", range(3))
def test_three_metres_off_is_proved_out_of_reach_by_what_no_arm_spans(axis):
    site, situation = asked()
    far = moved(site, situation, 3.0 * np.eye(3)[axis])
    grasped = grasped_of(site, far, BOTH)
    nearest = min(
        segment_pair_distance(bar.start, bar.end, np.zeros(3), np.zeros(3))[0]
        for bar in grasped.bars
    )
    farthest_of_grips = max(
        segment_pair_distance(bar.start, bar.end, np.zeros(3), np.zeros(3))[0]
        for bar in grasped.bars
    )
    outer = tip_sphere(grasped.figure)[1]
    assert not grasped.found
    assert grasped.short >= farthest_of_grips - outer - 1e-9
    # No arm is short of a grip by more than the whole way there.
    assert grasped.short < nearest
    assert grasped.hands == ()


def test_what_is_held_is_never_proved_out_of_reach():
    grasped = held()
    assert grasped.short <= 0.0
    for bar in grasped.bars:
        assert short_of(grasped.figure, (bar,)) <= grasped.short


def test_within_the_margin_the_grips_are_held_and_beyond_the_ceiling_proved_short():
    grasped = held()
    margin = grasped.margin
    assert 0.05 <= margin.radius < margin.ceiling
    assert margin.radius <= MOST + 1e-9
    for way in DIRECTIONS:
        bars = shifted(grasped.bars, margin.radius * way)
        assert any(
            excess(grasped.figure, bars, one) <= 0.0 for one in find_holds(grasped.figure, bars)
        )
    assert any(
        short_of(grasped.figure, shifted(grasped.bars, margin.ceiling * way)) > 0.0
        for way in DIRECTIONS
    )


def test_directions_are_axes_and_diagonals():
    assert DIRECTIONS.shape == (14, 3)
    assert np.linalg.norm(DIRECTIONS, axis=1) == pytest.approx(np.ones(14))
    assert DIRECTIONS.sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-12)


def test_a_left_handed_worker_in_the_mirror_holds_it_in_the_mirror():
    site, situation = asked("L", "SR")
    mirror = grasp("G2", "G1")
    grasped, twin = grasped_of(site, situation, mirror), held()
    other = {"left": "right", "right": "left"}
    assert grasped.hands == tuple(other[hand] for hand in twin.hands)
    assert grasped.points == pytest.approx(twin.points * [1.0, -1.0, 1.0], abs=1e-9)
    assert grasped.margin.radius == twin.margin.radius
    assert grasped.room.body == pytest.approx(twin.room.body, abs=1e-6)
    for name, capsule in zip(grasped.names, grasped.capsules, strict=True):
        side, _, rest = name.partition(" ")
        mine = twin.names.index(f"{other[side]} {rest}" if side in other else name)
        flip = np.array([1, -1, 1, 1, -1, 1, 1])
        same = twin.capsules[mine] * flip
        # A shell along y is its own mirror image, ends swapped.
        swapped = np.concatenate((same[3:6], same[:3], same[6:]))
        assert any(capsule == pytest.approx(one, abs=1e-6) for one in (same, swapped)), name


def test_the_clearest_posture_is_taken():
    site, _ = asked()
    grasped = held()
    assert grasped.room.body >= site.limit("body_clearance").value
    assert grasped.room.own >= 0.0
    assert len(grasped.others) > 1


def test_a_post_at_the_chest_leaves_no_clear_posture():
    post = {"solids": {"post": {"box": [0.2, 0.2, 0.6], "at": [0.1, 0.0, 1.3]}}}
    site, (situation,) = resolved(crate(**post), TAKE)
    grasped = grasped_of(site, situation, BOTH)
    assert grasped.found
    assert grasped.room.body < 0.0


def test_one_grip_takes_one_hand_and_the_other_is_idle():
    site, (situation,) = resolved(crate(), at("take", "R", hold("G1")))
    grasped = grasped_of(site, situation, grasp("G1"))
    assert grasped.found
    assert len(grasped.hands) == 1
    assert grasped.names[-2:] == ("idle upper arm", "idle forearm")
    assert f"{grasped.hands[0]} hand" in grasped.names


def test_a_single_handhold_is_held_anywhere_along_its_breadth():
    knob = {"in": "crate", "at": [-0.25, 0.2, 0.0], "along": [0, 1, 0]}
    loose = {"in": "crate", "at": [-0.25, 0.2, 0.0]}
    site, (situation,) = resolved(
        crate(handholds={"K": knob, "N": loose}), at("take", "R", hold("K", "G2"))
    )
    bar = bars_of(site, situation.surroundings, grasp("K"))[0]
    assert np.linalg.norm(bar.end - bar.start) == pytest.approx(0.10)
    assert bar.at(0.5) == pytest.approx([0.5, 0.2, 1.35])
    assert grasped_of(site, situation, grasp("K", "G2")).found
    assert without_direction(site.scene, grasp("K", "N")) == "N"
    with pytest.raises(ValueError, match="gives no direction"):
        bars_of(site, situation.surroundings, grasp("N"))
    assert not body_of(site, situation, grasp("N"))[2]


@pytest.mark.parametrize("own", ["R", "L"])
def test_a_body_at_rest_is_in_the_true_boot_frame(own):
    site, situation = asked(own, "SR")
    capsules, names, is_held = body_of(site, situation, None)
    assert not is_held
    assert capsules[names.index("left leg"), 1] > 0.0 > capsules[names.index("right leg"), 1]
    far = moved(site, situation, [3.0, 0.0, 0.0])
    again, _, is_held = body_of(site, far, BOTH)
    assert not is_held
    assert again == pytest.approx(capsules)


def test_a_body_that_holds_is_always_the_same_and_kept():
    site, situation = asked()
    one, names, is_held = body_of(site, situation, BOTH)
    assert is_held
    assert one is body_of(site, situation, BOTH)[0]
    fresh, (same,) = resolved(crate(), TAKE)
    two, again, _ = body_of(fresh, same, BOTH)
    assert again == names
    assert (two == one).all()


def test_what_rides_on_a_payload_is_moved_with_it_and_nothing_else():
    knot = {"kind": "pinch", "in": "crate", "box": [0.1, 0.1, 0.1]}
    site, (situation,) = resolved(crate(hazards={"knot": knot}), TAKE)
    there = moved(site, situation, [0.0, 0.0, 1.0])
    crate_tree, rest = trees_of(site, there.surroundings, "crate")
    before, same = trees_of(site, situation.surroundings, "crate")
    assert crate_tree.bounds - before.bounds == pytest.approx(np.array([[0.0, 0.0, 1.0]] * 2))
    assert (rest.bounds == same.bounds).all()
    (_, _, hazard, _), (_, _, was, _) = (
        there.surroundings.hazards[0],
        situation.surroundings.hazards[0],
    )
    assert hazard.bounds - was.bounds == pytest.approx(np.array([[0.0, 0.0, 1.0]] * 2))
    moved_by = there.surroundings.world_from["crate"] @ inverse(
        situation.surroundings.world_from["crate"]
    )
    assert moved_by[:3, 3] == pytest.approx([0.0, 0.0, 1.0])
    assert len(there.surroundings.parts) == len(situation.surroundings.parts)


def test_sides_are_the_own_hand_and_the_other_one():
    tip, way = target_of(held().bars[0], 0.5, 1.0, OWN)
    mirrored_tip, mirrored_way = target_of(held().bars[0], 0.5, 1.0, OTHER)
    assert mirrored_tip == pytest.approx(tip * [1, -1, 1])
    assert mirrored_way == pytest.approx(way * [1, -1, 1])


def test_who_rides_along_with_what_they_hold_asks_once(monkeypatch):
    site, situation = asked(at=(0.0, 0.0, 0.0))
    asked_for = []

    def counted(figure, bars):
        asked_for.append(bars)
        return find_holds(figure, bars)

    monkeypatch.setattr("reach.grasping.grasped.find_holds", counted)
    first = grasped_of(site, situation, BOTH)
    turn = pose_of(rotation_z(0.7), [3.0, -2.0, 0.4])
    boots = turn @ situation.place.world_from_boots
    crate_there = turn @ situation.surroundings.world_from["crate"]
    around = moved_around(site, situation.surroundings, "crate", crate_there)
    place = replace(situation.place, world_from_boots=boots)
    later = grasped_of(site, replace(situation, surroundings=around, place=place), BOTH)
    assert len(asked_for) == 1 and later.found
    assert np.array_equal(first.bars[0].start, later.bars[0].start)
