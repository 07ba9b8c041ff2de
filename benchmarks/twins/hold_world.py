"""A payload in hands, in the world: who holds what when, where grips, things and poses are."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any

import numpy as np

from benchmarks.twins import space
from benchmarks.twins.clock_twin import seconds
from benchmarks.twins.holder import Limb, limbs_of
from benchmarks.twins.space import moved, pose_of, unit, world_from
from benchmarks.twins.work_cases import BODIES, SUITS

SHIPPED = {
    "reach_margin": 0.0, "grip_tolerance": math.radians(20.0), "hand_clearance": 0.01,
    "body_clearance": 0.08, "arm_clearance": 0.01, "stop_distance": 0.1,
    "handling_force": 45 * 4.4482216152605,
}  # fmt: skip
N_SAMPLES = 60
"""Poses looked at on each leg of a payload's way."""


@dataclass(frozen=True)
class Held:
    """Somebody who should be asked about: who, by which grips, payload in which pose."""

    worker: str
    grips: tuple[str, ...]
    pose: str = "here"
    when: str = ""


class Case:
    """One case with everything in the world."""

    def __init__(
        self, scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
    ) -> None:
        self.scene, self.procedure, self.outcome = scene, procedure, outcome
        self.limits = {**SHIPPED, **scene["limits"]}
        self.holds = dict(self._holds())

    def boots(self, worker: str) -> Any:
        """Return where a worker's boots are, in the world."""
        record = self.scene["stations"][f"P{worker}"]
        z, x = (unit([float(v) for v in record[key]]) for key in ("up", "toes"))
        return world_from(self.scene, "site") @ space.pose(
            np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
        )

    def body(self, worker: str) -> tuple[Any, Any, str]:
        """Return body, suit and hand of a worker."""
        one = self.scene["workers"][worker]
        return BODIES[one["size"]], SUITS[one["suit"]], one["hand"]

    def bar(self, name: str, pose: str) -> tuple[Any, Any]:
        """Return both ends of a grip in the world, with the payload in a pose."""
        world = world_from(self.scene, self.on(name), {"load": pose})
        if name in self.scene["handrails"]:
            record = self.scene["handrails"][name]
            return moved(world, record["from"]), moved(world, record["to"])
        record = self.scene["handholds"][name]
        half = 0.05 * unit(record["along"])
        at = np.array([float(v) for v in record["at"]])
        return moved(world, at - half), moved(world, at + half)

    def on(self, grip: str) -> str:
        """Return the payload that a grip is on."""
        table = "handrails" if grip in self.scene["handrails"] else "handholds"
        return str(self.scene[table][grip]["in"])

    def shapes(self, pose: str, grips: Sequence[str] = ()) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return the solids of what some grips are on, or of the load, and all others."""
        every = space.placed_shapes(self.scene, "solids", {"load": pose})
        mine = {self.on(one) for one in grips} or {"load"}
        held = {k: v for k, v in every.items() if self.scene["solids"][k].get("in") in mine}
        return held, {k: v for k, v in every.items() if k not in held}

    def _holds(self) -> Iterator[tuple[str, list[Held]]]:
        """Yield who should be asked in each step."""
        now: dict[str, tuple[str, ...]] = {}
        for step in self.procedure["steps"]:
            asked: list[Held] = []
            for action in step["actions"]:
                worker = step["lane"]
                if action["do"] == "hold":
                    now[worker] = (*self._beside(now, worker, action), *action["grips"])
                    asked.append(Held(worker, now[worker], "here"))
                elif action["do"] == "hand over":
                    taker, more = action["to"], tuple(action["grips"])
                    if any(self.on(one) == "load" for one in now[worker]):
                        asked.append(Held(worker, now[worker], "here", "while it is given"))
                    kept = tuple(one for one in now.get(taker, ()) if one not in more)
                    now[taker] = (*kept, *more)
                    asked.append(Held(taker, now[taker], "here", "as it is taken"))
                    now[worker] = tuple(one for one in now[worker] if self.on(one) != "load")
                elif action["do"] in ("align", "move"):
                    poses = ("here", "seat") if action["do"] == "align" else ("here",)
                    asked += [
                        Held(one, grips, pose, f"with load at {pose}" * (len(poses) > 1))
                        for one, grips in now.items()
                        for pose in poses
                        if any(self.on(grip) == "load" for grip in grips)
                    ]
            yield step["name"], asked

    def _beside(
        self, now: Mapping[str, tuple[str, ...]], worker: str, action: Mapping[str, Any]
    ) -> tuple[str, ...]:
        """Return what stays in hand beside a new hold: grips of other things, if a hand is left."""
        if len(action["grips"]) > 1:
            return ()
        new = self.on(action["grips"][0])
        return tuple(one for one in now.get(worker, ()) if self.on(one) != new)

    def limbs(self, held: Held) -> list[Limb]:
        """Return the arms of the posture in which the package has somebody hold something."""
        bars = [self.bar(name, held.pose) for name in held.grips]
        size = max(1.0, float(np.abs(bars[0][0]).max()))
        for key, value in self.outcome.site.memo.items():
            if key[0] != "grasped" or key[1] != held.worker or not value[0].found:
                continue
            if set(key[5].grips) != set(held.grips):
                continue
            found = value[0]
            bars = [self.bar(name, held.pose) for name in found.grips]
            off = [
                float(np.linalg.norm(np.cross(p - a, unit(b - a))))
                for p, (a, b) in zip(found.points, bars, strict=True)
            ]
            if max(off) < 1e-6 + 1e-9 * size:
                body, suit, own = self.body(held.worker)
                self._last = found
                return limbs_of(body, suit, found, own)
        return []

    def active(self, name: str, step: Mapping[str, Any]) -> bool:
        """Return whether a hazard is active while a step may last."""
        spans = self.scene["hazards"][name].get("active")
        begin = seconds(step["start"])
        longest = float(step.get("between", [0, step.get("duration", 0.0)])[1])
        return spans is None or any(
            seconds(a) <= begin + longest and seconds(b) >= begin for a, b in spans
        )

    def path(self) -> Iterator[list[Any]]:
        """Yield samples of the payload's pose in the world, leg by leg."""
        payload = self.scene["payloads"]["load"]
        way = payload["paths"]["way"]
        names, about = way["through"], np.array([float(v) for v in way.get("about", (0, 0, 0))])
        if any(a["do"] == "align" for a in self.procedure["steps"][-1]["actions"]):
            names, about = ["here", "seat"], np.zeros(3)
        poses = [world_from(self.scene, "load", {"load": name}) for name in names]
        for first, last in pairwise(poses):
            yield way_between(first, last, about)

    def farthest(self, about: Any) -> float:
        """Return how far the payload's solids stick out from a point of it, m."""
        far = 0.0
        for name, one in self.scene["solids"].items():
            if one.get("in") != "load":
                continue
            at = pose_of(one)
            size = [float(v) for v in one.get("box", (0, 0, 0))]
            if "cylinder" in one:
                can = one["cylinder"]
                r, h = float(can["radius"]), float(can["height"])
                rim = [
                    [r * math.cos(t), r * math.sin(t), s * h / 2]
                    for t in np.arange(can["sides"]) * 2 * math.pi / can["sides"]
                    for s in (-1, 1)
                ]
            else:
                rim = [np.array(size) / 2 * s for s in product((-1, 1), repeat=3)]  # type: ignore[misc]
            far = max(far, *(float(np.linalg.norm(moved(at, p) - about)) for p in rim))
            del name
        return far


def turn_of(first: Any, last: Any) -> tuple[Any, float]:
    """Return axis (frame of the first) and angle of the shortest turn between two poses."""
    between = first[:3, :3].T @ last[:3, :3]
    axis = np.array([
        between[2, 1] - between[1, 2], between[0, 2] - between[2, 0], between[1, 0] - between[0, 1]
    ])  # fmt: skip
    return axis, math.atan2(float(np.linalg.norm(axis)), float(np.trace(between)) - 1)


def way_between(first: Any, last: Any, about: Any, n: int = N_SAMPLES) -> list[Any]:
    """Return samples of a way on which one point runs straight and all turns evenly."""
    axis, angle = turn_of(first, last)
    a, b = moved(first, about), moved(last, about)
    found = []
    for t in np.linspace(0.0, 1.0, n + 1):
        turn = np.eye(3) if angle < 1e-9 else space.turned(axis, t * angle)
        rotation = first[:3, :3] @ turn
        found.append(space.pose(rotation, (1 - t) * a + t * b - rotation @ about))
    return found
