"""Ingress: the sweep against dense sampling, the hand against proofs, and what is said of both."""

import itertools
import math

import numpy as np
import pytest
from bench import bench, findings_of, resolved, step, the
from brute import segment_distance

from reach.checks import check_named
from reach.finding import Verdict
from reach.geometry import transform_points
from reach.holding import hold_of, rails_of
from reach.resting import resting_of
from reach.solids import triangles_of
from reach.turning import SHARP, swept_room, turned_pose
from reach.worker.bound import tip_sphere
from reach.worker.search import find_postures

IN = {"do": "ingress"}
POST = {"box": [0.2, 0.2, 1.4], "at": [-0.28, -0.42, 0.9]}


def both(data, lane="R", **more):
    """The two findings: boots and hand."""
    found = findings_of(data, step("s", lane, IN, **more), only=("ingress",))
    assert len(found) == 2
    return found


def with_post(at, **stand):
    data = bench()
    data["solids"] = {"post": {**POST, "at": at}} if at else {}
    data["hazards"] = {}
    data["restraints"]["stand"] |= stand
    return data


def test_each_of_its_answers_says_which_it_is():
    boots, hand = both(with_post(None))
    assert boots.answer == "boots"
    assert hand.answer == "hold on bar"


def test_without_structure_boots_turn_out_freely():
    boots, _ = both(with_post(None))
    assert boots.verdict is Verdict.PASS and boots.low > 100.0


@pytest.mark.parametrize("lane", ["R", "L"])
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_bound_lies_just_below_what_dense_sampling_finds(lane, side):
    data = with_post([-0.22, -0.48, 1.0] if side == "left" else [-0.22, 0.48, 1.0])
    site, (s,) = resolved(data, step("s", lane, IN))
    rest = resting_of(site, s)
    twist = math.radians(40.0) * (1.0 if side == "left" else -1.0)
    swept = swept_room(rest, s.surroundings, twist)
    triangles = triangles_of(site.scene.solids["post"])
    triangles = triangles + np.array(site.scene.solids["post"].at)
    dense = math.inf
    for angle in np.linspace(0.0, twist, 25):
        pose = turned_pose(rest, float(angle))
        p = transform_points(pose, rest.capsules[:, :3])
        q = transform_points(pose, rest.capsules[:, 3:6])
        for i, radius in enumerate(rest.capsules[:, 6]):
            apart = segment_distance(p[i], q[i], triangles)
            dense = min(dense, apart - radius - rest.floor[i])
    assert swept.low <= dense + 1e-9
    assert dense <= swept.high + SHARP
    assert swept.high - swept.low <= SHARP + 1e-9
    assert abs(swept.angle) > 0.1  # the post is met on the way, not at the start


def test_a_left_handed_worker_turns_the_same_way_as_a_right_handed_one():
    site, (s,) = resolved(bench(), step("s", "L", IN))
    rest = resting_of(site, s)
    pose = turned_pose(rest, math.radians(30.0))
    toes = pose[:3, 0]
    straight = rest.world_from_boots[:3, 0]
    assert np.cross(straight, toes)[2] == pytest.approx(math.sin(math.radians(30.0)))
    assert np.linalg.det(pose[:3, :3]) == pytest.approx(-1.0)


def test_the_side_that_is_allowed_counts_and_the_other_one_is_the_fix():
    """A post behind on the right is in the way of the back when the toes go to the left."""
    at = [-0.36, -0.46, 1.3]
    free, _ = both(with_post(at, boot_twist="40 deg"))
    assert free.verdict is Verdict.PASS and free.numbers["side"] == "right"
    tied, _ = both(with_post(at, boot_twist="40 deg", twist_to="left"))
    assert tied.verdict is not Verdict.PASS
    assert tied.fix == "Turn them out to the right, where it is clear."
    less, _ = both(with_post(at, boot_twist="2 deg", twist_to="left"))
    assert less.low > tied.low


def test_more_twist_never_leaves_more_room():
    at = [-0.36, -0.46, 1.3]
    found = [
        both(with_post(at, boot_twist=f"{twist} deg", twist_to="left"))[0]
        for twist in (0, 5, 15, 25, 40)
    ]
    lows = [one.low for one in found]
    assert all(b <= a + SHARP for a, b in itertools.pairwise(lows))


def test_boots_without_room_whatever_the_trunk_does_fail_by_proof():
    data = with_post([0.0, 0.0, 0.6])
    boots, _ = both(data)
    assert boots.verdict is Verdict.FAIL
    assert boots.fix


def test_a_hazard_on_the_way_counts_with_its_stand_off():
    data = with_post(None)
    hot = {"kind": "hot", "box": [0.1, 0.1, 1.2], "at": [-0.36, -0.46, 1.3]}
    data["restraints"]["stand"] |= {"boot_twist": "40 deg", "twist_to": "left"}
    data["hazards"] = {"hot": {**hot, "stand_off": 0.0}}
    near = both(data)[0]
    assert near.verdict is Verdict.PASS
    data["hazards"]["hot"]["stand_off"] = 0.05
    assert both(data)[0].low == pytest.approx(near.low - 0.05, abs=SHARP)
    data["hazards"]["hot"]["stand_off"] = 0.20
    assert both(data)[0].verdict is Verdict.OPEN
    data["hazards"]["hot"] |= {"kind": "vent"}
    assert both(data)[0].low > 100.0


def test_a_rail_in_reach_is_held_and_the_posture_is_real():
    site, (s,) = resolved(bench(), step("s", "R", IN))
    hold = hold_of(site, s, rails_of(site, s))
    assert hold.rail == "bar" and hold.hand
    tip = hold.point * ([1, -1, 1] if hold.hand == "left" else [1, 1, 1])
    tip = tip - s.place.world_from_boots[:3, 3]
    figure = check_figure(site, s)
    found = [find_postures(figure, tip, [0.0, way, 0.0]).violation[0] for way in (1.0, -1.0)]
    assert min(found) <= 0.0
    assert both(bench())[1].verdict is Verdict.PASS


def check_figure(site, s):
    from reach.worker.figure import Grip, figure_of

    grip = Grip((0, 0, 0), (0, 0, 1), site.limit("grip_tolerance").value)
    return figure_of(s.body, s.suit, grip)


def test_rails_beyond_the_outer_sphere_fail_with_the_nearest_and_by_how_much():
    data = bench()
    site, (s,) = resolved(data, step("s", "R", IN))
    outer = tip_sphere(check_figure(site, s))[1]
    height = 0.35 + outer + 0.25
    data["handrails"] = {
        "up": {"from": [-1, 0, height], "to": [1, 0, height]},
        "off": {"from": [5, 5, 5], "to": [5, 5, 6]},
    }
    _, hand = both(data)
    assert hand.verdict is Verdict.FAIL
    assert hand.high == pytest.approx(-0.25, abs=1e-6)
    assert "up is nearest, 0.25 m" in hand.because.replace("0.250", "0.25")
    assert "up" in hand.fix
    data["handrails"]["up"]["rated"] = False
    assert "off is nearest" in both(data)[1].because


@pytest.mark.parametrize(
    "change", [{"condition": "blocked"}, {"condition": "no-touch"}, {"rating": "100 N"}]
)
def test_a_rail_that_may_not_be_held_is_nothing_to_hold(change):
    data = bench()
    assert both(data)[1].verdict is Verdict.PASS
    data["handrails"]["bar"] |= change
    assert both(data)[1].verdict is Verdict.NOT_ASKED


def test_a_single_handhold_is_held_like_a_short_rail():
    data = bench()
    data["handrails"] = {}
    data["handholds"] = {"grip": {"at": [0.45, 0.0, 1.1], "along": [0, 1, 0]}}
    _, hand = both(data)
    assert hand.verdict is Verdict.PASS
    assert "grip" in hand.because


def test_a_rail_neither_held_nor_excluded_is_open():
    """Behind the back, inside the outer sphere: no hand gets there, and the sphere does not say."""
    data = bench()
    data["handrails"] = {"back": {"from": [-0.55, -0.1, 1.5], "to": [-0.55, 0.1, 1.5]}}
    _, hand = both(data)
    assert hand.verdict is Verdict.OPEN
    assert "back" in hand.fix


def test_a_grip_on_a_payload_is_nothing_to_hold():
    data = bench(payloads={"crate": {"poses": {"here": {"at": [0, 0, 0]}}}})
    data["frames"] = {"lid": {"in": "crate"}}
    for frame in ("crate", "lid"):
        data["handrails"]["bar"]["in"] = frame
        assert both(data)[1].verdict is Verdict.NOT_ASKED
    data["frames"]["lid"]["in"] = "world"
    assert both(data)[1].verdict is Verdict.PASS


def test_the_handle_of_a_restraint_will_do_and_a_scene_without_any_is_not_asked():
    data = bench()
    data["handrails"] = {}
    assert both(data)[1].verdict is Verdict.NOT_ASKED
    handle = {"from": [0.45, -0.3, 1.0], "to": [0.45, 0.3, 1.0]}
    data["restraints"]["stand"]["handle"] = handle
    _, hand = both(data)
    assert hand.verdict is Verdict.PASS and "handle of stand" in hand.because


def test_a_restraint_that_says_nothing_is_not_asked_and_a_blank_setting_is_open():
    data = bench()
    blank = the("ingress", data, step("s", "R", IN, setting=None))
    assert blank.verdict is Verdict.OPEN
    del data["restraints"]["stand"]["boot_twist"]
    assert the("ingress", data, step("s", "R", IN)).verdict is Verdict.NOT_ASKED


def test_every_step_that_sets_the_restraint_is_asked_once_for_each_body():
    turn = {"do": "drive", "fastener": "easy", "tool": "power-drive", "bit": "S-16"}
    data = bench()
    sizes = ("small", "large")
    found = findings_of(data, step("s", "R", IN, turn, turn), only=("ingress",), sizes=sizes)
    assert [one.case for one in found] == ["small", "small", "large", "large"]
    there = findings_of(
        data,
        step("a", "R", IN),
        {"name": "b", "lane": "R", "actions": (turn,)},
        step("c", "R", turn),
        only=("ingress",),
    )
    assert [one.step for one in there] == ["a", "a", "c", "c"]
    assert check_named("A9").NAME == "ingress"
