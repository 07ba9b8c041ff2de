"""Two workers who change places, kept apart by times alone: every order walked, bodies by coal.

How the trunk is bent at rest is taken from the program.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from benchmarks.twins import space, work_cases
from benchmarks.twins.clock_twin import SAME, seconds
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, unit, vector, world_from
from benchmarks.twins.stand import at_rest
from benchmarks.twins.writing import Q, clock
from reach.resting import resting_of

CHECKS = ("meeting",)
SHIPPED = {"helmet_distance": 1.0}
TIE = 2e-3
FAR = 5.0
"""Boots farther from each other (m) are not asked about."""


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return two workers who stand at some places one after the other, few steps linked."""
    turn, _ = space.any_rotation(rng)
    first = space.pose(space.turned([rng.gauss(0, 1) for _ in range(3)], rng.uniform(-3, 3)),
                       [rng.uniform(-1, 1) for _ in range(3)])  # fmt: skip
    stations = {}
    for k, name in enumerate(("P0", "P1", "Q0", "Q1")):
        spread = rng.choice([0.1, 0.4, 1.2, 1.8, 3.0, 4.0])
        beside = space.pose(space.turned([0, 0, 1], rng.uniform(-3, 3)), [
            rng.uniform(-spread, spread), rng.uniform(-spread, spread), rng.choice([0.0, 0.0, 1.0])
        ])  # fmt: skip
        boots = first @ beside if k else first
        stations[name] = {
            "in": "site", "at": vector(boots[:3, 3]), "up": [float(v) for v in boots[:3, 2]],
            "toes": [float(v) for v in boots[:3, 0]], "restraint": "plate",
        }  # fmt: skip
    scene: dict[str, Any] = {
        "format": 1, "use": work_cases.USE, "procedure": "procedure.toml",
        "frames": {"site": {"at": vector([rng.uniform(-3, 3) + rng.choice([0, 0, 2000.0])] * 3),
                            "turn": turn}},
        "restraints": {"plate": {"kind": "foot restraint"}},
        "stations": stations,
        "workers": {
            name: {"size": rng.choice(list(work_cases.BODIES)),
                   "hand": rng.choice(["right", "left"]),
                   "suit": rng.choice(["halden", "unsuited"])}
            for name in ("W", "V")
        },
        "limits": {"helmet_distance": Q(rng.choice([0.3, 0.6]), "length")}
        if rng.random() < 0.4 else {},
    }  # fmt: skip
    steps: list[dict[str, Any]] = []
    ends = {"W": 0.0, "V": 0.0}
    linked = rng.choice([0.0, 0.3, 0.7])
    for n in range(rng.choice([2, 3, 4, 5, 6])):
        lane = rng.choice(["W", "V"]) if n > 1 else "WV"[n]
        # Mostly after everything else as written.
        begin = max(ends.values()) if rng.random() < 0.8 else ends[lane]
        lasts = rng.choice([0.0, 300.0, 600.0])
        step: dict[str, Any] = {
            "name": f"s{n}", "lane": lane, "start": clock(begin), "duration": Q(lasts, "time"),
        }  # fmt: skip
        kind = rng.random()
        stood = any(one["lane"] == lane for one in steps)
        if kind < 0.1 and stood:
            step["actions"] = [{"do": "wait"}]
        elif kind < 0.45 and stood:
            step["actions"] = [{"do": "egress"}]
        else:
            step["where"] = rng.choice(["P0", "P1"] if lane == "W" else ["Q0", "Q1"])
            step["actions"] = [{"do": "ingress"}]
            if rng.random() < 0.35:
                step["actions"].append({"do": "egress"})
        if steps and rng.random() < linked:
            step["after"] = [rng.choice(steps)["name"]]
        ends[lane] = begin + lasts
        steps.append(step)
    return scene, {
        "format": 1, "lanes": {"W": "worker", "V": "worker"},
        "begin": {"workers": {}, "items": {}, "lines": {}}, "steps": steps,
    }  # fmt: skip


def stays_of(mine: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, int, int]]:
    """Yield place and number of the events of a lane between which somebody is there.

    Each step has two events, its begin and its end: a stay lasts from its first event on until
    its last one is done.
    """
    for k, step in enumerate(mine):
        if "where" not in step:
            continue
        until = 2 * len(mine)
        if any(action["do"] == "egress" for action in step["actions"]):
            until = 2 * k + 1
        else:
            for j in range(k + 1, len(mine)):
                if "where" in mine[j] or any(a["do"] == "egress" for a in mine[j]["actions"]):
                    until = 2 * j
                    break
        yield step["where"], 2 * k, until


def meetings(steps: Sequence[Mapping[str, Any]]) -> tuple[set[Any], set[Any]]:
    """Return the pairs of places taken at once in some order, and those as written."""
    lanes = {w: [one for one in steps if one["lane"] == w] for w in ("W", "V")}
    where = {one["name"]: (w, k) for w, mine in lanes.items() for k, one in enumerate(mine)}
    stays = {w: list(stays_of(mine)) for w, mine in lanes.items()}

    def waits(w: str, event: int, done: Mapping[str, int]) -> bool:
        """Return whether the next event of a lane has to wait."""
        if event % 2:
            return False
        names = lanes[w][event // 2].get("after", ())
        return any(done[where[one][0]] < 2 * where[one][1] + 2 for one in names)

    seen, pending, met = {(0, 0)}, [(0, 0)], set()
    while pending:
        done = dict(zip(("W", "V"), pending.pop(), strict=True))
        here = {
            w: [place for place, begin, until in stays[w] if begin < done[w] <= until]
            for w in stays
        }
        met |= set(itertools.product(here["W"], here["V"]))
        for w in stays:
            if done[w] < 2 * len(lanes[w]) and not waits(w, done[w], done):
                new = (done["W"] + (w == "W"), done["V"] + (w == "V"))
                if new not in seen:
                    seen.add(new)
                    pending.append(new)
    written = set()
    moments = {w: [t for one in mine for t in _span(one)] for w, mine in lanes.items()}
    for (p, a, b), (q, c, d) in itertools.product(stays["W"], stays["V"]):
        one, other = _between(moments["W"], a, b), _between(moments["V"], c, d)
        if min(one[1], other[1]) - max(one[0], other[0]) > SAME:
            written.add((p, q))
    return met, written


def _span(step: Mapping[str, Any]) -> tuple[float, float]:
    begin = seconds(step["start"])
    return begin, begin + float(step["duration"])


def _between(moments: Sequence[float], begin: int, until: int) -> tuple[float, float]:
    return moments[begin], moments[until] if until < len(moments) else math.inf


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what check and twin say of each two places."""
    steps = procedure["steps"]
    met, written = meetings(steps)
    limit = scene["limits"].get("helmet_distance", SHIPPED["helmet_distance"])
    told = [f for f in outcome.findings if f.check == "meeting"]
    passes = [f for f in told if str(f.verdict) == "pass"]
    for p, q in sorted(met):
        mine = [f for f in told if {p, q} <= set(f.about) and str(f.verdict) != "pass"] or passes
        one, other = (_body(scene, outcome, w, place) for w, place in (("W", p), ("V", q)))
        if np.linalg.norm(one[0][:3, 3] - other[0][:3, 3]) > FAR:
            continue
        if (p, q) in written:
            # Another check has that; nothing is to be told of it here.
            if mine and mine != passes:
                yield opinion("meeting", f"{p} {q}", mine, True, "at once as written")
            continue
        heads, shells = _gaps(one[1], other[1])
        left = min(heads - limit, shells)
        good = None if abs(left) < TIE else left >= 0.0
        yield opinion("meeting", f"{p} {q}", mine, good, f"helmets {heads:g}, bodies {shells:g}")
    for p, q in itertools.product(("P0", "P1"), ("Q0", "Q1")):
        mine = [f for f in told if {p, q} <= set(f.about)]
        if (p, q) not in met and mine:
            yield opinion("meeting", f"{p} {q}", mine, True, "no order has them at once")


def _body(scene: Mapping[str, Any], outcome: Any, w: str, place: str) -> tuple[Any, list[Any]]:
    """Return where the boots are and the parts of who stands there, world."""
    record = scene["stations"][place]
    z, x = (unit([float(v) for v in record[key]]) for key in ("up", "toes"))
    boots = world_from(scene, "site") @ space.pose(
        np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]]
    )
    worker = scene["workers"][w]
    suit, body = work_cases.SUITS[worker["suit"]], work_cases.BODIES[worker["size"]]
    situation = next(
        one for one in outcome.situations
        if one.worker == w and one.place is not None and one.place.name == place
    )  # fmt: skip
    parts = at_rest(body, suit, resting_of(outcome.site, situation).trunk)
    if worker["hand"] == "left":
        m = work_cases.MIRROR
        parts = [(n, k, m @ a, m @ b, r) for n, k, a, b, r in parts]
    return boots, [(n, moved(boots, a), moved(boots, b), r) for n, _, a, b, r in parts]


def _gaps(one: Sequence[Any], other: Sequence[Any]) -> tuple[float, float]:
    """Return how far helmets, and any two parts, are apart (m), by coal."""
    heads = shells = math.inf
    for (name, a, b, radius), (theirs, *their) in itertools.product(one, other):
        shape, at = _capsule(a, b, radius)
        gap = space.apart(shape, at, *their)
        shells = min(shells, gap)
        if {name, theirs} <= {"helmet", "head"}:
            heads = min(heads, gap)
    return heads, shells


def _capsule(a: Any, b: Any, radius: float) -> tuple[Any, Any]:
    import coal

    length, at = space.capsule_pose(a, b)
    return (coal.Capsule(radius, length) if length > 0.0 else coal.Sphere(radius)), at
