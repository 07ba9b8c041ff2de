"""Random worksites: a fastener that a legal posture brings a tool onto, or nearly, among things.

The posture is drawn first and the fastener put where its tool is, so that it is known that the
fastener can be reached, and often that it can be reached clear and seen.
"""

from __future__ import annotations

import math
import random
from typing import Any

import numpy as np
import trimesh

from benchmarks.twins.space import any_rotation, pose, turned, unit, vector
from benchmarks.twins.work_body import planted
from benchmarks.twins.writing import Q
from reach.files.people import load_population, load_suits
from reach.worker.body import percentile_body

USE = ["shipped:suits", "shipped:restraints", "shipped:tools", "shipped:limits", "shipped:sizes"]
MIRROR = np.diag([1.0, -1.0, 1.0])
SUITS = load_suits()
BODIES = {
    "small": percentile_body(load_population("female"), 5),
    "medium": percentile_body(load_population("male"), 50),
    "large": percentile_body(load_population("male"), 95),
}
TOOLS: dict[str, dict[str, Any]] = {
    "drive": {
        "kind": "drive", "tip": [0.20, 0.0, 0.05], "axis": [1, 0, 0], "torque": 34.0,
        "least_torque": 6.0, "felt": 0.08, "shaft": 0.008, "shaft_length": 0.02,
        "takes_bits": True,
        "parts": [
            {"from": [0.05, 0, 0.05], "to": [0.15, 0, 0.05], "radius": 0.03},
            {"from": [0, 0, -0.06], "to": [0, 0, 0.05], "radius": 0.02},
        ],
    },
    "odd": {
        "kind": "wrench", "tip": [0.15, 0.04, 0.05], "axis": [4, 3, 0], "torque": 60.0,
        "takes_bits": True, "shaft": 0.012, "shaft_length": 0.05,
        "parts": [{"from": [0, 0.01, 0], "to": [0.11, 0.02, 0.05], "radius": 0.02}],
    },
    "lever": {
        "kind": "ratchet", "tip": [0.03, 0.0, 0.20], "axis": [1, 0, 0], "torque": 60.0,
        "takes_bits": True, "shaft": 0.008, "shaft_length": 0.01,
        "swing": {"lever": 0.2, "radius": 0.015, "least_arc": 1.0},
        "parts": [{"from": [0, 0, -0.05], "to": [0, 0, 0.20], "radius": 0.015}],
    },
}  # fmt: skip
BIT = {"head": "16 mm", "length": 0.05, "radius": 0.013}


def tool_tip(name: str) -> tuple[Any, Any]:
    """Return where the working end is with the bit on, and its direction, right hand frame."""
    tool = TOOLS[name]
    axis = unit(tool["axis"])
    return np.array(tool["tip"]) + BIT["length"] * axis, axis


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random worksite and the step that works there."""
    suit_name = rng.choice(["halden", "halden", "unsuited"])
    size, own = rng.choice(list(BODIES)), rng.choice(["right", "left"])
    tool = rng.choice(list(TOOLS))
    suit, body = SUITS[suit_name], BODIES[size]
    bones, _ = planted(body, suit, None, rng, rng.choice([0.6, 1.0, 1.6]))
    tip_in_hand, axis = tool_tip(tool)
    grip = bones.wrist + body.links.grip * bones.hand[:, 0]
    tip, way = grip + bones.hand @ tip_in_hand, bones.hand @ axis
    kind = rng.random()
    if kind < 0.15:
        tip = tip + rng.uniform(0.0, 0.3) * way
    elif kind < 0.3:
        tip = tip + 0.1 * np.array([rng.gauss(0, 1) for _ in range(3)])
    elif kind < 0.4:
        tip = tip + rng.uniform(0.2, 1.0) * unit([rng.gauss(0, 1) for _ in range(3)])
    hand = own
    turned_by = rng.choice(["own", "right", "left"])
    if turned_by != "own":
        hand = turned_by
    if hand == "left":
        tip, way = MIRROR @ tip, MIRROR @ way

    turn, _rotation = any_rotation(rng)
    far = rng.choice([0.0, 0.0, 0.0, 3000.0])
    at = np.array([rng.uniform(-2, 2) + far, rng.uniform(-2, 2), rng.uniform(-2, 2)])
    frames = {"site": {"at": vector(at), "turn": turn}}
    scene: dict[str, Any] = {"format": 1, "use": USE, "procedure": "procedure.toml"}
    scene["frames"] = frames
    scene["solids"], scene["hazards"] = solids_of(rng, tip, way, scene), {}
    if rng.random() < 0.3:
        scene["hazards"] = hazards_of(rng, tip)
    # Where the boots are in the site's frame.
    boots = pose(turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
                 [rng.uniform(-1, 1) for _ in range(3)])  # fmt: skip
    for record in (*scene["solids"].values(), *scene["hazards"].values()):
        _carry(record, boots)
    place, where = place_of(rng, boots)
    scene |= place
    fastener: dict[str, Any] = {
        "in": "site",
        "at": vector(boots[:3, :3] @ tip + boots[:3, 3]),
        "axis": [float(v) for v in -boots[:3, :3] @ way],
        "head": rng.choice(["16 mm", "16 mm", "11 mm"]),
        "torque": Q(rng.choice([8.0, 20.0, 34.0, 40.0]), "torque"),
        "hand": rng.choice(["either", "either", "left", "right"]),
    }
    for key, value in (
        ("breakaway", Q(rng.choice([10.0, 25.0]), "torque")),
        ("most_torque", Q(rng.choice([20.0, 30.0, 45.0]), "torque")),
        ("push", Q(rng.choice([20.0, 200.0, 250.0]), "force")),
        ("most_push", Q(rng.choice([20.0, 200.0]), "force")),
        ("tools", rng.choice([["drive"], ["odd", "lever"]])),
        ("temperature", [250.0, rng.choice([300.0, 330.0, 340.0])]),
    ):
        if rng.random() < 0.3:
            fastener[key] = value
    if rng.random() < 0.25:
        off = rng.choice([0.003, 0.03, 0.1])
        fastener["tolerance"] = {"box": vector([off * rng.random() for _ in range(3)])}
    scene["fasteners"] = {"B": fastener}
    scene["tools"], scene["bits"] = TOOLS, {"bit": BIT}
    scene["workers"] = {"W": {"size": size, "hand": own, "suit": suit_name}}
    scene["limits"] = limits_of(rng)
    action: dict[str, Any] = {"do": "drive", "fastener": "B", "tool": tool, "bit": "bit"}
    if turned_by != "own" or rng.random() < 0.2:
        action["hand"] = turned_by
    if rng.random() < 0.3:
        action["torque"] = Q(rng.choice([8.0, 20.0, 34.0]), "torque")
    if rng.random() < 0.3:
        action["force"] = Q(rng.choice([10.0, 50.0, 200.0]), "force")
    if rng.random() < 0.2:
        action["loosen"] = True
    step = {
        "name": "work", "lane": "W", **where, "start": "00:10", "duration": Q(300.0, "time"),
        "actions": [action],
    }  # fmt: skip
    procedure = {
        "format": 1,
        "lanes": {"W": "worker"},
        "begin": {"workers": {"W": where["where"]}},
        "windows": {"dark": {"spans": [[0.0, rng.choice([300.0, 600.0, 601.0])]], "dark": True}},
        "steps": [step],
    }
    if rng.random() < 0.5:
        del procedure["windows"]
    scene["_planted"] = {"tip": tip, "way": way, "boots": boots, "hand": hand, "tool": tool}
    if kind >= 0.4:
        scene["_planted"]["bones"] = bones
    return scene, procedure


def _carry(record: dict[str, Any], boots: Any) -> None:
    """Place a record that was drawn in the boot frame in that of the site."""
    rotation, at = record.pop("_pose")
    whole = boots @ pose(rotation, at)
    record["in"], record["at"] = "site", vector(whole[:3, 3])
    record["turn"] = turns_of(whole[:3, :3])


def turns_of(rotation: Any) -> list[dict[str, Any]]:
    """Return a rotation as three turns about z, y and x of the parent."""
    pitch = math.asin(float(np.clip(-rotation[2, 0], -1, 1)))
    roll = math.atan2(rotation[2, 1], rotation[2, 2])
    yaw = math.atan2(rotation[1, 0], rotation[0, 0])
    angles = (([1, 0, 0], roll), ([0, 1, 0], pitch), ([0, 0, 1], yaw))
    return [{"axis": axis, "angle": Q(angle, "angle")} for axis, angle in angles]


def solids_of(rng: random.Random, tip: Any, way: Any, scene: dict[str, Any]) -> dict[str, Any]:
    """Return random solids in the boot frame, a plate behind the fastener among them."""
    found: dict[str, Any] = {}
    normal = -way
    if rng.random() < 0.6:
        x = unit(np.cross(normal, [0.3, 0.5, 0.8]))
        frame = np.stack([x, np.cross(normal, x), normal], axis=1)
        thick = rng.choice([0.01, 0.05])
        gap = rng.choice([0.0, 0.0, 0.002, 0.01])
        size = rng.choice([0.2, 0.6, 1.5])
        found["panel"] = {
            "box": vector([size, size, thick]), "_pose": (frame, tip - (gap + thick / 2) * normal)
        }  # fmt: skip
    for i in range(rng.choice([0, 0, 1, 2, 3])):
        rotation = turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3))
        near = rng.choice([tip + 0.25 * normal, tip * 0.5, np.array([0.3, 0.0, 1.0]), tip])
        at = near + rng.choice([0.1, 0.3, 0.6]) * np.array([rng.gauss(0, 1) for _ in range(3)])
        record: dict[str, Any] = {"_pose": (rotation, at)}
        shape = rng.random()
        if shape < 0.45:
            record["box"] = vector([rng.choice([0.005, 0.1, 0.4, 1.0]) for _ in range(3)])
        elif shape < 0.8:
            record["cylinder"] = {
                "radius": Q(rng.choice([0.01, 0.05, 0.2]), "length"),
                "height": Q(rng.choice([0.02, 0.5, 1.5]), "length"),
                "sides": rng.choice([6, 16, 32]),
            }
        else:
            name, unit_ = f"blob{i}.stl", rng.choice(["m", "mm", "ft"])
            record["mesh"] = {"file": name, "unit": unit_, "up": "z"}
            scene.setdefault("_meshes", {})[name] = blob(rng)
        found[f"thing{i}"] = record
    return found


def blob(rng: random.Random) -> tuple[Any, Any]:
    """Return corners (m) and faces of a lump."""
    ball = trimesh.creation.icosphere(subdivisions=rng.choice([0, 1]), radius=1.0)
    sizes = np.array([rng.choice([0.03, 0.1, 0.3]) for _ in range(3)])
    bumps = np.array([rng.uniform(0.6, 1.2) for _ in ball.vertices])[:, None]
    corners = np.asarray((ball.vertices * bumps * sizes).astype(np.float32), float)
    return corners, np.asarray(ball.faces)


def hazards_of(rng: random.Random, tip: Any) -> dict[str, Any]:
    """Return one random hazard near the work."""
    at = tip * rng.uniform(0.3, 1.2) + 0.3 * np.array([rng.gauss(0, 1) for _ in range(3)])
    kind = rng.choice(["no-touch", "keep-out", "sharp edge", "hot", "vent", "pinch", "shock"])
    return {
        "danger": {
            "_pose": (np.eye(3), at), "kind": kind,
            "box": vector([0.1, 0.2, 0.1]), "stand_off": Q(rng.choice([0.0, 0.1, 0.3]), "length"),
        }
    }  # fmt: skip


def place_of(rng: random.Random, boots: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return what holds the boots just there, as tables of the scene, and the keys of the step."""
    torque = {"holds_torque": Q(rng.choice([20.0, 34.0, 100.0]), "torque")}
    if rng.random() < 0.4:
        kind = {"kind": rng.choice(["foot restraint", "body tether"]), **torque}
        station: dict[str, Any] = {
            "in": "site", "at": vector(boots[:3, 3]), "up": [float(v) for v in boots[:3, 2]],
            "toes": [float(v) for v in boots[:3, 0] + rng.choice([0.0, 0.4]) * boots[:3, 2]],
            "restraint": "plate",
        }  # fmt: skip
        if rng.random() < 0.6:
            station["rating"] = rating_of(rng)
        return {"restraints": {"plate": kind}, "stations": {"P": station}}, {"where": "P"}
    # A chain from the socket: turn about z, a shift, turn about y, turn about x or z.
    joints: list[dict[str, Any]] = []
    setting: dict[str, Any] = {}
    chain = np.eye(4)
    for name, axis in (("clock", "z"), ("", ""), ("pitch", "y"), ("yaw", rng.choice("xz"))):
        if not name:
            shift = [rng.uniform(-0.2, 0.2), rng.uniform(-0.2, 0.2), rng.uniform(0.1, 0.4)]
            joints.append({"shift": vector(shift)})
            chain = chain @ pose(np.eye(3), shift)
            continue
        step, n = rng.choice([0.2, 0.5]), 4
        low = -rng.choice([0.4, 1.0])
        pick = rng.randrange(n + 1)
        angle = low + pick * step
        numbered = rng.random() < 0.5
        joints.append({
            "name": name, "turn": axis, "from": Q(low, "angle"), "to": Q(low + n * step, "angle"),
            "step": Q(step, "angle"), "numbered": numbered,
        })  # fmt: skip
        setting[name] = pick if numbered else Q(angle, "angle")
        chain = chain @ pose(turned(np.eye(3)["xyz".index(axis)], angle), [0, 0, 0])
    socket = boots @ np.linalg.inv(chain)
    slant = rng.choice([0.0, 0.5])
    record: dict[str, Any] = {
        "in": "site", "at": vector(socket[:3, 3]), "axis": [float(v) for v in socket[:3, 2]],
        "zero": [float(v) for v in socket[:3, 0] + slant * socket[:3, 2]],
    }  # fmt: skip
    if rng.random() < 0.6:
        record["rating"] = rating_of(rng)
    kind = {"kind": "foot restraint", "chain": joints, **torque}
    return (
        {"restraints": {"stand": kind}, "sockets": {"P": record}},
        {"where": "P", "restraint": "stand", "setting": setting},
    )


def rating_of(rng: random.Random) -> dict[str, Any]:
    """Return a random rating."""
    return {
        "force": Q(rng.choice([100.0, 250.0, 1000.0]), "force"),
        "moment": Q(rng.choice([50.0, 150.0, 600.0]), "torque"),
    }


def limits_of(rng: random.Random) -> dict[str, Any]:
    """Return some limits of the scene's own."""
    choices = {
        "body_clearance": Q(rng.choice([0.0, 0.03, 0.15]), "length"),
        "arm_clearance": Q(rng.choice([0.0, 0.03]), "length"),
        "hand_clearance": Q(rng.choice([0.0, 0.04]), "length"),
        "access_gap": Q(rng.choice([0.0, 0.01]), "length"),
        "axis_tolerance": Q(rng.choice([0.0, 0.2]), "angle"),
        "visible_share": rng.choice([0.25, 0.9, 1.0]),
        "sight_angle": Q(rng.choice([0.7, 1.2]), "angle"),
    }
    return {key: value for key, value in choices.items() if rng.random() < 0.25}
