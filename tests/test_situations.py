"""From steps to situations: who stands where, in which body, asked what."""

import pytest

from reach.files.people import load_population, load_suits
from reach.model.limits import Limit
from reach.model.procedure import Procedure
from reach.model.scene import Scene
from reach.situations import resolve

SOCKET = {"axis": [0, 0, 1], "zero": [1, 0, 0]}
PITCH = {"name": "pitch", "turn": "y", "from": "-90 deg", "to": "90 deg"}
SCENE = {
    "solids": {"box": {"box": [1, 1, 1], "in": "load"}},
    "payloads": {"load": {"poses": {"stowed": {"at": [9, 0, 0]}, "out": {"at": [5, 0, 0]}}}},
    "sockets": {"A": {"at": [0, 0, 0], **SOCKET}, "B": {"at": [1, 0, 0], **SOCKET}},
    "restraints": {"stand": {"kind": "foot restraint", "chain": [PITCH]}},
    "fasteners": {
        "bolt": {"at": [1, 0, 1], "axis": [0, 0, 1], "torque": 20.0, "in": "load"},
        "stuck": {"at": [1, 0, 1], "axis": [0, 0, 1], "torque": 20.0, "breakaway": 35.0},
    },
    "tools": {"drill": {"kind": "drive", "tip": [0.2, 0, 0], "axis": [1, 0, 0]}},
    "sizes": {
        "small": {"sex": "female", "percentile": 5},
        "big": {"sex": "male", "percentile": 95},
    },
    "workers": {
        "W1": {"sex": "male", "percentile": 50, "suit": "halden"},
        "W2": {"size": "small", "hand": "left", "suit": "unsuited"},
    },
    "limits": {"head_radius": Limit(value=0.01, unit="m")},
}
TURN = {"do": "drive", "fastener": "bolt", "tool": "drill"}


def situations(*steps, sizes=None):
    scene = Scene(format=1, **SCENE, suits=load_suits())
    lanes = {"W1": "worker", "W2": "worker", "C": "crane"}
    made = tuple({"name": f"{i}", **one} for i, one in enumerate(steps))
    procedure = Procedure(format=1, lanes=lanes, steps=made)
    return resolve(scene, {}, procedure, load_population, sizes)[1]


AT_A = {"where": "A", "restraint": "stand", "setting": {"pitch": "30 deg"}}


def test_one_situation_for_each_action_and_body():
    found = situations(
        {"lane": "W1", **AT_A, "actions": [{"do": "ingress"}, TURN]},
        {"lane": "C", "placed": {"load": "out"}},
        {"lane": "W2", "actions": [{"do": "inspect", "fastener": "bolt"}]},
        sizes=("small", "big"),
    )
    assert [(s.step, s.action.do, s.case) for s in found] == [
        ("0", "ingress", "small"),
        ("0", "ingress", "big"),
        ("0", "drive", "small"),
        ("0", "drive", "big"),
        ("2", "inspect", "small"),
        ("2", "inspect", "big"),
    ]
    assert found[0].body.links.upper_arm < found[1].body.links.upper_arm
    assert found[0].body is found[2].body
    assert [s.head is None for s in found] == [True, True, False, False, False, False]
    assert [s.held is None for s in found] == [True, True, False, False, True, True]


def test_workers_have_their_own_body_suit_and_hand():
    one, other = situations({"lane": "W1", "actions": [TURN]}, {"lane": "W2", "actions": [TURN]})
    assert (one.case, other.case) == ("male P50", "small")
    assert (one.own_hand, other.own_hand) == ("right", "left")
    assert one.suit.arm_cone < other.suit.arm_cone
    assert one.place is other.place is None


def test_a_lane_stands_where_it_stood_until_it_is_told_otherwise():
    found = situations(
        {"lane": "W1", **AT_A, "actions": [TURN]},
        {"lane": "W2", "where": "B", "restraint": "stand", "actions": [TURN]},
        {"lane": "W1", "actions": [TURN]},
        {"lane": "W1", "setting": {"pitch": "0 deg"}, "actions": [TURN]},
        {"lane": "W1", "where": "B", "restraint": "stand", "actions": [TURN]},
    )
    places = [s.place for s in found]
    assert [place.name for place in places] == ["A", "B", "A", "A", "B"]
    assert places[2].setting == places[0].setting
    assert places[3].setting == {"pitch": 0.0}
    # Another socket does not take over the setting of the one before.
    assert places[4].setting is None and places[4].world_from_boots is None


def test_payloads_stay_where_a_step_put_them_with_what_rides_on_them():
    found = situations(
        {"lane": "W1", **AT_A, "actions": [TURN]},
        {"lane": "C", "placed": {"load": "out"}},
        {"lane": "W1", "actions": [TURN]},
        {"lane": "W1", "actions": [TURN]},
    )
    assert [s.head.point[0] for s in found] == [10.0, 6.0, 6.0]
    assert [s.surroundings.tree.bounds[0][0] for s in found] == [8.5, 4.5, 4.5]
    assert found[1].surroundings is found[2].surroundings
    assert [s.surroundings.world_from["load"][0, 3] for s in found] == [9.0, 5.0, 5.0]


@pytest.mark.parametrize(
    ("fastener", "asked", "expected"),
    [("bolt", None, 20.0), ("bolt", 8.0, 8.0), ("stuck", None, 35.0), ("stuck", 50.0, 50.0)],
)
def test_the_largest_torque_is_asked_for(fastener, asked, expected):
    action = {**TURN, "fastener": fastener} | ({"torque": asked} if asked else {})
    (found,) = situations({"lane": "W1", "actions": [action]})
    assert found.wanted_torque == expected


def test_an_unknown_size_is_named():
    with pytest.raises(ValueError, match="no size 'huge'; there are small, big"):
        situations({"lane": "W1", "actions": [TURN]}, sizes=("huge",))
