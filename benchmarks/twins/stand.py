"""Two workers who stand side by side: bodies at rest, boots that turn out, helmets apart.

How the trunk is bent at rest is taken from the program; where that puts the parts of the body,
and what they come near while the boots turn, is worked out here.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from benchmarks.twins import space, work_cases
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, unit, vector, world_from
from benchmarks.twins.work_body import Bones, capsules, trunk
from benchmarks.twins.writing import Q, clock
from reach.resting import resting_of

CHECKS = ("ingress", "clearance", "helmets", "kick", "exposure", "torque")
SHIPPED = {
    "body_clearance": 0.08, "arm_clearance": 0.01, "helmet_distance": 1.0,
    "kick_band": 24 * 0.0254, "kick_load": 125 * 4.4482216152605,
}  # fmt: skip
NEAR = 1e-5


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return two workers near each other among things, who get into their restraints."""
    turn, _ = space.any_rotation(rng)
    boots = {}
    first = space.pose(space.turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
                       [rng.uniform(-1, 1) for _ in range(3)])  # fmt: skip
    boots["W"] = first
    beside = space.pose(space.turned([0, 0, 1], rng.uniform(-3, 3)), [
        rng.uniform(-1.8, 1.8), rng.uniform(-1.8, 1.8), rng.choice([0.0, 0.0, 1.0])
    ])  # fmt: skip
    boots["V"] = first @ beside
    scene: dict[str, Any] = {
        "format": 1, "use": work_cases.USE, "procedure": "procedure.toml",
        "frames": {"site": {"at": vector([rng.uniform(-3, 3) + rng.choice([0, 0, 2000.0])] * 3),
                            "turn": turn}},
        "solids": {}, "hazards": {},
        "restraints": {
            "plate": {"kind": "foot restraint",
                      "boot_twist": Q(rng.choice([0.2, 0.5, 1.0]), "angle"),
                      "twist_to": rng.choice(["either", "left", "right"])}
        },
        "stations": {
            name: {"in": "site", "at": vector(one[:3, 3]), "up": [float(v) for v in one[:3, 2]],
                   "toes": [float(v) for v in one[:3, 0]], "restraint": "plate"}
            for name, one in (("PW", boots["W"]), ("PV", boots["V"]))
        },
        "workers": {
            name: {"size": rng.choice(list(work_cases.BODIES)),
                   "hand": rng.choice(["right", "left"]),
                   "suit": rng.choice(["halden", "unsuited"])}
            for name in ("W", "V")
        },
        "limits": {
            key: value for key, value in {
                "helmet_distance": Q(rng.choice([0.3, 0.6]), "length"),
                "body_clearance": Q(rng.choice([0.0, 0.02]), "length"),
                "kick_band": Q(0.2, "length"),
            }.items() if rng.random() < 0.4
        },
    }  # fmt: skip
    for i in range(rng.choice([0, 1, 2, 3])):
        at = moved(first, [0.3 * rng.gauss(0, 1.5), 0.5 * rng.gauss(0, 1.5), rng.uniform(0.2, 2.0)])
        record: dict[str, Any] = {
            "in": "site", "at": vector(at), "turn": space.any_rotation(rng)[0]
        }  # fmt: skip
        record |= space.any_shape(rng)
        if rng.random() < 0.3:
            record["kick_load"] = Q(rng.choice([100.0, 600.0]), "force")
        if rng.random() < 0.3:
            kind = rng.choice(["no-touch", "vent", "sharp edge", "hot"])
            record |= {"kind": kind, "stand_off": Q(rng.choice([0.0, 0.1, 0.3]), "length")}
            if rng.random() < 0.4:
                record["active"] = [[clock(300.0), clock(600.0)]]
            scene["hazards"][f"danger{i}"] = record
        else:
            scene["solids"][f"thing{i}"] = record
    steps: list[dict[str, Any]] = []
    for k, name in enumerate(("W", "V")):
        step: dict[str, Any] = {
            "name": f"{name} in", "lane": name, "where": f"P{name}",
            "start": clock(60.0 * k), "duration": Q(rng.choice([120.0, 600.0]), "time"),
            "actions": [{"do": "ingress"}],
        }  # fmt: skip
        if rng.random() < 0.3:
            step["between"] = [Q(60.0, "time"), Q(900.0, "time")]
        steps.append(step)
    return scene, {"format": 1, "lanes": {"W": "worker", "V": "worker"}, "steps": steps}


def at_rest(body: Any, suit: Any, q: Any) -> list[tuple[str, str, Any, Any, float]]:
    """Return the parts of a body at rest, boot frame: both arms folded."""
    hip, torso, low = trunk(body, suit, q)
    bones = Bones(hip, torso, low, low, low, low, torso)
    parts = [one for one in capsules(body, suit, (), bones) if one[0] not in
             ("upper arm", "forearm", "hand")]  # fmt: skip
    flip = torso @ work_cases.MIRROR @ torso.T
    idle = [one for one in parts if one[0].startswith("idle")]
    parts += [(n, k, hip + flip @ (a - hip), hip + flip @ (b - hip), r) for n, k, a, b, r in idle]
    return parts


def legs_of(parts: Any, boots: Any) -> Iterator[tuple[Any, Any, float]]:
    """Yield the legs of a body, and the boot below each down to its sole, in the world."""
    for name, _, ankle, hip, r in parts:
        if name == "leg":
            yield moved(boots, ankle), moved(boots, hip), r
            yield moved(boots, [ankle[0], ankle[1], r]), moved(boots, ankle), r


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of two who stand side by side."""
    limits = {**SHIPPED, **scene["limits"]}
    solids = space.placed_shapes(scene, "solids")
    hazards = space.placed_shapes(scene, "hazards")
    bodies: dict[str, list[Any]] = {}
    for step in procedure["steps"]:
        w = step["lane"]
        found = {
            name: [f for f in outcome.findings if f.check == name and f.step == step["name"]]
            for name in CHECKS
        }
        situation = next(one for one in outcome.situations if one.worker == w)
        record = scene["stations"][f"P{w}"]
        z, x = (unit([float(v) for v in record[key]]) for key in ("up", "toes"))
        boots = world_from(scene, "site") @ space.pose(
            np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
        )
        worker = scene["workers"][w]
        suit, body = work_cases.SUITS[worker["suit"]], work_cases.BODIES[worker["size"]]
        q = resting_of(outcome.site, situation).trunk
        parts = at_rest(body, suit, q)
        if worker["hand"] == "left":
            m = work_cases.MIRROR
            parts = [(n, k, m @ a, m @ b, r) for n, k, a, b, r in parts]
        bodies[w] = [(n, moved(boots, a), moved(boots, b), r) for n, _, a, b, r in parts]
        now = 600.0 if float(step["duration"]) > 300.0 else 0.0
        ends = clock_end(step)
        active = {
            name: one for name, one in hazards.items()
            if "active" not in scene["hazards"][name] or ends >= 300.0
        }  # fmt: skip
        del now

        def room(
            angle: float, others: Any = active, boots: Any = boots, parts: Any = parts,
            every: Any = hazards,
        ) -> float:  # fmt: skip
            at = boots @ space.pose(space.turned([0, 0, 1], angle), [0, 0, 0])
            least = math.inf
            del others
            for _, kind, a, b, r in parts:
                p, s = moved(at, a), moved(at, b)
                for shape, where in solids.values():
                    gap = space.apart(shape, where, p, s, r) - limits[f"{kind}_clearance"]
                    least = min(least, gap)
                for name, (shape, where) in every.items():
                    if scene["hazards"][name]["kind"] != "vent":
                        asked = float(scene["hazards"][name]["stand_off"])
                        least = min(least, space.apart(shape, where, p, s, r) - asked)
            return least

        still = room(0.0)
        good = None if 0.0 <= still < 1e-3 else still >= -NEAR
        yield opinion("clearance", w, found["clearance"],
                      good if str(found["clearance"][0].verdict) == "pass" or still > 0.0 else None,
                      f"{still:g}")  # fmt: skip
        twist = float(scene["restraints"]["plate"]["boot_twist"])
        sides = {"either": (1, -1), "left": (1,), "right": (-1,)}[
            scene["restraints"]["plate"]["twist_to"]]  # fmt: skip
        best = max(min(room(side * t) for t in np.linspace(0, twist, 25)) for side in sides)
        told = [f for f in found["ingress"] if f.answer == "boots"] or found["ingress"]
        good = None if 0.0 <= best < 0.02 else best >= -NEAR
        yield opinion("ingress", w, told, good, f"{best:g}")
        vents = [
            space.apart(*active[name], p, s, r) - float(scene["hazards"][name]["stand_off"])
            for name in active
            if scene["hazards"][name]["kind"] == "vent"
            for _, p, s, r in bodies[w]
        ]
        if vents:
            good = None if 0.0 <= min(vents) < 2e-3 else min(vents) >= -NEAR
            yield opinion("exposure", w, found["exposure"], good, f"{min(vents):g}")
        kicks = [
            space.apart(*shapes[name], p, s, r) - limits["kick_band"]
            for table, shapes in (("solids", solids), ("hazards", hazards))
            for name in shapes
            if scene[table][name].get("kick_load", math.inf) < limits["kick_load"] - 1e-6
            for p, s, r in legs_of(parts, boots)
        ]
        if kicks:
            good = None if abs(min(kicks)) < 2e-3 else min(kicks) >= 0.0
            yield opinion("kick", w, found["kick"], good, f"{min(kicks):g}")
    yield from _together(outcome, bodies, limits)


def clock_end(step: Mapping[str, Any]) -> float:
    """Return when a step is over at the latest."""
    from benchmarks.twins.clock_twin import seconds

    longest = step.get("between", [0.0, step["duration"]])[1]
    return seconds(step["start"]) + float(longest)


def _together(
    outcome: Any, bodies: Mapping[str, list[Any]], limits: Mapping[str, Any]
) -> Iterator[Opinion]:
    """Compare both bodies part by part, helmets with each other."""
    heads, others = math.inf, math.inf
    for one, other in itertools.product(bodies["W"], bodies["V"]):
        shape, at = _capsule(*one[1:])
        gap = space.apart(shape, at, *other[1:])
        if {one[0], other[0]} <= {"helmet", "head"}:
            heads = min(heads, gap)
        else:
            others = min(others, gap)
    told = [f for f in outcome.findings if f.check == "helmets"]
    if not told:
        return
    head = [f for f in told if "helmet" in (f.answer or "") or "helmet" in f.because.lower()]
    rest = [f for f in told if f not in head]
    left = heads - limits["helmet_distance"]
    yield opinion("helmets", "helmets", head, None if abs(left) < 2e-3 else left >= 0.0,
                  f"{left:g}")  # fmt: skip
    yield opinion("helmets", "bodies", rest, None if abs(others) < 2e-3 else others >= 0.0,
                  f"{others:g}")  # fmt: skip


def _capsule(a: Any, b: Any, radius: float) -> tuple[Any, Any]:
    import coal

    length, at = space.capsule_pose(a, b)
    return (coal.Capsule(radius, length) if length > 0.0 else coal.Sphere(radius)), at
