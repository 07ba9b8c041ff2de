"""The lines of a move: one or several on a suit, each judged by itself against the worst answer."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.twins import space
from benchmarks.twins.opinion import Opinion, opinion, worst
from benchmarks.twins.space import vector
from benchmarks.twins.writing import Q

if TYPE_CHECKING:
    from benchmarks.twins.move import Move

NEAR = 1e-5
ROUGH = 0.02
"""A line may be led so far (m) off a surface that it begins on."""


def more_lines(
    rng: random.Random, scene: dict[str, Any], procedure: dict[str, Any], rails: Mapping[str, Any]
) -> None:
    """Put more lines on a scene: a second one on W, led from anywhere, and some on V."""
    rng = random.Random(f"more lines {rng.random()}")
    begin = procedure["begin"]["lines"]
    if rng.random() < 0.5:
        _second(rng, scene, begin, rails)
    for name in ("U", "Z")[: rng.choice([0, 0, 1, 1, 2])]:
        _line(scene, begin, name, rng.choice(["A", "C"]), "V", 9.0)


def _second(
    rng: random.Random, scene: dict[str, Any], begin: dict[str, Any], rails: Mapping[str, Any]
) -> None:
    anchor, length = rng.choice(["A", "C", "B", "B"]), 1.0
    a, b, out = rails[rng.choice(list(rails))]
    at = a + rng.uniform(-0.3, 1.3) * (b - a) + rng.choice([0.1, 0.1, 0.5, 4.0]) * out
    if anchor == "B":
        rating = Q(rng.choice([300.0, 334.0, 2000.0]), "force")
        scene["anchors"]["B"] = {"in": "site", "at": vector(at), "rating": rating}
        if rng.random() < 0.4:  # an edge by the anchor, which this line alone comes near
            off = rng.choice([0.0, 0.03, 0.2]) * np.array([rng.gauss(0, 1) for _ in range(3)])
            scene["hazards"]["edge"] = {
                "in": "site", "at": vector(at + off), "turn": space.any_rotation(rng)[0],
                "box": vector([0.02, 0.02, 0.02]), "kind": "sharp edge",
                "stand_off": Q(0.0, "length"),
            }  # fmt: skip
    long = sum(float(np.linalg.norm(q - p)) for p, q, _ in rails.values())
    length = max(1.5, long * rng.choice([0.4, 1.0, 1.6]) + 1.0)
    _line(scene, begin, "S", anchor, "W", length)
    if rng.random() < 0.5:  # which of two is put on last goes by their order
        scene["tethers"] = dict(reversed(scene["tethers"].items()))


def _line(
    scene: dict[str, Any], begin: dict[str, Any], name: str, anchor: str, worker: str, length: float
) -> None:
    scene["tethers"][name] = {"length": Q(length, "length"), "anchor": anchor, "worker": worker}
    begin[name] = {"hook": anchor, "reel": worker}


def worn(move: Move, worker: str) -> dict[str, Mapping[str, Any]]:
    """Return the lines on a suit by name."""
    tethers = move.scene["tethers"]
    return {name: one for name, one in tethers.items() if one["worker"] == worker}


def judged_lines(move: Move, found: dict[str, list[Any]], fine: float) -> Iterator[Opinion]:
    """Judge length, anchors and the ends of each line that W wears.

    Parameters
    ----------
    fine : float, m
        How close together points are that are walked over.
    """
    short, lost, edges, longest = [], [], [], {}
    span, gap = move.limits["place_span"], move.limits["rail_gap"]
    samples = [a + t * (b - a) for _, a, b in move.joins() for t in np.linspace(0, 1, 30)]
    for name, line in worn(move, "W").items():
        # At no point of the way may the shortest way over rails be longer than it is.
        where, far = move.walk(set(move.rails), move.point(line["anchor"]), gap, span)
        usable = line["length"] - move.limits["tether_slack"]
        most = 0.0
        for p in samples if len(where) else ():
            near = np.linalg.norm(where - p, axis=1)
            most = max(most, float((far + near)[near <= fine].min(initial=math.inf)))
        # What is walked here may use rails that the program would not: it is never longer.
        longest[name] = f"{most:g} of {usable:g}"
        if not math.isfinite(most):
            lost.append(name)
        elif most - 3 * fine > usable:
            short.append(name)
        edges += [name for gap_ in _edges(move, line) if gap_ < -ROUGH]
    note = f"{longest}, nowhere {lost}"
    told = found["tether"]
    yield opinion("tether", "go", told, False if short or _passed(told, lost) else None, note)
    told = found["edge"]
    bad = set(edges) - set(lost)
    if _asked_of_edges(move):
        is_bad = bool(bad) or _passed(told, lost)
        yield opinion("edge", "lines", told, False if is_bad else None, f"{edges}, nowhere {lost}")


def _passed(told: list[Any], lost: list[str]) -> bool:
    """Return whether something was passed although it is not known where a line runs."""
    return bool(lost) and worst(told) == "pass"


def _asked_of_edges(move: Move) -> bool:
    return any(move.scene["hazards"][name]["kind"] == "sharp edge" for name in move.hazards)


def _edges(move: Move, line: Mapping[str, Any]) -> Iterator[float]:
    """Yield what is left between the end of a line, which lies at its anchor, and each edge."""
    at = move.point(line["anchor"])
    for name, one in move.hazards.items():
        if move.scene["hazards"][name]["kind"] == "sharp edge":
            yield space.apart(*one, at, at, 0.0) - move.limits["edge_gap"]


def judged_anchors(move: Move, found: dict[str, list[Any]]) -> Iterator[Opinion]:
    """Judge the anchors of all lines of W, and of V where they are asked about."""
    asked, limit = move.scene["anchors"], move.limits["tether_load"]
    ratings = {name: asked[one["anchor"]]["rating"] for name, one in worn(move, "W").items()}
    left = [rating - limit for rating in ratings.values()]
    good = None if min(abs(one) for one in left) < 1e-6 else min(left) >= 0.0
    yield opinion("anchor", "W", found["anchor"], good, f"{ratings}")


def fewest_swaps(move: Move) -> int | None:
    """Return how many lines have to be changed on the way home at least; None if not known."""
    lock, span, count = move.point("lock"), move.limits["place_span"], 0
    for worker in ("W", "V"):
        far = [
            float(np.linalg.norm(move.point(one["anchor"]) - lock))
            for one in worn(move, worker).values()
        ]
        if not far:
            return None
        count += min(far) > span + NEAR
    return count
