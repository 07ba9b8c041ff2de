"""The ledger judged the plain way: every order of events walked, every rule asked in each state."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations, pairwise
from typing import Any

from benchmarks.twins.at_hand_twin import AtHand
from benchmarks.twins.errand_world import ADRIFT, State, World


class Errand(AtHand):
    """One case, walked through in every order."""

    def __init__(self, scene: Mapping[str, Any], procedure: Mapping[str, Any]) -> None:
        super().__init__(scene, procedure, World(scene, procedure))
        self.tied = {
            a["what"] for s in self.steps for a in s["actions"]
            if a["do"] in ("attach", "release") and a.get("what") in scene["items"]
        }  # fmt: skip
        self.walk()

    def _always(self, state: State) -> None:
        items, tethers = self.scene["items"], self.scene["tethers"]
        for w in self.workers:
            lines = [
                one for one in tethers
                if state["reel", one] == w and state["hook", one] in self.scene["anchors"]
            ]  # fmt: skip
            self.say("hooked", w, not state["outside", w] or bool(lines), "no line")
            on = [one for one in items if state["holder", one] == w]
            bulky = [one for one in on if items[one].get("bulky")]
            feet = [one for one in on if one in self.world.restraints]
            self.say(
                "burden", f"{w} bulky items", len(bulky) <= self.limits["bulky_items"], str(bulky)
            )
            self.say(
                "burden",
                f"{w} restraints",
                len(feet) <= self.limits["restraints_carried"],
                str(feet),
            )
        for item in items:
            holder = state["holder", item]
            if holder is not None:
                loose = holder not in self.scene["hatches"] and not state["ties", item]
                chain = self.world.chain(state, item)
                circle = state.get(("holder", chain[-1])) is not None
                self.say(
                    "custody", item, not loose and not circle, f"{holder} {state['ties', item]}"
                )
        for line in tethers:
            reel, hook = state["reel", line], state["hook", line]
            kept = reel != ADRIFT and (hook != ADRIFT or reel in self.workers)
            self.say("custody", line, kept, f"hook {hook} reel {reel}")
        for bag, record in items.items():
            inside = [one for one in items if state["holder", one] == bag]
            if "slots" in record and inside:
                takes = sum(items[one].get("takes", 1) for one in inside)
                self.say("slots", bag, takes <= record["slots"], str(inside))
            if "most_mass" in record and inside:
                masses = [items[one].get("mass") for one in inside]
                known = math.fsum(float(m) for m in masses if m is not None)
                if abs(known - record["most_mass"]) < 1e-9:
                    self.ties.add(("slots", f"{bag} mass"))
                good = known <= record["most_mass"] + 1e-9
                if not good or None not in masses:
                    self.say("slots", f"{bag} mass", good, f"{inside} {known}")
        for socket in self.scene["sockets"]:
            there = [
                r for r in self.world.restraints
                if state["plugged", r] and state["holder", r] == socket
            ]  # fmt: skip
            self.say("sockets", socket, len(there) <= 1, str(there))
        for one, other in combinations(self.workers, 2):
            boots = state["boots", one]
            shared = boots is not None and boots == state["boots", other]
            self.say("sockets", f"{one} {other}", not shared or boots not in items, str(boots))
        for name in self.scene["payloads"]:
            held = bool(state["fixed", name]) or self.world.held(state, name)
            self.say_maybe("held", name, held)

    def _at_end(self, state: State) -> None:
        end = self.procedure["end"]
        for item in self.scene["items"]:
            if state["holder", item] is None or item in end["items"]:
                continue
            chain = self.world.chain(state, item)
            home = self._is_at(state, chain, end["rest"])
            self.say("inventory", item, home and item in state["called"],
                     f"{chain} called {item in state['called']}")  # fmt: skip
        for item, goal in end["items"].items():
            chain = self.world.chain(state, item)
            self.say("left-as", f"{item} {goal}", self._is_at(state, chain, goal), str(chain))
        for line, ends in end["lines"].items():
            for word in ("hook", "reel"):
                goal, now = ends.get(word), state[word, line]
                good = now == goal
                if word == "reel" and goal is None and now in self.workers:
                    good = not state["outside", now]
                self.say("left-as", f"{line} {goal or 'the lock'} {word}", good, str(now))

    def _is_at(self, state: State, chain: list[str], goal: str) -> bool:
        """Return whether a chain of holders comes to a place."""
        for one in chain:
            if one == goal:
                return True
            if one in self.workers:
                # Who stands outside at the hatch has not gone in by that.
                is_in = goal not in self.scene["hatches"] or not state["outside", one]
                return is_in and state["place", one] == goal
        return False

    def _before(
        self, state: State, step: Mapping[str, Any], action: Mapping[str, Any] | None, part: int
    ) -> None:
        w = step["lane"]
        if w not in self.workers:
            return
        place = state["place", w]
        if action is None:
            where = step.get("where")
            if where is not None and where != place:
                self._near(state, w, place, where)
            return
        do = action["do"]
        # Moves: what is carried is on the suit as they leave.
        if do == "translate":
            if part == 0:
                for item in sorted(self.tied):
                    if state["holder", item] == w:
                        ties = state["ties", item] - set(self.scene["items"])
                        self.say("custody", f"{item} {w}", ties == {w}, f"tied to {sorted(ties)}")
                for item in action.get("carrying", ()):
                    self._has(state, w, item, on_suit=True)
                self._line_moved(state, w, action)
            return
        first_feet = next(
            (
                a
                for a in step["actions"]
                if a["do"] in ("ingress", "drive", "mate", "hold") and "to" not in a
            ),
            None,
        )
        where = step.get("where", place)
        if action is first_feet and where in self.scene["sockets"]:
            name = step.get("restraint") or state["boots", w]
            there = [
                r for r in self.world.restraints
                if state["plugged", r] and state["holder", r] == where
            ]  # fmt: skip
            good = name in there if name in self.scene["items"] else bool(there)
            self.say("plugged", f"{w} {where}", good, f"{name} {there}")
        if do in ("egress", "ingress") and ("from" in action or "to" in action):
            hatch = action.get("from") or action["to"]
            if state["outside", w] is not False:
                self._near(state, w, place, hatch)
            return
        if do == "lay":
            self._lay(state, w, action)
        elif do == "mate":
            self._mate(state, w, action)
        if do == "drive":
            self._drive(state, step, action)
            for one in ("tool", "bit"):
                if action.get(one) in self.scene["items"]:
                    self._has(state, w, action[one])
            for one in self.procedure["guards"].get(action["fastener"], {}).get("items", ()):
                self._has(state, w, one)
        elif do == "set":
            self._has(state, w, action["tool"])
        elif do == "pick up":
            for item in action["items"]:
                self._has(state, w, item)
                if state["holder", item] in self.scene["sockets"]:
                    self._taken(state, w, item)
            if "to" in action:
                self._has(state, w, action["to"])
        elif do in ("stow", "pass"):
            for item in action["items"]:
                self._has(state, w, item, on_suit=True)
            if action["to"] in self.scene["items"]:
                self._has(state, w, action["to"])
            elif place is not None:
                self._near(state, w, place, action["to"], 2.0 if do == "pass" else 1.0)
        elif do == "install":
            self._has(state, w, action["item"], on_suit=True)
            if place is not None:
                self._near(state, w, place, action["to"])
            status = self.scene["sockets"][action["to"]].get("status", "free")
            self.say("sockets", f"{w} {action['item']} {action['to']}", status == "free", status)
        elif do == "remove":
            self._has(state, w, action["item"])
            self._taken(state, w, action["item"])
        elif do == "hold":
            payload = self.world.hands.payload(action["grips"][0])
            if payload:
                self.say("receiver", f"{w} {payload}", state["boots", w] is not None)
        elif do in ("attach", "release") and "what" in action:
            self._line_or_item(state, w, action)

    def _taken(self, state: State, w: str, item: str) -> None:
        for other in self.workers:
            in_it = state["boots", other] == item
            self.say("plugged", f"{w} takes {item}", not in_it, other)

    def _drive(self, state: State, step: Mapping[str, Any], action: Mapping[str, Any]) -> None:
        w, bolt, tool = step["lane"], action["fastener"], action["tool"]
        way = "loose" if action.get("loosen") else "tight"
        for order in self.procedure["orders"].values():
            used = {
                a["fastener"] for s in self.steps for a in s["actions"]
                if a["do"] == "drive" and ("loose" if a.get("loosen") else "tight") == way
            }  # fmt: skip
            turned = [one for one in order["fasteners"] if one in used]
            for first, then in pairwise(turned):
                if then == bolt and way not in state["turned", bolt]:
                    good = way in state["turned", first]
                    self.say("sequence", f"{then} {first}", good, way)
        guard = self.procedure["guards"].get(bolt, {})
        for one in guard.get("inhibits", ()):
            self.say("guard", f"{bolt} {one}", state["inhibit", one])
        for one in guard.get("after", ()):
            self.say("guard", f"{bolt} {one}", bool(state["turned", one]))
        if "held" in guard:
            others = self.world.held(state, guard["held"], but=w)
            self.say_maybe("guard", f"{bolt} {guard['held']}", others)
        record, value = self.scene["fasteners"][bolt], state["torque", tool]
        low = record.get("breakaway" if way == "loose" else "torque")
        high = record.get("most_torque")
        if way == "tight" and high is None:
            high = low
        if low is not None or high is not None:
            about = f"{w} {bolt} {tool}"
            if value is None:
                self.ties.add(("dial", about))
            else:
                good = (low is None or value >= low - 1e-9) and (
                    high is None or value <= high + 1e-9
                )
                self.say("dial", about, good, f"{value} in {low} to {high}")

    def _lay(self, state: State, w: str, action: Mapping[str, Any]) -> None:
        about = f"{w} {action['item']} {action['to']}"
        self._has(state, w, action["item"])
        for clamp in action["clamps"]:
            self._has(state, w, clamp)
            on = state["holder", clamp]
            used = on in self.scene["fasteners"] and on != action["to"] and any(
                a["do"] == "lay" and a["to"] == on for s in self.steps for a in s["actions"]
            )  # fmt: skip
            self.say("lead", f"{about} clamps", not used, f"{clamp} on {on}")
        # A rail counts as its middle.
        ends = [self._ends(one) for one in (*action["through"], action["to"])]
        points = [[0.5 * (x + y) for x, y in zip(*both, strict=True)] for both in ends]
        way = sum(math.dist(p, q) for p, q in pairwise(points))
        item = self.scene["items"][action["item"]]
        if len(points) > 1:
            has = float(item["length"])
            if abs(has - way) < 1e-9:
                self.ties.add(("lead", f"{about} length"))
            self.say("lead", f"{about} length", way <= has, f"{way:g}")
        least = item.get("bend", 10.0 * item["diameter"] if "diameter" in item else None)
        corners = [p for k, p in enumerate(points) if k == 0 or math.dist(p, points[k - 1]) > 1e-9]
        if least is not None and len(corners) > 2:
            radius = widest_arcs(corners)
            if abs(radius - least) < 1e-6 * max(1.0, least):
                self.ties.add(("lead", f"{about} bend"))
            if radius < 1e6:
                self.say("lead", f"{about} bend", radius >= least, f"{radius:g}")

    def _mate(self, state: State, w: str, action: Mapping[str, Any]) -> None:
        for step in self.steps:
            for lay in step["actions"]:
                if lay["do"] == "lay" and lay["to"] == action["fastener"]:
                    held = [state["holder", one] for one in (lay["item"], *lay["clamps"])]
                    good = all(one == action["fastener"] for one in held)
                    key = f"{w} {action['fastener']} {lay['item']}"
                    self.say("strain", key, good, str(held))


def widest_arcs(points: list[Any]) -> float:
    """Return the largest radius with which all corners can be rounded, by halving."""
    low, high = 0.0, 2e6
    for _ in range(200):
        radius = 0.5 * (low + high)
        used = [0.0] * len(points)
        for k in range(1, len(points) - 1):
            a = [p - q for p, q in zip(points[k - 1], points[k], strict=True)]
            b = [p - q for p, q in zip(points[k + 1], points[k], strict=True)]
            dot = sum(x * y for x, y in zip(a, b, strict=True)) / (math.hypot(*a) * math.hypot(*b))
            inner = math.acos(max(-1.0, min(1.0, dot)))
            used[k] = radius / max(math.tan(inner / 2), 1e-300)
        fits = all(
            used[k] + used[k + 1] <= math.dist(points[k], points[k + 1])
            for k in range(len(points) - 1)
        )
        low, high = (radius, high) if fits else (low, radius)
    return low
