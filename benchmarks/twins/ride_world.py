"""What crane days change beside what `errand_world` knows: tips, who rides on them, the crate."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchmarks.twins.errand_world import Event, State, World

TIP = " tip"
"""How the place on a crane's tip is called that a payload's path has taken along."""


class RideWorld(World):
    """The yard of one case with its cranes."""

    def start(self) -> State:
        """Return how everything is when the day begins."""
        state = super().start()
        state |= {("tip", crane): None for crane in self.scene["cranes"]}
        return {**state, ("pose", "crate"): "here"}

    def parts(self, step: Mapping[str, Any], action: Mapping[str, Any]) -> Iterator[Event]:
        """Yield what the parts of an action change."""
        if action["do"] not in ("move", "move crane"):
            yield from super().parts(step, action)
            return

        def move(state: State) -> State:
            new = dict(state)
            if "payload" in action:
                path = self.scene["payloads"]["crate"]["paths"][step["path"]]
                new["pose", "crate"] = path["through"][-1]
            crane = action.get("crane")
            if crane is not None:
                there = f"{crane}{TIP}" if "payload" in action else action["to"]
                new["tip", crane] = there
                for w in self.workers:
                    old = state["place", w]
                    if self.is_on(old, crane):
                        new["place", w] = there
                        if "payload" in action or old != there:
                            along = {action.get("payload")} - {None}
                            new["grips", w] = self.hands.keep(state["grips", w], along)
            return new

        yield move

    def is_away(self, old: Any, new: str) -> bool:
        """Return whether somebody has gone to another place: not of the same tip."""
        crane = self.crane_of(new)
        return super().is_away(old, new) and not (crane and self.crane_of(old) == crane)

    def is_on(self, place: Any, crane: str) -> bool:
        """Return whether a place is on a crane's tip."""
        return self.crane_of(place) == crane

    def crane_of(self, place: Any) -> str:
        """Return the crane on whose tip a place is, or nothing."""
        if place in self.scene["stations"]:
            return str(self.scene["stations"][place].get("on", ""))
        return place.removesuffix(TIP) if str(place).endswith(TIP) else ""
