"""Random junctions: arms of rails that meet in a hub, lines led along them, anchors among things.

Arms lie about in a plane and in a known order round the hub, so that it is known which two lines
have to cross: those of which the four ends lie on four arms, in turn.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from typing import Any

import numpy as np

from benchmarks.twins import space, work_cases
from benchmarks.twins.space import unit, vector
from benchmarks.twins.writing import Q, clock

USE = ["shipped:suits", "shipped:restraints", "shipped:limits", "shipped:sizes"]
SPAN, SLACK, SHARE = 1.2, 1.0, 0.5
"""Limits where a scene gives none of its own (m, m, share)."""

HOP = 1.1
"""Nobody is nearer to the hub (m): ways cut its corners by a gap at most."""


class Arms:
    """Arms of rails round a hub: rails in a row on each, in the site's frame."""

    def __init__(self, rng: random.Random) -> None:
        self.n = rng.choice([3, 4, 4, 4, 5, 6])
        self.rails: list[list[tuple[str, float, float]]] = []
        self.ways: list[Any] = []
        self.turn: list[int] = []
        self.normal = np.array([0.0, 0.0, 1.0])
        for k in range(self.n):
            angle = 2.0 * math.pi * (k + rng.uniform(-0.12, 0.12)) / self.n
            self.ways.append(unit([math.cos(angle), math.sin(angle), rng.uniform(-0.15, 0.15)]))
            row, at = [], rng.uniform(0.15, 0.25)
            for i in range(rng.choice([1, 2, 2, 3])):
                end = at + rng.uniform(1.0, 2.2) + (0.6 if i == 0 else 0.0)
                row.append((f"R{k}{i}", at, end))
                at = end + rng.choice([0.1, 0.3, 0.5])
            self.rails.append(row)

    def end(self, arm: int) -> float:
        """Return how far an arm goes from the hub, m."""
        return self.rails[arm][-1][2]

    def point(self, arm: int, far: float) -> Any:
        """Return a point of an arm."""
        return far * self.ways[arm]

    def place(self, rng: random.Random, arm: int) -> tuple[str, Any]:
        """Return a place on an arm, well off the hub, by name, and its point."""
        name, low, high = rng.choice(self.rails[arm])
        far = rng.uniform(max(low, HOP), high)
        return f"{name}@{max(0.0, far - low - 1e-5):.6f}", self.point(arm, far)


def scene_of(rng: random.Random) -> tuple[dict[str, Any], Arms]:
    """Return a random junction with anchors, lines and things."""
    arms = Arms(rng)
    limits = {
        key: value for key, value in {
            "place_span": Q(rng.choice([0.8, 1.0, 1.5]), "length"),
            "tether_slack": Q(rng.choice([0.2, 0.5]), "length"),
            "visible_share": rng.choice([0.3, 0.8]),
        }.items() if rng.random() < 0.3
    }  # fmt: skip
    span = float(limits.get("place_span", SPAN))
    rails = {
        name: {
            "in": "site", "from": vector(arms.point(k, low)), "to": vector(arms.point(k, high)),
            "out": [float(v) for v in arms.normal],
        }
        for k, row in enumerate(arms.rails) for name, low, high in row
    }  # fmt: skip
    anchors, on = {}, {}
    arms.turn = rng.sample(range(arms.n), 3)
    if arms.n > 3 and rng.random() < 0.7:  # two lines with their ends in turn
        arms.turn = sorted(rng.sample(range(arms.n), 4))
    for name in ("A", "B", "C", "D", "E"):
        arm = on[name] = {"A": arms.turn[0], "B": arms.turn[1]}.get(name, rng.randrange(arms.n))
        at = arms.point(arm, rng.uniform(HOP, arms.end(arm)))
        at = at + rng.uniform(-0.1, 0.3) * arms.normal
        at = at + rng.uniform(-0.05, 0.05) * unit(np.cross(arms.normal, arms.ways[arm]))
        anchors[name] = {"in": "site", "at": vector(at), "rating": Q(2000.0, "force")}
    hatches = {}
    for k in range(rng.choice([1, 1, 2])):
        near = _at(anchors[rng.choice(["A", "B", "C"])]["at"])
        off = unit([rng.gauss(0, 1) for _ in range(3)])
        far = span * rng.choice([0.2, 0.9, 0.9999, 1.0001, 1.5, 4.0, 9.0])
        hatches[f"lock{k or ''}"] = {"in": "site", "at": vector(near + far * off)}
    longer = rng.choice([[0.0], [0.0, 1.0, 9.0]])
    scene: dict[str, Any] = {
        "format": 1, "use": USE, "procedure": "procedure.toml",
        "frames": {"site": space.any_site(rng)},
        "solids": {}, "handrails": rails, "hatches": hatches, "anchors": anchors,
        "tethers": {
            f"T{k}": {"length": Q(rng.choice(longer) + rng.uniform(1.5, 3.0), "length")}
            for k in (1, 2, 3, 4, 5)
        },
        "workers": {
            name: {"size": rng.choice(list(work_cases.BODIES)), "hand": "right", "suit": "halden"}
            for name in ("W", "V", "X")
        },
        "limits": limits, "_arms": on,
    }  # fmt: skip
    for name in ("A", "B", "C"):
        if rng.random() < 0.6:
            scene["solids"] |= _round(rng, name, _at(anchors[name]["at"]), arms.ways[on[name]])
    return scene, arms


def _at(values: Any) -> Any:
    return np.array([float(v) for v in values])


def _round(rng: random.Random, name: str, at: Any, way: Any) -> dict[str, Any]:
    """Return things round an anchor: a block or a ball that swallows it, or boards beside it."""
    if rng.random() < 0.4:
        half = rng.choice([0.01, 0.019, 0.025, 0.03, 0.05, 0.1])
        off = rng.choice([0.0, 0.0, 0.9 * half]) * unit([rng.gauss(0, 1) for _ in range(3)])
        record: dict[str, Any] = {"in": "site", "at": vector(at + off)}
        if rng.random() < 0.5:
            record |= {"box": vector([2 * half] * 3), "turn": space.any_rotation(rng)[0]}
        else:
            record["cylinder"] = {"radius": Q(half, "length"), "height": Q(2 * half, "length"),
                                  "sides": 32}  # fmt: skip
        return {f"over-{name}": record}
    found = {}
    for k in range(rng.choice([1, 2, 3])):
        off = unit([rng.gauss(0, 1) for _ in range(3)] + rng.choice([0.0, 1.0]) * np.eye(3)[2])
        x = unit(np.cross(off, way))
        turn = np.stack([x, np.cross(off, x), off], axis=1)
        size = rng.choice([0.05, 0.2, 0.6])
        found[f"board-{name}{k}"] = {
            "in": "site", "at": vector(at + rng.choice([0.025, 0.05, 0.1]) * off),
            "turn": work_cases.turns_of(turn), "box": vector([size, size, 0.004]),
        }  # fmt: skip
    return found


def case_of(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random junction and moves in it."""
    scene, arms = scene_of(rng)
    on = scene["_arms"]
    at, places = {}, {}
    for worker, anchor in (("W", "A"), ("V", "B"), ("X", "E")):
        # Near their anchor, or anywhere.
        arm = on[anchor] if rng.random() < 0.5 else rng.randrange(arms.n)
        if worker != "X" and rng.random() < 0.7:
            arm = on[anchor] if worker == "W" else arms.turn[-1]
        places[worker], _ = arms.place(rng, arm)
        at[worker] = arm
    third = rng.random() < 0.2
    lines = {
        "T1": {"hook": "A", "reel": "W"}, "T2": {"hook": "B", "reel": "V"},
        "T3": {"hook": "C", "reel": "C"}, "T4": {"hook": "D", "reel": "D"},
        **({"T5": {"hook": "E", "reel": "X"}} if third else {}),
    }  # fmt: skip
    more = random.Random(f"more lines {scene['_arms']} {places}")
    for name, anchor in (("T3", "C"), ("T4", "D")):
        if more.random() < 0.25:  # put on beside the first from the begin
            lines[name] = {"hook": anchor, "reel": more.choice(["W", "W", "V"])}
    lanes = {one: "worker" for one in ("W", "V", *("X" if third else ""))}
    if not third:
        del places["X"], scene["workers"]["X"]
    worn = {one["reel"]: name for name, one in reversed(lines.items())}
    acts: list[tuple[str, list[dict[str, Any]]]] = []
    if rng.random() < 0.5:
        acts = _changed(rng, scene, arms)
        worn["W"] = "T3"
    for _ in range(rng.choice([1, 2]) if acts else rng.choice([2, 3, 4])):
        lane = rng.choice(["W", "W", "W", "V", *lanes])
        is_handled = rng.random() < 0.3
        acts.append((lane, _handled(rng, lane, list(scene["tethers"]), worn) if is_handled
                     else [_move(rng, scene, arms, lane, worn)]))  # fmt: skip
    steps = [
        {
            "name": f"s{n}", "lane": lane, "start": clock(600.0 * n), "actions": actions,
            "duration": Q(rng.choice([0.0, 300.0, 600.0]), "time"),
        }
        for n, (lane, actions) in enumerate(acts)
    ]  # fmt: skip
    _write_ways(random.Random(f"ways {places}"), arms, places, steps)
    return scene, {
        "format": 1, "lanes": lanes, "begin": {"workers": places, "lines": lines}, "steps": steps,
    }  # fmt: skip


def _write_ways(
    rng: random.Random, arms: Arms, places: Mapping[str, str], steps: list[dict[str, Any]]
) -> None:
    """Write most of the ways: a planned one proves no fail.  In to the middle, and out again."""
    rows = [[name for name, low, _ in sorted(row, key=lambda one: one[1])] for row in arms.rails]
    at = dict(places)
    for step in steps:
        for action in step["actions"]:
            if action["do"] != "translate":
                continue
            start, stop = (one.split("@")[0] for one in (at[step["lane"]], action["to"]))
            at[step["lane"]] = action["to"]
            here = next((row for row in rows if start in row), None)
            there = next((row for row in rows if stop in row), None)
            if here is None or there is None or rng.random() < 0.2:
                continue
            i, j = here.index(start), there.index(stop)
            if here is there:
                step["route"] = here[i : j + 1] if i <= j else here[j : i + 1][::-1]
            else:
                step["route"] = [*here[: i + 1][::-1], *there[: j + 1]]


def _changed(
    rng: random.Random, scene: Mapping[str, Any], arms: Arms
) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return how W goes to anchor C, changes to the line there and goes on, disturbed or not."""
    arm = scene["_arms"]["C"]
    far = float(np.linalg.norm(_at(scene["anchors"]["C"]["at"])))
    near = [
        (name, max(low, min(high, far + rng.choice([0.0, 0.3, 1.0]))) - low)
        for name, low, high in arms.rails[arm]
    ]
    name, along = min(near, key=lambda one: one[1])
    swap = rng.choice([
        [{"do": "attach", "what": "T3", "to": "W"},
         {"do": "release", "what": "T1", "from": "W", "to": "C"}],
        [{"do": "release", "what": "T1", "from": "W", "to": "C"},
         {"do": "attach", "what": "T3", "to": "W"}],
    ])  # fmt: skip
    found = [
        ("W", [{"do": "translate", "to": f"{name}@{max(0.0, along - 1e-5):.6f}"}]),
        ("W", swap),
    ]
    if rng.random() < 0.6:
        who = rng.choice(["V", "W"])
        what = rng.choice([
            {"do": "attach", "what": "T1", "to": "V"},
            {"do": "attach", "what": "T1", "to": "D"},
            {"do": "release", "what": "T1", "from": "A", "to": "B"},
            {"do": "release", "what": "T1", "from": "A", "to": "D"},
        ])  # fmt: skip
        found.append((who, [what]))
    return [*found, ("W", [_move(rng, scene, arms, "W", {})])]


def _move(
    rng: random.Random, scene: Mapping[str, Any], arms: Arms, lane: str, worn: dict[str, str]
) -> dict[str, Any]:
    arm = arms.turn[2] if rng.random() < 0.5 and lane == "W" else rng.randrange(arms.n)
    place, _ = arms.place(rng, arm)
    action: dict[str, Any] = {"do": "translate", "to": place}
    if rng.random() < 0.25:
        action["tether"] = worn[lane] = rng.choice(["T3", "T4"])
        action["anchor"] = rng.choice(["A", "C", "D"])
    if rng.random() < 0.2:
        action["crosses"] = rng.sample(list(scene["tethers"]), rng.choice([1, 2]))
    return action


def _handled(
    rng: random.Random, lane: str, lines: list[str], worn: dict[str, str]
) -> list[dict[str, Any]]:
    """Return what is done with lines: put on, taken off, taken away by somebody else."""
    new, old = rng.choice(lines[:4]), worn.get(lane, "T1")
    roll = rng.random()
    if roll < 0.4:
        worn[lane] = new
        off = {"do": "release", "what": old, "from": lane, "to": rng.choice(["A", "C", "D"])}
        return [{"do": "attach", "what": new, "to": lane}, *([off] if new != old else [])]
    if roll < 0.6:
        worn[lane] = new
        return [{"do": "attach", "what": new, "to": lane}]
    if roll < 0.8:
        return [{"do": "attach", "what": new, "to": rng.choice(["A", "B", "C", "D"])}]
    return [{"do": "release", "what": old, "from": rng.choice(["A", "C", "D", lane]),
             "to": rng.choice(["A", "C", "D"])}]  # fmt: skip
