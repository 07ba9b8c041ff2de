"""The scene made computable: frames chained, tools fitted, settings turned into boot poses."""

import math

import numpy as np
import pytest

from reach.geometry import segment_distance
from reach.model.hardware import Restraint
from reach.model.limits import LIMITS
from reach.model.procedure import Drive
from reach.model.scene import Scene
from reach.placing import (
    boots_from_setting,
    frames_of,
    head_of,
    held_of,
    place_of,
    setting_angles,
    shown,
    socket_pose,
    surroundings_of,
)

QUARTER = [{"axis": [0, 0, 1], "angle": "90 deg"}]
STAND = {
    "kind": "foot restraint",
    "chain": [
        {
            "name": "clocking", "turn": "z", "from": 0, "to": "330 deg", "step": "30 deg",
            "numbered": True,
        },
        {"shift": [0, 0, 0.35]},
        {"name": "pitch", "turn": "y", "from": "-90 deg", "to": "90 deg", "step": "7.5 deg"},
    ],
}  # fmt: skip


def scene(**tables):
    return Scene(format=1, **tables)


def test_frames_are_chained_and_turned_in_the_order_written():
    both = [*QUARTER, {"axis": [1, 0, 0], "angle": "90 deg"}]
    made = frames_of(
        scene(
            frames={"a": {"at": [1, 0, 0], "turn": QUARTER}, "b": {"in": "a", "at": [2, 0, 0]}},
            solids={"s": {"in": "b", "box": [1, 1, 1], "turn": both}},
        ),
        {},
    )
    assert made["b"][:3, 3] == pytest.approx([1, 2, 0])
    # x goes to y by the first turn and to z by the second, then a's turn leaves z alone.
    assert made["s"][:3, :3] @ [1, 0, 0] == pytest.approx([0, 0, 1])


def test_a_payload_is_where_it_was_placed_else_at_its_first_pose():
    there = scene(payloads={"p": {"poses": {"one": {"at": [1, 0, 0]}, "two": {"at": [2, 0, 0]}}}})
    assert frames_of(there, {})["p"][0, 3] == 1.0
    assert frames_of(there, {"p": "two"})["p"][0, 3] == 2.0


def test_a_setting_turns_joints_in_the_order_of_the_chain():
    stand = Restraint(**STAND)
    pose = boots_from_setting(stand, {"clocking": math.pi / 2, "pitch": math.pi / 2})
    assert pose[:3, 3] == pytest.approx([0, 0, 0.35])
    # Toes: pitched down the socket axis; sole normal: x of the clocked frame, which is y.
    assert pose[:3, 0] == pytest.approx([0, 0, -1], abs=1e-12)
    assert pose[:3, 2] == pytest.approx([0, 1, 0], abs=1e-12)


def test_settings_read_back_as_they_are_shown():
    stand = Restraint(**STAND)
    angles = setting_angles(stand, {"clocking": 4, "pitch": math.radians(-7.5)})
    assert angles["clocking"] == pytest.approx(math.radians(120))
    assert shown(stand, angles) == "clocking 4, pitch -7.5 deg"


def test_a_socket_frame_has_its_axis_as_z_and_zero_made_square():
    made = scene(
        frames={"f": {"at": [0, 0, 5], "turn": QUARTER}},
        sockets={"s": {"in": "f", "at": [1, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 1]}},
    )
    pose = socket_pose(made.sockets["s"], frames_of(made, {}))
    assert pose[:3, 3] == pytest.approx([0, 1, 5])
    assert pose[:3, 0] == pytest.approx([0, 1, 0], abs=1e-12)
    assert pose[:3, 2] == pytest.approx([0, 0, 1], abs=1e-12)


def test_a_place_is_blank_only_when_there_is_something_to_set():
    made = scene(
        sockets={"s": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}},
        stations={"t": {"at": [0, 0, 1], "up": [0, 0, 1], "toes": [0, 1, 0], "restraint": "flat"}},
        restraints={"stand": STAND, "flat": {"kind": "none"}},
        items={"FR-1": {"is": "stand"}},
    )
    world = frames_of(made, {})
    assert place_of(made, world, "s", "FR-1", None).world_from_boots is None
    assert place_of(made, world, "s", "flat", None).world_from_boots is not None
    station = place_of(made, world, "t", None, None)
    assert station.world_from_boots[:3, 0] == pytest.approx([0, 1, 0])
    set_one = place_of(made, world, "s", "FR-1", {"clocking": 0, "pitch": 0.0})
    assert set_one.world_from_boots[2, 3] == pytest.approx(0.35)
    assert set_one.restraint_name == "FR-1"


def test_bit_and_extension_add_to_the_tool_along_its_axis():
    made = scene(
        tools={
            "drill": {
                "kind": "drive", "tip": [0.2, 0, 0.05], "axis": [0, 0, 2], "takes_bits": True,
                "shaft": 0.005, "shaft_length": 0.02,
            }
        },
        bits={"b": {"head": "hex", "length": 0.05, "radius": 0.013}},
        extensions={"e": {"length": 0.15, "radius": 0.008}},
        items={"D-1": {"is": "drill"}, "B-1": {"is": "b"}},
    )  # fmt: skip
    bare = held_of(made, Drive(do="drive", fastener="f", tool="D-1"))
    full = held_of(made, Drive(do="drive", fastener="f", tool="D-1", bit="B-1", extension="e"))
    assert bare.tip == pytest.approx([0.2, 0, 0.05])
    assert full.tip == pytest.approx([0.2, 0, 0.25])
    assert full.shaft_length == pytest.approx(0.22)
    assert (bare.shaft_radius, full.shaft_radius) == (0.005, 0.013)
    assert full.bit_head == "hex"
    assert full.title == "D-1 + e + B-1"


def test_heads_take_the_default_radius_where_they_have_none():
    made = scene(
        fasteners={
            "a": {"at": [0, 0, 0], "axis": [0, 0, 3], "head_radius": 0.02},
            "b": {"at": [0, 0, 0], "axis": [0, 0, 1]},
        }
    )
    world = frames_of(made, {})
    assert head_of(made, world, "a", 0.01).radius == 0.02
    assert head_of(made, world, "b", 0.01).radius == 0.01
    assert head_of(made, world, "a", 0.01).axis == pytest.approx([0, 0, 1])


def test_every_triangle_knows_its_solid_and_its_convex_part():
    mesh = np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    made = scene(
        solids={
            "box": {"box": [1, 1, 1]},
            "ring": {"cylinder": {"radius": 1, "height": 1, "bore": 0.5, "sides": 8}},
            "mesh": {"mesh": {"file": "m.stl", "unit": "m", "up": "z"}},
        }
    )
    found = surroundings_of(made, frames_of(made, {}), {"mesh": mesh})
    assert found.names == ("box", "ring", "mesh")
    assert np.bincount(found.solid_of).tolist() == [12, 64, 1]
    assert set(found.part_of[found.solid_of == 0]) == {0}
    assert set(found.part_of[found.solid_of > 0]) == {-1}
    assert len(found.parts) == 1
    sagitta = 1 - math.cos(math.pi / 8)
    assert found.errors == pytest.approx([0.0, sagitta, 0.0])
    # Only the bore has facets that stand outside the material.
    assert found.excess == found.error == pytest.approx(sagitta)


def test_round_hazards_carry_their_facets_in_the_stand_off():
    rod = {"kind": "hot", "cylinder": {"radius": 0.5, "height": 2, "sides": 6}, "stand_off": 0.1}
    made = scene(solids={"box": {"box": [1, 1, 1]}}, hazards={"rod": rod})
    ((_, _, tree, stand_off),) = surroundings_of(made, frames_of(made, {}), {}).hazards
    assert stand_off == pytest.approx(0.1 + 0.5 * (1 - math.cos(math.pi / 6)))
    p = np.array([[2.0, 0.1, 0.0]])
    # No point of the true rod is nearer than the facets less what is in the stand-off.
    assert segment_distance(tree, p, p).distance[0] - stand_off + 0.1 <= np.hypot(2, 0.1) - 0.5


def test_a_world_without_solids_is_searched_too():
    made = scene()
    found = surroundings_of(made, frames_of(made, {}), {})
    assert found.names == () and len(found.solid_of) == 0
    assert found.error == found.excess == 0.0
    assert segment_distance(found.tree, np.zeros((1, 3)), np.zeros((1, 3))).distance[0] > 1e5


def test_limits_have_names_that_the_checks_ask_for():
    assert {"reach_margin", "access_gap", "visible_share", "head_radius"} <= set(LIMITS)
