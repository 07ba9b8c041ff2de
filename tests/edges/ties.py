"""Small scenes in which a measured length, angle or time can meet a limit exactly."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import chores
import cranes
import errands
import handing
import moves
import yard
from bench import bench, drive, step
from elsewhere import HERE, by_the_door, put

from reach.arm import chain_of, full_reach
from reach.finding import Finding

HAIR = 1e-6
"""Brackets no wider than this are those of rounding; wider ones are met at their low end."""

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Tie:
    """A small scene in which one number of a check can be met exactly.

    Attributes
    ----------
    check : str
    scene, steps, lanes, tables
        As `by_the_door` takes them.
    at : tuple of str
        Keys to the number that is moved.
    value : float
        What it is at first.
    sign : float
        +1 where the margin shrinks as the number grows, -1 where it grows.
    answer : str
        Which of several findings is meant, by its answer or step.
    scale : callable
        New number from old number and margin, where it is not a sum.
    """

    check: str
    scene: Mapping[str, Any]
    steps: Sequence[Mapping[str, Any]]
    at: Path
    value: float
    sign: float = 1.0
    answer: str = ""
    lanes: Mapping[str, str] | None = None
    tables: Mapping[str, Any] = field(default_factory=dict)
    scale: Callable[[float, float], float] | None = None

    def find(self, folder: Any, value: float, frame: str) -> Finding:
        """Return the finding that is meant, with a value for the number, in a frame."""
        data, tables = copy.deepcopy(dict(self.scene)), copy.deepcopy(dict(self.tables))
        into = tables if self.at[0] in tables else data
        for key in self.at[:-1]:
            into = into[key] if isinstance(key, int) or key in into else into.setdefault(key, {})
        into[self.at[-1]] = value
        found = by_the_door(
            folder, put(data, frame), self.steps, (self.check,), self.lanes, **tables
        )
        wanted = [one for one in found if self.answer in (one.answer, one.step, "")]
        return min(wanted, key=lambda one: (math.isnan(one.low), one.low))

    def met(self, folder: Any) -> float:
        """Return the number with which nothing is left of what is asked at home."""
        first = self.find(folder, self.value, HERE)
        assert math.isfinite(first.low), first
        narrow = first.high - first.low <= 3.0 * HAIR
        left = 0.5 * (first.low + first.high) if narrow else first.low + 1e-9
        return self.scale(self.value, left) if self.scale else self.value + self.sign * left


EASY = (step("easy", "R", drive("easy")),)
WAY = (moves.move(route=["RA", "RB", "RC"]),)
IN_THE_YARD = {"M": "inside lead", "R": "worker", "L": "worker"}
AT_THE_CRANE = {"CO": "crane", "R": "worker"}
TO = (cranes.crane_step("near"),)
PUSHED = {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], "push": 20.0}
FULL = full_reach(chain_of(cranes.arm()))
"""How far the crane's arm reaches (m)."""


def hot() -> dict[str, Any]:
    data = bench(limits={"hot_structure": "60 degC"})
    data["solids"]["panel"]["temperature"] = ["20 degC", "120 degC"]
    return data


def rated() -> dict[str, Any]:
    data = bench(fasteners={"p": PUSHED})
    data["sockets"]["SK1"]["rating"] = {"force": 1000.0, "moment": 400.0}
    return data


def lid(y: float = 1.4) -> dict[str, Any]:
    """A wall with a lid over its rails, beside the tube that a body takes."""
    return moves.wall(solids={"lid": {"box": [1.0, 0.2, 1.0], "at": [3.5, y, 0.0]}})


def hazard(kind: str, **more: Any) -> dict[str, Any]:
    one = {"kind": kind, "box": [0.3, 0.3, 0.3], "at": [3.5, 1.9, 0.4], "stand_off": 0.0, **more}
    return moves.wall(hazards={"one": one})


def two() -> tuple[dict[str, Any], tuple[dict[str, Any], ...]]:
    data = moves.wall(
        workers={"L": {"size": "medium", "hand": "left", "suit": "halden"}},
        tethers={"T3": {"length": 12.0, "anchor": "A4", "worker": "L"}},
    )
    return data, (moves.move("RB@1.0", name="first", lane="L", route=["RA", "RB"]), *WAY)


def laid() -> tuple[dict[str, Any], tuple[dict[str, Any], ...], dict[str, Any]]:
    corner = {
        "anchors": {"P": {"at": [0.0, 0.0, 5.0]}, "Q": {"at": [1.0, 0.1, 5.2]}},
        "fasteners": {"C": {"at": [1.3, 2.0, 4.6], "axis": [0, 1, 0], "kind": "connector"}},
        "items": {"L": {"length": 3.5, "bend": 0.2}},
    }
    action = {"do": "lay", "item": "L", "to": "C", "through": ["P", "Q"]}
    begin = {"items": {**errands.PACKED, "L": "W"}}
    return errands.yard(**corner), (errands.step("lay", action),), {"begin": begin}


def beside(y: float) -> tuple[dict[str, Any], tuple[dict[str, Any], ...]]:
    socket = {"at": [0.0, y, -1.5], "axis": [0, 0, 1], "zero": [0, -1, 0]}
    return yard.yard(sockets={"S": socket}), (yard.standing("R", "S"), yard.carry())


def seated() -> tuple[dict[str, Any], tuple[dict[str, Any], ...]]:
    socket = {"at": [-3.0, 1.2, -1.2], "axis": [0, 0, 1], "zero": [0, -1, 0]}
    guide = {
        "payload": "crate", "pose": "seated", "at": [0.0, -0.5, 0.0], "offset": 0.05,
        "angle": "2 deg",
    }  # fmt: skip
    data = yard.yard(
        guides={"G": guide},
        handrails={"bar": {"in": "crate", "from": [-0.2, 0.6, 0.0], "to": [0.2, 0.6, 0.1]}},
        sockets={"S": socket},
        solids={"jamb": {"box": [0.2, 0.4, 1.0], "at": [-2.2, -0.6, 0.0]}},
        payloads={"crate": {"mass": 300.0}},
    )
    data["payloads"]["crate"]["poses"]["seated"] = {"at": [-3.0, -0.5, 0.0]}
    grip = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["bar"]}]}
    align = {
        "name": "align", "lane": "R", "duration": "1 min", "start": "01:00",
        "actions": [{"do": "align", "guide": "G"}],
    }  # fmt: skip
    return data, (yard.standing("R", "S", duration="5 min"), grip, align)


def crane(**changes: Any) -> dict[str, Any]:
    data = cranes.yard(**changes)
    del data["stations"]["ground"]  # it is on no crane, and files have no word for nothing
    return data


def knot() -> dict[str, Any]:
    one = {"kind": "pinch", "box": [0.02, 0.02, 0.02], "at": [0.5, 0.45, 1.35], "stand_off": 0.1}
    return handing.crate(hazards={"knot": one})


def ridden() -> tuple[dict[str, Any], tuple[dict[str, Any], ...]]:
    steps = (
        chores.out("W2"),
        chores.go("W2", "lock", "far"),
        chores.job("board", "W2", "ingress", where="up"),
        chores.job("move", "CO", "move crane to out", after=["board"]),
    )
    return chores.yard(), tuple({"duration": 0, **one} for one in steps)


def wall_tie(check: str, at: Path, value: float, sign: float = 1.0, **more: Any) -> Tie:
    return Tie(
        check, more.pop("scene", moves.wall()), more.pop("steps", WAY), at, value, sign, **more
    )


BOTH, PAIR = two()
LEAD, LAY, PACKED = laid()
RIDE, RIDING = ridden()
STOOD, BY = beside(3.0)
SEAT, SEATING = seated()

TIES = {
    "route: from rail to rail": wall_tie("route", ("limits", "rail_gap"), 0.9, -1),
    "route: from the hatch to the rail": wall_tie(
        "gap", ("limits", "place_span"), 1.2, -1, steps=(moves.move("RA@1.0"),)
    ),
    "gap: the widest of a way": wall_tie("gap", ("limits", "rail_gap"), 0.9, -1),
    "gap: from the hatch to the rail": wall_tie(
        "gap", ("limits", "place_span"), 1.2, -1, steps=(moves.move("RA@1.0", route=["RA"]),)
    ),
    "corridor: a lid beside the tube": wall_tie(
        "corridor", ("solids", "lid", "at", 1), 1.4, -1, scene=lid()
    ),
    "stand-off: of a hazard": wall_tie(
        "stand-off", ("hazards", "one", "stand_off"), 0.05, scene=hazard("hot")
    ),
    "passing: the wall": wall_tie("passing", ("limits", "body_clearance"), 0.08),
    "tether: as long as its way": wall_tie("tether", ("tethers", "T1", "length"), 12.0, -1),
    "pace: the time of a way": wall_tie(
        "pace",
        ("limits", "pace_free"),
        0.2,
        scale=lambda pace, left: pace * (600.0 - left) / 600.0,
    ),
    "line-home: a break that is felt across": wall_tie(
        "line-home", ("limits", "place_span"), 1.2, -1
    ),
    "kick: a lamp in the band": wall_tie(
        "kick",
        ("limits", "kick_band"),
        0.3,
        scene=moves.wall(
            solids={"lamp": {"box": [0.2] * 3, "at": [3.0, 1.6, 0.0], "kick_load": "100 N"}}
        ),
    ),
    "edge: a glove": wall_tie(
        "edge",
        ("limits", "edge_gap"),
        0.02,
        scene=moves.wall(
            hazards={"b": {"kind": "sharp edge", "box": [0.2, 0.1, 0.1], "at": [1.0, 0.4, 0.3]}}
        ),
    ),
    "exposure: a vent": wall_tie(
        "exposure", ("hazards", "one", "stand_off"), 0.0, scene=hazard("vent")
    ),
    "companion: the way between two": wall_tie(
        "companion",
        ("limits", "companion_distance"),
        30.0,
        -1,
        scene=BOTH,
        steps=PAIR,
        answer="go",
    ),
    "rescue: the time home": wall_tie(
        "rescue", ("limits", "return_time"), 3600.0, -1, scene=BOTH, steps=PAIR, answer="go"
    ),
    "access: round the bit": Tie("access", bench(), EASY, ("limits", "access_gap"), 0.002),
    "inner: from the boots": Tie("inner", bench(), EASY, ("limits", "inner_margin"), 0.02),
    "touch: hot structure": Tie(
        "touch", hot(), EASY, ("limits", "hot_distance"), 0.01, answer="panel"
    ),
    "load: the moment of a push": Tie(
        "load",
        rated(),
        (step("p", "R", drive("p")),),
        ("sockets", "SK1", "rating", "moment"),
        20.0,
        scale=lambda most, left: most * (1.0 - left),
    ),
    "lead: as long as its way": Tie(
        "lead", LEAD, LAY, ("items", "L", "length"), 3.5, -1, "length", errands.LANES, PACKED
    ),
    "lead: bent as it bears": Tie(
        "lead", LEAD, LAY, ("items", "L", "bend"), 0.2, 1, "bend", errands.LANES, PACKED
    ),
    "sweep: past the wall": Tie(
        "sweep",
        yard.yard(),
        (yard.carry(),),
        ("limits", "payload_clearance"),
        0.1,
        lanes=IN_THE_YARD,
    ),
    "sweep: turning past the wall": Tie(
        "sweep",
        yard.yard(),
        (yard.carry("turning"),),
        ("limits", "payload_clearance"),
        0.1,
        lanes=IN_THE_YARD,
    ),
    "bystander: who stands beside": Tie(
        "bystander", STOOD, BY, ("limits", "worker_distance"), 0.5, lanes=IN_THE_YARD
    ),
    "approach: how fast": Tie(
        "approach", SEAT, SEATING, ("limits", "approach_speed"), 0.05, -1, "speed", IN_THE_YARD
    ),
    "approach: what is beside the seat": Tie(
        "approach", SEAT, SEATING, ("limits", "payload_clearance"), 0.05, 1, "room", IN_THE_YARD
    ),
    "approach: how far off hands may keep it": Tie(
        "approach", SEAT, SEATING, ("guides", "G", "offset"), 0.05, -1, "capture", IN_THE_YARD
    ),
    "momentum: what hands bear": Tie(
        "momentum", SEAT, SEATING, ("limits", "handling_force"), 200.0, -1, "", IN_THE_YARD
    ),
    "grips: how far inside the reach": Tie(
        "grips", handing.crate(), (handing.TAKE,), ("limits", "reach_margin"), 0.0
    ),
    "hand-hazard: a pinch point by a grip": Tie(
        "hand-hazard", knot(), (handing.TAKE,), ("hazards", "knot", "stand_off"), 0.05
    ),
    "helmets: of two who face each other": Tie(
        "helmets",
        handing.crate(),
        (handing.READY, handing.TAKE),
        ("limits", "helmet_distance"),
        0.5,
        answer="helmets, L",
    ),
    "crane-reach: from the base to the tip": Tie(
        "crane-reach",
        crane(),
        TO,
        ("limits", "crane_reserve"),
        0.1,
        lanes=AT_THE_CRANE,
        scale=lambda share, left: share + left / FULL,
    ),
    "boarding: from the rail": Tie(
        "boarding",
        crane(),
        (cranes.crane_step("by the mast"), cranes.stand("by the mast"), cranes.walk("R1@0.5")),
        ("limits", "place_span"),
        1.2,
        -1,
        lanes=AT_THE_CRANE,
    ),
    "tether-riding: as long as the straight line": Tie(
        "tether-riding",
        RIDE,
        RIDING,
        ("tethers", "T2", "length"),
        12.0,
        -1,
        "",
        chores.LANES,
        {"begin": chores.begun()},
    ),
}
