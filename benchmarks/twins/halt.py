"""Cranes that stop with somebody on their tip: speeds by small steps, forces by plain arithmetic.

The postures that the package found for the arm are taken; where they put the tip, how fast all
that rides on it goes then, and how long joints take, is worked out by pinocchio and differences.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from benchmarks.twins import hold, space
from benchmarks.twins.carry import arm, fk
from benchmarks.twins.hold_world import SHIPPED as HELD
from benchmarks.twins.hold_world import Case, way_between
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, pose_of, unit, vector, world_from
from benchmarks.twins.work_cases import BODIES, SUITS, turns_of
from benchmarks.twins.writing import Q, clock

CHECKS = ("stop", "momentum")
USE = ["shipped:suits", "shipped:restraints", "shipped:limits", "shipped:sizes"]
SHIPPED = {
    "stop_time": 2.0, "rider_mass": 240.0, "socket_force": 274 * 4.4482216152605,
    "socket_moment": 4200 * 0.0254 * 4.4482216152605,
}  # fmt: skip
FINE = 200
"""Moments looked at on each piece of a way."""


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a crane that takes somebody along, one time in two with a payload in their hands."""
    kind = rng.choice(["alone", "alone", "load", "load", "forgotten"])
    scene: dict[str, Any] = {
        "format": 1, "use": USE, "procedure": "procedure.toml",
        "frames": {"site": space.any_site(rng)}, "limits": limits_of(rng),
        "workers": {"W": {"size": rng.choice(list(BODIES)), "hand": "right",
                          "suit": rng.choice(["halden", "unsuited"])}},
        "restraints": {"plate": {"kind": "foot restraint", "holds_torque": Q(100.0, "torque")}},
        "cranes": {"Arm": {"in": "site", "arm": "shipped:brackenfall",
                           "at": vector([rng.uniform(-1, 1) for _ in range(3)]),
                           "turn": space.any_rotation(rng)[0]}},
        "stations": {},
    }  # fmt: skip
    if rng.random() < 0.6:
        scene["cranes"]["Arm"]["plate"] = {
            "at": vector([rng.uniform(-0.5, 0.5) for _ in range(3)]),
            "turn": space.any_rotation(rng)[0],
        }
    model = arm()
    low, high = (np.array(v) for v in (model.lowerPositionLimit, model.upperPositionLimit))
    q = low + (high - low) * np.array([rng.uniform(0.3, 0.7) for _ in low])
    size = rng.choice([0.02, 0.1, 0.3])
    plates = []
    for name in ("U0", "U1"):
        plate = pose_of(scene["cranes"]["Arm"]) @ fk(q)
        plate = plate @ pose_of(scene["cranes"]["Arm"].get("plate", {}))
        plates.append(plate)
        scene["stations"][name] = {
            "in": "site", "at": vector(plate[:3, 3]), "up": [float(v) for v in plate[:3, 2]],
            "toes": [float(v) for v in plate[:3, 0]], "restraint": "plate", "on": "Arm",
        }  # fmt: skip
        if rng.random() < 0.5:
            scene["stations"][name]["rating"] = {
                "force": Q(rng.choice([5.0, 40.0, 300.0]), "force"),
                "moment": Q(rng.choice([5.0, 40.0, 300.0]), "torque"),
            }
        # Sometimes the tip turns and hardly moves: the last joints alone.
        share = np.array([rng.uniform(-1, 1) for _ in low])
        if rng.random() < 0.3:
            share[:-2] = 0.0
        q = np.clip(q + size * share * (high - low) / 2, low, high)
    return scene, _steps(rng, scene, kind, plates)


def limits_of(rng: random.Random) -> dict[str, Any]:
    """Return some limits of the scene's own."""
    choices = {
        "stop_time": Q(rng.choice([0.5, 5.0]), "time"),
        "rider_mass": Q(rng.choice([120.0, 300.0]), "mass"),
        "socket_force": Q(rng.choice([20.0, 200.0]), "force"),
        "socket_moment": Q(rng.choice([20.0, 200.0]), "torque"),
        "handling_force": Q(rng.choice([20.0, 100.0]), "force"),
    }
    return {key: value for key, value in choices.items() if rng.random() < 0.3}


def _steps(
    rng: random.Random, scene: dict[str, Any], kind: str, plates: list[Any]
) -> dict[str, Any]:
    first = {"name": "on", "lane": "W", "where": "U0", "start": clock(0.0),
             "duration": Q(60.0, "time"), "actions": [{"do": "ingress"}]}  # fmt: skip
    steps = [first]
    action: dict[str, Any] = {"do": "move crane", "from": "U0", "to": "U1"}
    if kind != "alone":
        _load(rng, scene, plates)
        steps.append({**first, "name": "take", "start": clock(60.0),
                      "actions": [{"do": "hold", "grips": ["G"]}]})  # fmt: skip
    if kind == "load":
        action = {"do": "move crane", "payload": "load"}
    go: dict[str, Any] = {
        "name": "go", "lane": "CO", "start": clock(240.0),
        "duration": Q(rng.choice([5.0, 30.0, 120.0, 600.0]), "time"), "actions": [action],
    }  # fmt: skip
    if kind == "load":
        go["path"] = "way"
    if rng.random() < 0.4:
        lasts = float(go["duration"])
        go["between"] = [Q(lasts * rng.choice([0.0, 0.1, 0.5]), "time"), Q(2 * lasts, "time")]
        if rng.random() < 0.3:
            del go["duration"]
    return {"format": 1, "lanes": {"W": "worker", "CO": "crane"}, "steps": [*steps, go]}


def _load(rng: random.Random, scene: dict[str, Any], plates: list[Any]) -> None:
    """Put a payload before who stands on the tip, and a way on which the tip goes along."""
    boots_from_load = space.pose(
        space.turned([rng.gauss(0, 1) for _ in range(3)], rng.choice([0.0, 0.3])),
        [rng.uniform(0.5, 1.2), 0.1, rng.uniform(0.9, 1.5)],
    )
    poses = {}
    for name, plate in zip(("here", "seat"), plates, strict=True):
        at = plate @ boots_from_load
        poses[name] = {"in": "site", "at": vector(at[:3, 3]), "turn": turns_of(at[:3, :3])}
    path: dict[str, Any] = {"through": ["here", "seat"]}
    if rng.random() < 0.5:
        path["about"] = vector([rng.uniform(-2, 2) for _ in range(3)])
    if rng.random() < 0.5:
        path["speed"] = Q(rng.choice([0.01, 0.1, 0.3]), "speed")
    scene["payloads"] = {"load": {"poses": poses, "paths": {"way": path}}}
    if rng.random() < 0.85:
        scene["payloads"]["load"]["mass"] = Q(rng.choice([20.0, 200.0, 800.0]), "mass")
    scene["handrails"], scene["handholds"] = {}, {
        "G": {"in": "load", "at": vector([-0.2, 0, 0]), "along": [0, 1, 0]}
    }  # fmt: skip
    scene["solids"] = {
        "load-a": {"in": "load", "at": vector([rng.uniform(-0.5, 1.0), 0, 0]),
                   "box": vector([rng.choice([0.3, 1.0]) for _ in range(3)])}
    }  # fmt: skip


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of one stop."""
    told = [one for one in outcome.findings if one.check == "stop"]
    go = procedure["steps"][-1]
    drive = Drive(scene, go, outcome)
    yield drive.boots([one for one in told if one.answer == "boots"])
    yield drive.rates([one for one in told if one.answer == "rates"])
    if "path" in go:
        case = Case({**scene, "limits": {**HELD, **scene["limits"]}}, procedure,
                         outcome)  # fmt: skip
        some = [one for one in outcome.findings if one.check == "momentum"]
        yield hold.momentum(case, go, some)


class Drive:
    """One motion of the crane, as positions at moments."""

    def __init__(self, scene: Mapping[str, Any], go: Mapping[str, Any], outcome: Any) -> None:
        self.scene, self.go = scene, go
        self.limits = {**SHIPPED, **scene["limits"]}
        self.base = world_from(scene, "site") @ pose_of(scene["cranes"]["Arm"])
        self.plate = pose_of(scene["cranes"]["Arm"].get("plate", {}))
        ways = [v for k, v in outcome.site.memo.items() if k[0] == "crane way"]
        self.way = next((one for one in ways if one is not None), None)
        self.has_load = "payload" in go["actions"][0]
        between = go.get("between")
        self.likely = float(go["duration"]) if "duration" in go else None
        self.shortest = float(between[0]) if between is not None else self.likely
        self.longest = float(between[1]) if between is not None else self.likely

    def boots_of(self, name: str) -> Any:
        """Return the plate of a station in the world."""
        record = self.scene["stations"][name]
        z, x = (unit([float(v) for v in record[key]]) for key in ("up", "toes"))
        return world_from(self.scene, "site") @ space.pose(
            np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
        )

    @property
    def found(self) -> bool:
        """Whether there are postures all the way."""
        return self.way is not None and len(self.way.q) > 1 and math.isnan(self.way.stuck_at)

    def asked(self) -> list[list[Any]]:
        """Return samples of the boots' poses, piece by piece."""
        if self.has_load:
            here, seat = (world_from(self.scene, "load", {"load": n}) for n in ("here", "seat"))
            way = self.scene["payloads"]["load"]["paths"]["way"]
            about = np.array([float(v) for v in way.get("about", (0, 0, 0))])
            held = np.linalg.inv(here) @ self.boots_of("U0")
            return [[one @ held for one in way_between(here, seat, about, FINE)]]
        if not self.found:
            return []
        return [
            [self.base @ fk((1 - t) * a + t * b) @ self.plate for t in np.linspace(0, 1, FINE + 1)]
            for a, b in pairwise(np.asarray(self.way.q, float))
        ]

    def needed(self) -> Any:
        """Return the least time of each piece of the arm's way at the joints' rates, s."""
        rates = np.array(arm().velocityLimit)
        return (np.abs(np.diff(np.asarray(self.way.q, float), axis=0)) / rates).max(axis=1)

    def masses(self) -> list[tuple[float, Any]] | None:
        """Return what the boots slow down: mass and middle in their frame; None if not known."""
        worker = self.scene["workers"]["W"]
        body, suit = BODIES[worker["size"]], SUITS[worker["suit"]]
        k = body.links
        middle = np.array([0.0, 0.0, (k.hip + k.shoulder) / 2 + suit.sole])
        found = [(float(self.limits["rider_mass"]), middle)]
        if "payloads" in self.scene:
            record = self.scene["payloads"]["load"]
            if "mass" not in record:
                return None
            here = world_from(self.scene, "load", {"load": "here"})
            at = moved(here, self.scene["solids"]["load-a"]["at"])
            found.append((float(record["mass"]), moved(np.linalg.inv(self.boots_of("U0")), at)))
        return found

    def rating(self) -> tuple[float, float]:
        """Return what the place of the boots bears."""
        rating = self.scene["stations"]["U0"].get("rating")
        if rating is None:
            return float(self.limits["socket_force"]), float(self.limits["socket_moment"])
        return float(rating["force"]), float(rating["moment"])

    def hardest(self, lasts: float) -> tuple[float, float]:
        """Return the largest force and moment on the boots if it stops at the worst moment."""
        pieces, weights = self.asked(), self.masses()
        assert weights is not None
        times = np.array([lasts])
        if not self.has_load:
            needed = self.needed()
            times = lasts * needed / needed.sum()
        most = [0.0, 0.0]
        for samples, seconds in zip(pieces, times, strict=True):
            if seconds <= 0.0:
                continue
            for a, b in pairwise(samples):
                force, moment = np.zeros(3), np.zeros(3)
                for mass, middle in weights:
                    speed = (moved(b, middle) - moved(a, middle)) * FINE / seconds
                    push = mass * speed / float(self.limits["stop_time"])
                    force += push
                    moment += np.cross(a[:3, :3] @ middle, push)
                most = [max(most[0], float(np.linalg.norm(force))),
                        max(most[1], float(np.linalg.norm(moment)))]  # fmt: skip
        return most[0], most[1]

    def boots(self, told: list[Any]) -> Opinion:
        """Stop whatever rides on the tip, each mass where it is."""
        if self.masses() is None or not self.asked():
            return opinion("stop", "boots", told, None, "not known")
        likely, shortest = self.likely or self.shortest, self.shortest
        if not shortest:
            # No time: any speed; where it stays in place there is none.
            return opinion("stop", "boots", told, False if shortest == 0.0 else None, "no time")
        rated = self.rating()
        force, moment = self.hardest(shortest)
        fits = [force / rated[0], moment / rated[1]]
        good: bool | None = max(fits) <= 1.0
        if abs(max(fits) - 1.0) < 0.01:
            good = None
        if good is False and str(told[0].verdict if told else "") != "pass":
            # As fast as is likely a fail must be one of the force alone.
            force, _ = self.hardest(float(likely or shortest))
            good = force < 0.99 * rated[0] and max(fits) <= 1.0
        return opinion(
            "stop", "boots", told, good, f"{fits[0]:.3f} of force {fits[1]:.3f} of moment"
        )

    def rates(self, told: list[Any]) -> Opinion:
        """Add up what the joints take; the postures must begin and end where they should."""
        if not self.found or self.shortest is None:
            return opinion("stop", "rates", told, None, "no way")
        notes = []
        q = np.asarray(self.way.q, float)
        asked = self.asked()
        ends = [self.boots_of("U0"), self.boots_of("U1")]
        if self.has_load:
            ends = [asked[0][0], asked[0][-1]]
        for where, posture in zip(ends, (q[0], q[-1]), strict=True):
            off = np.abs(self.base @ fk(posture) @ self.plate - where).max()
            if off > 1e-4:
                notes.append(f"the tip is {off:g} off")
        model = arm()
        if (q < model.lowerPositionLimit - 1e-9).any() or (
            q > model.upperPositionLimit + 1e-9
        ).any():
            notes.append("beyond a joint limit")
        needed = self.needed()
        least = float(needed.sum())
        if self.has_load:
            share = np.diff(np.asarray(self.way.at, float))
            moves = needed > 1e-12
            least = float((needed[moves] / share[moves]).max(initial=0.0))
        good: bool | None = self.shortest >= least - 1e-6
        if abs(self.shortest - least) < 1e-6 * max(1.0, least):
            good = None
        verdict = str(told[0].verdict) if told else "not asked"
        if verdict == "fail":
            # Of a fail the likely time counts, and any postures would do.
            good = True if not notes and (self.likely or 0.0) >= least else None
        elif notes:
            good = False
        elif good is False and verdict != "pass":
            good = None
        return opinion("stop", "rates", told, good, "; ".join(notes) or f"{least:g} s needed")
