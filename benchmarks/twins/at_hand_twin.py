"""Who has what at hand, and which end of a line: distances from place to place, by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from benchmarks.twins.errand_world import ADRIFT, State, World
from benchmarks.twins.orders_walk import Walk

SHIPPED = {"at_hand": 2.0, "bulky_items": 2, "restraints_carried": 2}
"""Limits where a scene gives none of its own."""

TIE = 1e-6
"""Distances that differ by less than this (m) from a limit are ties that nobody is held to."""


class AtHand(Walk):
    """The rules on what is at hand of who does something."""

    def __init__(
        self, scene: Mapping[str, Any], procedure: Mapping[str, Any], world: World
    ) -> None:
        super().__init__(scene, procedure, world)
        self.limits = {**SHIPPED, **scene.get("limits", {})}

    def _has(self, state: State, w: str, item: str, on_suit: bool = False) -> None:
        if item not in self.scene["items"]:
            return
        good, tie = False, False
        seen, now = set(), item
        while True:
            holder = state["holder", now]
            if holder == w:
                good = True
                break
            if holder is None or holder in self.workers or holder in seen:
                break
            if holder in self.scene["items"]:
                seen.add(holder)
                now = holder
                continue
            place = state["place", w]
            if not on_suit and place is not None:
                good, tie = self._is_near(place, holder)
            break
        if tie:
            self.ties.add(("present", f"{w} {item}"))
        self.say("present", f"{w} {item}", good or tie, f"{state['holder', item]}")

    def _near(self, state: State, w: str, here: str | None, there: str, times: float = 1.0) -> None:
        if there in self.workers:
            if there == w:
                return
            place = state["place", there]
            good, tie = (False, False) if place is None or here is None else self._is_near(
                here, place, times)  # fmt: skip
        elif here is None:
            good, tie = False, False
        else:
            good, tie = self._is_near(here, there, times)
        key = f"{w} {there}"
        if tie:
            self.ties.add(("present", key))
        self.say("present", key, good or tie, f"from {here}")

    def _is_near(self, one: str, other: str, times: float = 1.0) -> tuple[bool, bool]:
        if one == other:
            return True, False
        apart = distance(self._ends(one), self._ends(other))
        most = times * self.limits["at_hand"]
        return apart <= most, abs(apart - most) < TIE

    def _ends(self, place: str) -> tuple[list[float], list[float]]:
        for table in ("hatches", "sockets", "anchors", "fasteners"):
            if place in self.scene[table]:
                at = [float(v) for v in self.scene[table][place]["at"]]
                return at, at
        rail = self.scene["handrails"][place]
        return [float(v) for v in rail["from"]], [float(v) for v in rail["to"]]

    def _line_moved(self, state: State, w: str, action: Mapping[str, Any]) -> None:
        line = action.get("tether")
        if line is not None and state["reel", line] != w:
            self._end_here(state, w, line, "reel", w)
            self.say("locked", f"{w} {line} {w}", False, "taken on a move")
        if "anchor" in action and line is not None and state["hook", line] != action["anchor"]:
            self._end_here(state, w, line, "hook", action["anchor"])
            self._shifted(state, line, action["anchor"])
            self.say("locked", f"{w} {line} {action['anchor']}", False, "taken on a move")

    def _line_or_item(self, state: State, w: str, action: Mapping[str, Any]) -> None:
        what = action["what"]
        if what not in self.scene["tethers"]:
            self._has(state, w, what)
            place, to = state["place", w], action.get("to")
            if action["do"] == "attach" and to != w and place is not None:
                self._near(state, w, place, to)
            return
        if action["do"] == "attach":
            to = action["to"]
            end = "hook" if to in self.scene["anchors"] else "reel"
            self._end_here(state, w, what, end, to)
            self.say("locked", f"{w} {what} {to}", action.get("checked", False))
            if end == "hook":
                self._shifted(state, what, to)
            return
        start = action["from"]
        if start in self.scene["anchors"] and state["reel", what] != start:
            self._end_here(state, w, what, "hook", action.get("to"))
            self._shifted(state, what, action.get("to"))
        else:
            self._end_here(state, w, what, "reel", action.get("to"))

    def _shifted(self, state: State, line: str, to: str | None) -> None:
        """Ask for another line of whoever wears one whose hook goes from anchor to anchor."""
        w, hook = state["reel", line], state["hook", line]
        if (
            to not in self.scene["anchors"]
            or w not in self.workers
            or hook not in self.scene["anchors"]
            or hook == to
        ):
            return
        others = [
            one for one in self.scene["tethers"]
            if one != line and state["reel", one] == w
            and state["hook", one] in self.scene["anchors"]
        ]  # fmt: skip
        self.say("hooked", w, bool(others) or not state["outside", w], f"hook of {line} moves")

    def _end_here(self, state: State, w: str, line: str, end: str, to: str | None) -> None:
        now, place = state[end, line], state["place", w]
        on_me = end == "hook" and state["reel", line] == w
        good, tie = False, False
        if now is None:
            good = place in self.scene["hatches"] or on_me
        elif now == ADRIFT:
            good = on_me
        elif now == w:
            good = True
        elif now in self.workers:
            other = state["place", now]
            if place is not None and other is not None:
                good, tie = self._is_near(place, other)
        elif place is not None:
            good, tie = self._is_near(place, now)
        if good and to is not None and to != w:
            there = state["place", to] if to in self.workers else to
            near = (False, False) if None in (place, there) else self._is_near(place, there)
            good, tie = near[0], tie or near[1]
        key = f"{w} {line}"
        if tie:
            self.ties.add(("present", key))
        self.say("present", key, good or tie, f"{end} at {now}, {w} at {place}, to {to}")


def distance(one: Any, other: Any) -> float:
    """Return how far two segments along x, or points, are apart: by their ends and by overlap."""
    best = math.inf
    for (a, b), (c, d) in ((one, other), (other, one)):
        for p in (a, b):
            length = math.dist(c, d)
            t = 0.0
            if length > 0.0:
                t = sum((p[i] - c[i]) * (d[i] - c[i]) for i in range(3)) / length**2
            t = min(1.0, max(0.0, t))
            best = min(best, math.dist(p, [c[i] + t * (d[i] - c[i]) for i in range(3)]))
    return best
