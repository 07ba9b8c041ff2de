"""Crane days: lines of who rides, how far they reach, two things at once, getting on and off."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from benchmarks.twins.clock_twin import SAME, in_written_order, lanes_of, spans_of
from benchmarks.twins.opinion import Opinion, opinion, worst
from benchmarks.twins.orders_walk import Walk
from benchmarks.twins.ride_cases import SLACK, SPAN, case_of, height
from benchmarks.twins.ride_world import RideWorld
from benchmarks.twins.space import moved, pose, unit, world_from

CHECKS = ("anchored", "tether-riding", "device", "boarding", "held")
NEAR = 1e-6
CREW_LOAD = 125 * 4.4482216152605


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random case."""
    return case_of(rng)


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of a case."""
    told: dict[tuple[str, str], list[Any]] = {}
    for one in outcome.findings:
        told.setdefault((one.check, _about(one)), []).append(one)
    ride = Ride(scene, procedure)
    for key, good in ride.verdicts.items():
        sure = good if not good or (ride.is_whole and key not in ride.unsaid) else None
        found = told.get(key, [])
        known = AS_WRITTEN if good and worst(found) == "fail" else ""
        yield opinion(*key, found, sure, ride.notes.get(key, ""), known)
    for key, good, note in _devices(scene, procedure):
        yield opinion(*key, told.get(key, []), good, note)
    written = Written(scene, procedure)
    for key, margins in written.margins.items():
        # A line that is long enough straight may still be too short along its way.
        good = None if abs(min(margins)) < NEAR else min(margins) > 0.0
        found = told.get(key, [])
        known = "the crane moves meanwhile" if not found and key in written.at_once else ""
        known = known or ("" if found or key not in written.handled else HANDLED)
        good = None if key in written.unclear else good
        if found and key[0] == "tether-riding" and " is not known to the line " in found[0].because:
            known = "nothing asks anything of the body of who rides"
        yield opinion(*key, found, good, f"{min(margins):g}", known)


AS_WRITTEN = "who rides along is read from the written order"
HANDLED = "nothing is asked of their body after it"


def _about(one: Any) -> str:
    """Return under which name the twin speaks of the same thing."""
    if one.check == "held":
        return "crate"
    if one.check == "anchored":
        return " ".join(one.about[:2])
    if one.check == "device":
        pair = sorted((one.about[2], one.step)) if len(one.about) > 2 else []
        return " ".join((one.about[1], *pair))
    if one.check == "boarding":
        return " ".join((one.about[0], one.numbers.get("place", "?"), _way(one.because)))
    return " ".join(one.about)


def _way(because: str) -> str:
    return "on" if " gets on " in because else "off"


class Ride(Walk):
    """Lines of a crane day in every order: asked just before each motion is over."""

    world: RideWorld

    def __init__(self, scene: Mapping[str, Any], procedure: Mapping[str, Any]) -> None:
        super().__init__(scene, procedure, RideWorld(scene, procedure))
        self.walk()

    def _always(self, state: Any) -> None:
        if self.scene["payloads"]["crate"]["fixed_by"]:
            held = bool(state["fixed", "crate"]) or self.world.held(state, "crate")
            self.say_maybe("held", "crate", held, "nobody has hold of it")

    def _before(
        self, state: Any, step: Mapping[str, Any], action: Mapping[str, Any] | None, part: int
    ) -> None:
        if action is not None and self.scene["payloads"]["crate"]["fixed_by"]:
            if action["do"] == "hand over" and part == 0:
                has = self.world.hands.holds(state["grips", step["lane"]], "crate")
                self.say_maybe("held", "crate", has, "given by who does not have it")
            if "payload" in action:
                self.say("held", "crate", not state["fixed", "crate"], "moved while it is fixed")
        if action is None or action["do"] not in ("move", "move crane"):
            return
        anchors = self.scene["anchors"]
        for w in self.workers:
            lines = [one for one in self.scene["tethers"] if state["reel", one] == w]
            hooks = {one: state["hook", one] for one in lines}
            crane = action.get("crane")
            if crane is not None:
                rides = self.world.is_on(state["place", w], crane)
                right = [anchors.get(one, {}).get("on") == crane for one in hooks.values()]
                good = all(right) if rides else not any(right)
                if lines:
                    self.say("anchored", f"{w} {crane}", good, f"{hooks} at {state['place', w]}")
            if "payload" in action and lines:
                pulled = [one for one in hooks.values() if one == "P0"]
                self.say("anchored", f"{w} crate", not pulled, str(hooks))


def _devices(
    scene: Mapping[str, Any], procedure: Mapping[str, Any]
) -> Iterator[tuple[tuple[str, str], bool, str]]:
    """Yield for each two steps that need a crane whether they can be at once."""
    steps = in_written_order(procedure["steps"])
    spans = spans_of(steps)
    after: dict[str, set[str]] = {step["name"]: set(step.get("after", ())) for step in steps}
    for k, step in enumerate(steps):
        after[step["name"]] |= {
            one["name"] for one in steps[:k] if set(lanes_of(one)) & set(lanes_of(step))
        }
    for _ in steps:  # what is waited for waits as well
        for name, before in after.items():
            after[name] = before.union(*(after[one] for one in before))
    for crane in scene["cranes"]:
        needs = [step["name"] for step in steps if crane in _needed(scene, steps, step)]
        for one, other in itertools.combinations(needs, 2):
            (a, b), (c, d) = spans[one], spans[other]
            at_once = min(b, d) - max(a, c) > SAME
            free = one not in after[other] and other not in after[one]
            pair = " ".join(sorted((one, other)))
            if at_once or free:
                yield ("device", f"{crane} {pair}"), False, f"{at_once} {free}"
        if needs:
            bad = [
                (one, other)
                for one, other in itertools.combinations(needs, 2)
                if (one not in after[other] and other not in after[one])
                or min(spans[one][1], spans[other][1]) - max(spans[one][0], spans[other][0]) > SAME
            ]
            if not bad:
                yield ("device", crane), True, str(needs)


def _needed(
    scene: Mapping[str, Any], steps: Sequence[Mapping[str, Any]], step: Mapping[str, Any]
) -> set[str]:
    """Return the cranes that a step moves, and those that the lanes in it stand for."""
    found = _moved(step)
    for lane in set(lanes_of(step)) & {"CO", "CP"}:
        others = set().union(*(_moved(one) for one in steps if lane in lanes_of(one)))
        others = others or set(scene["cranes"])
        found |= others if len(others) == 1 else set()
    return found


def _moved(step: Mapping[str, Any]) -> set[str]:
    return {one["crane"] for one in step["actions"] if one["do"] == "move crane"}


class Written:
    """The day as written, event by event: how far lines have to reach, and from rails to trunks."""

    def __init__(self, scene: Mapping[str, Any], procedure: Mapping[str, Any]) -> None:
        self.scene, self.world = scene, RideWorld(scene, procedure)
        self.limits = {"tether_slack": SLACK, "place_span": SPAN, **scene["limits"]}
        self.margins: dict[tuple[str, str], list[float]] = {}
        self.at_once: set[tuple[str, str]] = set()
        self.unclear: set[tuple[str, str]] = set()
        self.handled: set[tuple[str, str]] = set()
        self.begun: dict[str, Any] = {}
        self.tips: dict[str, Any] = {}
        self.moving: dict[str, list[tuple[float, float]]] = {}
        self.rails = {
            name: [moved(world_from(scene, one["in"]), one[key]) for key in ("from", "to")]
            for name, one in scene["handrails"].items()
            if one["in"] not in scene["payloads"]
            and one.get("condition", "free") == "free" and one.get("rated", True)
            and one.get("rating", 1e9) >= CREW_LOAD
        }  # fmt: skip
        self._run(in_written_order(procedure["steps"]))

    def _run(self, steps: Sequence[Mapping[str, Any]]) -> None:
        self.spans = spans = spans_of(list(steps))
        self.steps = steps
        for step in steps:
            for crane in _moved(step):
                self.moving.setdefault(crane, []).append(spans[step["name"]])
        due: list[Any] = []
        for k, step in enumerate(steps):
            begin, end = spans[step["name"]]
            due.append(((round(begin, 6), True, k, 0), step, None, None))
            n = len(step["actions"])
            for i, action in enumerate(step["actions"]):
                cuts = [begin + (end - begin) * j / n for j in (i, i + 1)]
                parts = list(self.world.parts(step, action))
                for j, event in enumerate(parts):
                    now = cuts[0] if len(parts) == 2 and j == 0 else cuts[1]
                    due.append(
                        ((round(now, 6), now == begin, k, 1 + 2 * i + j), step, action, event)
                    )
        state = self.world.start()
        for (now, *_), step, action, event in sorted(due, key=lambda one: one[0]):
            before, self.now = state, now
            state = self.world.begun(state, step) if event is None else event(state)
            if event is None:
                self.begun[step["name"]] = state
            if action is not None and action["do"] == "move crane":
                self._ridden(before, step, action)
            w = step["lane"]
            if w in self.world.workers:
                self._boarded(step, before, state, action)

    # ---- lines ----------------------------------------------------------------------------

    def _ridden(self, state: Any, step: Mapping[str, Any], action: Mapping[str, Any]) -> None:
        crane = action["crane"]
        anchors = self.scene["anchors"]
        riders = [w for w in self.world.workers if self.world.is_on(state["place", w], crane)]
        plates = self._plates(state, step, action, riders)
        for w in riders:
            for line, record in self.scene["tethers"].items():
                hook = state["hook", line]
                if (
                    state["reel", line] != w
                    or hook not in anchors
                    or anchors[hook].get("on") == crane
                ):
                    continue
                anchor = moved(world_from(self.scene, anchors[hook].get("in", "world")),
                               anchors[hook]["at"])  # fmt: skip
                hips = [
                    moved(one, [0, 0, height(self.scene["workers"][w], "hips")]) for one in plates
                ]
                far = max((float(np.linalg.norm(one - anchor)) for one in hips), default=0.0)
                key = ("tether-riding", f"{w} {line} {crane}")
                left = float(record["length"]) - self.limits["tether_slack"] - far
                self.margins.setdefault(key, []).append(left)
                first = self.begun[step["name"]]
                places = {one["place", w] for one in (first, state)}
                if len(places | {state["place", other] for other in riders}) > 1:
                    self.unclear.add(key)  # they come, or stand elsewhere, while it moves

    def _plates(
        self, state: Any, step: Mapping[str, Any], action: Mapping[str, Any], riders: Sequence[str]
    ) -> list[Any]:
        """Return where the plate on the tip is at every pose of a motion, and note the last."""
        crane = action["crane"]
        here = next((state["place", w] for w in riders), state["tip", crane])
        now = self.plate(here, crane)
        if "payload" not in action:
            self.tips.pop(crane, None)
            there = self.plate(action["to"], crane)
            return [one for one in (now, there) if one is not None]
        through = self.scene["payloads"]["crate"]["paths"][step["path"]]["through"]
        poses = [world_from(self.scene, "crate", {"crate": one}) for one in through]
        if now is None:
            self.tips.pop(crane, None)
            return []
        plates = [one @ np.linalg.inv(poses[0]) @ now for one in poses]
        self.tips[crane] = plates[-1]
        return plates

    def plate(self, place: Any, crane: str) -> Any:
        """Return where the boots of somebody at a place on a tip are, world; None if not known."""
        if place in self.scene["stations"]:
            record = self.scene["stations"][place]
            z, x = (unit([float(v) for v in record[key]]) for key in ("up", "toes"))
            local = pose(np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in record["at"]])
            return world_from(self.scene, record["in"]) @ local
        return self.tips.get(crane)

    # ---- rails ----------------------------------------------------------------------------

    def _boarded(self, step: Mapping[str, Any], before: Any, state: Any, action: Any) -> None:
        """Ask how far rails are where somebody comes on to a tip, or leaves one."""
        w = step["lane"]
        old, new = before["place", w], state["place", w]
        if action is not None and action["do"] == "translate":
            if new is None:  # they leave
                new = "way"
            else:
                old = "way"
        here, there = self.world.crane_of(new), self.world.crane_of(old)
        if here and here != there and (old is not None):
            self._span(step, new, here, "on")
        if there and here != there:
            self._span(step, old, there, "off")

    def _span(self, step: Mapping[str, Any], place: str, crane: str, way: str) -> None:
        w = step["lane"]
        plate = self.plate(place, crane)
        if plate is None or not self.rails:
            return
        trunk = moved(plate, [0, 0, height(self.scene["workers"][w], "trunk")])
        far = min(
            float(np.linalg.norm(a + t * (b - a) - trunk))
            for a, b in self.rails.values()
            for t in (_nearest(a, b, trunk),)
        )
        key = ("boarding", f"{w} {place} {way}")
        self.margins.setdefault(key, []).append(self.limits["place_span"] - far)
        own = [self.spans[one["name"]] for one in self.steps if one["lane"] == w]
        moves = self.moving.get(crane, [])
        # Where two motions of the crane overlap, which `device` fails, either may come last.
        doubled = any(
            min(b, d) - max(a, c) > SAME or abs(a - c) <= SAME
            for (a, b), (c, d) in itertools.combinations(moves, 2)
        )
        if doubled or any(min(b, d) - max(a, c) >= -SAME for a, b in moves for c, d in own):
            self.at_once.add(key)
        later = self.steps[self.steps.index(step) :]
        bodily = [
            one for one in later if one["lane"] == w
            for action in one["actions"] if action["do"] in ("ingress", "translate")
        ]  # fmt: skip
        if not bodily:
            self.handled.add(key)


def _nearest(a: Any, b: Any, p: Any) -> float:
    """Return the share of a segment at which it is nearest to a point, by halving."""
    low, high = 0.0, 1.0
    for _ in range(80):
        one, other = low + (high - low) / 3.0, high - (high - low) / 3.0
        gaps = [float(np.linalg.norm(a + t * (b - a) - p)) for t in (one, other)]
        low, high = (low, other) if gaps[0] < gaps[1] else (one, high)
    return 0.5 * (low + high)
