"""A scene 10 km from the origin, turned or both, gives the same answers: read from files again.

What the checks find is compared finding by finding.  Every answer is a bracket of the same
margin, so two of them overlap; how far their ends may differ is what a check says of its own
precision.
"""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import cranes
import errands
import handing
import moves
import pytest
import yard
from bench import bench, drive, step
from elsewhere import FRAMES, HERE, by_the_door, put

from reach.finding import Finding

AWAY = [frame for frame in FRAMES if frame != HERE]
ROUNDING = 1e-7
"""What a bound that is not searched for may differ by (m, rad, N m, s): far above what it does."""

WITHIN = {
    "kick": 2e-3, "exposure": 2e-3, "sag": 5e-2, "passing": 5e-3, "sweep": 2e-3, "approach": 2e-3,
    "bystander": 5e-2, "watch": 0.2, "pinch": 2e-3, "ingress": 1e-3,
}  # fmt: skip
"""How near a check brings its bracket to what it measures, where that is not to rounding (m)."""

RATCHET = {"tool": "ratchet", "bit": "S-11"}
WORK = (
    step("easy", "R", drive("easy")),
    step("far", "R", drive("far")),
    step("low", "L", drive("low")),
    step("swung", "R", drive("easy", **RATCHET)),
    step("look", "L", {"do": "inspect", "fastener": "behind"}),
)
CHECKS_OF_WORK = (
    "reach", "socket", "effort", "access", "glove", "inner", "error", "ingress", "clearance",
    "sight", "torque", "load", "push",
)  # fmt: skip
HAZARDS = {
    "burr": {"kind": "sharp edge", "box": [0.2, 0.01, 0.01], "at": [1.0, 0.4, 0.3]},
    "heater": {"kind": "hot", "box": [0.3, 0.3, 0.3], "at": [3.5, 1.6, 0.4], "stand_off": 0.05},
    "vent": {
        "kind": "vent", "cone": {"base": 0.05, "top": 0.3, "height": 1.0}, "at": [5.0, 1.2, 0.0]
    },
}  # fmt: skip
LAMP = {"lamp": {"box": [0.2, 0.2, 0.2], "at": [3.0, 1.6, 0.0], "kick_load": "100 N"}}
TWO = {"L": {"size": "medium", "hand": "left", "suit": "halden"}}
THIRD = {"T3": {"length": 12.0, "anchor": "A4", "worker": "L"}}
BLANK = moves.move("RB@0.5", start="RC@1.0", name="back", tether="T2")
OUTING = (
    moves.move("RB@1.0", name="first", lane="L", route=["RA", "RB"]),
    moves.move(route=["RA", "RB", "RC"]),
    BLANK,
)
CHECKS_OF_MOVES = (
    "route", "gap", "rails", "pace", "corridor", "stand-off", "passing", "tether", "rescue",
    "companion", "line-home", "anchor", "hook", "kick", "exposure", "edge", "crossing", "sag",
    "swing",
)  # fmt: skip
CARRIED = (yard.standing("R", "S"), yard.carry("turning"))
SOCKET = {"S": {"at": [0.0, 3.0, -1.5], "axis": [0, 0, 1], "zero": [0, -1, 0]}}
LAID = {
    "anchors": {"P": {"at": [0.0, 0.0, 5.0]}, "Q": {"at": [1.0, 0.1, 5.2]}},
    "fasteners": {"C": {"at": [1.3, 2.0, 4.6], "axis": [0, 1, 0], "kind": "connector"}},
    "items": {"L": {"length": 3.5, "bend": 0.2}},
}


def _crane() -> dict[str, Any]:
    data = cranes.yard()
    del data["stations"]["ground"]
    return data


SCENES: dict[str, tuple[Any, Any, Any, Any, dict[str, Any]]] = {
    "work at a panel": (bench(), WORK, CHECKS_OF_WORK, None, {}),
    "two on their way": (
        moves.wall(hazards=HAZARDS, solids=LAMP, workers=TWO, tethers=THIRD), OUTING,
        CHECKS_OF_MOVES, None, {},
    ),
    "a crate past a wall": (
        yard.yard(sockets=SOCKET), CARRIED, ("sweep", "bystander", "watch"),
        {"M": "inside lead", "R": "worker"}, {},
    ),
    "a crane": (
        _crane(), (cranes.crane_step("by the mast"), cranes.stand("by the mast")),
        ("crane-reach", "joints", "links", "boarding"), {"CO": "crane", "R": "worker"}, {},
    ),
    "hand to hand": (
        handing.crate(), handing.JOB, ("grips", "helmets", "momentum", "approach"), None, {}
    ),
    "a lead": (
        errands.yard(**LAID),
        (errands.step("lay", {"do": "lay", "item": "L", "to": "C", "through": ["P", "Q"]}),),
        ("lead", "present"), errands.LANES, {"begin": {"items": {**errands.PACKED, "L": "W"}}},
    ),
}  # fmt: skip


@cache
def found(scene: str, frame: str) -> tuple[Finding, ...]:
    data, steps, only, lanes, tables = SCENES[scene]
    with TemporaryDirectory() as folder:
        return by_the_door(Path(folder), put(data, frame), steps, only, lanes, **tables)


def keyed(findings: tuple[Finding, ...]) -> dict[tuple[str, ...], Finding]:
    """Return findings by check, step, case, who is concerned and answer."""
    out: dict[tuple[str, ...], Finding] = {}
    for one in findings:
        key = (one.check, one.step, one.case, one.answer, *one.about)
        out[(*key, str(sum(other[:-1] == key for other in out)))] = one
    return out


@pytest.mark.parametrize("scene", SCENES)
def test_the_scene_asks_each_of_its_checks_something(scene):
    asked = {one.check for one in found(scene, HERE) if not math.isnan(one.low)}
    assert asked >= set(SCENES[scene][2])


@pytest.mark.parametrize("frame", AWAY)
@pytest.mark.parametrize("scene", SCENES)
def test_the_same_scene_elsewhere_has_the_same_answers(scene, frame):
    here, there = keyed(found(scene, HERE)), keyed(found(scene, frame))
    assert here.keys() == there.keys()
    for key, one in here.items():
        other = there[key]
        assert other.verdict is one.verdict, key
        if math.isnan(one.low):
            continue
        within = WITHIN.get(one.check, ROUNDING)
        assert other.low == pytest.approx(one.low, abs=within, rel=1e-9), key
        assert other.high == pytest.approx(one.high, abs=within, rel=1e-9), key
        # Both are brackets of one margin.
        assert one.low <= other.high + ROUNDING and other.low <= one.high + ROUNDING, key
