"""Moves along random rails against slow twins: sampled ways, distances by coal, walks over grips.

The way is that of the written rails, worked out here from points close together on each; only
how the body turns from rail to rail is taken from the program, and sampled between its poses.
"""

from __future__ import annotations

import heapq
import itertools
import math
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from benchmarks.twins import space
from benchmarks.twins.move_lines import fewest_swaps, judged_anchors, judged_lines, more_lines
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, unit, vector, world_from
from benchmarks.twins.writing import Q, clock

CHECKS = (
    "route", "gap", "rails", "hands", "pace", "corridor", "stand-off", "passing", "tether", "swing",
    "sag", "kick", "exposure", "edge", "companion", "rescue", "anchor",
)  # fmt: skip
USE = ["shipped:suits", "shipped:restraints", "shipped:limits", "shipped:sizes"]
SHIPPED = {
    "rail_gap": 0.92, "place_span": 1.2, "corridor_radius": 0.55, "body_clearance": 0.08,
    "tether_slack": 1.0, "kick_band": 24 * 0.0254, "kick_load": 125 * 4.4482216152605,
    "crew_load": 125 * 4.4482216152605, "edge_gap": 0.05, "pace_free": 0.15, "pace_loaded": 0.075,
    "companion_distance": 30.0, "tether_load": 75 * 4.4482216152605, "return_time": 1800.0,
    "leave_restraint": 120.0, "partner_pace": 0.15, "free_casualty": 120.0, "casualty_pace": 0.04,
    "swap_time": 90.0, "lock_time": 630.0, "hands_free": 2,
}  # fmt: skip
NEAR = 1e-5
FINE = 0.02
"""Points on rails are so close together, m."""


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return random rails in a row, things beside them, and one move along them."""
    scene: dict[str, Any] = {
        "format": 1, "use": USE, "procedure": "procedure.toml",
        "frames": {"site": space.any_site(rng)},
        "solids": {}, "hazards": {}, "handrails": {}, "anchors": {}, "tethers": {},
        "headings": {"up": {"to": [0, 0, 1], "opposite": "down"}},
    }  # fmt: skip
    rails = rails_of(rng)
    for name, (a, b, out) in rails.items():
        record: dict[str, Any] = {
            "in": "site", "from": vector(a), "to": vector(b), "out": [float(v) for v in out]
        }  # fmt: skip
        record |= space.any_state_of_a_rail(rng)
        scene["handrails"][name] = record
    names = list(rails)
    first, last = names[0], names[-1]
    for i in range(rng.choice([0, 1, 1, 2, 3])):
        a, b, out = rails[rng.choice(names)]
        at = a + rng.random() * (b - a) + rng.choice([-0.4, 0.5, 1.0, 1.4]) * out
        at = at + 0.4 * np.array([rng.gauss(0, 1) for _ in range(3)])
        record = {"in": "site", "at": vector(at), "turn": space.any_rotation(rng)[0]}
        if rng.random() < 0.5:
            record["box"] = vector([rng.choice([0.02, 0.1, 0.5]) for _ in range(3)])
        else:
            record["cylinder"] = {
                "radius": Q(rng.choice([0.03, 0.1]), "length"),
                "height": Q(rng.choice([0.1, 1.0]), "length"), "sides": rng.choice([8, 32]),
            }  # fmt: skip
        if rng.random() < 0.5:
            record["kick_load"] = Q(rng.choice([100.0, 550.0, 600.0]), "force")
        if rng.random() < 0.5:
            record["kind"] = rng.choice(
                ["no-touch", "keep-out", "sharp edge", "hot", "vent", "pinch"]
            )
            record["stand_off"] = Q(rng.choice([0.0, 0.1, 0.4]), "length")
            if rng.random() < 0.3:
                spans = rng.choice([[0.0, 300.0], [900.0, 1000.0], [1500.0, 2000.0]])
                record["active"] = [[clock(one) for one in spans]]
            if rng.random() < 0.3:
                record["control"] = "held off"
            scene["hazards"][f"danger{i}"] = record
        else:
            scene["solids"][f"thing{i}"] = record
    a, b, out = rails[first]
    scene["hatches"] = {
        "lock": {"in": "site", "at": vector(a + rng.uniform(0.2, 1.3) * unit(a - b + 0.3 * out))}
    }
    scene["anchors"] = {
        "A": {"in": "site", "at": vector(a + 0.1 * out),
              "rating": Q(rng.choice([300.0, 334.0, 2000.0]), "force")},
        "C": {"in": "site", "at": vector(rails[last][1] + 0.1 * rails[last][2]),
              "rating": Q(2000.0, "force")},
    }  # fmt: skip
    length = sum(float(np.linalg.norm(b - a)) for a, b, _ in rails.values())
    scene["tethers"] = {
        "T": {"length": Q(max(1.5, length * rng.choice([0.6, 1.0, 1.3]) + 1.0), "length"),
              "anchor": rng.choice(["A", "A", "C"]), "worker": "W"},
    }  # fmt: skip
    scene["items"] = {
        "bag": {"size": vector([0.4, 0.2, 0.2])},
        "crate": {"size": vector([0.8, 0.6, 0.5]), "bulky": True},
    }
    scene["workers"] = {
        "W": {"size": rng.choice(["small", "medium", "large"]), "hand": "right", "suit": "halden"},
        "V": {"size": "medium", "hand": "left", "suit": "halden"},
    }
    scene["limits"] = {
        key: value
        for key, value in {
            "corridor_radius": Q(rng.choice([0.45, 0.7]), "length"),
            "rail_gap": Q(rng.choice([0.5, 0.7]), "length"),
            "tether_slack": Q(rng.choice([0.2, 0.5]), "length"),
            "companion_distance": Q(rng.choice([2.0, 4.0]), "length"),
            "return_time": Q(rng.choice([900.0, 1000.0, 1100.0]), "time"),
            "kick_band": Q(rng.choice([0.1, 0.3]), "length"),
        }.items()
        if rng.random() < 0.3
    }
    start, stop = rng.choice(["lock", f"{first}@0.1"]), f"{last}@{rng.choice([0.0, 0.3]):g}"
    action: dict[str, Any] = {"do": "translate", "from": start, "to": stop}
    for key in ("carrying", "in_hand"):
        if rng.random() < 0.3:
            action[key] = [rng.choice(["bag", "crate"])]
    if action.get("carrying") == action.get("in_hand"):
        action.pop("in_hand", None)
    if rng.random() < 0.3:
        name = rng.choice(names)
        action["body"] = {name: {"by": Q(rng.choice([0.1, 0.3]), "length"), "toward": "up"}}
    step: dict[str, Any] = {
        "name": "go", "lane": "W", "start": clock(600.0), "actions": [action],
        "duration": Q(rng.choice([30.0, 60.0, 120.0, 300.0]), "time"),
    }  # fmt: skip
    if rng.random() < 0.3:
        step["between"] = [Q(20.0, "time"), Q(rng.choice([300.0, 1000.0]), "time")]
    if rng.random() < 0.85:
        step["route"] = names
    other = f"{rng.choice(names)}@0.2"
    procedure = {
        "format": 1,
        "lanes": {"W": "worker", "V": "worker"},
        "begin": {
            "workers": {"W": start, "V": other},
            "lines": {"T": {"hook": scene["tethers"]["T"]["anchor"], "reel": "W"}},
        },
        "steps": [step],
    }
    more_lines(rng, scene, procedure, rails)
    if start == "lock":
        del procedure["begin"]["workers"]["W"]  # type: ignore[attr-defined]
    return scene, procedure


def rails_of(rng: random.Random) -> dict[str, tuple[Any, Any, Any]]:
    """Return name -> ends and the side that it is held from, of rails in a row."""
    at = np.zeros(3)
    way = unit([1.0, rng.uniform(-0.5, 0.5), rng.uniform(-0.5, 0.5)])
    out = unit(np.cross(way, [rng.gauss(0, 1) for _ in range(3)]))
    found = {}
    for i in range(rng.choice([1, 2, 3, 4])):
        end = at + rng.uniform(0.6, 2.0) * way
        # Out, square to the rail.
        out = unit(out - (out @ way) * way)
        found[f"R{i}"] = (at, end, out)
        way = unit(way + 0.6 * np.array([rng.gauss(0, 1) for _ in range(3)]))
        out = unit(out + rng.choice([0.0, 0.5]) * np.array([rng.gauss(0, 1) for _ in range(3)]))
        at = end + rng.choice([0.1, 0.3, 0.6, 0.9, 1.1]) * way
    return found


class Move:
    """One case in the world."""

    def __init__(
        self, scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
    ) -> None:
        self.scene, self.outcome = scene, outcome
        self.step = procedure["steps"][0]
        self.action = self.step["actions"][0]
        self.limits = {**SHIPPED, **scene["limits"]}
        site = world_from(scene, "site")
        self.rails = {
            name: (moved(site, one["from"]), moved(site, one["to"]),
                   unit(site[:3, :3] @ np.array(one["out"])))
            for name, one in scene["handrails"].items()
        }  # fmt: skip
        self.may = {name for name, one in scene["handrails"].items() if self._may(one)}
        self.places = {
            name: moved(site, one["at"])
            for table in ("hatches", "anchors")
            for name, one in scene[table].items()
        }
        self.solids = space.placed_shapes(scene, "solids")
        begin = 600.0
        lasts = float(self.step.get("between", [0, self.step["duration"]])[1])
        self.hazards = {
            name: one
            for name, one in space.placed_shapes(scene, "hazards").items()
            if self._may_be_active(scene["hazards"][name], begin, begin + lasts)
        }
        self.route = self.step.get("route")
        self.other = procedure["begin"]["workers"]["V"]

    def _may(self, record: Mapping[str, Any]) -> bool:
        free = record.get("condition", "free") == "free" and record.get("rated", True)
        rating = record.get("rating")
        return free and (rating is None or rating >= self.limits["crew_load"])

    @staticmethod
    def _may_be_active(record: Mapping[str, Any], begin: float, end: float) -> bool:
        from benchmarks.twins.clock_twin import seconds

        spans = record.get("active")
        return spans is None or any(seconds(a) <= end and seconds(b) >= begin for a, b in spans)

    def point(self, place: str) -> Any:
        """Return a place in the world."""
        if "@" not in place:
            return self.places[place]
        rail, along = place.split("@")
        a, b, _ = self.rails[rail]
        return a + min(1.0, float(along) / float(np.linalg.norm(b - a))) * (b - a)

    def joins(self) -> list[tuple[str, Any, Any]]:
        """Return rail, where it is come to and left, of the written way; closest points."""
        names = self.route
        entries, exits = {}, {}
        first = self.point(self.action["from"])
        last = self.point(self.action["to"])
        for one, other in itertools.pairwise(names):
            p, q = closest(self.rails[one][:2], self.rails[other][:2])
            exits[one], entries[other] = p, q
        entries[names[0]] = on_line(first, *self.rails[names[0]][:2])
        exits[names[-1]] = on_line(last, *self.rails[names[-1]][:2])
        return [(name, entries[name], exits[name]) for name in names]

    def walk(self, rails: set[str], start: Any, gap: float, span: float) -> tuple[Any, Any]:
        """Return points close together on rails, and how far each is from a place along rails."""
        points, owner = [], []
        for name in sorted(rails):
            a, b, _ = self.rails[name]
            n = max(1, math.ceil(float(np.linalg.norm(b - a)) / FINE))
            points += [a + t * (b - a) for t in np.linspace(0, 1, n + 1)]
            owner += [name] * (n + 1)
        if not points:
            return np.empty((0, 3)), np.empty(0)
        where = np.array(points)
        far = np.full(len(where), math.inf)
        queue = [
            (float(d), i) for i, d in enumerate(np.linalg.norm(where - start, axis=1)) if d <= span
        ]
        heapq.heapify(queue)
        for d, i in queue:
            far[i] = d
        while queue:
            d, i = heapq.heappop(queue)
            if d > far[i]:
                continue
            steps = np.linalg.norm(where - where[i], axis=1)
            for j in np.flatnonzero((steps <= gap) & (d + steps < far - 1e-12)):
                # From rail to rail by a gap, along one rail by any step.
                far[j] = d + steps[j]
                heapq.heappush(queue, (float(far[j]), int(j)))
        return where, far


def closest(one: Any, other: Any) -> tuple[Any, Any]:
    """Return the closest points of two segments, by halving round a grid."""
    (a, b), (c, d) = one, other
    low, high = np.zeros(2), np.ones(2)
    for _ in range(40):
        s, t = (np.linspace(low[k], high[k], 9) for k in (0, 1))
        p = a + s[:, None] * (b - a)
        q = c + t[:, None] * (d - c)
        gaps = np.linalg.norm(p[:, None] - q[None], axis=2)
        i, j = np.unravel_index(int(np.argmin(gaps)), gaps.shape)
        width = (high - low) / 4
        low = np.maximum(0.0, np.array([s[i], t[j]]) - width / 1.5)
        high = np.minimum(1.0, np.array([s[i], t[j]]) + width / 1.5)
    return a + s[i] * (b - a), c + t[j] * (d - c)


def on_line(p: Any, a: Any, b: Any) -> Any:
    """Return the point of a segment nearest to a point."""
    return a + min(1.0, max(0.0, float((p - a) @ (b - a) / ((b - a) @ (b - a))))) * (b - a)


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of one move.

    Where the way itself fails, other checks may have nothing to look at.
    """
    way = ("route", "gap", "rails")
    failed = any(str(f.verdict) == "fail" for f in outcome.findings if f.check in way)
    for one in _opinions(scene, procedure, outcome):
        is_understood = failed and one.kind == "silent"
        yield replace(one, known="the way itself fails") if is_understood else one


def _opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    move = Move(scene, procedure, outcome)
    found = {name: [one for one in outcome.findings if one.check == name] for name in CHECKS}
    yield from _by_rails(move, found)
    yield from _plain(move, found)
    situation = next((one for one in outcome.situations if one.passage is not None), None)
    from reach.travel.sides import corridor_of

    corridor = corridor_of(outcome.site, situation) if situation is not None else None
    if corridor is not None:
        yield from _swept(move, found, corridor)


def _by_rails(move: Move, found: dict[str, list[Any]]) -> Iterator[Opinion]:
    """Judge what walks over rails tell: whether there is a way, how far line and others are."""
    gap, span = move.limits["rail_gap"], move.limits["place_span"]
    start, stop = move.point(move.action["from"]), move.point(move.action["to"])
    span_of = [gap if "@" in move.action[key] else span for key in ("from", "to")]
    where, far = move.walk(move.may, start, gap + NEAR, span_of[0] + NEAR)
    reached = bool(len(where)) and bool(
        np.isfinite(far[np.linalg.norm(where - stop, axis=1) <= span_of[1] + NEAR]).any()
    )
    # The body may span less than the limit: only that nobody gets there is told for sure.
    yield opinion("route", "go", found["route"], False if not reached else None, "no way")
    if move.route is None:
        return
    legs = move.joins()
    wide = [float(np.linalg.norm(a[2] - b[1])) for a, b in itertools.pairwise(legs)]
    ends = [float(np.linalg.norm(start - legs[0][1])), float(np.linalg.norm(stop - legs[-1][2]))]
    bad = max(wide, default=0.0) > gap + NEAR or any(
        end > limit + NEAR for end, limit in zip(ends, span_of, strict=True)
    )
    yield opinion("gap", "go", found["gap"], False if bad else None, f"{wide} {ends}")
    wrong = [name for name in move.route if name not in move.may]
    yield opinion("rails", "go", found["rails"], False if wrong else None, str(wrong))
    length = sum(float(np.linalg.norm(b - a)) for _, a, b in legs) + sum(wide) + sum(ends)
    loaded = {*move.action.get("carrying", ()), *move.action.get("in_hand", ())} & {"crate"}
    pace = move.limits["pace_loaded" if loaded else "pace_free"]
    margin = float(move.step["duration"]) - length / pace
    sure = None if abs(margin) < 0.02 * length / pace else margin >= 0.0
    yield opinion("pace", "go", found["pace"], sure, f"{margin:g} s")
    yield from judged_lines(move, found, FINE)
    # Others: as far as the shortest way along rails that may be held.
    where, far = move.walk(move.may, move.point(move.other), gap, gap)
    near = np.linalg.norm(where - stop, axis=1) if len(where) else np.empty(0)
    apart = float((far + near)[near <= span_of[1] + NEAR].min(initial=math.inf))
    limit = move.limits["companion_distance"]
    told = [one for one in found["companion"] if "W" in one.about[:1]]
    too_far = math.isfinite(apart) and apart - 0.1 > limit
    yield opinion("companion", "go", told, False if too_far else None, f"{apart:g} of {limit:g}")
    home_where, home_far = move.walk(move.may, move.point("lock"), gap, span)
    home = (
        float((home_far + np.linalg.norm(home_where - stop, axis=1))[
            np.linalg.norm(home_where - stop, axis=1) <= span_of[1] + NEAR].min(initial=math.inf))
        if len(home_where) else math.inf
    )  # fmt: skip
    swaps = fewest_swaps(move)
    least = (
        (swaps or 0) * move.limits["swap_time"] + move.limits["free_casualty"]
        + apart / move.limits["partner_pace"]
        + home / move.limits["casualty_pace"] + move.limits["lock_time"]
    )  # fmt: skip
    told = [one for one in found["rescue"] if one.about[:1] == ("W",)]
    late = math.isfinite(least) and least - 3.0 > move.limits["return_time"]
    yield opinion(
        "rescue", "go", told, False if late else None, f"{least:g} s at least, {swaps} swaps"
    )


def _plain(move: Move, found: dict[str, list[Any]]) -> Iterator[Opinion]:
    """Judge hands and anchors."""
    free = 2 - len(move.action.get("in_hand", ()))
    yield opinion("hands", "go", found["hands"], free >= move.limits["hands_free"], str(free))
    yield from judged_anchors(move, found)


def _swept(move: Move, found: dict[str, list[Any]], corridor: Any) -> Iterator[Opinion]:
    """Sample the way: tube, body, legs, hands and slack against everything by coal."""
    radius = move.limits["corridor_radius"]
    tube = [(a, b) for a, b in corridor.axis]
    if move.route is not None:
        up = np.array([0.0, 0.0, 1.0])
        asides = move.action.get("body", {})
        tube += [
            (a + radius * out + by * up, b + radius * out + by * up)
            for name, a, b in _held_for_sure(move)
            for out in [move.rails[name][2]]
            for by in [float(asides[name]["by"]) if name in asides else 0.0]
        ]
    worst = min(
        (space.apart(s, at, a, b, radius) for s, at in move.solids.values() for a, b in tube),
        default=1.0,
    )
    yield opinion("corridor", "go", found["corridor"], worst >= -NEAR, f"{worst:g}")
    kinds = {name: move.scene["hazards"][name] for name in move.hazards}
    worst = min(
        (
            space.apart(*move.hazards[name], a, b, radius) - one["stand_off"]
            for name, one in kinds.items()
            if one["kind"] not in ("vent", "sharp edge")
            for a, b in tube
        ),
        default=1.0,
    )
    yield opinion("stand-off", "go", found["stand-off"], worst >= -NEAR, f"{worst:g}")
    yield from _bodies(move, found, corridor, kinds)
    yield from _slack(move, found, corridor, kinds)


def _held_for_sure(move: Move) -> Iterator[tuple[str, Any, Any]]:
    """Yield the parts of rails that are held whatever grip is taken first and last.

    From a place one may reach for any grip in its span; that way is in no check.
    """
    ends = [move.point(move.action[key]) for key in ("from", "to")]
    span = max(move.limits["place_span"], move.limits["rail_gap"]) + FINE
    for name, a, b in move.joins():
        points = [a + t * (b - a) for t in np.linspace(0.0, 1.0, 60)]
        far = [p for p in points if all(float(np.linalg.norm(p - e)) > span for e in ends)]
        if len(far) > 1:
            yield name, far[0], far[-1]


def _bodies(
    move: Move, found: dict[str, list[Any]], corridor: Any, kinds: Mapping[str, Any]
) -> Iterator[Opinion]:
    mover = corridor.mover
    least = {"passing": 1.0, "exposure": 1.0, "kick": 1.0}
    asked = move.limits["body_clearance"]
    everything = {
        "solids": move.solids, "hazards": space.placed_shapes(move.scene, "hazards")
    }  # fmt: skip
    weak = [
        one
        for table, shapes in everything.items()
        for name, one in shapes.items()
        if move.scene[table][name].get("kick_load", math.inf) < move.limits["kick_load"] - 1e-6
    ]  # fmt: skip
    starts, stops = corridor.poses
    for first, last in zip(starts, stops, strict=True):
        for at in _between(first, last, 15):
            for i in range(len(mover.p)):
                p, q, r = moved(at, mover.p[i]), moved(at, mover.q[i]), float(mover.radius[i])
                for shape, where in move.solids.values():
                    gap = space.apart(shape, where, p, q, r) - asked
                    least["passing"] = min(least["passing"], gap)
                for name, one in kinds.items():
                    if one["kind"] == "sharp edge":
                        continue
                    gap = space.apart(*move.hazards[name], p, q, r) - one["stand_off"]
                    key = "exposure" if one["kind"] == "vent" else "passing"
                    least[key] = min(least[key], gap)
                if i < mover.n_legs:
                    for shape, where in weak:
                        gap = space.apart(shape, where, p, q, r) - move.limits["kick_band"]
                        least["kick"] = min(least["kick"], gap)
    for check, worst in least.items():
        # Between two samples it may come a little nearer.
        good = None if 0.0 < worst < 0.03 else worst >= -NEAR
        yield opinion(check, "go", found[check], good, f"{worst:g}")


def _between(first: Any, last: Any, n: int) -> Iterator[Any]:
    """Yield poses from first to last, turned at a constant rate, the origin straight."""
    way = first[:3, :3].T @ last[:3, :3]
    angle = math.acos(float(np.clip((np.trace(way) - 1) / 2, -1, 1)))
    axis = np.array([way[2, 1] - way[1, 2], way[0, 2] - way[2, 0], way[1, 0] - way[0, 1]])
    for t in np.linspace(0.0, 1.0, n):
        turn = np.eye(3)
        if angle > 1e-9 and np.linalg.norm(axis) > 1e-9:
            turn = space.turned(axis, t * angle)
        yield space.pose(first[:3, :3] @ turn, (1 - t) * first[:3, 3] + t * last[:3, 3])


def _slack(
    move: Move, found: dict[str, list[Any]], corridor: Any, kinds: Mapping[str, Any]
) -> Iterator[Opinion]:
    """Judge glove, drift and loops of slack, by points of the way and of each hazard."""
    if move.route is None:
        return
    slack, radius = move.limits["tether_slack"], move.limits["corridor_radius"]
    grips = [
        (a + t * (b - a), move.rails[name][2])
        for name, a, b in _held_for_sure(move)
        for t in np.linspace(0.0, 1.0, 9)
    ]
    edges = min(
        (
            space.apart(*move.hazards[name], a, b, 0.06) - move.limits["edge_gap"]
            for name, one in kinds.items()
            if one["kind"] == "sharp edge"
            for _, a, b in _held_for_sure(move)
        ),
        default=1.0,
    )
    yield opinion("edge", "go", found["edge"], False if edges < -NEAR else None, f"{edges:g}")
    drift, touched = [], []
    for name, one in kinds.items():
        if one.get("control"):
            continue
        for g, out in grips:
            near = space.apart(*move.hazards[name], g, g, 0.0)
            if near < slack + 0.2 + one["stand_off"]:
                drift.append(name)
            # The line hangs from the grip to the body abreast of it: a point that is nearer to
            # both than half of the line's length can be touched.
            b = g + radius * out
            both = max(near, space.apart(*move.hazards[name], b, b, 0.0))
            middle = space.apart(*move.hazards[name], 0.5 * (g + b), 0.5 * (g + b), 0.0)
            if both > 0.0 and middle < 0.5 * slack - 0.25:
                touched.append(name)
    yield opinion("swing", "go", found["swing"], False if drift else None, str(sorted(set(drift))))
    yield opinion("sag", "go", found["sag"], False if touched else None, str(sorted(set(touched))))
    del corridor
