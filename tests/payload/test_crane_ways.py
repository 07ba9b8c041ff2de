"""Which way of a crane's joints is taken: the clear one, round things, on from where it stands."""

from __future__ import annotations

import copy
import math
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from bench import scene_of
from test_crane_way import DOCK, STATION, crane_step

from reach.arm import duration, link_capsules, self_clearance, structure_clearance, tip_poses
from reach.arm.margins import far_from_singular
from reach.checks import joints, links, stop, sweep
from reach.crane import crane_at
from reach.files.people import load_population
from reach.files.urdf import shipped_arm
from reach.finding import Verdict
from reach.geometry import inverse
from reach.model.procedure import Procedure
from reach.payload.crane_way import change_before, crane_way_of
from reach.payload.link_gaps import structure_of
from reach.payload.track import track_of
from reach.situations import resolve

CLEARANCE = 0.1


def dock(*steps, solids=None, stations=None):
    data = copy.deepcopy(DOCK)
    del data["solids"]["bollard"]
    data["solids"].update(solids or {})
    for name, at in (stations or {}).items():
        data["stations"][name] = {**STATION, "at": at}
    procedure = Procedure(format=1, lanes={"R": "worker", "CO": "crane"}, steps=steps)
    arms = {"Arm": shipped_arm("brackenfall")}
    site, _ = resolve(scene_of(data), {}, procedure, load_population, arms=arms)
    return site


def named(name, step):
    return {**step, "name": name}


def samples(q, n=300):
    share = np.linspace(0.0, 1.0, n)[:, None]
    return np.concatenate([a + share * (b - a) for a, b in pairwise(q)])


def least_gap(site, carriage, way, q):
    """How near links come to solids in sampled postures, by another code than the ranking's."""
    structure = structure_of(site, carriage)
    rows = samples(q)
    base = way.world_from_base
    return float(structure_clearance(way.chain, rows, structure.tree, None, base).min())


WALL = {"wall": {"box": [8.0, 0.3, 8.0], "at": [6.0, 0.0, 0.0]}}
SIDES = {"port": [6.0, -2.5, 1.0], "starboard": [6.0, 2.5, 1.0]}


@cache
def round_the_wall():
    site = dock(crane_step(to="starboard", **{"from": "port"}), solids=WALL, stations=SIDES)
    (carriage,) = site.carriages
    return site, carriage, crane_way_of(site, carriage)


def test_a_wall_between_two_stations_is_gone_round():
    site, carriage, way = round_the_wall()
    assert len(way.q) > 2
    straight = least_gap(site, carriage, way, way.q[[0, -1]])
    assert straight < 0.0  # the even move of all joints goes through the wall
    assert least_gap(site, carriage, way, way.q) >= CLEARANCE
    assert float(self_clearance(way.chain, samples(way.q)).gap.min()) >= 0.0
    (solid,) = [gap for gap in way.gaps if gap.kind == "solid"]
    assert CLEARANCE <= solid.low <= least_gap(site, carriage, way, way.q) + 1e-9


def test_no_direct_move_between_branches_of_the_two_sides_is_clear():
    site, carriage, way = round_the_wall()
    starts, goals = (
        [one.posture.q for one in crane_at(site, "Arm", pose, carriage.surroundings).branches]
        for pose in carriage.poses
    )
    rows = np.concatenate([samples(np.array([a, b]), 60) for a in starts for b in goals])
    tree, base = structure_of(site, carriage).tree, way.world_from_base
    gaps = structure_clearance(way.chain, rows, tree, None, base).min(axis=1).reshape(-1, 60)
    singular = far_from_singular(way.chain, rows).reshape(-1, 60)
    through = gaps.min(axis=1) < CLEARANCE
    assert through.mean() > 0.9
    # The few that swing round by the far side come too near to a singular pose.
    assert (singular[~through].min(axis=1) < site.limit("singular_reserve").value).all()


def test_a_way_round_still_joins_the_two_stations():
    _, carriage, way = round_the_wall()
    boots = way.world_from_base @ tip_poses(way.chain, way.q) @ inverse(carriage.payload_from_tip)
    assert boots[[0, -1]] == pytest.approx(carriage.poses, abs=1e-5)


def test_a_way_round_is_shared_out_by_the_time_its_joints_take():
    _, _, way = round_the_wall()
    needed = duration(way.chain, way.q)
    assert way.at[0] == 0.0
    assert way.at[-1] == 1.0
    assert np.diff(way.at) == pytest.approx(needed / needed.sum())


def test_what_rides_goes_all_the_way_round():
    site, carriage, way = round_the_wall()
    track = track_of(site, carriage)
    for place in np.linspace(0.0, 1.0, 37):
        q = np.array([np.interp(place, way.at, joint) for joint in way.q.T])
        tip = way.world_from_base @ tip_poses(way.chain, q)[0]
        boots = tip @ inverse(carriage.payload_from_tip)
        for point in ([0.0, 0.0, 0.0], [0.3, -0.4, 1.9]):
            there, here = (
                pose[:3, :3] @ point + pose[:3, 3] for pose in (boots, track.pose_at(float(place)))
            )
            slack = track.off + track.off_turn * float(np.linalg.norm(point))
            assert np.linalg.norm(there - here) <= slack + 1e-9


def test_checks_judge_the_way_round():
    site, carriage, way = round_the_wall()
    (link,) = [one for one in links.find(site, (), (carriage,)) if one.answer == "way"]
    assert link.verdict is Verdict.PASS
    found = sweep.find(site, (carriage,))
    assert {one.verdict for one in found} == {Verdict.PASS}
    (rates,) = [one for one in stop.find(site, (carriage,)) if one.answer == "rates"]
    total = float(duration(way.chain, way.q).sum())
    assert rates.numbers["needed"] == pytest.approx(total)


def test_the_same_question_has_the_same_way():
    _, _, way = round_the_wall()
    round_the_wall.cache_clear()
    _, _, again = round_the_wall()
    assert np.array_equal(way.q, again.q)


def block_by(way, carriage, place, link="fore_boom"):
    """A block in the middle of a link where the crane has it at a place of its way."""
    q = np.array([np.interp(place, way.at, joint) for joint in way.q.T])
    there = link_capsules(way.chain, q, None, way.world_from_base)
    names = [one.name for one in way.chain.arm.links]
    k = int(np.flatnonzero(there.link == names.index(link))[0])
    middle = 0.5 * (there.p[0, k] + there.q[0, k])
    return {"block": {"box": [0.4, 0.4, 0.4], "at": middle.tolist()}}


@pytest.mark.parametrize(
    "step", [crane_step(to="Q", **{"from": "P"}), crane_step("way", payload="crate")]
)
def test_of_two_branches_the_clear_one_is_taken(step):
    free = dock(step)
    (carriage,) = free.carriages
    way = crane_way_of(free, carriage)
    blocked = dock(step, solids=block_by(way, carriage, 0.5))
    (again,) = blocked.carriages
    other = crane_way_of(blocked, again)
    assert least_gap(blocked, again, other, way.q) < 0.0
    assert other.why == ""
    assert least_gap(blocked, again, other, other.q) >= CLEARANCE
    (solid,) = [gap for gap in other.gaps if gap.kind == "solid"]
    assert solid.low >= CLEARANCE


def test_with_block_after_block_in_its_way_a_carry_takes_yet_another_branch():
    step, solids = crane_step("way", payload="crate"), {}
    for k in range(5):
        site = dock(step, solids=solids)
        (carriage,) = site.carriages
        way = crane_way_of(site, carriage)
        if solids:
            assert least_gap(site, carriage, way, way.q) >= CLEARANCE
        block = block_by(way, carriage, 0.5)["block"]
        solids = {**solids, f"block {k}": {**block, "box": [0.5] * 3}}


def test_a_crane_goes_on_in_the_posture_in_which_it_came():
    site = dock(
        named("one", crane_step(to="Q", **{"from": "P"})),
        named("two", crane_step(to="P", **{"from": "Q"})),
    )
    first, second = site.carriages
    came, goes = crane_way_of(site, first), crane_way_of(site, second)
    assert np.array_equal(came.q[-1], goes.q[0])
    assert change_before(site, first) is None
    assert change_before(site, second) == ("one", 0.0)
    found = next(one for one in joints.find(site, (), (second,)) if one.answer == "way")
    assert found.numbers["way before"] == "one"
    assert found.numbers["change of posture before it"] == 0.0


def test_a_crane_comes_in_the_posture_in_which_it_takes_up_a_payload():
    grapple = DOCK["payloads"]["crate"]["grapple"]["at"]
    at = (np.array(DOCK["payloads"]["crate"]["poses"]["here"]["at"]) + grapple).tolist()
    site = dock(named("carry", crane_step("way", payload="crate")))
    (alone,) = site.carriages
    tip = alone.poses[0] @ alone.payload_from_tip
    assert tip[:3, 3] == pytest.approx(at)
    data = {"up": [0, 0, -1], "toes": [1, 0, 0]}
    station = {**STATION, **data, "at": at}
    scene = copy.deepcopy(DOCK)
    scene["stations"]["here"] = station
    procedure = Procedure(
        format=1, lanes={"CO": "crane"},
        steps=(
            named("come", crane_step(to="here", **{"from": "P"})),
            named("carry", crane_step("way", payload="crate")),
        ),
    )  # fmt: skip
    arms = {"Arm": shipped_arm("brackenfall")}
    site, _ = resolve(scene_of(scene), {}, procedure, load_population, arms=arms)
    come, carry = site.carriages
    ends = come.poses[-1] @ come.payload_from_tip
    assert ends == pytest.approx(carry.poses[0] @ carry.payload_from_tip, abs=1e-9)
    assert crane_way_of(site, come).q[-1] == pytest.approx(crane_way_of(site, carry).q[0])
    assert change_before(site, carry)[1] == pytest.approx(0.0, abs=1e-9)


def test_a_station_in_a_tight_place_does_not_hide_what_is_near_elsewhere():
    # Both stations are by a post: no way leaves more than they do, and the wall still counts.
    posts = {
        f"post {k}": {"box": [0.1, 0.1, 3.0], "at": [6.35, y, 1.0]}
        for k, y in enumerate((-2.5, 2.5))
    }
    site = dock(
        crane_step(to="starboard", **{"from": "port"}), solids={**WALL, **posts}, stations=SIDES
    )
    (carriage,) = site.carriages
    way = crane_way_of(site, carriage)
    wall = [gap for gap in way.gaps if gap.kind == "solid"]
    ends = [
        float(structure_clearance(
            way.chain, q, structure_of(site, carriage).tree, None, way.world_from_base
        ).min())
        for q in way.q[[0, -1]]
    ]  # fmt: skip
    assert wall[0].low >= min(*ends, CLEARANCE) - 0.01
    assert math.isnan(way.stuck_at)
