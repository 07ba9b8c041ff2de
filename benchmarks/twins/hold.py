"""Hands on payloads and beside them: grips, hazards near gloves, gaps that close, momentum.

Who holds what when is read off the procedure; the posture in which the package has them hold it
is measured anew (`holder`), ways of a payload are sampled, forces are plain arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from benchmarks.twins import hold_cases, space
from benchmarks.twins.clock_twin import seconds
from benchmarks.twins.hold_world import Case, Held, turn_of
from benchmarks.twins.holder import (
    hands_in_body,
    limbs_of,
    near,
    off_bars,
    one_trunk,
    out_of_reach,
    parts_of,
)
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, unit, world_from
from benchmarks.twins.work_body import flaws
from benchmarks.twins.work_cases import MIRROR
from reach.grasping.bars import Bar
from reach.grasping.clearing import pulled
from reach.grasping.holds import Hold
from reach.worker.posing import capsules_of

CHECKS = ("grips", "hand-hazard", "pinch", "momentum")
NEAR = 1e-5

draw = hold_cases.draw


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of hands on or beside a payload."""
    case = Case(scene, procedure, outcome)
    for step in procedure["steps"]:
        found = {
            name: [f for f in outcome.findings if f.check == name and f.step == step["name"]]
            for name in CHECKS
        }
        holds = case.holds[step["name"]]
        does = {one["do"] for one in step["actions"]}
        if does & {"hold", "hand over", "align"}:
            for held in holds:
                words = f"{held.worker} {held.when}".strip()
                told = [f for f in found["grips"] if f.answer == words]
                yield _grips(case, held, f"{step['name']} {words}", told)
            yield from _hands_free(case, step, found["grips"])
            if scene["hazards"]:
                yield _hazard(case, step, holds, found["hand-hazard"])
        if does & {"align", "move"} and holds:
            yield from _pinch(case, step, holds, found["pinch"])
            yield momentum(case, step, found["momentum"])
        if "drive" in does:
            yield from _at_work(case, step)
            if scene["hazards"]:
                yield _work_hazard(case, step, found["hand-hazard"])


# ---- grips ------------------------------------------------------------------------------


def _grips(case: Case, held: Held, about: str, told: list[Any]) -> Opinion:
    body, suit, own = case.body(held.worker)
    boots, limits = case.boots(held.worker), case.limits
    bars = {name: case.bar(name, held.pose) for name in held.grips}
    to_boots = np.linalg.inv(boots)
    notes = []
    for name, (a, b) in bars.items():
        beyond = min(
            out_of_reach(body, suit, moved(to_boots, a + t * (b - a)))
            for t in np.linspace(0, 1, 21)
        )
        if beyond > float(np.linalg.norm(b - a)) / 40 - limits["reach_margin"]:
            notes.append(f"{name} is {beyond:g} m out of reach")
    verdict = str(told[0].verdict) if told else "not asked"
    limbs = case.limbs(held)
    if verdict == "pass" and not notes:
        if not limbs:
            return opinion("grips", about, told, False, "no posture holds them all")
        found = case._last
        notes += [word for limb in limbs for word in flaws(body, suit, limb.bones, limb.q)]
        notes += one_trunk(limbs)
        ends = [bars[name] for name in found.grips]
        notes += off_bars(body, limbs, ends, boots, limits["grip_tolerance"])
        parts = parts_of(body, suit, limbs)
        room = near(parts, boots, *case.shapes(held.pose, held.grips))
        notes += [
            f"{part} {left:g}" for part, left in room.items()
            if left < limits["body_clearance" if part == "body" else "arm_clearance"] - NEAR
        ]  # fmt: skip
        if hands_in_body(parts) < -NEAR:
            notes.append(f"a glove is {-hands_in_body(parts):g} m in the body")
        if not notes and limits["reach_margin"] > 0.0:
            return opinion("grips", about, told, _margin(case, held, own), "margin")
        return opinion("grips", about, told, not notes, "; ".join(notes))
    good: bool | None = False if notes else None
    if good is None and verdict == "fail" and limbs:
        bad = [w for one in limbs for w in flaws(body, suit, one.bones, one.q)]
        bad += one_trunk(limbs)
        good = True if not bad else None
    is_planted = (
        case.scene.get("_planted") and held.worker == "W" and held.pose == "here"
        and all(case.on(one) == "load" for one in held.grips)
    )  # fmt: skip
    if good is None and verdict == "fail" and is_planted and limits["reach_margin"] == 0.0:
        good = True  # somebody's fists were there
    return opinion("grips", about, told, good, "; ".join(notes) or "planted")


def _margin(case: Case, held: Held, own: str) -> bool | None:
    """Follow the grips as far as is asked, any of 14 ways; None where one is not found."""
    found, asked = case._last, case.limits["reach_margin"]
    body, suit, _ = case.body(held.worker)
    ways = [np.array(v, float) for v in product((-1, 0, 1), repeat=3)]
    for way in ways:
        if np.count_nonzero(way) not in (1, 3):
            continue
        hold: Hold | None = None
        bars = tuple(
            Bar(one.name, one.start + asked * unit(way), one.end + asked * unit(way))
            for one in found.bars
        )
        for start in (found.hold, *found.others):
            hold = pulled(found.figure, bars, start)
            if hold is not None:
                break
        if hold is None:
            return None
        there = _Moved(found.figure, bars, hold)
        limbs = limbs_of(body, suit, there, own)
        if [w for one in limbs for w in flaws(body, suit, one.bones, one.q)] + [*one_trunk(limbs)]:
            return False
    return True


@dataclass(frozen=True)
class _Moved:
    figure: Any
    bars: Any
    hold: Any


def _hands_free(case: Case, step: Mapping[str, Any], told: list[Any]) -> Iterator[Opinion]:
    for action in step["actions"]:
        if action["do"] == "hand over":
            taken = next(one for one in case.holds[step["name"]] if one.when == "as it is taken")
            some = [f for f in told if f.answer == f"hands of {action['to']}"]
            yield opinion("grips", f"{step['name']} hands", some, len(taken.grips) <= 2)


# ---- hazards ----------------------------------------------------------------------------


def _hazard(case: Case, step: Mapping[str, Any], holds: list[Held], told: list[Any]) -> Opinion:
    """Measure gloves in the postures shown; a grip that no glove holds off the hazard is proof."""
    least, note, unknown, sure = math.inf, "", 0, False
    for held in holds:
        world = space.placed_shapes(case.scene, "hazards", {"load": held.pose})
        body, suit, _ = case.body(held.worker)
        limbs, boots = case.limbs(held), case.boots(held.worker)
        unknown += not limbs
        for name, (shape, at) in world.items():
            record = case.scene["hazards"][name]
            if record["kind"] not in ("pinch", "stored energy") or not case.active(name, step):
                continue
            off = float(record["stand_off"])
            if limbs:
                for part, hand, a, b, r in parts_of(body, suit, limbs):
                    gap = space.apart(shape, at, moved(boots, a), moved(boots, b), r) - off
                    if part == "hand" and gap < least:
                        least, note = gap, f"{held.worker}'s {hand} glove {gap:g} of {name}"
            for grip in held.grips:
                a, b = case.bar(grip, held.pose)
                best = (
                    max(
                        space.apart(shape, at, p, p, suit.hand_radius) - off
                        for p in (a + t * (b - a) for t in np.linspace(0, 1, 21))
                    )
                    + float(np.linalg.norm(b - a)) / 40
                )
                if best < least:
                    least, note, sure = best, f"{grip} wholly {best:g} of {name}", True
    if math.isinf(least):
        return opinion("hand-hazard", step["name"], told, None, "none")
    good: bool | None = least >= 0.0
    if abs(least) < 1e-4 or (good and unknown):
        good = None
    if not good and str(told[0].verdict if told else "") == "fail" and not sure:
        good = None
    return opinion("hand-hazard", step["name"], told, good, f"{note}, {unknown} unknown")


def _work_gloves(case: Case, step: Mapping[str, Any]) -> dict[str, Any]:
    """Return fastener -> glove in the world (ends, radius), in the posture the package shows."""
    found = {}
    for action in step["actions"]:
        for key, one in case.outcome.site.memo.items():
            if key[0] != "attempt" or action["fastener"] not in map(str, key):
                continue
            if one.witness is None:
                continue
            parts = capsules_of(one.figure, one.bulk, one.target, one.witness.posture)
            hand = parts[one.bulk.names.index("hand")]
            boots = case.boots(step["lane"])
            flip = MIRROR if one.hand == "left" else np.eye(3)
            found[action["fastener"]] = (
                moved(boots, flip @ hand[:3]), moved(boots, flip @ hand[3:6]), float(hand[6])
            )  # fmt: skip
    return found


def _work_hazard(case: Case, step: Mapping[str, Any], told: list[Any]) -> Opinion:
    least = math.inf
    for a, b, r in _work_gloves(case, step).values():
        for name, (shape, at) in space.placed_shapes(case.scene, "hazards").items():
            record = case.scene["hazards"][name]
            if record["kind"] in ("pinch", "stored energy") and case.active(name, step):
                gap = space.apart(shape, at, a, b, r) - float(record["stand_off"])
                least = min(least, gap)
    good = None if math.isinf(least) or abs(least) < 1e-4 else least >= 0.0
    return opinion("hand-hazard", step["name"], told, good, f"{least:g}")


# ---- gaps that close --------------------------------------------------------------------


def _pinch(
    case: Case, step: Mapping[str, Any], holds: list[Held], told: list[Any]
) -> Iterator[Opinion]:
    _, rest = case.shapes("here")
    start = world_from(case.scene, "load", {"load": "here"})
    legs = list(case.path())
    for worker in dict.fromkeys(one.worker for one in holds):
        held = next(one for one in holds if one.worker == worker)
        body, suit, _ = case.body(worker)
        limbs, boots = case.limbs(held), case.boots(worker)
        mine = [name for name in held.grips if case.on(name) == "load"]
        if limbs:
            on = {one.hand for one, name in zip(limbs, case._last.grips, strict=True)
                  if name in mine}  # fmt: skip
            gloves = [
                (moved(boots, a), moved(boots, b), r)
                for part, hand, a, b, r in parts_of(body, suit, limbs)
                if part == "hand" and hand in on
            ]  # fmt: skip
        else:
            gloves = [(*case.bar(name, "here"), suit.hand_radius) for name in mine]
        least, fist = _least(start, legs, gloves, rest, both=True)
        left = least - case.limits["hand_clearance"]
        some = [f for f in told if f.answer == f"{worker} holds"]
        good: bool | None = None if abs(left) < 1e-3 else left > 0.0
        if not limbs and good is False:
            good = None if str(some[0].verdict if some else "") == "fail" else good
        if good and fist - case.limits["hand_clearance"] < 0.0:
            good = None
        yield opinion("pinch", f"{step['name']} {worker}", some, good,
                      f"{left:g}, {'known' if limbs else 'not known'}")  # fmt: skip


def _least(
    start: Any, legs: list[list[Any]], gloves: list[Any], rest: Mapping[str, Any], both: bool
) -> tuple[float, float]:
    """Return the least gap of gloves that ride along, m, and that of what is at their fists."""
    least = fist = math.inf
    for samples in legs:
        for world in samples:
            step = world @ np.linalg.inv(start)
            for a, b, r in gloves:
                p, q = moved(step, a), moved(step, b)
                for shape, at in rest.values():
                    least = min(least, space.apart(shape, at, p, q, r))
                    fist = min(fist, space.apart(shape, at, q, q, r)) if both else fist
    return least, fist


def _at_work(case: Case, step: Mapping[str, Any]) -> Iterator[Opinion]:
    """Move the payload past each glove at work; the two must share some time."""
    go = case.procedure["steps"][-1]
    told = [f for f in case.outcome.findings if f.check == "pinch" and f.step == go["name"]]
    begin, lasts = seconds(go["start"]), float(go["duration"])
    first = seconds(step["start"])
    longest = float(step.get("between", [0, step["duration"]])[1])
    shortest = float(step.get("between", [step["duration"]])[0])
    if first + longest <= begin or first >= begin + lasts:
        return
    held, _ = case.shapes("here")
    start = world_from(case.scene, "load", {"load": "here"})
    whole = first <= begin and first + shortest >= begin + lasts
    for name, (a, b, r) in _work_gloves(case, step).items():
        least = math.inf
        for samples in case.path():
            for world in samples:
                for shape, at in held.values():
                    there = world @ np.linalg.inv(start) @ at
                    least = min(least, space.apart(shape, there, a, b, r))
        left = least - case.limits["hand_clearance"]
        some = [f for f in told if name in f.about]
        good = None if abs(left) < 2e-3 else left > 0.0
        if good is False and not whole:
            # It may be gone by then, but that it is clear was not shown.
            good = False if str(some[0].verdict if some else "pass") == "pass" else None
        yield opinion("pinch", f"{name} at work", some, good, f"{left:g}")


# ---- momentum ---------------------------------------------------------------------------


def momentum(case: Case, step: Mapping[str, Any], told: list[Any]) -> Opinion:
    payload = case.scene["payloads"]["load"]
    mass, is_align = payload.get("mass"), "align" in {a["do"] for a in step["actions"]}
    way = payload["paths"]["way"]
    speed = 0.0 if is_align else float(way.get("speed", 0.0))
    if mass is None:
        return opinion("momentum", step["name"], told, None, "no mass")
    about = np.array([float(v) for v in way.get("about", (0, 0, 0))])
    if is_align:
        about = np.zeros(3)
    length = 0.0
    for samples in case.path():
        a, b = moved(samples[0], about), moved(samples[-1], about)
        turn = turn_of(samples[0], samples[-1])[1]
        length += max(float(np.linalg.norm(b - a)), turn * case.farthest(about))
    shortest = step["between"][0] if "between" in step else step.get("duration")
    if shortest is None:
        mean = 0.0
    else:
        mean = length / float(shortest) if float(shortest) > 0.0 else math.inf
    likely = length / float(step["duration"]) if "duration" in step else speed
    limit = case.limits["handling_force"]

    def left(v: float) -> float:
        return limit - float(mass) * v**2 / (2 * case.limits["stop_distance"])

    low, high = left(max(speed, mean)), left(max(speed, likely))
    if not speed and not mean:
        return opinion("momentum", step["name"], told, None, "no speed")
    good: bool | None = low >= 0.0
    if abs(low) < 1e-6 * limit or (not good and high >= 0.0 and str(told[0].verdict) != "pass"):
        good = None
    return opinion("momentum", step["name"], told, good, f"{low:g} N")
