"""Random worksites asked for both hands, for all sizes, for a crowd, or from any socket.

They are those of `work_cases`, some with the fastener before the chest, some far out of reach;
sockets are set otherwise than the planted posture wants, marked faulty, or given company.
"""

from __future__ import annotations

import copy
import random
from typing import Any

import numpy as np

from benchmarks.twins import work_cases
from benchmarks.twins.space import moved, unit, vector
from benchmarks.twins.work_body import limb
from benchmarks.twins.work_cases import BODIES, MIRROR, SUITS
from benchmarks.twins.writing import Q

MODES = ("both", "both", "sizes", "share", "socket", "socket")


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a worksite and its step; what is asked beside it stands in ``_options``."""
    mode = rng.choice(MODES)
    while True:
        scene, procedure = work_cases.draw(rng)
        if mode != "socket" or "sockets" in scene:
            break
    scene["_mode"], scene["tools"] = mode, copy.deepcopy(scene["tools"])
    if rng.random() < 0.6:
        scene["solids"], scene["hazards"] = {}, {}
        scene.pop("_meshes", None)
    where = rng.random()
    if where < 0.4:
        _place(scene, [rng.uniform(0.45, 0.65), rng.uniform(-0.3, 0.3), rng.uniform(1.1, 1.4)],
               [1, rng.uniform(-0.3, 0.3), rng.uniform(-0.3, 0.3)])  # fmt: skip
    elif where < 0.65:
        tip = scene["_planted"]["tip"] + rng.choice([0.6, 1.5, 3.0]) * unit(
            [rng.gauss(0, 1) for _ in range(3)]
        )
        _place(scene, tip, scene["_planted"]["way"])
    for one in ("tolerance", "tools"):
        scene["fasteners"]["B"].pop(one, None)
    action = procedure["steps"][0]["actions"][0]
    if mode == "both":
        action["hand"] = "both"
        _second_grip(rng, scene, action["tool"])
    elif mode == "sizes":
        scene["_options"] = {"sizes": ["small", "medium", "large"]}
        if rng.random() < 0.3:
            scene["limits"]["reach_margin"] = Q(rng.choice([0.02, 0.1]), "length")
    elif mode == "share":
        n, sex = rng.choice([4, 12, 40]), rng.choice(["male", "female", "mixed"])
        scene["_options"] = {"population": f"n={n}, sex={sex}, seed={rng.randrange(9)}"}
        if rng.random() < 0.7:
            scene["limits"]["population_share"] = rng.choice([0.2, 0.5, 0.7])
        if rng.random() < 0.25:
            far = rng.choice([1.5, 3.0]) * unit([rng.gauss(0, 1) for _ in range(3)])
            _place(scene, scene["_planted"]["tip"] + far, scene["_planted"]["way"])
    else:
        _sockets(rng, scene, procedure["steps"][0])
    return scene, procedure


def _place(scene: dict[str, Any], tip: Any, way: Any) -> None:
    """Put the fastener where the tool's tip (m, boot frame) would be; nobody was planted there."""
    planted, fastener = scene["_planted"], scene["fasteners"]["B"]
    tip, way, boots = np.asarray(tip, float), unit(way), planted["boots"]
    fastener["at"] = vector(moved(boots, tip))
    fastener["axis"] = [float(v) for v in -boots[:3, :3] @ way]
    planted |= {"tip": tip, "way": way}
    planted.pop("bones", None)


def _second_grip(rng: random.Random, scene: dict[str, Any], name: str) -> None:
    """Give the tool a second grip: along it, where another arm may have its fist, or nowhere."""
    tool, worker = scene["tools"][name], scene["workers"]["W"]
    bones, how = scene["_planted"].get("bones"), rng.random()
    along = np.array(tool["tip"], float)
    at = rng.uniform(0.3, 0.9) * along + 0.05 * np.array([rng.gauss(0, 1) for _ in range(3)])
    if how < 0.15:
        at = at + rng.choice([1.0, 2.5]) * unit([rng.gauss(0, 1) for _ in range(3)])
    elif how < 0.5 and bones is not None:
        body, suit = BODIES[worker["size"]], SUITS[worker["suit"]]
        # Upright but for how the planted trunk stands: its angles are not kept, so that the
        # other arm hangs on an upright one.
        other = limb(body, suit, [0.0] * 5, rng, 1.0)
        fist = MIRROR @ (other.wrist + body.links.grip * other.hand[:, 0])
        grip = bones.wrist + body.links.grip * bones.hand[:, 0]
        at = bones.hand.T @ (fist - grip)
    if how < 0.95:
        tool["second_grip"] = vector(at)


def _sockets(rng: random.Random, scene: dict[str, Any], step: dict[str, Any]) -> None:
    """Turn the setting away from the planted one; other sockets, some of them not free."""
    joints = {j["name"]: j for j in scene["restraints"]["stand"]["chain"] if "name" in j}
    scene["_planted"]["setting"] = dict(step["setting"])
    for name, joint in joints.items():
        if rng.random() < 0.6:
            n = round((float(joint["to"]) - float(joint["from"])) / float(joint["step"]))
            pick = rng.randrange(n + 1)
            angle = float(joint["from"]) + pick * float(joint["step"])
            step["setting"][name] = pick if joint["numbered"] else Q(angle, "angle")
    sockets = scene["sockets"]
    first = sockets["P"]
    for i in range(rng.choice([0, 1, 2])):
        off = rng.choice([0.3, 1.0, 3.0]) * np.array([rng.gauss(0, 1) for _ in range(3)])
        sockets[f"Q{i}"] = {**first, "at": vector([float(v) for v in first["at"]] + off)}
        if rng.random() < 0.4:
            sockets[f"Q{i}"]["status"] = rng.choice(["faulty", "blocked"])
    if rng.random() < 0.15:
        first["status"] = rng.choice(["faulty", "blocked"])
