"""Who sees the gaps while a payload moves: samples of the way, lines of sight by coal.

What lies so near to being seen, or to mattering, that facets of round things may decide it is
taken either way. How the clear-caller is bent at rest is taken from the program.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import coal
import numpy as np

from benchmarks.twins import carry, space, work_cases
from benchmarks.twins.clock_twin import seconds
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, unit, vector, world_from
from benchmarks.twins.work_body import Bones, eye_of, trunk
from benchmarks.twins.writing import Q, clock
from reach.resting import resting_of

CHECKS = ("watch",)
SHIPPED = {"watched_gap": 1.0, "unseen_stretch": 0.30}
BLUR = 0.03
"""Facets and round things differ by less than this (m)."""
N_TIMES = 7
"""Moments tried between the first and the last at which something may be over."""


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a payload that moves past things, with cameras and a clear-caller, or without."""
    scene, procedure = carry.draw(rng)
    while "cranes" in scene:
        scene, procedure = carry.draw(rng)
    scene.pop("guides", None)
    for one in (*scene["solids"].values(), *scene["hazards"].values()):
        if "cylinder" in one:
            one["cylinder"]["sides"] = 64
    poses = scene["payloads"]["load"]["poses"].values()
    middle = np.mean([[float(v) for v in one["at"]] for one in poses], axis=0)
    scene["cameras"] = {}
    for k in range(rng.choice([0, 1, 1, 2])):
        rides = rng.random() < 0.2
        at = rng.choice([1.0, 2.5, 5.0]) * unit([rng.gauss(0, 1) for _ in range(3)])
        at = at if rides else middle + at
        to = (0.0 if rides else middle) - at + 0.5 * np.array([rng.gauss(0, 1) for _ in range(3)])
        scene["cameras"][f"cam{k}"] = {
            "in": "load" if rides else "site", "at": vector(at), "look": [float(v) for v in to],
            "field": Q(rng.choice([0.2, 0.5, 1.0, math.pi]), "angle"),
        }  # fmt: skip
    scene["limits"] |= {
        "watched_gap": Q(rng.choice([0.3, 1.0, 2.0]), "length"),
        "unseen_stretch": Q(rng.choice([0.1, 0.3, 1.0, 2.0]), "length"),
    }
    stand, go = procedure["steps"]
    (action,) = go["actions"]
    action["cameras"] = [one for one in scene["cameras"] if rng.random() < 0.8]
    if rng.random() < 0.6:
        action["clear_caller"] = "W"
        if rng.random() < 0.5:
            _leaves(rng, scene, procedure, stand, float(go["duration"]))
    return scene, procedure


def _leaves(
    rng: random.Random, scene: dict[str, Any], procedure: dict[str, Any], stand: dict[str, Any],
    lasts: float,
) -> None:  # fmt: skip
    """Let the clear-caller go on to another place while it moves, or after."""
    at = 600.0 + lasts * rng.choice([0.1, 0.25, 0.5, 0.9, 2.0])
    stand["duration"] = Q(rng.choice([300.0, at]), "time")
    if rng.random() < 0.5:
        longest = at + rng.choice([0.0, lasts])
        stand["between"] = [Q(60.0, "time"), Q(max(longest, float(stand["duration"])), "time")]
    record = dict(scene["stations"]["P"])
    away = rng.choice([0.5, 3.0, 8.0]) * unit([rng.gauss(0, 1) for _ in range(3)])
    record["at"] = vector(np.array([float(v) for v in record["at"]]) + away)
    scene["stations"]["P2"] = record
    procedure["steps"].append({
        "name": "then", "lane": "W", "where": "P2", "start": clock(at),
        "duration": Q(300.0, "time"), "actions": [{"do": "ingress"}],
    })  # fmt: skip
    if rng.random() < 0.4:
        _goes_on(rng, scene, procedure, at)


def _goes_on(
    rng: random.Random, scene: dict[str, Any], procedure: dict[str, Any], at: float
) -> None:
    """Let the clear-caller go on once more, back or to a third place, soon after."""
    then = procedure["steps"][-1]
    stays = rng.choice([5.0, 30.0, 100.0])
    then["duration"] = Q(stays, "time")
    if rng.random() < 0.5:
        then["between"] = [Q(0.5 * stays, "time"), Q(rng.choice([1.0, 2.0]) * stays, "time")]
    record = dict(scene["stations"]["P"])
    away = rng.choice([0.5, 3.0]) * unit([rng.gauss(0, 1) for _ in range(3)])
    record["at"] = vector(np.array([float(v) for v in record["at"]]) + away)
    scene["stations"]["P3"] = record
    procedure["steps"].append({
        **then, "name": "last", "where": rng.choice(["P", "P2", "P3"]),
        "start": clock(at + stays * rng.choice([1.0, 1.5])), "duration": Q(300.0, "time"),
    })  # fmt: skip
    procedure["steps"][-1].pop("between", None)


@dataclass
class Eye:
    """Somebody who looks: where in a frame, how wide, and in which of their stands."""

    at: Any
    look: Any
    field: float
    rides: bool = False
    stand: int | None = None


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what check and twin say of the motion."""
    go = next(one for one in procedure["steps"] if one["name"] == "go")
    limits = {**SHIPPED, **scene["limits"]}
    looks = Looks(scene, go, list(_eyes(scene, procedure, go, outcome)), limits["watched_gap"])
    told = [one for one in outcome.findings if one.check == "watch"]
    least, most = 0.0, 0.0
    for lasts in _all_between(float(go["duration"]), go.get("between")):
        for gone in _leaving(procedure):
            low, high = looks.unseen(lasts, gone)
            least, most = max(least, low), max(most, high)
    fine = 2.0 * looks.step + BLUR
    good = None
    if least > limits["unseen_stretch"] + fine:
        good = False
    elif most < limits["unseen_stretch"] - fine:
        good = True
    yield opinion("watch", "load", told, good, f"{least:g} to {most:g} m unseen")


def _eyes(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], go: Mapping[str, Any], outcome: Any
) -> Iterator[Eye]:
    (action,) = go["actions"]
    for name in action["cameras"]:
        record = scene["cameras"][name]
        rides = record["in"] == "load"
        frame = np.eye(4) if rides else world_from(scene, record["in"])
        look = frame[:3, :3] @ unit([float(v) for v in record["look"]])
        yield Eye(moved(frame, record["at"]), look, float(record["field"]), rides)
    if action.get("clear_caller") != "W":
        return
    stands = [one for one in procedure["steps"] if one["lane"] == "W"]
    for k, step in enumerate(stands):
        yield Eye(_caller(scene, outcome, step["where"]), np.zeros(3), math.pi, False, k)


def _all_between(likely: float, between: Sequence[Any] | None) -> list[float]:
    """Return how long something may last, at samples, s."""
    if between is None:
        return [likely]
    low, high = (float(one) for one in between)
    return [likely, *np.linspace(low, high, N_TIMES)]


def _leaving(procedure: Mapping[str, Any]) -> list[tuple[float, ...]]:
    """Return when the clear-caller may go from each place on to the next, at samples, s."""
    stands = [one for one in procedure["steps"] if one["lane"] == "W"]
    found: list[tuple[float, ...]] = [()]
    for one, after in pairwise(stands):
        begins, since = seconds(after["start"]), seconds(one["start"])
        found = sorted({
            (*gone, max(begins, max([since, *gone]) + lasts))
            for gone in found
            for lasts in _all_between(float(one["duration"]), one.get("between"))
        })  # fmt: skip
    return found


def _caller(scene: Mapping[str, Any], outcome: Any, place: str) -> Any:
    """Return the eye of who stands at rest in a place, world."""
    worker, record = scene["workers"]["W"], scene["stations"][place]
    suit, body = work_cases.SUITS[worker["suit"]], work_cases.BODIES[worker["size"]]
    situation = next(one for one in outcome.situations if one.place and one.place.name == place)
    hip, torso, low = trunk(body, suit, resting_of(outcome.site, situation).trunk)
    z, x = (unit([float(v) for v in record[key]]) for key in ("up", "toes"))
    boots = world_from(scene, "site") @ space.pose(
        np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
    )
    return moved(boots, eye_of(body, suit, Bones(hip, torso, low, low, low, low, torso)))


class Looks:
    """What is seen at samples of a way."""

    def __init__(
        self, scene: Mapping[str, Any], go: Mapping[str, Any], eyes: Sequence[Eye], limit: float
    ) -> None:
        self.eyes, self.limit, self.begin = eyes, limit, seconds(go["start"])
        solids = space.placed_shapes(scene, "solids")
        rides = {k for k, one in scene["solids"].items() if one.get("in") == "load"}
        self.load = [(solids[k][0], space.pose_of(scene["solids"][k])) for k in rides]
        self.solid = {k: one for k, one in solids.items() if k not in rides}
        longest = float(go.get("between", [0, go["duration"]])[1])
        self.things = dict(self.solid)
        for name, one in space.placed_shapes(scene, "hazards").items():
            spans = scene["hazards"][name].get("active")
            end = self.begin + longest
            if spans is None or any(
                seconds(a) <= end and seconds(b) >= self.begin for a, b in spans
            ):
                self.things[name] = one
        path = scene["payloads"]["load"]["paths"]["way"]
        self.meant = {
            goal: {k for k, v in leg.get("stand_off", {}).items() if float(v) == 0.0}
            for goal, leg in path.get("legs", {}).items()
        }
        about = np.array([float(v) for v in path.get("about", (0, 0, 0))])
        far = max(_farthest(*one) for one in self.load) + float(np.linalg.norm(about))
        self.way: list[float] = []
        self.seen: list[list[tuple[bool, bool]]] = []
        """At each sample, for each eye: seen for sure, and perhaps."""
        self.matters: list[tuple[bool, bool]] = []
        self.step, done = 0.0, 0.0
        for goal, poses in carry.legs_of(scene):
            straight = float(np.linalg.norm(moved(poses[-1], about) - moved(poses[0], about)))
            turn = poses[0][:3, :3].T @ poses[-1][:3, :3]
            angle = math.acos(float(np.clip((np.trace(turn) - 1.0) / 2.0, -1.0, 1.0)))
            length = max(straight, angle * far)
            self.step = max(self.step, length / (len(poses) - 1))
            for k, pose in enumerate(poses):
                self.way.append(done + length * k / (len(poses) - 1))
                self._look(pose, self.meant.get(goal, set()))
            done += length

    def _look(self, pose: Any, meant: set[str]) -> None:
        """Look at what is nearest in one pose."""
        gaps = []
        for shape, at in self.load:
            for name, (other, where) in self.things.items():
                if name not in meant:
                    gap, middle = _nearest(shape, pose @ at, other, where)
                    gaps.append((gap, middle))
        gaps.sort(key=lambda one: one[0])
        if not gaps or gaps[0][0] > self.limit + BLUR:
            self.matters.append((False, False))
            self.seen.append([(True, True)] * len(self.eyes))
            return
        self.matters.append((gaps[0][0] < self.limit - BLUR, True))
        near = [one for gap, one in gaps if gap < gaps[0][0] + 2.0 * BLUR]
        if gaps[0][0] < 3.0 * BLUR:  # its middle is anybody's guess
            self.seen.append([(False, True)] * len(self.eyes))
            return
        told = []
        for eye in self.eyes:
            views = [self._sees(eye, pose, one + off) for one in near for off in _AROUND]
            told.append((all(views), any(views)))
        self.seen.append(told)

    def _sees(self, eye: Eye, pose: Any, spot: Any) -> bool:
        at, look = eye.at, eye.look
        if eye.rides:
            at, look = moved(pose, at), pose[:3, :3] @ look
        to = spot - at
        far = float(np.linalg.norm(to))
        if eye.field < math.pi and math.acos(float(np.clip(to @ look / far, -1, 1))) > eye.field:
            return False
        end = at + to * max(0.0, 1.0 - 0.02 / far)
        shapes = [*self.solid.values(), *((one, pose @ where) for one, where in self.load)]
        return not space.hidden(shapes, at, end)

    def unseen(self, lasts: float, gone: Sequence[float]) -> tuple[float, float]:
        """Return the longest stretch unseen for sure, and perhaps.

        If the motion lasts so long, and the clear-caller goes from place to place just then.
        """
        total = self.way[-1] or 1.0
        runs = [0.0, 0.0]
        since: list[float | None] = [None, None]
        for i, far in enumerate(self.way):
            now = self.begin + lasts * far / total
            where = sum(now > one for one in gone)
            there = [one.stand is None or one.stand == where for one in self.eyes]
            pairs = list(zip(self.seen[i], there, strict=True))
            seen = any(sure and here for (sure, _), here in pairs)
            perhaps = any(may and here for (_, may), here in pairs)
            for k, blind in enumerate(
                (self.matters[i][0] and not perhaps, self.matters[i][1] and not seen)
            ):
                if not blind:
                    since[k] = None
                    continue
                first = since[k]
                since[k] = first = far if first is None else first
                runs[k] = max(runs[k], far - first)
        return runs[0], runs[1]


_AROUND = [np.zeros(3), *(BLUR * sign * axis for axis in np.eye(3) for sign in (1.0, -1.0))]


def _nearest(one: Any, one_at: Any, other: Any, other_at: Any) -> tuple[float, Any]:
    """Return the gap of two shapes and its middle, m."""
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    gap = float(coal.distance(
        one, space.transform(one_at), other, space.transform(other_at), request, result
    ))  # fmt: skip
    middle = 0.5 * (np.asarray(result.getNearestPoint1()) + np.asarray(result.getNearestPoint2()))
    return gap, middle.reshape(3)


def _farthest(shape: Any, at: Any) -> float:
    """Return how far a box or a cylinder comes from the origin of a frame."""
    if isinstance(shape, coal.Box):
        half = np.asarray(shape.halfSide).reshape(3)
        corners = [half * [a, b, c] for a in (1, -1) for b in (1, -1) for c in (1, -1)]
    else:
        turns = np.linspace(0.0, 2.0 * math.pi, 129)
        corners = [
            np.array([shape.radius * math.cos(t), shape.radius * math.sin(t), s * shape.halfLength])
            for t in turns for s in (1.0, -1.0)
        ]  # fmt: skip
    return max(float(np.linalg.norm(moved(at, one))) for one in corners)
