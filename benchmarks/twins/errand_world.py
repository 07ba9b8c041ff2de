"""How a small outing goes: what every action changes, read from the guide, in any order.

Unlike the ledger, what an action changes is taken from how things stand when it is done, in each
order anew; what hangs on whom is told by where each thing is, not kept twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from benchmarks.twins.hands_twin import FREE, Hands, one_of

State = dict[Any, Any]
Event = Callable[[State], State]
ADRIFT = "adrift"


class World:
    """The yard of one case: begins, and what each step changes."""

    def __init__(self, scene: Mapping[str, Any], procedure: Mapping[str, Any]) -> None:
        self.scene, self.procedure = scene, procedure
        self.workers = [k for k, v in procedure["lanes"].items() if v == "worker"]
        self.hands = Hands(scene)
        self.restraints = [
            k for k, v in scene["items"].items() if v.get("is") in scene["restraints"]
        ]

    def start(self) -> State:
        """Return how everything is when the outing begins."""
        begin = self.procedure["begin"]
        state: State = {}
        for w in self.workers:
            at = begin["workers"].get(w, "lock")
            state |= {
                ("place", w): at,
                ("boots", w): None,
                ("outside", w): at not in self.scene["hatches"],
                ("grips", w): FREE,
            }
        for item in self.scene["items"]:
            told = begin["items"].get(item)
            holder = told["in"] if isinstance(told, dict) else told
            tied = told is not None and not (isinstance(told, dict) and told.get("tied") is False)
            state["holder", item] = holder
            state["ties", item] = frozenset([holder] if tied else [])
            state["plugged", item] = holder in self.scene["sockets"] and item in self.restraints
        for line in self.scene["tethers"]:
            ends = begin["lines"].get(line, {})
            state["hook", line], state["reel", line] = ends.get("hook"), ends.get("reel")
        for bolt in self.scene["fasteners"]:
            state["state", bolt] = "tight" if bolt in begin["tight"] else "loose"
            state["turned", bolt] = frozenset()
        for name in self.procedure["inhibits"]:
            state["inhibit", name] = name in begin["confirmed"]
        for tool in ("D1", "D2"):
            told = begin["tools"].get(tool, {}).get("torque")
            state["torque", tool] = None if told is None else float(told)
        for name, payload in self.scene["payloads"].items():
            state["fixed", name] = frozenset(set(begin["tight"]) & set(payload.get("fixed_by", ())))
        state["called"] = frozenset()
        return state

    def begun(self, state: State, step: Mapping[str, Any]) -> State:
        """Return how things are when a step has begun."""
        w, where = step["lane"], step.get("where")
        if w not in self.workers or where is None:
            return state
        new = {**state, ("place", w): where, ("outside", w): True}
        if self.is_away(state["place", w], where):
            new["boots", w], new["grips", w] = None, FREE
        return new

    def is_away(self, old: Any, new: str) -> bool:
        """Return whether somebody who was at one place has gone to another."""
        return bool(old != new)

    def held(self, state: State, payload: str, but: str = "") -> bool | None:
        """Return whether somebody, but for one, has hold of a payload; None if not said."""
        others = (w for w in self.workers if w != but)
        return one_of(self.hands.holds(state["grips", w], payload) for w in others)

    def events(self, step: Mapping[str, Any]) -> list[tuple[Mapping[str, Any] | None, int, Event]]:
        """Return the events of a step: (action, part, what it does), its begin first."""
        found: list[tuple[Mapping[str, Any] | None, int, Event]] = [
            (None, 0, lambda state: self.begun(state, step))
        ]
        for action in step["actions"]:
            found += [(action, k, one) for k, one in enumerate(self.parts(step, action))]
        return found

    def parts(self, step: Mapping[str, Any], action: Mapping[str, Any]) -> Iterator[Event]:
        """Yield what the parts of an action change."""
        w, do = step["lane"], action["do"]

        off = {("grips", w): FREE}

        def egress(state: State) -> State:
            if "from" in action:
                return {**state, ("outside", w): True, ("place", w): action["from"]}
            return {**state, ("boots", w): None, **off}

        def ingress(state: State) -> State:
            if "to" in action:
                return {
                    **state, ("outside", w): False, ("place", w): action["to"], ("boots", w): None,
                    **off,
                }  # fmt: skip
            where = step.get("where", state["place", w])
            return {
                **state,
                ("boots", w): step.get("restraint") or self._there(state, where) or where,
            }

        def leave(state: State) -> State:
            new = {
                **state,
                ("place", w): None,
                ("boots", w): None,
                ("outside", w): True,
                **off,
            }
            line = action.get("tether")
            if line is not None:
                new["reel", line] = w
            worn = [one for one in self.scene["tethers"] if state["reel", one] == w]
            line = line or (worn[0] if worn else None)
            if "anchor" in action and line is not None:
                new["hook", line] = action["anchor"]
            return new

        def arrive(state: State) -> State:
            return {**state, ("place", w): action["to"]}

        def attach(state: State) -> State:
            what, to = action["what"], action["to"]
            if what not in self.scene["tethers"]:
                return {**state, ("ties", what): state["ties", what] | {to}}
            return {**state, ("hook" if to in self.scene["anchors"] else "reel", what): to}

        def release(state: State) -> State:
            what, start = action.get("what"), action.get("from")
            if what is None:
                return {**state, **off}
            if what not in self.scene["tethers"]:
                return {**state, ("ties", what): state["ties", what] - {start}}
            to = action.get("to")
            if start in self.scene["anchors"] and state["reel", what] != start:
                has = state["reel", what] == w
                return {**state, ("hook", what): to or (None if has else ADRIFT)}
            return {**state, ("reel", what): to or ADRIFT}

        def put(to: str, items: list[str], tied: bool = True) -> Event:
            def done(state: State) -> State:
                new = dict(state)
                for item in items:
                    new["holder", item] = to
                    new["ties", item] = frozenset([to] if tied else [])
                    new["plugged", item] = False
                return new

            return done

        def install(state: State) -> State:
            new = put(action["to"], [action["item"]])(state)
            return {**new, ("plugged", action["item"]): True}

        def drive(state: State) -> State:
            bolt = action["fastener"]
            undoes = action.get("loosen", False) or do == "demate"
            way = "loose" if undoes else "tight"
            new = {
                **state, ("state", bolt): way, ("turned", bolt): state["turned", bolt] | {way},
            }  # fmt: skip
            for name, payload in self.scene["payloads"].items():
                if bolt in payload.get("fixed_by", ()):
                    held = state["fixed", name]
                    new["fixed", name] = held - {bolt} if undoes else held | {bolt}
            return new

        def adjust(state: State) -> State:
            return {**state, ("torque", action["tool"]): float(action["torque"])}

        def hold(state: State) -> State:
            return {**state, ("grips", w): self.hands.take(state["grips", w], action["grips"])}

        def given(state: State) -> State:
            to = action["to"]
            return {**state, ("grips", to): self.hands.take(state["grips", to], action["grips"])}

        def let_go(state: State) -> State:
            given = {self.hands.payload(one) for one in action["grips"]}
            left = set(self.scene["payloads"]) - given
            return {**state, ("grips", w): self.hands.keep(state["grips", w], left)}

        def confirm(state: State) -> State:
            if "inhibit" in action:
                return {**state, ("inhibit", action["inhibit"]): True}
            named = set(action.get("items", ()))
            inside = {one for one in self.scene["items"] if named & set(self.chain(state, one))}
            return {**state, "called": state["called"] | named | inside}

        if do == "translate":
            yield from (leave, arrive)
        elif do == "hand over":
            yield from (given, let_go)
        elif do in ("pick up", "stow", "pass"):
            to = action.get("to", w)
            yield put(to, action["items"], action.get("tied", True))
        elif do == "remove":
            yield put(w, [action["item"]])
        elif do == "lay":
            yield put(action["to"], [action["item"], *action["clamps"]])
        else:
            yield {
                "egress": egress, "ingress": ingress, "attach": attach, "release": release,
                "install": install, "drive": drive, "mate": drive, "demate": drive, "set": adjust,
                "hold": hold, "confirm": confirm,
            }.get(do, dict)  # fmt: skip

    def _there(self, state: State, where: Any) -> str | None:
        there = [r for r in self.restraints if state["plugged", r] and state["holder", r] == where]
        return min(there, default=None)

    def chain(self, state: State, item: str) -> list[str]:
        """Return what an item is in, what that is in, and so on."""
        found: list[str] = []
        while (one := state.get(("holder", item))) is not None and one not in found:
            found.append(one)
            item = one
        return found
