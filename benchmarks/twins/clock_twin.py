"""The clock judged by plain arithmetic on what is written."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from benchmarks.twins.hands_twin import FREE, Hands

Key = tuple[str, str]
SHIPPED = {
    "outing_time": 6.5 * 3600, "glove_check": 2100.0, "hand_stretch": 7200.0, "hand_rest": 180.0,
    "safe_time": 86400.0,
}  # fmt: skip
"""Limits where a scene gives none of its own, s."""

SAME = 1e-6
BY_HAND = {
    "align", "attach", "drive", "mate", "demate", "hand over", "hold", "install", "lay", "move",
    "pass", "pick up", "remove", "stow", "translate",
}  # fmt: skip


def seconds(text: Any) -> float:
    """Return a moment as it is written by `writing.clock`."""
    if isinstance(text, int | float):
        return float(text)
    if ":" in text:
        hours, minutes = text.split(":")
        return int(hours) * 3600.0 + int(minutes) * 60.0
    return float(text.removesuffix(" s"))


def in_written_order(steps: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return steps by their written starts; one without follows the one of its lane before."""
    last: dict[str, float] = {}
    keyed = []
    for step in steps:
        now = seconds(step["start"]) if "start" in step else last.get(step["lane"], 0.0)
        last[step["lane"]] = now
        keyed.append((now, step))
    return [step for _, step in sorted(keyed, key=lambda one: one[0])]


def lanes_of(step: Mapping[str, Any]) -> tuple[str, ...]:
    """Return all lanes that a step is in."""
    return (step["lane"], *step.get("with", ()))


def spans_of(steps: list[Mapping[str, Any]]) -> dict[str, tuple[float, float]]:
    """Return when steps are: at their written starts, else once what they wait for is over."""
    spans: dict[str, tuple[float, float]] = {}
    left = list(steps)
    while left:
        for step in left:
            k = steps.index(step)
            waits = set(step.get("after", ()))
            for lane in lanes_of(step):
                before = [one["name"] for one in steps[:k] if lane in lanes_of(one)]
                waits |= set(before)
            if waits <= set(spans):
                break
        else:
            raise ValueError("steps wait for each other")
        begin = max([0.0, *(spans[one][1] for one in waits)])
        if "start" in step:
            begin = seconds(step["start"])
        spans[step["name"]] = (begin, begin + float(step["duration"]))
        left.remove(step)
    return spans


class Clock:
    """What the checks of the clock should say of a case."""

    def __init__(self, scene: Mapping[str, Any], procedure: Mapping[str, Any]) -> None:
        self.scene, self.procedure = scene, procedure
        self.limits = {**SHIPPED, **scene.get("limits", {})}
        self.steps = in_written_order(procedure["steps"])
        self.spans = spans_of(self.steps)
        self.end = max(end for _, end in self.spans.values())
        self.margins: dict[Key, float] = {}
        self.workers = [k for k, v in procedure["lanes"].items() if v == "worker"]
        self._all()

    def say(self, check: str, about: str, margin: float) -> None:
        """Note a margin: the least of several counts."""
        key = (check, about)
        self.margins[key] = min(margin, self.margins.get(key, margin))

    def _all(self) -> None:
        self.say("outing", "", self.limits["outing_time"] - self.end)
        for w in self.workers:
            self._lane(w)
            self._hands(w)
            out = self._out(w)
            if out is None:
                continue
            store = self.procedure["stores"].get(w)
            if store is not None and "lasts" in store:
                usable = store["lasts"] * (1.0 - store.get("reserve", 0.0))
                self.say("outing", f"{w} suit", usable - (out[1] - out[0]))
            checks = sorted(
                self.spans[s["name"]][1]
                for s in self.steps
                for a in s["actions"]
                if a["do"] == "glove check" and w in a.get("of", [s["lane"]])
            )
            inside = [t for t in checks if out[0] < t < out[1]]
            for a, b in itertools.pairwise([out[0], *inside, out[1]]):
                self.say("glove-check", w, self.limits["glove_check"] - (b - a))
        self._windows()
        self._clocks()
        self._phases()
        self._waits()
        self._store()

    def _out(self, w: str) -> tuple[float, float] | None:
        """Return from when to when a worker is outside at most: first out, last in."""
        at = self.procedure["begin"]["workers"].get(w, "lock")
        out = 0.0 if at not in self.scene["hatches"] else None
        gone = out is not None
        end = self.end
        for step in self.steps:
            if step["lane"] != w:
                continue
            span = self.spans[step["name"]]
            if "where" in step and not gone:
                out, gone = span[0] if out is None else out, True
            for action in step["actions"]:
                goes = action["do"] == "translate" or (
                    action["do"] == "egress" and "from" in action
                )
                if goes and not gone:
                    out, gone, end = span[0] if out is None else out, True, self.end
                if action["do"] == "ingress" and "to" in action and gone:
                    gone, end = False, span[1]
        return None if out is None else (out, end if not gone else self.end)

    def _lane(self, w: str) -> None:
        mine = [self.spans[s["name"]] for s in self.steps if w in lanes_of(s)]
        names = [s["name"] for s in self.steps if w in lanes_of(s)]
        for (k, one), (j, other) in itertools.combinations(enumerate(mine), 2):
            self.say("lanes", w, other[0] - one[1])
            del k, j
        if names:
            self.say("lanes", w, 0.0 if len(mine) < 2 else 1e9)

    def _waits(self) -> None:
        for step in self.steps:
            for one in step.get("after", ()):
                gap = self.spans[step["name"]][0] - self.spans[one][1]
                if gap < -SAME:
                    self.say("lanes", f"{step['name']} after {one}", gap)

    def _hands(self, w: str) -> None:
        busy = sorted(
            self.spans[s["name"]]
            for s in self.steps
            if s["lane"] == w and any(a["do"] in BY_HAND for a in s["actions"])
        )
        busy = sorted([*busy, *self._holding(w)])
        busy = [(a, b) for a, b in busy if b > a]
        if not busy:
            return
        begin, end = busy[0]
        for a, b in busy:
            if a - end >= self.limits["hand_rest"] - SAME:
                begin = a
            end = max(end, b) if a - end < self.limits["hand_rest"] - SAME or begin != a else b
            self.say("hand-time", w, self.limits["hand_stretch"] - (end - begin))

    def _holding(self, w: str) -> Iterator[tuple[float, float]]:
        """Yield from when to when a worker has hold of a payload."""
        hands, ways, since = Hands(self.scene), FREE, 0.0
        place = self.procedure["begin"]["workers"].get(w, "lock")
        for now, step, action in self._deeds(w):
            old, place = place, step.get("where", place) if action is None else place
            then = ways if old == place else FREE
            do = "" if action is None else action["do"]
            if do == "hold":
                then = hands.take(ways, action["grips"])
            elif do in ("translate", "egress", "ingress"):
                place = action.get("to", action.get("from", place))
                then = FREE if place != old or do == "egress" else ways
            elif do == "release" and "what" not in action:
                then = FREE
            was, ways = hands.is_busy(ways), then
            if was and not hands.is_busy(ways):
                yield since, now
            elif hands.is_busy(ways) and not was:
                since = now
        if hands.is_busy(ways):
            yield since, self.end

    def _deeds(self, w: str) -> Iterator[tuple[float, Mapping[str, Any], Any]]:
        """Yield when a worker's steps begin (None) and its actions are done; moves leave at once.

        What is done at one moment is in the order of the steps.
        """
        for step in self.steps:
            if step["lane"] != w:
                continue
            begin, end = self.spans[step["name"]]
            yield begin, step, None
            worked = [a for a in step["actions"] if a["do"] != "glove check"]
            for k, action in enumerate(worked):
                leaves = action["do"] == "translate"
                yield begin + (end - begin) * (k + (not leaves)) / len(worked), step, action

    def _windows(self) -> None:
        for step in self.steps:
            begin, end = self.spans[step["name"]]
            for action in step["actions"]:
                if action["do"] != "drive":
                    continue
                name = self.procedure["guards"].get(action["fastener"], {}).get("window")
                if name is None:
                    continue
                record = self.procedure["windows"][name]
                kept = record["margin"]
                fits = [
                    min(begin - seconds(a) - kept, seconds(b) - kept - end)
                    for a, b in record["spans"]
                ]
                self.say("window", f"{step['name']} {action['fastener']}", max(fits))

    def _clocks(self) -> None:
        """Walk each clock second by second: it runs from an end of its start to one of its stop."""
        for name, record in self.procedure.get("clocks", {}).items():
            starts = self._marks(record["from"])
            stops = self._marks(record["to"])
            running: float | None = None
            events = sorted({*starts, *stops})
            for t in events:
                if running is not None and t in stops and t > running + SAME:
                    self.say("unpowered", name, record["limit"] - (t - running))
                    running = None
                if running is None and t in starts:
                    running = t
            if running is not None and self.end - running > record["limit"]:
                self.say("unpowered", name, record["limit"] - (self.end - running))

    def _marks(self, name: str) -> list[float]:
        """Return when a step ends, or every step that turns a fastener."""
        return [
            self.spans[s["name"]][1]
            for s in self.steps
            if s["name"] == name
            or any(a["do"] in ("drive", "mate") and a["fastener"] == name for a in s["actions"])
        ]

    def _phases(self) -> None:
        phases = self.procedure.get("phases", {})
        for name, phase in phases.items():
            if "stop" not in phase or "safe" not in phase:
                self.say("safe-stop", name, -1.0)
            else:
                self.say("safe-stop", name, phase["safe"] - self.limits["safe_time"])
        if not phases:
            return
        spans = [(self.spans[p["from"]][0], self.spans[p["to"]][1]) for p in phases.values()]
        for begin, end in self.spans.values():
            # Whatever moment of a step is asked about, some phase is there.
            cuts = sorted({begin, end, *(t for s in spans for t in s if begin < t < end)})
            for a, b in itertools.pairwise(cuts):
                middle = 0.5 * (a + b)
                if not any(s[0] <= middle <= s[1] for s in spans):
                    self.say("clean-up", "", -1.0)
        self.say("clean-up", "", 0.0)

    def _store(self) -> None:
        from fractions import Fraction

        store = self.procedure["stores"]["D1"]
        usable = Fraction(str(store["turns"])) * (1 - Fraction(str(store["reserve"])))
        used = sum(
            Fraction(str(self.scene["fasteners"][a["fastener"]]["turns"]))
            for s in self.steps
            for a in s["actions"]
            if a["do"] == "drive" and a["tool"] == "D1"
        )
        if used:
            self.say("energy", "D1", float(usable - used))
