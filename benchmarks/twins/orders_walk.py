"""Every order of the events of small outings, walked state by state."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

from benchmarks.twins.clock_twin import in_written_order
from benchmarks.twins.errand_world import State, World

Key = tuple[str, str]
"""Name of a check and what it is asked about."""

MOST_STATES = 30_000


class Walk:
    """One case, walked through in every order; what is asked in each state is for others to say."""

    def __init__(
        self, scene: Mapping[str, Any], procedure: Mapping[str, Any], world: World
    ) -> None:
        self.scene, self.procedure, self.world = scene, procedure, world
        self.workers = world.workers
        self.steps = in_written_order(procedure["steps"])
        self.verdicts: dict[Key, bool] = {}
        self.notes: dict[Key, str] = {}
        self.ties: set[Key] = set()
        self.unsaid: set[Key] = set()
        self.is_whole = True

    def say(self, check: str, about: str, good: bool, note: str = "") -> None:
        """Note one answer: what is bad once is bad."""
        key = (check, about)
        self.verdicts[key] = self.verdicts.get(key, True) and good
        if not good:
            self.notes.setdefault(key, note)

    def say_maybe(self, check: str, about: str, good: bool | None, note: str = "") -> None:
        """Note an answer that the files may leave undecided: nothing is known to be good then."""
        self.say(check, about, good is not False, note)
        if good is None:
            self.unsaid.add((check, about))

    def walk(self) -> None:
        """Walk every order from the begin."""
        lanes: dict[str, list[Any]] = {}
        first: dict[str, tuple[str, int]] = {}
        last: dict[str, tuple[str, int]] = {}
        for step in self.steps:
            events = lanes.setdefault(step["lane"], [])
            first[step["name"]] = (step["lane"], len(events))
            events += [(step, *one) for one in self.world.events(step)]
            last[step["name"]] = (step["lane"], len(events))
        waits: dict[tuple[str, int], list[tuple[str, int]]] = {}
        for name, then in self._links():
            waits.setdefault(first[then], []).append(last[name])
        names = list(lanes)
        begin = (tuple(0 for _ in names), self.world.start())
        seen = {(begin[0], frozen(begin[1]))}
        pending = [begin]
        ends = tuple(len(lanes[lane]) for lane in names)
        while pending:
            where, state = pending.pop()
            at = dict(zip(names, where, strict=True))
            self._always(state)
            if where == ends:
                self._at_end(state)
            for k, lane in enumerate(names):
                if where[k] == ends[k]:
                    continue
                if any(at[other] < n for other, n in waits.get((lane, where[k]), ())):
                    continue
                step, action, part, event = lanes[lane][where[k]]
                self._before(state, step, action, part)
                after = event(state)
                new = ((*where[:k], where[k] + 1, *where[k + 1 :]), after)
                mark = (new[0], frozen(after))
                if mark in seen:
                    continue
                if len(seen) > MOST_STATES:
                    self.is_whole = False
                    return
                seen.add(mark)
                pending.append(new)

    def _links(self) -> Iterator[tuple[str, str]]:
        for step in self.steps:
            for one in step.get("after", ()):
                yield one, step["name"]
        lanes: dict[str, list[str]] = {}
        for step in self.steps:
            for lane in (step["lane"], *step.get("with", ())):
                lanes.setdefault(lane, []).append(step["name"])
        for names in lanes.values():
            yield from pairwise(names)

    def _always(self, state: State) -> None:
        """Ask what is asked in every state."""

    def _at_end(self, state: State) -> None:
        """Ask what is asked when all is done."""

    def _before(
        self, state: State, step: Mapping[str, Any], action: Mapping[str, Any] | None, part: int
    ) -> None:
        """Ask what is asked before an event."""


def frozen(state: State) -> Any:
    """Return a state as something that can be compared and kept in sets."""
    return tuple(state.values())
