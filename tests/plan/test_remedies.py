"""A change is only named when it was tried: made in the scene's data, it serves everything."""

import re

import numpy as np
import pytest
from bench import drive, findings_of, step
from exhaustive import asked, margin_at, no_table, searched, yard

from reach.plan.per_target import per_target
from reach.plan.remedies import remedies


def first(asks, served):
    """Pick the one with the best margin."""
    return served[0]


def data_of(bolt, tools=None):
    bolt = {**bolt, "torque": 20.0, "head": "16 mm"}
    if tools:
        bolt["tools"] = tools
    data = yard(fasteners={"x": bolt})
    data["solids"] = {}
    return data


def changes(data, **drives):
    site, asks = asked(data, ("x",), "R", **drives)
    grid, ranking = searched(site, asks, sockets=("SK1",))
    assert not ranking.served
    return site, asks, remedies(site, asks, asks[0].place.restraint, grid)


def reach_of(data, served, **drives):
    """Verdict of the ordinary check at a setting, the scene as its data has it."""
    angles = {
        name: f"{float(np.degrees(angle))!r} deg" for name, angle in served.candidate.angles.items()
    }

    drives = {"hand": "own", **drives}
    one = step("x", "R", drive("x", **drives), setting=angles, where=served.candidate.socket)
    (found,) = findings_of(data, one, only=("reach",))
    return found


FAR = {"at": [2.1, 0.0, 1.5], "axis": [-1, 0, 0]}


def test_a_socket_moved_in_the_scene_serves():
    data = data_of(FAR)
    _, _, found = changes(data)
    (move,) = [one for one in found if one.words.startswith("Move SK1")]
    shift = [float(x) for x in re.search(r"\((.*)\) m", move.words)[1].split(",")]
    at = data["sockets"]["SK1"]["at"]
    data["sockets"]["SK1"]["at"] = [a + s for a, s in zip(at, shift, strict=True)]
    assert shift[2] == 0.0
    assert reach_of(data, move.served).low > -0.05


def test_a_bar_fitted_in_the_scene_serves():
    data = data_of(FAR)
    _, _, found = changes(data)
    (bar,) = [one for one in found if one.words.startswith("Fit an extension")]
    length = float(re.search(r"([\d.]+) m", bar.words)[1])
    data["extensions"] = {**data.get("extensions", {}), "bar": {"length": length, "radius": 0.01}}
    at = reach_of(data, bar.served, extension="bar")
    assert "reaches x" in at.because
    assert bar.served.worst == pytest.approx(at.numbers["margin radius"], abs=0.011)


def test_the_other_hand_serves_where_it_is_left_open():
    data = data_of({"at": [0.1, 1.1, 1.3], "axis": [0, -1, 0]})
    for turn in (0, 3):  # the restraint turns to the right alone
        data["restraints"]["stand"]["chain"][turn] |= {"from": "-60 deg", "to": "0 deg"}
    site, asks = asked(data, ("x",), "R", hand="right")
    grid, ranking = searched(site, asks, sockets=("SK1",))
    assert not ranking.served
    found = remedies(site, asks, asks[0].place.restraint, grid)
    (hand,) = [one for one in found if one.words.startswith("Leave the hand open")]
    assert hand.served.hands == ("left",)
    assert "reaches x" in reach_of(data, hand.served, hand="left").because


EDGE = {"at": [1.9, 0.0, 1.5], "axis": [-1, 0, 0]}
"""Out of reach of a ratchet, whose drive sits beside the fist; a power drive's sticks out ahead."""


def test_another_tool_that_the_bolt_takes_serves_in_the_scene():
    data = data_of(EDGE, tools=["ratchet", "power-drive"])
    _, _, found = changes(data, tool="ratchet")
    (other,) = [one for one in found if one.words == "Turn x with power-drive"]
    at = reach_of(data, other.served, tool="power-drive")
    assert "reaches x" in at.because
    assert other.served.worst == pytest.approx(at.numbers["margin radius"], abs=0.011)
    assert "reaches x" not in reach_of(data, other.served, tool="ratchet").because


@pytest.mark.parametrize(
    ("tools", "heads"),
    [
        (["ratchet"], "16 mm"),  # the bolt takes no other tool
        (["ratchet", "glove"], "16 mm"),  # the gloved hand does not reach it either
        (["ratchet", "power-drive"], "99 mm"),  # no bit fits its head
    ],
)
def test_no_tool_is_named_that_does_not_fit_or_does_not_serve(tools, heads):
    data = data_of(EDGE, tools=tools)
    data["fasteners"]["x"]["head"] = heads
    _, _, found = changes(data, tool="ratchet")
    assert [one.words for one in found if one.words.startswith("Turn")] == []


def test_another_tool_is_tried_for_one_of_several_targets_while_the_rest_keep_theirs():
    data = data_of(EDGE, tools=["ratchet", "power-drive"])
    data["fasteners"]["y"] = {
        **data["fasteners"]["x"],
        "at": [1.5, -0.2, 1.5],
        "tools": ["ratchet"],
    }
    site, asks = asked(data, ("y", "x"), "R", tool="ratchet")
    grid, ranking = searched(site, asks, sockets=("SK1",))
    assert not ranking.served
    found = remedies(site, asks, asks[0].place.restraint, grid)
    (other,) = [one for one in found if one.words.startswith("Turn")]
    assert other.words == "Turn x with power-drive"
    served = other.served
    for name, tool in (("y", "ratchet"), ("x", "power-drive")):
        angles = {k: f"{float(np.degrees(v))!r} deg" for k, v in served.candidate.angles.items()}
        one = step(name, "R", drive(name, tool=tool), setting=angles, where="SK1")
        (verdict,) = findings_of(data, one, only=("reach",))
        assert f"reaches {name}" in verdict.because


def test_every_change_has_a_witness_and_there_is_one_of_a_kind_at_most():
    _, _, found = changes(data_of(FAR))
    assert found
    kinds = [one.words.split()[0] for one in found]
    assert len(set(kinds)) == len(kinds)
    assert all(one.served.worst >= 0.0 for one in found)


def test_nothing_is_invented_for_what_no_change_mends():
    _, _, found = changes(data_of({"at": [6.0, 0.0, 1.5], "axis": [-1, 0, 0]}))
    assert found == []


def test_a_socket_with_a_setting_for_each_target():
    """Fore and aft of the boots: no one setting does both, a setting each does."""
    bolts = {
        "aft": {"at": [-1.6, 0.2, 1.5], "axis": [1, 0, 0], "torque": 20.0},
        "fore": {"at": [1.6, 0.2, 1.5], "axis": [-1, 0, 0], "torque": 20.0},
    }
    data = yard(fasteners=bolts)
    data["solids"] = {}
    data["restraints"]["stand"]["chain"][0] |= {"from": "-180 deg", "to": "180 deg"}
    site, asks = asked(data, ("fore", "aft"), "R")
    grid, ranking = searched(site, asks, sockets=("SK1",))
    assert not ranking.served
    (one,) = per_target(site, asks, grid, no_table, first)
    assert all(one.settings.values())
    for ask, target in zip(asks, ("fore", "aft"), strict=True):
        served = one.settings[target]
        assert margin_at(site, ask, "SK1", served.candidate.angles) == pytest.approx(served.worst)
    assert one.worst == min(served.worst for served in one.settings.values())


def test_a_socket_that_one_target_excludes_is_not_offered():
    site, asks = asked(yard(), ("easy", "far"), "R")
    grid, _ = searched(site, asks, sockets=("SK1", "SK2"))
    assert per_target(site, asks, grid, no_table, first) == ()
