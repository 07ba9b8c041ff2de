"""A crane that moves by itself, or carries: joints, links, and what rides on its tip."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from bench import STAND, scene_of

from reach.arm import link_capsules, structure_clearance, tip_poses
from reach.checks import sweep
from reach.files.people import load_population
from reach.files.urdf import shipped_arm
from reach.finding import Verdict
from reach.geometry import inverse, path_gap
from reach.model.procedure import Procedure
from reach.payload.crane_way import crane_way_of
from reach.payload.gaps import gaps_of
from reach.payload.link_gaps import structure_of
from reach.payload.parts import parts_of
from reach.payload.things import things_of
from reach.payload.track import track_of
from reach.situations import resolve

STATION = {"up": [0, 0, 1], "toes": [0, 1, 0], "restraint": "stand", "on": "Arm"}

DOCK = {
    "format": 1,
    "solids": {
        "bollard": {"box": [0.3, 0.3, 2.0], "at": [3.0, 2.0, 0.4]},
        "load": {"in": "crate", "box": [1.0, 1.0, 1.0]},
    },
    "hazards": {"lamp": {"kind": "hot", "box": [0.2] * 3, "at": [5.0, -5.0, 0], "stand_off": 0.3}},
    "cranes": {"Arm": {"arm": "shipped:brackenfall"}},
    "stations": {
        "P": {**STATION, "at": [6.0, 2.0, 1.0]},
        "Q": {**STATION, "at": [5.0, 4.0, 1.5]},
    },
    "payloads": {
        "crate": {
            "poses": {
                "here": {"at": [6.0, -3.0, 2.0]},
                "there": {"at": [7.0, -1.0, 2.5], "turn": [{"axis": [0, 0, 1], "angle": 0.5}]},
            },
            "paths": {"way": {"through": ["here", "there"]}},
            "grapple": {"at": [0.0, 0.0, 0.55], "turn": [{"axis": [1, 0, 0], "angle": math.pi}]},
        }
    },
    "restraints": {"stand": STAND},
    "workers": {"R": {"size": "medium", "hand": "right", "suit": "halden"}},
}


def dock(*steps):
    kinds = {"R": "worker", "CO": "crane"}
    procedure = Procedure(format=1, lanes=kinds, steps=steps)
    arms = {"Arm": shipped_arm("brackenfall")}
    site, _ = resolve(scene_of(DOCK), {}, procedure, load_population, arms=arms)
    return site, site.carriages[-1]


def crane_step(path=None, **action):
    step = {"name": "go", "lane": "CO", "duration": "5 min"}
    return {**step, **({"path": path} if path else {}), "actions": [{"do": "move crane", **action}]}


@cache
def alone():
    """The rider is taken from one station to another."""
    board = {"name": "board", "lane": "R", "where": "P", "actions": [{"do": "ingress"}]}
    return dock(board, crane_step(to="Q", **{"from": "P"}))


@cache
def carrying():
    return dock(crane_step("way", payload="crate"))


def test_a_crane_turns_its_joints_from_station_to_station():
    site, carriage = alone()
    way = crane_way_of(site, carriage)
    assert way.why == ""
    tips = way.world_from_base @ tip_poses(way.chain, way.q)
    boots = tips @ inverse(carriage.payload_from_tip)
    assert boots == pytest.approx(carriage.poses, abs=1e-5)
    assert (way.q >= way.chain.lower).all()
    assert (way.q <= way.chain.upper).all()


def test_links_come_no_nearer_than_is_proved():
    site, carriage = alone()
    way = crane_way_of(site, carriage)
    share = np.linspace(0.0, 1.0, 200)[:, None]
    rows = way.q[0] + share * (way.q[1] - way.q[0])
    gaps = structure_clearance(
        way.chain, rows, structure_of(site, carriage).tree, None, way.world_from_base
    )
    (solid,) = [gap for gap in way.gaps if gap.kind == "solid"]
    assert solid.low <= float(gaps.min()) + 1e-9
    assert solid.low >= float(gaps.min()) - 0.02
    assert {gap.kind for gap in way.gaps} >= {"solid", "hazard", "carried", "self"}
    (lamp,) = [gap for gap in way.gaps if gap.kind == "hazard"]
    assert (lamp.thing, lamp.stand_off) == ("lamp", 0.3)


def test_the_rider_goes_where_the_joints_take_the_boots():
    site, carriage = alone()
    track, way = track_of(site, carriage), crane_way_of(site, carriage)
    for share in np.linspace(0.0, 1.0, 41):
        q = way.q[0] + share * (way.q[1] - way.q[0])
        boots = (
            way.world_from_base @ tip_poses(way.chain, q)[0] @ inverse(carriage.payload_from_tip)
        )
        asked = track.pose_at(float(share))
        for point in ([0.0, 0.0, 0.0], [0.3, -0.4, 1.9]):
            there, here = (pose[:3, :3] @ point + pose[:3, 3] for pose in (boots, asked))
            slack = track.off + track.off_turn * float(np.linalg.norm(point))
            assert np.linalg.norm(there - here) <= slack + 1e-9
    assert track.off + 3.0 * track.off_turn < 0.02


def test_the_way_of_the_joints_is_not_the_straight_one():
    site, carriage = alone()
    middle = track_of(site, carriage).pose_at(0.5)[:3, 3]
    straight = 0.5 * (carriage.poses[0] + carriage.poses[1])[:3, 3]
    assert np.linalg.norm(middle - straight) > 0.05


def test_gaps_of_the_rider_hold_for_sampled_postures():
    site, carriage = alone()
    way = crane_way_of(site, carriage)
    (thing,) = [one for one in things_of(site, carriage) if one.name == "bollard"]
    for part in parts_of(site, carriage):
        (gap,) = [
            one for one in gaps_of(site, carriage)
            if one.part == part.name and one.thing == "bollard"
        ]  # fmt: skip
        seen = math.inf
        for share in np.linspace(0.0, 1.0, 60):
            q = way.q[0] + share * (way.q[1] - way.q[0])
            tip = way.world_from_base @ tip_poses(way.chain, q)[0]
            boots = tip @ inverse(carriage.payload_from_tip)
            seen = min(seen, path_gap(thing.tree, part.tree, np.array([boots, boots])).gap.high)
        assert gap.low <= seen + 1e-9
        assert gap.high <= seen + part.excess + 0.03


def test_who_rides_and_the_plate_are_parts():
    assert [part.kind for part in parts_of(*alone())] == ["rider", "plate"]
    assert [part.kind for part in parts_of(*carrying())] == ["payload", "plate"]


def test_sweep_of_a_crane_alone_is_a_pass_or_open():
    site, carriage = alone()
    found = sweep.find(site, (carriage,))
    assert {one.answer for one in found} == {"rider", "plate"}
    assert {one.verdict for one in found} <= {Verdict.PASS, Verdict.OPEN}


def test_from_where_it_is_not_known_is_open():
    site, carriage = dock(crane_step(to="Q"))
    (found,) = sweep.find(site, (carriage,))
    assert found.verdict is Verdict.OPEN
    assert "not known from where" in found.because


def test_the_joints_follow_what_is_carried():
    site, carriage = carrying()
    way, track = crane_way_of(site, carriage), track_of(site, carriage)
    assert way.why == ""
    assert (way.at[0], way.at[-1]) == (0.0, 1.0)
    for q, place in zip(way.q, way.at, strict=True):
        tip = way.world_from_base @ tip_poses(way.chain, q)[0]
        asked = track.pose_at(float(place)) @ carriage.payload_from_tip
        assert np.linalg.norm(tip[:3, 3] - asked[:3, 3]) <= way.off + 1e-6
    (load,) = [gap for gap in way.gaps if gap.kind == "carried"]
    covers = link_capsules(way.chain, way.q, None, way.world_from_base)
    assert len(covers.p) == len(way.q)
    assert load.thing == "crate"
    assert math.isfinite(load.low)
