"""Payloads on written ways, and a crane's tip at stations, against samples by coal and pinocchio.

A way is sampled pose by pose: one point runs straight while the payload turns evenly.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import coal
import numpy as np
import pinocchio

from benchmarks.twins import space, work_cases
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, pose_of, unit, vector, world_from
from benchmarks.twins.writing import Q, clock
from reach.files.shipped import shipped_path

CHECKS = ("sweep", "bystander", "approach", "crane-reach", "joints", "links")
USE = ["shipped:suits", "shipped:restraints", "shipped:limits", "shipped:sizes"]
SHIPPED = {
    "payload_clearance": 0.2, "worker_distance": 1.5, "crane_reserve": 0.1,
    "joint_reserve": math.radians(3.0), "singular_reserve": 0.02, "link_clearance": 0.1,
    "approach_speed": 0.05,
}  # fmt: skip
NEAR = 1e-5
N_SAMPLES = 120
"""Poses looked at on each leg."""


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a payload that moves past things, or a crane with two stations."""
    scene: dict[str, Any] = {
        "format": 1, "use": USE, "procedure": "procedure.toml",
        "frames": {"site": space.any_site(rng)},
        "solids": {}, "hazards": {}, "limits": {},
        "workers": {"W": {"size": rng.choice(list(work_cases.BODIES)), "hand": "right",
                          "suit": "halden"}},
        "restraints": {"plate": {"kind": "foot restraint", "holds_torque": Q(100.0, "torque")}},
    }  # fmt: skip
    if rng.random() < 0.15:
        return scene, _with_crane(rng, scene)
    return scene, _with_payload(rng, scene)


def _things(rng: random.Random, scene: dict[str, Any], middle: Any, spread: float) -> None:
    for i in range(rng.choice([1, 1, 2, 3])):
        at = middle + spread * np.array([rng.gauss(0, 1) for _ in range(3)])
        record: dict[str, Any] = {
            "in": "site", "at": vector(at), "turn": space.any_rotation(rng)[0]
        }  # fmt: skip
        shape = rng.random()
        if shape < 0.5:
            record["box"] = vector([rng.choice([0.02, 0.3, 1.0]) for _ in range(3)])
        elif shape < 0.8:
            record["cylinder"] = {
                "radius": Q(rng.choice([0.05, 0.3]), "length"),
                "height": Q(rng.choice([0.2, 2.0]), "length"), "sides": rng.choice([8, 32]),
            }  # fmt: skip
        else:
            name = f"lump{i}.stl"
            record["mesh"] = {"file": name, "unit": rng.choice(["m", "mm", "ft"]), "up": "z"}
            scene.setdefault("_meshes", {})[name] = work_cases.blob(rng)
        if rng.random() < 0.3:
            record |= {"kind": rng.choice(["no-touch", "hot", "vent", "sharp edge"]),
                       "stand_off": Q(rng.choice([0.0, 0.1, 0.4]), "length")}  # fmt: skip
            if rng.random() < 0.5:
                record["active"] = [[clock(0.0), clock(rng.choice([600.0, 900.0]))]]
            scene["hazards"][f"danger{i}"] = record
        else:
            if rng.random() < 0.4:
                record["stand_off"] = Q(rng.choice([0.0, 0.05, 0.5]), "length")
            scene["solids"][f"thing{i}"] = record


def _with_payload(rng: random.Random, scene: dict[str, Any]) -> dict[str, Any]:
    poses, at = {}, np.array([rng.uniform(-1, 1) for _ in range(3)])
    names = ["p0", "p1", "p2", "p3"][: rng.choice([2, 2, 3, 4])]
    _turn, rotation = space.any_rotation(rng)
    for name in names:
        poses[name] = {"in": "site", "at": vector(at), "turn": work_cases.turns_of(rotation)}
        if rng.random() < 0.7:
            at = at + rng.uniform(0.2, 2.5) * unit([rng.gauss(0, 1) for _ in range(3)])
        if rng.random() < 0.7:
            by = rng.uniform(0.1, 2.8)
            rotation = rotation @ space.turned([rng.gauss(0, 1) for _ in range(3)], by)
    path: dict[str, Any] = {"through": names}
    if rng.random() < 0.4:
        path["about"] = vector([rng.uniform(-0.5, 0.5) for _ in range(3)])
    payload: dict[str, Any] = {"poses": poses, "paths": {"way": path}, "mass": Q(100.0, "mass")}
    if rng.random() < 0.3:
        payload["stand_off"] = Q(rng.choice([0.0, 0.1, 0.5]), "length")
    scene["payloads"] = {"load": payload}
    scene["solids"]["load-a"] = {
        "in": "load",
        "box": vector([rng.choice([0.2, 0.6, 1.5]) for _ in range(3)]),
    }
    if rng.random() < 0.5:
        scene["solids"]["load-b"] = {
            "in": "load", "at": vector([rng.uniform(-1, 1) for _ in range(3)]),
            "turn": space.any_rotation(rng)[0],
            "cylinder": {"radius": Q(0.1, "length"), "height": Q(0.8, "length"), "sides": 16},
        }  # fmt: skip
    middle = np.mean([[float(v) for v in one["at"]] for one in poses.values()], axis=0)
    _things(rng, scene, middle, rng.choice([0.7, 1.2, 2.0]))
    fixed = [name for name in scene["solids"] if not name.startswith("load")]
    if rng.random() < 0.2 and fixed:
        leg = {"stand_off": {fixed[0]: Q(rng.choice([0.0, 0.05]), "length")}}
        path["legs"] = {rng.choice(names[1:]): leg}
    if rng.random() < 0.3:
        scene["limits"]["payload_clearance"] = Q(rng.choice([0.0, 0.05]), "length")
    boots = work_cases.pose(
        space.turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
        middle + rng.choice([1.5, 2.5, 4.0]) * unit([rng.gauss(0, 1) for _ in range(3)]),
    )
    scene["stations"] = {
        "P": {"in": "site", "at": vector(boots[:3, 3]), "up": [float(v) for v in boots[:3, 2]],
              "toes": [float(v) for v in boots[:3, 0]], "restraint": "plate"}
    }  # fmt: skip
    if rng.random() < 0.3:
        scene["guides"] = {
            "G": {"payload": "load", "pose": names[-1], "offset": Q(0.02, "length"),
                  "angle": Q(0.05, "angle")}
        }  # fmt: skip
    lasts = rng.choice([30.0, 60.0, 300.0])
    step: dict[str, Any] = {
        "name": "go", "lane": "M", "path": "way", "start": clock(600.0),
        "duration": Q(lasts, "time"), "actions": [{"do": "move", "payload": "load"}],
    }  # fmt: skip
    if rng.random() < 0.3:
        step["between"] = [Q(20.0, "time"), Q(400.0, "time")]
    stand = {
        "name": "stand", "lane": "W", "where": "P", "start": clock(0.0),
        "duration": Q(rng.choice([300.0, 3000.0]), "time"), "actions": [{"do": "ingress"}],
    }  # fmt: skip
    return {"format": 1, "lanes": {"M": "inside lead", "W": "worker"}, "steps": [stand, step]}


def _with_crane(rng: random.Random, scene: dict[str, Any]) -> dict[str, Any]:
    base_turn, _ = space.any_rotation(rng)
    scene["cranes"] = {
        "Arm": {"in": "site", "arm": "shipped:brackenfall",
                "at": vector([rng.uniform(-1, 1) for _ in range(3)]), "turn": base_turn}
    }  # fmt: skip
    if rng.random() < 0.5:
        turn = [{"axis": [0, 1, 0], "angle": Q(-math.pi / 2, "angle")}]
        scene["cranes"]["Arm"]["plate"] = {"turn": turn}
    model = arm()
    stations = {}
    base = pose_of(scene["cranes"]["Arm"])
    for name in ("U0", "U1"):
        q = np.array([
            rng.uniform(low, high) for low, high in zip(
                model.lowerPositionLimit, model.upperPositionLimit, strict=True)
        ])  # fmt: skip
        tip = base @ fk(q)
        plate = tip @ pose_of(scene["cranes"]["Arm"].get("plate", {}))
        if rng.random() < 0.2:
            plate[:3, 3] += rng.uniform(0.1, 3.0) * unit([rng.gauss(0, 1) for _ in range(3)])
        stations[name] = {
            "in": "site", "at": vector(plate[:3, 3]), "up": [float(v) for v in plate[:3, 2]],
            "toes": [float(v) for v in plate[:3, 0]], "restraint": "plate", "on": "Arm",
        }  # fmt: skip
    scene["stations"] = stations
    _things(rng, scene, np.array([float(v) for v in stations["U1"]["at"]]) / 2, 3.0)
    step = {
        "name": "go", "lane": "CO", "start": clock(0.0), "duration": Q(1800.0, "time"),
        "actions": [{"do": "move crane", "from": "U0", "to": "U1"}],
    }  # fmt: skip
    return {"format": 1, "lanes": {"CO": "crane"}, "steps": [step]}


@cache
def arm() -> Any:
    """Return the shipped arm as pinocchio reads it."""
    return pinocchio.buildModelFromUrdf(str(shipped_path("cranes/brackenfall.urdf")))


@cache
def links() -> Any:
    """Return the collision shapes of the shipped arm."""
    path = str(shipped_path("cranes/brackenfall.urdf"))
    return pinocchio.buildGeomFromUrdf(arm(), path, pinocchio.GeometryType.COLLISION)


def fk(q: Any) -> Any:
    """Return the pose of the tip in the base's frame."""
    model = arm()
    data = model.createData()
    pinocchio.framesForwardKinematics(model, data, np.asarray(q, float))
    return np.array(data.oMf[len(model.frames) - 1].homogeneous)


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of one case."""
    found = {name: [one for one in outcome.findings if one.check == name] for name in CHECKS}
    limits = {**SHIPPED, **scene["limits"]}
    if "cranes" in scene:
        yield from _crane(scene, outcome, found, limits)
    else:
        yield from _payload(scene, procedure, found, limits)


def legs_of(scene: Mapping[str, Any]) -> Iterator[tuple[str, list[Any]]]:
    """Yield the pose that each leg ends at, and samples of the payload's pose in the world."""
    path = scene["payloads"]["load"]["paths"]["way"]
    about = np.array([float(v) for v in path.get("about", (0, 0, 0))])
    names = path["through"]
    poses = [world_from(scene, "load", {"load": name}) for name in names]
    for name, first, last in zip(names[1:], poses, poses[1:], strict=False):
        a, b = moved(first, about), moved(last, about)
        between = first[:3, :3].T @ last[:3, :3]
        axis = np.array([
            between[2, 1] - between[1, 2], between[0, 2] - between[2, 0],
            between[1, 0] - between[0, 1],
        ])  # fmt: skip
        angle = math.atan2(float(np.linalg.norm(axis)), float(np.trace(between)) - 1)
        samples = []
        for t in np.linspace(0.0, 1.0, N_SAMPLES + 1):
            turn = np.eye(3) if angle < 1e-9 else space.turned(axis, t * angle)
            rotation = first[:3, :3] @ turn
            origin = (1 - t) * a + t * b - rotation @ about
            samples.append(space.pose(rotation, origin))
        yield name, samples


def _gap(one: Any, one_at: Any, other: Any, other_at: Any) -> float:
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    request.enable_signed_distance = True
    return float(coal.distance(
        one, space.transform(one_at), other, space.transform(other_at), request, result
    ))  # fmt: skip


def _payload(
    scene: Mapping[str, Any],
    procedure: Mapping[str, Any],
    found: dict[str, list[Any]],
    limits: Mapping[str, Any],
) -> Iterator[Opinion]:
    load = {
        name: (shape, pose_of(scene["solids"][name]))
        for name, (shape, _) in space.placed_shapes(scene, "solids").items()
        if scene["solids"][name].get("in") == "load"
    }
    rest = {k: v for k, v in space.placed_shapes(scene, "solids").items() if k not in load}
    step = procedure["steps"][1]
    end = 600.0 + float(step.get("between", [0, step["duration"]])[1])
    for name, one in space.placed_shapes(scene, "hazards").items():
        spans = scene["hazards"][name].get("active")
        if spans is None or any(_s(a) <= end and _s(b) >= 600.0 for a, b in spans):
            rest[name] = one
    payload = scene["payloads"]["load"]
    given = payload["paths"]["way"].get("legs", {})
    worst, note, total = math.inf, "", 0.0
    seat = _seat(scene, load, rest)
    legs = list(legs_of(scene))
    nearest = math.inf
    feet = _shins(scene)
    for k, (goal, samples) in enumerate(legs):
        total += float(np.linalg.norm(samples[-1][:3, 3] - samples[0][:3, 3]))
        own = given.get(goal, {}).get("stand_off", {})
        for world in samples:
            for piece, (shape, at) in load.items():
                for thing, (other, where) in rest.items():
                    record = {**scene["solids"], **scene["hazards"]}[thing]
                    asked = own.get(thing)
                    is_hazard = thing in scene["hazards"]
                    if asked is None:
                        asked = record.get("stand_off")
                    if asked is None:
                        asked = 0.0 if is_hazard else payload.get(
                            "stand_off", limits["payload_clearance"])  # fmt: skip
                    if not is_hazard and own.get(thing) == 0.0:
                        continue  # contact is meant
                    if k == len(legs) - 1 and thing in seat:
                        continue
                    gap = _gap(shape, world @ at, other, where) - float(asked)
                    if gap < worst:
                        worst, note = gap, f"{piece} {gap:g} short of {float(asked):g} off {thing}"
                for a, b, radius in feet:
                    nearest = min(nearest, space.apart(shape, world @ at, a, b, radius))
    told = [one for one in found["sweep"] if one.answer == "payload"] or found["sweep"]
    # Less than what facets of round solids cut off is no difference.
    good = None if abs(worst) < 1e-4 else worst >= 0.0
    if math.isfinite(worst):
        yield opinion("sweep", "load", told, good, note)
    stands = 600.0
    if float(procedure["steps"][0]["duration"]) > 0.0 and stands >= 0.0:
        left = nearest - limits["worker_distance"]
        yield opinion("bystander", "W", found["bystander"], False if left < -1e-4 else None,
                      f"shins {left:g}")  # fmt: skip
    if "guides" in scene and len(legs) == 1 and "speed" not in payload["paths"]["way"]:
        speed = total / float(step["duration"])
        told = [one for one in found["approach"] if one.answer == "speed"]
        yield opinion("approach", "load", told,
                      False if speed > limits["approach_speed"] + 1e-9 else None,
                      f"{speed:g} m/s")  # fmt: skip


def _s(text: str) -> float:
    from benchmarks.twins.clock_twin import seconds

    return seconds(text)


def _seat(scene: Mapping[str, Any], load: Any, rest: Any) -> set[str]:
    """Return the solids that count as the seat of a guide: within its offset of the seated load."""
    if "guides" not in scene:
        return set()
    guide = scene["guides"]["G"]
    world = world_from(scene, "load", {"load": guide["pose"]})
    return {
        thing
        for thing, (shape, at) in rest.items()
        if thing in scene["solids"]
        and min(_gap(one, world @ where, shape, at) for one, where in load.values())
        <= float(guide["offset"]) + 1e-3
    }


def _shins(scene: Mapping[str, Any]) -> list[tuple[Any, Any, float]]:
    """Return what no posture moves of who stands at P: short pieces of the legs over the boots."""
    site = world_from(scene, "site")
    record = scene["stations"]["P"]
    z = unit([float(v) for v in record["up"]])
    x = unit([float(v) for v in record["toes"]])
    boots = site @ space.pose(
        np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
    )
    suit = work_cases.SUITS["halden"]
    found = []
    for side in (1.0, -1.0):
        low = np.array([0.0, side * suit.stance / 2, suit.boot_height + suit.leg_radius])
        found.append((moved(boots, low), moved(boots, low), float(suit.leg_radius)))
    return found


def _crane(
    scene: Mapping[str, Any], outcome: Any, found: dict[str, list[Any]], limits: Mapping[str, Any]
) -> Iterator[Opinion]:
    from reach.crane import crane_at

    site = outcome.site
    base = world_from(scene, "site") @ pose_of(scene["cranes"]["Arm"])
    plate = pose_of(scene["cranes"]["Arm"].get("plate", {}))
    solids = space.placed_shapes(scene, "solids")
    model, full = arm(), 15.2
    for name in ("U1",):
        record = scene["stations"][name]
        z = unit([float(v) for v in record["up"]])
        x = unit([float(v) for v in record["toes"]])
        boots = world_from(scene, "site") @ space.pose(
            np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
        )
        tip = boots @ np.linalg.inv(plate)
        distance = float(np.linalg.norm(tip[:3, 3] - base[:3, 3]))
        told = {
            check: [f for f in found[check] if name in f.because or name in f.about]
            for check in ("crane-reach", "joints", "links")
        }
        carriage = site.carriages[0]
        there = crane_at(site, "Arm", boots, carriage.surroundings)
        best = there.best if there is not None else None
        notes: list[str] = []
        if distance > (1 - limits["crane_reserve"]) * full + 0.05:
            notes.append(f"{distance:g} m away")
        if best is None:
            notes.append("no posture")
        else:
            q = np.asarray(best.posture.q, float)
            off = np.abs(base @ fk(q) - tip).max()
            if off > 1e-4:
                notes.append(f"the tip is {off:g} off")
            if (q < model.lowerPositionLimit - 1e-9).any() or (
                q > model.upperPositionLimit + 1e-9).any():  # fmt: skip
                notes.append("beyond a joint limit")
        good = not notes
        if str((told["crane-reach"] or [None])[0] and told["crane-reach"][0].verdict) != "pass":
            good = None  # type: ignore[assignment]
        yield opinion("crane-reach", name, told["crane-reach"], good, "; ".join(notes))
        if best is None:
            continue
        room = float(np.minimum(q - model.lowerPositionLimit, model.upperPositionLimit - q).min())
        main = [f for f in told["joints"] if not f.answer]
        near_end = room < limits["joint_reserve"] - 1e-6
        yield opinion("joints", name, main, False if near_end else None, f"{room:g}")
        data = model.createData()
        pinocchio.computeJointJacobians(model, data, q)
        pinocchio.updateFramePlacements(model, data)
        jacobian = pinocchio.getFrameJacobian(
            model, data, len(model.frames) - 1, pinocchio.LOCAL_WORLD_ALIGNED
        )
        scaled = np.array(jacobian)
        scaled[:3] /= full
        least = float(np.linalg.svd(scaled)[1].min())
        main = [f for f in told["joints"] if f.answer]
        yield opinion("joints", f"{name} singular", main,
                      False if least < limits["singular_reserve"] - 2e-3 else None,
                      f"{least:g}")  # fmt: skip
        geometry = links()
        gdata = geometry.createData()
        pinocchio.updateGeometryPlacements(model, data, geometry, gdata, q)
        worst = math.inf
        for k, one in enumerate(geometry.geometryObjects):
            at = base @ np.array(gdata.oMg[k].homogeneous)
            if one.parentJoint == 0:
                continue
            for shape, where in solids.values():
                worst = min(worst, _gap(one.geometry, at, shape, where))
        left = worst - limits["link_clearance"]
        yield opinion("links", name, told["links"], False if left < -1e-4 else None, f"{left:g}")
