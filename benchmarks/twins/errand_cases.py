"""Random small outings: two workers, lines, bags, bolts, a crate; steps in lanes and links.

A procedure is made by going on from how things stand, so that most of what it asks can be done
in one order; links between lanes are few, so that others are possible too.
"""

from __future__ import annotations

import random
from typing import Any

from benchmarks.twins.clock_twin import in_written_order
from benchmarks.twins.errand_world import World
from benchmarks.twins.hands_twin import FREE
from benchmarks.twins.writing import Q, clock

USE = ["shipped:suits", "shipped:restraints", "shipped:tools", "shipped:limits", "shipped:sizes"]
WORKERS = ("W", "V")
FOCUS = {"all": (0.0, 1.0), "lines": (0.0, 0.42), "items": (0.42, 0.83), "bolts": (0.75, 0.97),
         "leads": (0.42, 0.65), "holds": (0.0, 1.0)}  # fmt: skip
"""What most actions of a case are about -> the part of the roll that it has."""

PLACES = ("lock", "S1", "S2", "RA", "RB", "RC", "A0", "A1")


def scene_of(rng: random.Random) -> dict[str, Any]:
    """Return a random yard; places lie along x, some of them just as far apart as is at hand."""
    shift = rng.choice([0.0, 0.0, 1000.0])
    frame = rng.random() < 0.5

    def at(x: float, y: float = 0.0) -> list[Q]:
        return [Q(x + shift, "length"), Q(y, "length"), Q(0.0, "length")]

    def placed(record: dict[str, Any]) -> dict[str, Any]:
        return {"in": "yard", **record} if frame else record

    far = rng.choice([0.5, 1.0, 2.0])
    scene: dict[str, Any] = {
        "format": 1,
        "use": USE,
        "procedure": "procedure.toml",
        "frames": {
            "yard": {
                "at": [Q(rng.uniform(-5, 5), "length") for _ in range(3)],
                "turn": [
                    {
                        "axis": [rng.gauss(0, 1) for _ in range(3)],
                        "angle": Q(rng.uniform(-3, 3), "angle"),
                    }
                ],
            }
        },
        "hatches": {"lock": placed({"at": at(0.0)})},
        "sockets": {
            "S1": placed({"at": at(3.0), "axis": [0, 1, 0], "zero": [1, 0, 0]}),
            "S2": placed(
                {
                    "at": at(6.0, rng.choice([0.0, 0.5, 2.5])),
                    "axis": [0, 1, 0],
                    "zero": [1, 0, 0],
                    "status": rng.choice(["free", "free", "free", "faulty", "blocked"]),
                }
            ),
        },
        "handrails": {
            "RA": placed({"from": at(0.5), "to": at(2.5)}),
            "RB": placed({"from": at(3.0), "to": at(5.0)}),
            "RC": placed({"from": at(5.5), "to": at(7.5)}),
            "G1": {"in": "crate", "from": [0.4, -0.2, 0], "to": [0.4, 0.2, 0]},
            "G2": {"in": "crate", "from": [-0.4, -0.2, 0], "to": [-0.4, 0.2, 0]},
            "H1": {"in": "chest", "from": [0.4, -0.2, 0], "to": [0.4, 0.2, 0]},
            "H2": {"in": "chest", "from": [-0.4, -0.2, 0], "to": [-0.4, 0.2, 0]},
        },
        "anchors": {
            "A0": placed({"at": at(far), "rating": Q(2000.0, "force")}),
            "A1": placed({"at": at(5.0 + far), "rating": Q(2000.0, "force")}),
        },
        "tethers": {f"T{i}": {"length": Q(10.0, "length")} for i in (1, 2, 3)},
        "restraints": {
            "plate": {
                "kind": "foot restraint",
                "chain": [
                    {"name": "clock", "turn": "z", "from": 0.0, "to": 1.5, "step": 0.5,
                     "numbered": True}
                ],
            }
        },
        "fasteners": {
            f"X{i}": placed({
                "at": at(x, 0.5), "axis": [0, 1, 0],
                "torque": Q(rng.choice([10.0, 20.0]), "torque"),
                "turns": float(rng.choice([5, 7, 10, 12.5])),
                **({"most_torque": Q(rng.choice([20.0, 25.0]), "torque")}
                   if rng.random() < 0.5 else {}),
                **({"breakaway": Q(rng.choice([15.0, 25.0]), "torque")}
                   if rng.random() < 0.5 else {}),
            })
            for i, x in ((1, 3.0), (2, 6.0), (3, 4.0))
        } | {"N": placed({"at": at(5.0, 0.5), "axis": [0, 1, 0], "kind": "connector"})},
        "payloads": {
            "crate": {
                "poses": {"here": {"at": [4.0, 9.0, 0.0]}, "there": {"at": [4.0, 11.0, 0.0]}},
                "paths": {"way": {"through": ["here", "there"]}},
                "fixed_by": ["X1", "X2"][: rng.choice([1, 2])],
            },
            "chest": {"poses": {"here": {"at": [7.0, 9.0, 0.0]}}, "fixed_by": ["X3"]},
        },
        "items": {
            "FR": {"is": "plate"},
            "GR": {"is": "plate", "bulky": rng.random() < 0.5},
            "HR": {"is": "plate"},
            "D1": {"is": "power-drive", "mass": Q(4.0, "mass")},
            "D2": {"is": "power-drive", "mass": Q(0.1, "mass")},
            "BG": {"slots": rng.choice([1, 2, 3]), "bulky": True,
                   "most_mass": Q(rng.choice([0.3, 4.0, 4.1, 5.0]), "mass")},
            "BH": {"slots": 2, "bulky": rng.random() < 0.5},
            "lamp": {"mass": Q(0.2, "mass"), "takes": rng.choice([1, 2])},
            "box": {"bulky": True, "mass": Q(0.1, "mass")},
            "CL": {"length": Q(rng.choice([2.0, 4.0, 6.0, 20.0]), "length"),
                   **rng.choice([{}, {"diameter": Q(0.02, "length")},
                                 {"bend": Q(rng.choice([0.05, 0.3, 1.0]), "length")}])},
            "K1": {}, "K2": {},
        },
        "workers": {
            "W": {"size": "medium", "hand": "right", "suit": "halden"},
            "V": {"size": "small", "hand": "left", "suit": "halden"},
        },
    }  # fmt: skip
    for name in ("X1", "X2", "X3"):
        record = scene["fasteners"][name]
        if rng.random() < 0.4:
            record["captive"] = rng.random() < 0.5
        if rng.random() < 0.5:
            record["turns_between"] = [record["turns"], record["turns"] + rng.choice([0.0, 5.0])]
        if rng.random() < 0.5:
            record["if_stuck"] = "back it out"
    limits = {
        "at_hand": ([1.0, 2.5], "length"),
        "bulky_items": ([1, 3], ""),
        "restraints_carried": ([1], ""),
        "outing_time": ([1800.0, 3600.0], "time"),
        "glove_check": ([600.0, 900.0, 1200.0], "time"),
        "hand_stretch": ([900.0, 1800.0], "time"),
        "hand_rest": ([60.0, 300.0, 600.0], "time"),
        "safe_time": ([90000.0], "time"),
    }
    for name, (values, kind) in limits.items():
        if rng.random() < 0.4:
            value = rng.choice(values)
            scene.setdefault("limits", {})[name] = Q(value, kind) if kind else value
    return scene


def case_of(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random scene and a random procedure in it."""
    scene, focus = scene_of(rng), rng.choice([*FOCUS, "holds"])
    items: dict[str, Any] = {}
    for name in scene["items"]:
        if rng.random() < 0.2:
            continue
        where = rng.choice(["lock", "lock", "S1", "RB", "A1", "W", "V"])
        if name in ("D1", "D2", "lamp", "box") and rng.random() < 0.5 and "BG" in items:
            where = "BG"
        if name == "BH" and "BG" in items and rng.random() < 0.1:
            where = "BG"
        tied = rng.random() < 0.95
        items[name] = where if tied else {"in": where, "tied": False}
    begin: dict[str, Any] = {
        "workers": {one: rng.choice(["S1", "RB", "A0"]) for one in WORKERS if rng.random() < 0.25},
        "items": items,
        "lines": {
            name: {
                k: v for k, v in (("hook", rng.choice(["A0", "A0", "A1", ""])), ("reel", reel)) if v
            }
            for name, reel in (
                ("T1", rng.choice(["W", "W", "W", ""])),
                ("T2", rng.choice(["V", "V", "V", "A0"])),
                ("T3", rng.choice(["", "A1", "A0"])),
            )
        },
        "tools": {
            one: {"torque": Q(rng.choice([10.0, 15.0, 20.0]), "torque")}
            for one in ("D1", "D2")
            if rng.random() < 0.8
        },
        "tight": [one for one in ("X1", "X2", "X3") if rng.random() < 0.5],
        "confirmed": ["off"] if rng.random() < 0.3 else [],
    }
    if focus == "holds" and rng.random() < 0.8:
        begin |= {"workers": {"W": "S1", "V": "S2"}, "tight": ["X1", "X2", "X3"]}
    procedure: dict[str, Any] = {
        "format": 1,
        "lanes": {"W": "worker", "V": "worker", "IN": "inside lead"},
        "begin": begin,
        "stores": {
            "D1": {"turns": float(rng.choice([12, 20, 25, 30, 70])),
                   "reserve": rng.choice([0.0, 0.1, 0.2, 0.3])},
            **({"W": {"lasts": Q(rng.choice([30, 40, 60, 90]) * 60.0, "time"),
                      "reserve": rng.choice([0.0, 0.1, 0.25])}} if rng.random() < 0.5 else {}),
        },
        "windows": windows_of(rng),
        "inhibits": {"off": {"title": "no power"}},
        "orders": {},
        "guards": {},
        "end": {
            "rest": "lock",
            "items": {one: rng.choice(PLACES[:6]) for one in ("FR", "BG") if rng.random() < 0.5},
            "left": {"FR": {"owner": "next", "until": "then"}} if rng.random() < 0.5 else {},
            "lines": {
                "T1": {"hook": rng.choice(["A0", "A1"])} if rng.random() < 0.5 else {"reel": "A0"}
            },
        },
        "steps": [],
    }  # fmt: skip
    procedure["steps"] = steps_of(rng, scene, procedure, focus)
    names = [one["name"] for one in procedure["steps"]]
    used = {a["fastener"] for one in procedure["steps"] for a in one["actions"] if "fastener" in a}
    bolts = rng.sample(sorted(used), len(used))
    procedure["orders"] = {"bolts": {"fasteners": bolts}} if len(bolts) > 1 else {}
    procedure["guards"] = {
        one: guard
        for k, one in enumerate(bolts)
        if rng.random() < 0.7 and (guard := guard_of(rng, bolts[:k]))
    }
    marks = [*names, *bolts, *bolts]
    procedure["clocks"] = {
        f"clock{i}": {
            "from": (first := rng.choice(marks)),
            "to": rng.choice([one for one in marks if one != first or one[0] == "X"]),
            "limit": Q(rng.choice([10, 15, 20, 30, 60]) * 60.0, "time"),
        }
        for i in range(rng.choice([0, 1, 2]))
    }  # fmt: skip
    if rng.random() < 0.3:
        ordered = [one["name"] for one in in_written_order(procedure["steps"])]
        procedure["phases"] = phases_of(rng, ordered)
    return scene, procedure


def windows_of(rng: random.Random) -> dict[str, Any]:
    """Return windows with spans that steps of whole minutes often just meet."""
    spans, now = [], 0.0
    for _ in range(rng.choice([1, 2, 3])):
        now += rng.choice([0.0, 5.0, 10.0, 20.0]) * 60.0
        end = now + rng.choice([5.0, 10.0, 15.0, 30.0]) * 60.0
        spans.append([clock(now), clock(end)])
        now = end
    return {"night": {"spans": spans, "margin": Q(rng.choice([0, 0, 60, 300.0]), "time")}}


def guard_of(rng: random.Random, others: list[str]) -> dict[str, Any]:
    """Return a random guard of a fastener that may have to wait for others."""
    kinds = {
        "inhibits": ["off"],
        **({"after": [rng.choice(others)]} if others else {}),
        "window": "night",
        "held": rng.choice(["crate", "crate", "chest"]),
        "items": ["lamp"],
    }
    return {key: kinds[key] for key in kinds if rng.random() < 0.35}


def phases_of(rng: random.Random, names: list[str]) -> dict[str, Any]:
    """Return random phases over the steps."""
    found = {}
    for i in range(rng.choice([1, 2])):
        first, last = sorted(rng.choices(range(len(names)), k=2))
        found[f"phase{i}"] = {
            "from": names[first], "to": names[last],
            **({"takes": Q(rng.choice([5, 30, 49.5, 60]) * 60.0, "time")}
               if rng.random() < 0.8 else {}),
            **({"stop": "as it is"} if rng.random() < 0.8 else {}),
            **({"safe": Q(rng.choice([86400.0, 86399.0, 90000.0]), "time")}
               if rng.random() < 0.8 else {}),
        }  # fmt: skip
    return found


def steps_of(
    rng: random.Random, scene: dict[str, Any], procedure: dict[str, Any], focus: str
) -> list[dict[str, Any]]:
    """Return steps that follow from each other in the order in which they are made."""
    world = World(scene, procedure)
    state = world.start()
    steps: list[dict[str, Any]] = []
    ends: dict[str, float] = {}
    written = rng.random() < 0.6
    several = ["W"] if focus == "holds" and rng.random() < 0.5 else ["W", "W", "V", "V", "IN"]
    slow = rng.choice([1, 1, 1, 4])
    for n in range(rng.choice([3, 4, 5, 6, 7])):
        lane = rng.choice(several)
        step: dict[str, Any] = {"name": f"s{n}", "lane": lane}
        minutes = rng.choice([5, 5, 10, 10, 15, 20]) * slow
        step["duration"] = Q(minutes * 60.0, "time")
        if lane != "IN" and rng.random() < 0.1:
            other = "V" if lane == "W" else "W"
            step["with"] = [other]
        lanes = (lane, *step.get("with", []))
        soonest = max([0.0, *(ends.get(one, 0.0) for one in lanes)])
        known = [one["name"] for one in steps]
        if known and rng.random() < 0.45:
            step["after"] = rng.sample(known, rng.choice([1, 1, min(2, len(known))]))
            soonest = max([soonest, *(ends[one] for one in step["after"])])
        if rng.random() < 0.15:
            step["between"] = [Q(minutes * 48.0, "time"), Q(minutes * 90.0, "time")]
        if written:
            begin = soonest + rng.choice([0, 0, 0, 5, 10]) * 60.0
            step["start"] = clock(begin)
        else:
            begin = soonest
        ends[step["name"]] = begin + minutes * 60.0
        ends |= dict.fromkeys(lanes, ends[step["name"]])
        actions: list[dict[str, Any]] = []
        step["actions"] = actions
        if lane == "IN":
            actions.append(rng.choice([
                {"do": "confirm", "inhibit": "off"},
                {"do": "confirm", "items": rng.sample(list(scene["items"]), 2)},
                {"do": "glove check", "of": ["W", "V"][: rng.choice([1, 2])]},
                {"do": "wait"},
            ]))  # fmt: skip
        else:
            for _ in range(rng.choice([1, 1, 2, 2, 3])):
                action, more = action_of(rng, scene, state, lane, focus)
                if more and not (set(more) & set(step)) and not actions:
                    step |= more
                    state = world.begun(state, step)
                elif more:
                    continue
                actions.append(action)
                for event in world.parts(step, action):
                    state = event(state)
            if not actions:
                actions.append({"do": "glove check"})
        steps.append(step)
    return steps


GRIPS = {
    "W": [["G1"], ["G1"], ["H1"], ["G1", "G2"], ["H1", "H2"], ["RB"]],
    "V": [["G2"], ["G2"], ["H2"], ["G1", "G2"], ["H1", "H2"], ["RA", "RB"]],
}
"""What a worker takes hold of."""


def held_of(
    rng: random.Random, state: dict[str, Any], w: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return an action of somebody who holds payloads, or undoes what fixes them, or goes away."""
    at, roll = state["place", w], rng.random()
    here = {"where": at if at in ("S1", "S2") else rng.choice(["S1", "S2"]), "restraint": "FR"}
    if roll < 0.45:
        return {"do": "hold", "grips": rng.choice(GRIPS[w])}, {} if state["boots", w] else here
    if roll < 0.75:
        bolt = rng.choice([one for one in ("X1", "X2", "X3") if state["state", one] == "tight"]
                          or ["X1"])  # fmt: skip
        loosen = {"loosen": True} if state["state", bolt] == "tight" else {}
        return {"do": "drive", "fastener": bolt, "tool": "D1", "bit": "S-16", **loosen}, here
    if roll < 0.79:
        return {"do": "release"}, {}
    if roll < 0.83:
        return {"do": "egress"}, {}
    if roll < 0.93:
        there = rng.choice(["S1", "S2"])
        return {"do": "ingress"}, {"where": there, "restraint": rng.choice(["FR", "GR"])}
    return {"do": "translate", "to": rng.choice([one for one in PLACES if one != at])}, {}


def action_of(
    rng: random.Random, scene: dict[str, Any], state: dict[str, Any], w: str, focus: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return an action that mostly makes sense, and keys that its step needs for it."""
    at, out = state["place", w], state["outside", w]
    items = list(scene["items"])
    mine = [one for one in items if state["holder", one] == w]
    worn = [one for one in scene["tethers"] if state["reel", one] == w]
    other = "V" if w == "W" else "W"
    if out is False and rng.random() < 0.8:
        if rng.random() < 0.5 and not worn:
            return {"do": "attach", "what": rng.choice(["T1", "T2", "T3"]), "to": w,
                    "checked": rng.random() < 0.9}, {}  # fmt: skip
        return {"do": "egress", "from": "lock"}, {}
    roll = rng.random()
    if rng.random() < 0.6:
        low, high = FOCUS[focus]
        roll = low + (high - low) * roll
    if focus == "holds" and rng.random() < 0.9:
        return held_of(rng, state, w)
    if focus == "leads" and rng.random() < 0.5:
        if rng.random() < 0.3:
            where = {} if state["boots", w] else {"where": "S1", "restraint": "FR"}
            return {"do": "mate", "fastener": "N"}, where
        through = rng.choices(["S1", "S2", "A0", "A1", "RA"], k=rng.choice([1, 2, 3]))
        return {"do": "lay", "item": "CL", "to": rng.choice(["N", "N", "X3"]), "through": through,
                "clamps": rng.sample(["K1", "K2"], rng.choice([0, 1, 2]))}, {}  # fmt: skip
    if roll < 0.22:
        action: dict[str, Any] = {
            "do": "translate", "to": rng.choice([one for one in PLACES if one != at]),
        }  # fmt: skip
        if rng.random() < 0.15:
            action["tether"] = rng.choice(["T1", "T2", "T3"])
            action["anchor"] = rng.choice(["A0", "A1"])
        if mine and rng.random() < 0.5:
            action["carrying"] = mine[: rng.choice([1, 2])]
        return action, {}
    if roll < 0.36:
        line = rng.choice(worn or ["T1", "T2", "T3"]) if rng.random() < 0.5 else "T3"
        to = rng.choice(["A0", "A1", w])
        return {"do": "attach", "what": line, "to": to, "checked": rng.random() < 0.9}, {}
    if roll < 0.42 and worn:
        line = rng.choice(worn)
        hook = state["hook", line]
        start = rng.choice([w, hook if hook in ("A0", "A1") else "A0"])
        more = {"to": rng.choice(["A0", "A1"])} if rng.random() < 0.8 else {}
        return {"do": "release", "what": line, "from": start, **more}, {}
    if roll < 0.55:
        free = [one for one in items if state["holder", one] in (at, "BG", "RB", "A1", "S1")]
        some = rng.sample(free or items, 1)
        bag = {"to": "BG"} if "BG" in mine and "BG" not in some and rng.random() < 0.3 else {}
        tied = {"tied": False} if rng.random() < 0.05 else {}
        return {"do": "pick up", "items": some, **bag, **tied}, {}
    if roll < 0.65 and mine:
        some = [rng.choice(mine)]
        to = rng.choice([*(["BG"] if "BG" not in some else []), at or "RB", "lock"])
        if to == "lock" and at != "lock" and rng.random() < 0.8:
            to = at or "RB"
        return {"do": "stow", "items": some, "to": to}, {}
    if roll < 0.69 and mine:
        return {"do": "pass", "items": [rng.choice(mine)], "to": other}, {}
    if roll < 0.75:
        feet = [one for one in ("FR", "GR", "HR") if state["holder", one] == w]
        plugged = [one for one in ("FR", "GR", "HR") if state["plugged", one]]
        if feet and rng.random() < 0.7:
            return {"do": "install", "item": feet[0], "to": rng.choice(["S1", "S2"])}, {}
        if plugged:
            return {"do": "remove", "item": plugged[0]}, {}
        return {"do": "install", "item": "FR", "to": "S1"}, {}
    if roll < 0.83:
        plugged = [one for one in ("FR", "GR", "HR") if state["plugged", one]]
        one = rng.choice(plugged or ["FR", "GR"])
        where = state["holder", one] if plugged and rng.random() < 0.9 else "S1"
        if state["boots", w] and rng.random() < 0.5:
            return {"do": "egress"}, {}
        more = {"where": where, "restraint": one}
        if rng.random() < 0.3:
            more["setting"] = {"clock": rng.choice([0, 1, 2, 3])}
        return {"do": "ingress"}, more
    if roll < 0.93:
        tool = rng.choice([one for one in ("D1", "D2") if one in mine] or ["D1", "D2"])
        bolt = rng.choice(["X1", "X2", "X3"])
        if rng.random() < 0.3:
            return {"do": "set", "tool": tool,
                    "torque": Q(rng.choice([10.0, 15.0, 20.0, 25.0]), "torque")}, {}  # fmt: skip
        where = {} if state["boots", w] else {"where": "S1", "restraint": "FR"}
        loosen = {"loosen": True} if state["state", bolt] == "tight" else {}
        return {"do": "drive", "fastener": bolt, "tool": tool, "bit": "S-16", **loosen}, where
    if roll < 0.97:
        if state["grips", w] != FREE:
            return {"do": "release"}, {}
        where = {} if state["boots", w] else {"where": "S1", "restraint": "FR"}
        return {"do": "hold", "grips": rng.choice(GRIPS[w])}, where
    item = rng.choice(items)
    if rng.random() < 0.5 and state["ties", item]:
        tie = sorted(state["ties", item])[0]
        return {"do": "release", "what": item, "from": tie}, {}
    return {"do": "attach", "what": item, "to": rng.choice([w, at or "RB"])}, {}
