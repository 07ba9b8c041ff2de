"""From steps to carriages: what is moved along which poses, who rides, who stands by and when."""

import numpy as np
import pytest

from reach.files.people import load_population, load_suits
from reach.files.urdf import shipped_arm
from reach.grasp import Grasp
from reach.model.procedure import Procedure
from reach.model.scene import Scene
from reach.situations import resolve

PLATE = {"up": [0, 0, 1], "toes": [0, 1, 0], "restraint": "plate", "on": "C"}
SCENE = {
    "solids": {"box": {"box": [1, 1, 1], "in": "load"}, "wall": {"box": [1, 1, 1]}},
    "payloads": {
        "load": {
            "poses": {
                "low": {"at": [5, 0, 0]},
                "high": {"at": [5, 0, 2]},
                "far": {"at": [7, 0, 2], "turn": [{"axis": [0, 0, 1], "angle": "180 deg"}]},
            },
            "paths": {
                "up": {
                    "through": ["low", "high", "far"],
                    "legs": {
                        "far": {"axis": [0, 0, -1], "about": [0.5, 0, 0]},
                        "high": {"stand_off": {"wall": 0.0}},
                    },
                }
            },
        }
    },
    "handrails": {
        "grip": {"from": [-0.6, -0.2, 0], "to": [-0.6, 0.2, 0], "in": "load"},
        "bar": {"from": [-0.6, -0.2, 1], "to": [-0.6, 0.2, 1], "in": "load"},
    },
    "guides": {"G": {"payload": "load", "pose": "low", "offset": 0.01, "angle": 0.01}},
    "cranes": {"C": {"arm": "shipped:brackenfall", "at": [0, -3, 0]}},
    "stations": {
        "S1": {"at": [5, -1.5, -1], **PLATE},
        "S2": {"at": [4, -2, -1], **PLATE},
        "aside": {"at": [9, 0, 0], "up": [0, 0, 1], "toes": [0, 1, 0], "restraint": "plate"},
    },
    "restraints": {"plate": {"kind": "foot restraint", "chain": []}},
    "sizes": {
        "small": {"sex": "female", "percentile": 5},
        "big": {"sex": "male", "percentile": 95},
    },
    "workers": {
        "W1": {"size": "big", "suit": "halden"},
        "W2": {"size": "small", "suit": "halden"},
    },
    "limits": {},
}
ON_TIP = {"name": "on", "lane": "W2", "where": "S1", "actions": [{"do": "ingress"}]}
HOLD = {"name": "hold", "lane": "W2", "actions": [{"do": "hold", "grips": ["grip", "bar"]}]}
CARRY = {
    "name": "carry",
    "lane": "CO",
    "path": "up",
    "actions": [{"do": "move crane", "payload": "load"}],
}


def resolved(*steps, sizes=None):
    scene = Scene(format=1, **{**SCENE, "suits": load_suits()})
    lanes = {"W1": "worker", "W2": "worker", "CO": "crane"}
    procedure = Procedure(format=1, lanes=lanes, steps=steps)
    arms = {"C": shipped_arm("brackenfall")}
    return resolve(scene, {}, procedure, load_population, sizes, arms=arms)


def carriages(*steps, sizes=None):
    return resolved(*steps, sizes=sizes)[0].carriages


def test_a_path_is_a_chain_of_world_poses_with_what_each_leg_asks():
    (carriage,) = carriages(ON_TIP, HOLD, CARRY)
    assert carriage.names == ("low", "high", "", "far")
    assert carriage.poses[:, :3, 3] == pytest.approx(
        np.array([[5, 0, 0], [5, 0, 2], [6.25, 0.25, 2], [7, 0, 2]]), abs=0.3
    )
    assert [leg.about for leg in carriage.legs] == [(0, 0, 0), (0.5, 0, 0), (0.5, 0, 0)]
    assert carriage.legs[0].stand_off == {"wall": 0.0}
    assert not carriage.is_blank


def test_whoever_stands_on_the_tip_rides_and_keeps_their_place_to_the_payload():
    (carriage,) = carriages(ON_TIP, HOLD, CARRY)
    assert carriage.rider.worker == "W2"
    assert carriage.payload_from_boots[:3, 3] == pytest.approx([0, -1.5, -1])
    assert carriage.holds["W2"].grips == ("grip", "bar")
    assert carriage.holds["W2"].payloads == ("load",)


def test_the_rider_stands_where_the_path_left_them():
    look = {"name": "look", "lane": "W2", "actions": [{"do": "ingress"}]}
    _, situations = resolved(ON_TIP, HOLD, CARRY, look)
    boots = situations[-1].place.world_from_boots
    # Turned half round about z: what was 1.5 m to one side is so to the other.
    assert boots[:3, 3] == pytest.approx([7.0, 1.5, 1.0])
    assert situations[-1].surroundings.world_from["load"][:3, 3] == pytest.approx([7, 0, 2])


def test_a_crane_without_payload_goes_from_station_to_station_with_its_rider():
    move = {"name": "go", "lane": "CO", "actions": [{"do": "move crane", "to": "S2"}]}
    look = {"name": "look", "lane": "W2", "actions": [{"do": "ingress"}]}
    site, situations = resolved(ON_TIP, move, look)
    (carriage,) = site.carriages
    assert carriage.names == ("S1", "S2")
    assert carriage.rider.worker == "W2"
    assert situations[-1].place.name == "S2"


def test_a_crane_goes_on_from_where_a_path_by_the_grapple_has_left_its_tip(monkeypatch):
    load = {**SCENE["payloads"]["load"], "grapple": {"at": [0, 0, 1]}}
    monkeypatch.setitem(SCENE, "payloads", {"load": load})
    to = {"name": "to", "lane": "CO", "actions": [{"do": "move crane", "to": "S1"}]}
    after = {"name": "after", "lane": "CO", "actions": [{"do": "move crane", "to": "S2"}]}
    _, carry, alone = carriages(to, CARRY, after)
    assert carry.rider is None
    assert alone.names == ("C tip", "S2")
    end = (carry.poses[-1] @ carry.payload_from_tip)[:3, 3]
    assert (alone.poses[0] @ alone.payload_from_tip)[:3, 3] == pytest.approx(end)
    assert end == pytest.approx([7, 0, 3])


def test_where_a_crane_is_after_a_payload_of_no_known_hold_is_not_known():
    to = {"name": "to", "lane": "CO", "actions": [{"do": "move crane", "to": "S1"}]}
    after = {"name": "after", "lane": "CO", "actions": [{"do": "move crane", "to": "S2"}]}
    assert carriages(to, CARRY, after)[-1].names == ("S2",)


def test_a_blank_path_is_to_be_found():
    step = {**CARRY, "path": None, "actions": [{"do": "move", "payload": "load", "to": "high"}]}
    (carriage,) = carriages(step)
    assert carriage.is_blank
    assert carriage.names == ("low", "high")
    assert carriage.rider is None


def test_align_goes_straight_from_where_the_payload_is_to_the_pose_of_the_guide():
    up = {**CARRY, "path": None, "actions": [{"do": "move", "payload": "load", "to": "high"}]}
    seat = {"name": "seat", "lane": "CO", "actions": [{"do": "align", "guide": "G"}]}
    last = carriages(up, seat)[-1]
    assert last.names == ("high", "low")
    assert not last.is_blank


def test_a_hand_over_changes_who_holds():
    give = {
        "name": "give",
        "lane": "W2",
        "actions": [{"do": "hand over", "to": "W1", "grips": ["bar"]}],
    }
    lift = {**CARRY, "path": None, "actions": [{"do": "move", "payload": "load", "to": "high"}]}
    seat = {"name": "seat", "lane": "CO", "actions": [{"do": "align", "guide": "G"}]}
    site, situations = resolved(ON_TIP, HOLD, lift, give, seat)
    assert set(situations[-1].holds) == {"W2"}
    assert {name: grasp.grips for name, grasp in site.carriages[-1].holds.items()} == {
        "W1": ("bar",)
    }


def test_who_lets_go_holds_nothing():
    let_go = {"name": "let go", "lane": "W2", "actions": [{"do": "release"}]}
    _, situations = resolved(ON_TIP, HOLD, let_go, {**ON_TIP, "name": "stand"})
    assert situations[-2].holds["W2"].grips == ("grip", "bar")
    assert situations[-1].holds == {}


def test_others_stand_by_for_their_part_of_the_time():
    def stand(name, start, minutes):
        return {
            "name": name, "lane": "W1", "where": "aside", "start": start,
            "duration": f"{minutes} min", "actions": [{"do": "ingress"}],
        }  # fmt: skip

    carry = {**CARRY, "start": "01:00", "duration": "20 min"}
    (carriage,) = carriages(
        ON_TIP, HOLD, stand("before", "00:30", 10), carry, stand("in", "01:05", 5)
    )
    stays = [(one.situation.step, one.begins, one.ends) for one in carriage.bystanders]
    assert stays == [
        ("before", 0.0, pytest.approx(0.25)),
        ("in", pytest.approx(0.25), pytest.approx(0.5)),
        ("in", pytest.approx(0.5), 1.0),
    ]
    assert all(one.is_timed and one.way is None for one in carriage.bystanders)


def test_without_times_it_is_not_known_when_others_are_where():
    stand = {"name": "by", "lane": "W1", "where": "aside", "actions": [{"do": "ingress"}]}
    (carriage,) = carriages(ON_TIP, HOLD, stand, CARRY)
    (other,) = carriage.bystanders
    assert (other.worker, other.is_timed) == ("W1", False)


def test_whoever_waits_after_a_step_without_a_start_is_not_timed():
    by = {"name": "by", "lane": "W1", "where": "aside", "actions": [{"do": "ingress"}]}
    later = {
        **by, "name": "later", "start": "01:10", "duration": "5 min",
        "actions": [{"do": "ingress"}],
    }  # fmt: skip
    carry = {**CARRY, "start": "01:00", "duration": "20 min"}
    (carriage,) = carriages(ON_TIP, HOLD, by, carry, later)
    stays = [(one.situation.step, one.is_timed) for one in carriage.bystanders]
    assert stays == [("by", False), ("later", True), ("later", True)]


def test_one_carriage_a_size_class():
    found = carriages(ON_TIP, HOLD, CARRY, sizes=["small", "big"])
    assert [(one.case, one.rider.case) for one in found] == [("small", "small"), ("big", "big")]


# ---- what both hands are on -------------------------------------------------------------


def grasp(*pairs):
    return Grasp(tuple(grip for grip, _ in pairs), tuple(on for _, on in pairs))


A1, A2, A3, B1, B2, C1 = (
    ("a1", "a"),
    ("a2", "a"),
    ("a3", "a"),
    ("b1", "b"),
    ("b2", "b"),
    ("c", "c"),
)
RAIL, BAR = ("rail", ""), ("bar", "")


@pytest.mark.parametrize(
    ("before", "more", "after"),
    [
        ([A1], [B1], [A1, B1]),  # a hand each
        ([A1, A2], [A3], [A3]),  # another hold of the same thing
        ([A1], [B1, B2], [B1, B2]),  # both hands are needed
        ([A1, A2], [B1], [A1, A2, B1]),  # one of three is let go, nothing says which
        ([A1, B1], [C1], [A1, B1, C1]),
        ([A1, A2, B1], [A3], [B1, A3]),
        ([RAIL], [A1], [A1]),  # a hand on structure is free for anything
        ([A1], [RAIL], [A1, RAIL]),
        ([A1, RAIL], [B1], [A1, B1]),
        ([A1], [RAIL, BAR], [RAIL, BAR]),
    ],
)
def test_what_is_held_stays_held_while_there_is_a_hand_for_it(before, more, after):
    assert grasp(*before).and_then(grasp(*more)) == grasp(*after)
    assert grasp(*after).is_sure == (len(after) < 3)


@pytest.mark.parametrize(
    ("before", "more", "after"),
    [
        ([A1], [A2], [A1, A2]),  # unlike a hold, it is kept beside the new one
        ([A1, A2], [A3], [A3]),
        ([B1], [A1], [B1, A1]),
        ([A1, B1], [A2], [B1, A2]),
        ([B1], [A1, A2], [A1, A2]),
    ],
)
def test_who_takes_keeps_a_grip_of_the_same_payload_that_a_hand_is_left_for(before, more, after):
    assert grasp(*before).taking(grasp(*more)) == grasp(*after)


def test_a_grasp_of_two_payloads_tells_each():
    both = grasp(A1, B1)
    assert both.payloads == ("a", "b")
    assert (both.holds("b"), both.holds("c"), grasp(RAIL).holds("")) == (True, False, False)
    assert both.grips_on("b") == ("b1",)
    assert both.keeping(["a"]) == grasp(A1)
    assert both.keeping([]) is None


# ---- who leaves what they hold ----------------------------------------------------------


def held_after(*steps):
    """What W2 holds, as a step that asks nothing of it begins."""
    look = {"name": "look", "lane": "W1", "where": "aside", "actions": [{"do": "ingress"}]}
    held = resolved(*steps, look)[1][-1].holds.get("W2")
    return held and held.grips


def test_who_rides_off_keeps_hold_of_what_rides_along_alone():
    assert held_after(ON_TIP, HOLD, CARRY) == ("grip", "bar")
    go = {"name": "go", "lane": "CO", "actions": [{"do": "move crane", "to": "S2"}]}
    stays = {**go, "actions": [{"do": "move crane", "to": "S1"}]}
    assert held_after(ON_TIP, HOLD, go) is None
    assert held_after(ON_TIP, HOLD, stays) == ("grip", "bar")
    # As the crane sets out they have it in hand: that is for the brakes to know.
    assert resolved(ON_TIP, HOLD, go)[0].carriages[-1].holds["W2"].payloads == ("load",)


@pytest.mark.parametrize(
    "leaves",
    [
        {"name": "out", "lane": "W2", "actions": [{"do": "egress"}]},
        {"name": "off", "lane": "W2", "where": "aside", "actions": [{"do": "ingress"}]},
    ],
)
def test_who_gets_out_or_stands_elsewhere_holds_nothing(leaves):
    assert held_after(ON_TIP, HOLD, leaves) is None
    again = {**ON_TIP, "name": "again", "where": "S2"}
    assert held_after(ON_TIP, HOLD, again) == ("grip", "bar")  # another spot on the same tip
