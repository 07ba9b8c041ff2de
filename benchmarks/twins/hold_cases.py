"""Random payloads with grips: held, given, aligned, carried by hands, or moved past hands at work.

Some grips lie where two people who face each other over a payload want them, some where a random
legal posture has its fists, some out of reach.
"""

from __future__ import annotations

import random
from typing import Any

import numpy as np

from benchmarks.twins import space, work_cases
from benchmarks.twins.space import moved, pose, turned, unit, vector
from benchmarks.twins.work_body import limb, other_side, planted
from benchmarks.twins.work_cases import BODIES, MIRROR, SUITS, turns_of
from benchmarks.twins.writing import Q, clock

USE = ["shipped:suits", "shipped:restraints", "shipped:tools", "shipped:limits", "shipped:sizes"]
KINDS = ("hold", "hold", "give", "align", "carry", "past", "past")


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return people who have hands on a payload, or beside one."""
    kind = rng.choice(KINDS)
    boots = pose(turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
                 [rng.uniform(-1, 1) for _ in range(3)])  # fmt: skip
    scene: dict[str, Any] = {
        "format": 1, "use": USE, "procedure": "procedure.toml",
        "frames": {"site": space.any_site(rng)}, "solids": {}, "hazards": {},
        "handrails": {}, "handholds": {},
        "restraints": {"plate": {"kind": "foot restraint", "holds_torque": Q(100.0, "torque")}},
        "workers": {
            name: {"size": rng.choice(list(BODIES)), "hand": rng.choice(["right", "left"]),
                   "suit": rng.choice(["halden", "halden", "unsuited"])}
            for name in ("W", "V")
        },
        "limits": limits_of(rng),
    }  # fmt: skip
    bench = _Bench(rng, scene, boots)
    across = pose(turned([0, 0, 1], np.pi + 0.2 * rng.gauss(0, 1)),
                  [1.5 + rng.choice([0.0, 0.2, 0.2, 3.0]) * rng.uniform(-0.5, 1),
                   0.1 * rng.gauss(0, 1), 0.1 * rng.gauss(0, 1)])  # fmt: skip
    away = rng.choice([0.0, 0.0, 0.0, 0.0, 0.0, 2.0, 3.5])
    bench.station("PW", pose(np.eye(3), [-away if kind != "past" else 0.0, 0.0, 0.0]))
    bench.station("PV", across)
    if kind == "past":
        return scene, _past(rng, scene, bench)
    procedure = _held(rng, scene, bench, kind)
    scene["_planted"] = scene.get("_planted", False) and not away
    if rng.random() < 0.3:
        _beside(rng, scene, bench, procedure)
    return scene, procedure


def _beside(
    rng: random.Random, scene: dict[str, Any], bench: _Bench, procedure: dict[str, Any]
) -> None:
    """Let W take hold of another payload too, once the first is in hand."""
    side = rng.choice([-1.0, 1.0])
    at = pose(np.eye(3), [0.5 + 0.1 * rng.gauss(0, 1), side * rng.choice([0.3, 0.45, 0.7]), 1.3])
    scene["payloads"]["chest"] = {"poses": {"there": bench.placed(at)}}
    scene["solids"]["chest-a"] = {
        "in": "chest", "at": vector([0.25, 0.0, 0.0]), "box": vector([0.2, 0.2, 0.2])
    }  # fmt: skip
    for name, y in (("E0", 0.0), ("E1", 0.15 * side)):
        ends = ([0.0, y, -0.06], [0.0, y, 0.06])
        scene["handrails"][name] = {"in": "chest", "from": vector(ends[0]), "to": vector(ends[1])}
    grips = rng.choice([["E0"], ["E0"], ["E0"], ["E0", "E1"]])
    too = {
        "name": "too", "lane": "W", "where": "PW", "start": clock(180.0),
        "duration": Q(30.0, "time"), "actions": [{"do": "hold", "grips": grips}],
    }  # fmt: skip
    procedure["steps"].insert(2, too)


class _Bench:
    """Puts what is drawn in the boot frame of W into the site."""

    def __init__(self, rng: random.Random, scene: dict[str, Any], boots: Any) -> None:
        self.rng, self.scene, self.boots = rng, scene, boots

    def placed(self, at: Any) -> dict[str, Any]:
        whole = self.boots @ at
        return {"in": "site", "at": vector(whole[:3, 3]), "turn": turns_of(whole[:3, :3])}

    def station(self, name: str, at: Any) -> None:
        whole = self.boots @ at
        self.scene.setdefault("stations", {})[name] = {
            "in": "site", "at": vector(whole[:3, 3]), "up": [float(v) for v in whole[:3, 2]],
            "toes": [float(v) for v in whole[:3, 0]], "restraint": "plate",
        }  # fmt: skip

    def payload(self, poses: dict[str, Any], path: dict[str, Any], mass: float | None) -> None:
        record: dict[str, Any] = {"poses": {k: self.placed(at) for k, at in poses.items()}}
        record["paths"] = {"way": {"through": list(poses), **path}}
        if mass is not None:
            record["mass"] = Q(mass, "mass")
        self.scene["payloads"] = {"load": record}

    def things(self, near: list[Any], n: int) -> None:
        """Put solids near some points."""
        rng = self.rng
        for i in range(n):
            at = pose(turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
                      rng.choice(near) + rng.choice([0.1, 0.3]) * np.array(
                          [rng.gauss(0, 1) for _ in range(3)]))  # fmt: skip
            record = self.placed(at)
            record |= space.any_shape(rng)
            self.scene["solids"][f"thing{i}"] = record

    def hazards(self, near: list[Any], n: int, frames: dict[str, Any]) -> None:
        """Put hazards near some points, a few on the payload (``frames``: its first pose)."""
        rng = self.rng
        for i in range(n):
            size = rng.choice([0.02, 0.1, 0.1, 0.8])
            at = pose(turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
                      rng.choice(near) + rng.choice([0.02, 0.05, 0.15, 0.3]) * np.array(
                          [rng.gauss(0, 1) for _ in range(3)]))  # fmt: skip
            record = self.placed(at)
            if frames and rng.random() < 0.3:
                own = np.linalg.inv(frames["load"]) @ at
                record = {"in": "load", "at": vector(own[:3, 3]), "turn": turns_of(own[:3, :3])}
            record |= {
                "kind": rng.choice(["pinch", "pinch", "stored energy", "hot"]),
                "box": vector([size * rng.choice([0.5, 1.0]) for _ in range(3)]),
                "stand_off": Q(rng.choice([0.0, 0.05, 0.15]), "length"),
            }
            if rng.random() < 0.4:
                record["active"] = [[clock(0.0), clock(rng.choice([60.0, 120.0, 600.0]))]]
            self.scene["hazards"][f"danger{i}"] = record


def limits_of(rng: random.Random) -> dict[str, Any]:
    """Return some limits of the scene's own."""
    choices = {
        "reach_margin": Q(rng.choice([0.02, 0.1]), "length"),
        "grip_tolerance": Q(rng.choice([0.1, 0.35]), "angle"),
        "hand_clearance": Q(rng.choice([0.0, 0.05]), "length"),
        "body_clearance": Q(rng.choice([0.0, 0.03]), "length"),
        "arm_clearance": Q(rng.choice([0.0, 0.03]), "length"),
        "stop_distance": Q(rng.choice([0.05, 0.3]), "length"),
        "handling_force": Q(rng.choice([20.0, 100.0]), "force"),
    }
    return {key: value for key, value in choices.items() if rng.random() < 0.25}


def _grips(rng: random.Random, scene: dict[str, Any], here: Any) -> dict[str, list[str]]:
    """Write the grips of both workers, some planted at the fists of W; return them by worker."""
    bars: dict[str, list[tuple[Any, Any]]] = {"W": [], "V": []}
    for worker, x in (("W", -0.25), ("V", 0.25)):
        for y in (0.2, -0.2):
            half = np.array([0.0, rng.choice([0.05, 0.1]), 0.0])
            middle = np.array([x, y, 0.0])
            bars[worker].append((middle - half, middle + half))
    if rng.random() < 0.35:
        bars["W"], is_there = _planted_bars(rng, scene["workers"]["W"], here)
        scene["_planted"] = is_there
    names: dict[str, list[str]] = {"W": [], "V": []}
    for worker, some in bars.items():
        for i, (a, b) in enumerate(some):
            name = f"G{worker}{i}"
            names[worker].append(name)
            if np.linalg.norm(b - a) < 0.11 and rng.random() < 0.5:
                scene["handholds"][name] = {
                    "in": "load", "at": vector((a + b) / 2), "along": [float(v) for v in b - a]
                }  # fmt: skip
            else:
                scene["handrails"][name] = {"in": "load", "from": vector(a), "to": vector(b)}
    return names


def _planted_bars(
    rng: random.Random, worker: dict[str, Any], here: Any
) -> tuple[list[tuple[Any, Any]], bool]:
    """Return bars through both fists of a random legal posture, or beside them, in the payload."""
    body, suit = BODIES[worker["size"]], SUITS[worker["suit"]]
    over = rng.choice([0.5, 1.0, 1.5])
    right, q = planted(body, suit, None, rng, over)
    left = limb(body, suit, other_side(q), rng, over)
    size = rng.choice([0.0, 0.0, 0.0, 0.1, 0.5])
    off = size * unit([rng.gauss(0, 1) for _ in range(3)])
    own, found = np.linalg.inv(here), []
    for bones, flip in ((right, np.eye(3)), (left, MIRROR)):
        fist = flip @ (bones.wrist + body.links.grip * bones.hand[:, 0]) + off
        half = 0.05 * (flip @ bones.hand[:, 2])
        found.append((moved(own, fist - half), moved(own, fist + half)))
    return found, size == 0.0


def _held(rng: random.Random, scene: dict[str, Any], bench: _Bench, kind: str) -> dict[str, Any]:
    here = pose(turned([rng.gauss(0, 1) for _ in range(3)], rng.choice([0.0, 0.1, 0.5])),
                [0.75 + 0.08 * rng.gauss(0, 1), 0.1 * rng.gauss(0, 1), 1.35 + 0.1 * rng.gauss(0, 1)]
                )  # fmt: skip
    poses, at = {"here": here}, here
    for name in ("mid", "seat")[rng.choice([0, 1, 1]) :]:
        step = pose(turned([rng.gauss(0, 1) for _ in range(3)], rng.choice([0.0, 0.1, 1.2])),
                    rng.choice([0.05, 0.2, 0.5]) * unit([rng.gauss(0, 1) for _ in range(3)])
                    )  # fmt: skip
        at = at @ step
        poses[name] = at
    path: dict[str, Any] = {}
    if rng.random() < 0.4:
        path["about"] = vector([rng.uniform(-0.5, 0.5) for _ in range(3)])
    if rng.random() < 0.5:
        path["speed"] = Q(rng.choice([0.02, 0.1, 0.4, 0.8]), "speed")
    bench.payload(poses, path, rng.choice([30.0, 100.0, 300.0, 300.0, None]))
    names = _grips(rng, scene, here)
    scene["solids"]["load-a"] = {
        "in": "load", "box": vector([rng.choice([0.2, 0.36]), rng.choice([0.3, 0.8]), 0.2])
    }  # fmt: skip
    if rng.random() < 0.3:
        scene["solids"]["load-b"] = {
            "in": "load", "at": vector([0.0, 0.0, 0.3]), "turn": space.any_rotation(rng)[0],
            "cylinder": {"radius": Q(0.1, "length"), "height": Q(0.4, "length"), "sides": 16},
        }  # fmt: skip
    grips = [moved(here, [x, y, 0.0]) for x in (-0.25, 0.25) for y in (0.2, -0.2)]
    bench.things(grips, rng.choice([0, 0, 1, 3]))
    bench.hazards(grips, rng.choice([0, 1, 2]), {"load": here})
    if kind == "align":
        scene["guides"] = {"G": {"payload": "load", "pose": "seat", "offset": Q(0.02, "length"),
                                 "angle": Q(0.05, "angle")}}  # fmt: skip
    return _steps_of_hold(rng, names, kind)


def _steps_of_hold(rng: random.Random, names: dict[str, list[str]], kind: str) -> dict[str, Any]:
    def some(worker: str) -> list[str]:
        both = names[worker] if rng.random() < 0.5 else names[worker][::-1]
        return both[: rng.choice([1, 2, 2])]

    def step(name: str, lane: str, at: float, *actions: dict[str, Any]) -> dict[str, Any]:
        written = {"name": name, "lane": lane, "where": f"P{lane}", "start": clock(at),
                   "duration": Q(rng.choice([2.0, 30.0, 60.0]), "time"), "actions": list(actions)
                   }  # fmt: skip
        if rng.random() < 0.3:
            written["between"] = [Q(rng.choice([0.0, 1.0, 2.0]), "time"), Q(90.0, "time")]
        return written

    first: dict[str, Any] = {"do": "ingress"}
    if kind != "hold" and rng.random() < 0.4:
        first = {"do": "hold", "grips": some("V")[: 1 if kind == "give" else 2]}
    steps = [step("ready", "V", 0.0, first),
             step("take", "W", 120.0, {"do": "hold", "grips": some("W")})]  # fmt: skip
    if kind == "give":
        left = [one for one in names["V"] if one not in first.get("grips", [])]
        taken = left if len(left) < 2 else some("V")
        steps.append(step("give", "W", 240.0, {"do": "hand over", "to": "V", "grips": taken}))
    elif kind == "align":
        steps.append(step("go", "W", 240.0, {"do": "align", "guide": "G"}))
    elif kind == "carry":
        go = {**step("go", "W", 240.0, {"do": "move", "payload": "load"}), "path": "way"}
        if rng.random() < 0.2:
            del go["duration"]
        steps.append(go)
    return {"format": 1, "lanes": {"W": "worker", "V": "worker"}, "steps": steps}


def _past(rng: random.Random, scene: dict[str, Any], bench: _Bench) -> dict[str, Any]:
    """Return W who turns fasteners while a payload is moved past the hand."""
    worker = scene["workers"]["W"]
    body, suit = BODIES[worker["size"]], SUITS[worker["suit"]]
    scene["tools"], scene["bits"] = work_cases.TOOLS, {"bit": work_cases.BIT}
    spots, actions = [], []
    scene["fasteners"] = {}
    for i in range(rng.choice([1, 1, 2])):
        tool = rng.choice(["drive", "odd"])
        bones, _ = planted(body, suit, None, rng, rng.choice([0.3, 0.6]))
        tip_in_hand, axis = work_cases.tool_tip(tool)
        fist = bones.wrist + body.links.grip * bones.hand[:, 0]
        tip, way = fist + bones.hand @ tip_in_hand, bones.hand @ axis
        if worker["hand"] == "left":
            fist, tip, way = MIRROR @ fist, MIRROR @ tip, MIRROR @ way
        spots.append(fist)
        scene["fasteners"][f"B{i}"] = {
            "in": "site", "at": vector(moved(bench.boots, tip)),
            "axis": [float(v) for v in -bench.boots[:3, :3] @ way], "head": "16 mm",
            "torque": Q(8.0, "torque"),
        }  # fmt: skip
        actions.append({"do": "drive", "fastener": f"B{i}", "tool": tool, "bit": "bit"})
    size = [rng.choice([0.1, 0.4]) for _ in range(3)]
    through = spots[-1] + rng.choice([0.1, 0.4, 0.8]) * np.array(
        [rng.gauss(0, 1) for _ in range(3)]
    )
    ahead = unit([rng.gauss(0, 1) for _ in range(3)])
    rotation = turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3))
    poses = {}
    for name, far in (("here", -rng.uniform(0.0, 1.5)), ("seat", rng.uniform(0.1, 1.5))):
        poses[name] = pose(rotation, through + far * ahead)
        rotation = rotation @ turned([rng.gauss(0, 1) for _ in range(3)], rng.choice([0.0, 1.5]))
    bench.payload(poses, {}, 100.0)
    scene["solids"]["load-a"] = {"in": "load", "box": vector(size)}
    bench.things(spots, rng.choice([0, 0, 1]))
    bench.hazards(spots, rng.choice([0, 1]), {})
    start = rng.choice([0.0, 60.0, 600.0])
    go: dict[str, Any] = {
        "name": "go", "lane": "M", "path": "way", "start": clock(start),
        "duration": Q(rng.choice([60.0, 300.0]), "time"),
        "actions": [{"do": "move", "payload": "load"}],
    }  # fmt: skip
    work: dict[str, Any] = {
        "name": "work", "lane": "W", "where": "PW", "start": clock(0.0),
        "duration": Q(rng.choice([90.0, 400.0]), "time"), "actions": actions,
    }  # fmt: skip
    if rng.random() < 0.3:
        work["between"] = [Q(30.0, "time"), Q(rng.choice([450.0, 900.0]), "time")]
    return {"format": 1, "lanes": {"W": "worker", "M": "inside lead"}, "steps": [work, go]}
