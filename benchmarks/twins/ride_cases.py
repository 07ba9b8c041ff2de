"""Random crane days: two workers, tips with stations and anchors, lines, a crate, rails beside.

Rails lie about as far from stations as is spanned, lines are about as long as they have to be;
steps go on from how things stand, and links between lanes are few.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

import numpy as np

from benchmarks.twins import space, work_cases
from benchmarks.twins.clock_twin import in_written_order
from benchmarks.twins.ride_world import RideWorld
from benchmarks.twins.space import unit, vector
from benchmarks.twins.writing import Q, clock

USE = ["shipped:suits", "shipped:restraints", "shipped:tools", "shipped:limits", "shipped:sizes"]
WORKERS = ("W", "V")
SPAN, SLACK = 1.2, 1.0
"""Limits where a scene gives none of its own (m)."""


def height(worker: Mapping[str, Any], part: str) -> float:
    """Return how far hips, or the middle of the trunk, are over the plate of who stands (m)."""
    suit, body = work_cases.SUITS[worker["suit"]], work_cases.BODIES[worker["size"]]
    hip, shoulder = float(body.links.hip), float(body.links.shoulder)
    return float(suit.sole) + (hip if part == "hips" else 0.5 * (hip + shoulder))


def _drawn(rng: random.Random, scale: float = 1.0) -> Any:
    return scale * np.array([rng.gauss(0, 1) for _ in range(3)])


def scene_of(rng: random.Random) -> dict[str, Any]:
    """Return a random yard with one crane or two."""
    workers = {
        name: {"size": rng.choice(list(work_cases.BODIES)), "hand": "right", "suit": suit}
        for name, suit in (("W", "halden"), ("V", rng.choice(["halden", "unsuited"])))
    }
    cranes = ["Arm", "Boom"][: rng.choice([1, 1, 2])]
    limits: dict[str, Any] = {}
    if rng.random() < 0.3:
        limits["place_span"] = Q(rng.choice([0.5, 0.9]), "length")
    if rng.random() < 0.3:
        limits["tether_slack"] = Q(rng.choice([0.2, 0.5]), "length")
    stations: dict[str, Any] = {}
    middles = {}
    for k, (name, on) in enumerate(_stations(cranes)):
        turn = space.turned(_drawn(rng), rng.uniform(-3, 3))
        at = np.array([2.5 * k, 0.0, 0.0]) + _drawn(rng)
        stations[name] = {
            "in": "site", "at": vector(at), "up": [float(v) for v in turn[:, 2]],
            "toes": [float(v) for v in turn[:, 0]], "restraint": "plate",
            **({"on": on} if on else {}),
        }  # fmt: skip
        middles[name] = at + height(workers["W"], "trunk") * turn[:, 2]
    rails = {
        f"R{k}": _rail(
            rng, middles[rng.choice(list(stations))], float(limits.get("place_span", SPAN))
        )
        for k in range(rng.choice([1, 2, 3]))
    }
    anchors: dict[str, Any] = {
        name: {"in": "site", "at": vector(2.0 * k + _drawn(rng)), "rating": Q(2000.0, "force")}
        for k, name in enumerate(("A0", "A1"))
    }
    for name, on in (("C0", "Arm"), ("C1", "Arm"), ("D0", "Boom")):
        if on in cranes:
            anchors[name] = {"at": vector([0.0, 0.0, 0.1]), "on": on, "rating": Q(2000.0, "force")}
    anchors["P0"] = {"in": "crate", "at": vector([0.1, 0.0, 0.0]), "rating": Q(2000.0, "force")}
    poses = {
        name: {"in": "site", "at": vector(_drawn(rng, 3.0)), "turn": space.any_rotation(rng)[0]}
        for name in ("here", "there")
    }
    slack = float(limits.get("tether_slack", SLACK))
    tethers = {}
    for name in ("T1", "T2", "T3"):
        anchor, station = anchors[rng.choice(["A0", "A1"])], rng.choice(list(stations))
        record = stations[station]
        hips = _at(record["at"]) + height(workers["W"], "hips") * np.array(record["up"])
        straight = float(np.linalg.norm(hips - _at(anchor["at"])))
        length = straight + slack + rng.choice([-0.5, -0.02, -0.001, 0.001, 0.02, 1.0, 9.0])
        tethers[name] = {"length": Q(max(length, slack + 0.1), "length")}
    return {
        "format": 1, "use": USE, "procedure": "procedure.toml",
        "frames": {"site": space.any_site(rng)},
        "hatches": {"lock": {"in": "site", "at": vector([-2.0, 0.0, 0.0])}},
        "sockets": {}, "fasteners": {}, "items": {},
        "cranes": {name: {"in": "site", "arm": "shipped:brackenfall", "at": vector(_drawn(rng))}
                   for name in cranes},
        "stations": stations, "handrails": rails, "anchors": anchors, "tethers": tethers,
        "payloads": {"crate": {"poses": poses, "fixed_by": [], "paths": {
            "out": {"through": ["here", "there"]}, "back": {"through": ["there", "here"]}}}},
        "solids": {"crate-box": {"in": "crate", "box": vector([0.5, 0.5, 0.5])}},
        "restraints": {"plate": {"kind": "foot restraint"}},
        "workers": workers, "limits": limits,
    }  # fmt: skip


def _stations(cranes: list[str]) -> list[tuple[str, str]]:
    boom = [("Z0", "Boom"), ("Z1", "Boom")] if "Boom" in cranes else []
    return [("U0", "Arm"), ("U1", "Arm"), ("U2", "Arm"), *boom, ("G", "")]


def _at(values: Any) -> Any:
    return np.array([float(v) for v in values])


def _rail(rng: random.Random, middle: Any, span: float) -> dict[str, Any]:
    """Return a rail whose nearest point is about as far from a trunk as is spanned."""
    out = unit(_drawn(rng))
    nearest = middle - span * rng.choice([0.3, 0.9, 0.9999, 1.0001, 1.05, 2.0]) * out
    along = unit(np.cross(out, _drawn(rng)))
    # Seen from the middle, an end of it may be the nearest point as well.
    low, high = (-0.6, 0.8) if rng.random() < 0.6 else (0.0, 1.0)
    if low == 0.0:
        along = unit(along - rng.uniform(0.0, 0.8) * out)
    record: dict[str, Any] = {
        "in": "site", "from": vector(nearest + low * along), "to": vector(nearest + high * along),
        "out": [float(v) for v in out],
    }  # fmt: skip
    record |= space.any_state_of_a_rail(rng)
    return record


def case_of(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random scene and a random day in it."""
    scene = scene_of(rng)
    hooks = list(scene["anchors"])
    begin = {
        "workers": {w: rng.choice(["A0", "U0", "G", "R0@0.2"]) for w in WORKERS
                    if rng.random() < 0.8},
        "items": {},
        "lines": {
            name: {
                "hook": rng.choice([*near, rng.choice(hooks)]), **({"reel": reel} if reel else {})
            }
            for name, reel, near in (
                ("T1", rng.choice(["W", "W", "W", ""]), ["A0", "A1", "C0"]),
                ("T2", rng.choice(["V", "V", "W", "A0"]), ["A0", "C0", "C1"]),
                ("T3", rng.choice(["", "A1", "V"]), ["A1", "C0", "C1"]),
            )
        },
        "tools": {}, "tight": [], "confirmed": [],
    }  # fmt: skip
    lanes = {"W": "worker", "V": "worker", "CO": "crane", "M": "inside lead"}
    if rng.random() < 0.4:
        lanes["CP"] = "crane"
    procedure: dict[str, Any] = {
        "format": 1, "lanes": lanes, "begin": begin, "inhibits": {}, "steps": [],
    }  # fmt: skip
    procedure["steps"] = _steps(rng, scene, procedure)
    if rng.random() < 0.3:  # in order of time; else as they come, or one lane after the other
        procedure["steps"] = in_written_order(procedure["steps"])
    elif rng.random() < 0.3:
        procedure["steps"].sort(key=lambda one: one["lane"])
    if rng.random() < 0.6:
        if rng.random() < 0.5:
            begin["workers"] = {"W": rng.choice(["G", "U0"]), "V": "G"}
            procedure["steps"] = _plot(rng)
        _with_hands(rng, scene, procedure)
    return scene, procedure


def _plot(rng: random.Random) -> list[dict[str, Any]]:
    """Return steps in which a crate is freed while somebody holds it, and a crane moves."""
    other = rng.choice(["G", "G", "U0", "U1"])
    plot: list[tuple[str, str, str, dict[str, Any]]] = [
        ("hold", "W", rng.choice(["U0", "U0", "G"]), {"do": "hold", "grips": ["K1"]}),
        ("too", "V", other, {"do": "hold", "grips": ["K2"]}),
        ("free", "V", other, {"do": "demate", "fastener": "X"}),
        (
            "go",
            "CO",
            "",
            {"do": "move crane", "crane": "Arm", "to": rng.choice(["U1", "U1", "U0"])},
        ),
        ("stand", "W", rng.choice(["U1", "G"]), {"do": "ingress"}),
        ("carry", "CO", "", {"do": "move crane", "crane": "Arm", "payload": "crate"}),
        ("take", "W", "U1", {"do": "hold", "grips": ["K1", "K2"]}),
    ]
    tidy = rng.choice([0.5, 0.9, 1.0])
    chosen = [one for one in plot if rng.random() < (0.9 if one[0] in ("hold", "free") else 0.5)]
    if rng.random() < 0.3:
        rng.shuffle(chosen)
    steps: list[dict[str, Any]] = []
    for k, (name, lane, where, action) in enumerate(chosen):
        step = {"name": name, "lane": lane, "start": clock(300.0 * k), "actions": [action],
                "duration": Q(rng.choice([0.0, 300.0]), "time")}  # fmt: skip
        step |= {"where": where} if where else {}
        step |= {"path": "out"} if "payload" in action else {}
        step |= {"after": [steps[-1]["name"]]} if steps and rng.random() < tidy else {}
        steps.append(step)
    return steps or [{"name": "s0", "lane": "CO", "start": clock(0.0), "duration": Q(0.0, "time"),
                      "actions": [{"do": "wait"}]}]  # fmt: skip


def _with_hands(rng: random.Random, scene: dict[str, Any], procedure: dict[str, Any]) -> None:
    """Let workers who stand somewhere take hold of the crate, or of a chest, and let go."""
    half = 0.5 * np.array([0.0, 0.2, 0.0])
    for name, payload, x in (("K1", "crate", 0.3), ("K2", "crate", -0.3), ("J1", "chest", 0.3),
                             ("J2", "chest", -0.3)):  # fmt: skip
        middle = np.array([x, 0.0, 0.0])
        scene["handrails"][name] = {
            "in": payload, "from": vector(middle - half), "to": vector(middle + half)
        }  # fmt: skip
    scene["payloads"]["chest"] = {"poses": {"here": {"in": "site", "at": vector(_drawn(rng, 3.0))}}}
    scene["fasteners"]["X"] = {
        "in": "site", "at": vector(_drawn(rng, 3.0)), "axis": [0, 0, 1], "kind": "connector"
    }  # fmt: skip
    scene["payloads"]["crate"]["fixed_by"] = ["X"]
    procedure["begin"]["tight"] = ["X"] if rng.random() < 0.9 else []
    often = rng.choice([0.1, 0.8])
    for step in procedure["steps"]:
        if "where" not in step or rng.random() > often:
            continue
        for _ in range(rng.choice([1, 1, 2])):
            one = _of_hands(rng, step["lane"])
            step["actions"].insert(rng.choice([0, len(step["actions"])]), one)


def _of_hands(rng: random.Random, lane: str) -> dict[str, Any]:
    roll, mine = rng.random(), "K1" if lane == "W" else "K2"
    if roll < 0.5:
        some = rng.choice([[mine], [mine], [mine], ["J1"], ["J1", "J2"], ["K1", "K2"]])
        return {"do": "hold", "grips": some}
    if roll < 0.8:
        return {"do": "demate" if rng.random() < 0.8 else "mate", "fastener": "X"}
    if roll < 0.9:
        return {"do": "hand over", "to": "V" if lane == "W" else "W", "grips": ["K1"]}
    return {"do": "release"}


def _steps(
    rng: random.Random, scene: dict[str, Any], procedure: dict[str, Any]
) -> list[dict[str, Any]]:
    world = RideWorld(scene, procedure)
    state = world.start()
    steps: list[dict[str, Any]] = []
    ends: dict[str, float] = {}
    links, tidy = rng.choice([0.1, 0.5, 0.9]), rng.random() < 0.5
    lanes = [one for one in procedure["lanes"] if one != "M"]
    for n in range(rng.choice([4, 5, 6, 7, 8])):
        lane = rng.choice([*lanes, "W", "CO", *(["M"] if rng.random() < 0.3 else [])])
        step: dict[str, Any] = {"name": f"s{n}", "lane": lane}
        minutes = rng.choice([0, 5, 5, 10, 15])
        step["duration"] = Q(minutes * 60.0, "time")
        if lane in WORKERS and rng.random() < 0.1:
            step["with"] = [rng.choice(["CO", "V" if lane == "W" else "W"])]
        soonest = max(ends.get(one, 0.0) for one in (lane, *step.get("with", [])))
        known = [one["name"] for one in steps]
        if known and rng.random() < links:
            step["after"] = rng.sample(known, rng.choice([1, 1, min(2, len(known))]))
            soonest = max([soonest, *(ends[one] for one in step["after"])])
        begin = soonest + rng.choice([0, 0, 0, 5, 10]) * 60.0
        step["start"] = clock(begin)
        ends |= dict.fromkeys((step["name"], lane, *step.get("with", [])), begin + minutes * 60.0)
        if lane in WORKERS and state["outside", lane] is not False and rng.random() < 0.5:
            step["where"] = _stand(rng, scene, state, lane)
            state = world.begun(state, step)
        step["actions"] = []
        for _ in range(rng.choice([1, 1, 2, 3]) if lane in WORKERS else 1):
            action = _tidy(rng, scene, state, lane) if tidy else None
            action = action or _action(rng, scene, state, step)
            step["actions"].append(action)
            for event in world.parts(step, action):
                state = event(state)
        steps.append(step)
    return steps


def _stand(rng: random.Random, scene: Mapping[str, Any], state: Any, lane: str) -> str:
    """Return where somebody stands next: mostly where they are, or where a tip is."""
    at = state["place", lane]
    if at in scene["stations"] and rng.random() < 0.6:
        return str(at)
    there = [one for one in scene["stations"] if one == "G" or _is_there(state, scene, one)]
    return rng.choice(there)


def _is_there(state: Any, scene: Mapping[str, Any], station: str) -> bool:
    """Return whether the tip of a station's crane is there, or may be."""
    crane = scene["stations"][station].get("on")
    return crane is not None and state["tip", crane] in (None, station)


def _tidy(
    rng: random.Random, scene: Mapping[str, Any], state: Any, lane: str
) -> dict[str, Any] | None:
    """Return the hook of a worn line brought where it is right, None where all are."""
    at = state["place", lane] if lane in WORKERS else None
    if at is None or state["outside", lane] is False:
        return None
    crane = str(scene["stations"].get(at, {}).get("on", ""))
    right = [one for one, record in scene["anchors"].items() if record.get("on", "") == crane]
    right = [one for one in right if one != "P0"]
    wrong = [
        one for one in scene["tethers"]
        if state["reel", one] == lane and state["hook", one] not in right
    ]  # fmt: skip
    if not wrong:
        return None
    return {"do": "attach", "what": wrong[0], "to": rng.choice(right)}


def _action(
    rng: random.Random, scene: Mapping[str, Any], state: Any, step: dict[str, Any]
) -> dict[str, Any]:
    lane, roll = step["lane"], rng.random()
    if lane == "M":
        step["path"] = "out" if state["pose", "crate"] == "here" else "back"
        return {"do": "move", "payload": "crate"}
    if lane not in WORKERS:
        if roll < 0.15:
            return {"do": "wait"}
        crane = rng.choice(list(scene["cranes"]))
        if roll < 0.35:
            step["path"] = "out" if state["pose", "crate"] == "here" else "back"
            return {"do": "move crane", "crane": crane, "payload": "crate"}
        to = [one for one, record in scene["stations"].items() if record.get("on") == crane]
        return {"do": "move crane", "crane": crane, "to": rng.choice(to)}
    at = state["place", lane]
    mine = [one for one in scene["tethers"] if state["reel", one] == lane]
    if state["outside", lane] is False:
        return {"do": "egress", "from": "lock"}
    if "where" in step and not step["actions"] and roll < 0.8:
        return {"do": "ingress"}
    if roll < 0.4:
        boards = [one for one in scene["stations"] if one != at and _is_there(state, scene, one)]
        rails = [f"{one}@0.3" for one in scene["handrails"] if f"{one}@0.3" != at]
        to = rng.choice([*boards, *rails, "A0" if at != "A0" else "A1"])
        action: dict[str, Any] = {"do": "translate", "to": to}
        if rng.random() < 0.1:
            action |= {
                "tether": rng.choice(list(scene["tethers"])),
                "anchor": rng.choice(["A0", "C0"]),
            }
        return action
    crane = str(scene["stations"].get(at, {}).get("on", ""))
    right = [one for one, record in scene["anchors"].items() if record.get("on", "") == crane]
    if roll < 0.7:  # what is right where they are, more often than not
        wrong = [one for one in mine if state["hook", one] not in right]
        if wrong and rng.random() < 0.6:
            return {"do": "attach", "what": rng.choice(wrong), "to": rng.choice(right)}
        line = rng.choice([*mine, *scene["tethers"]])
        return {"do": "attach", "what": line, "to": rng.choice([lane, lane, *scene["anchors"]])}
    if roll < 0.85 and mine:
        line = rng.choice(mine)
        start = rng.choice([lane, lane, state["hook", line] or lane])
        return {"do": "release", "what": line, "from": start,
                "to": rng.choice(["A0", "A1", "C0"])}  # fmt: skip
    return {"do": "ingress"} if "where" in step else {"do": "wait"}
