"""The whole outing: when each step is, what it changes, how everything stands at any moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from reach.clock import Span, Task, as_written
from reach.ledger.beginning import beginning
from reach.ledger.deed import Deed
from reach.ledger.deeds import States, deeds_of
from reach.model.procedure import Procedure, Step, written_order
from reach.model.scene import Scene
from reach.orders import Event, Examiner, Link, Put, Value


@dataclass(frozen=True, eq=False)
class Outing:
    """A procedure as one thing: its steps on the clock, its ledger, its events for all orders.

    Attributes
    ----------
    scene : Scene
    procedure : Procedure
    steps : tuple of Step
        In the order of their written starts.
    tasks : tuple of Task
        The steps on the clock, in that order.
    spans : mapping of step name -> Span, s
        When steps are, starts taken at their word.
    deeds : tuple of Deed
        In order of time, as written.
    states : tuple of dict
        How everything is before each deed, and after the last.
    links : tuple of Link
        What waits for what across lanes: ``after`` of steps, steps of several lanes.
    """

    scene: Scene
    procedure: Procedure
    steps: tuple[Step, ...]
    tasks: tuple[Task, ...]
    spans: Mapping[str, Span]
    deeds: tuple[Deed, ...]
    states: States
    links: tuple[Link, ...]
    memo: dict[Any, Any] = field(default_factory=dict)

    @property
    def start(self) -> Mapping[str, Value]:
        """How everything is before anything is done."""
        return self.states[0]

    @property
    def is_declared(self) -> bool:
        """Whether the procedure says how the outing begins: else hooks and items are unknown."""
        return self.procedure.begin is not None

    @cached_property
    def workers(self) -> tuple[str, ...]:
        """Lanes of workers."""
        return tuple(lane for lane, kind in self.procedure.lanes.items() if kind == "worker")

    @cached_property
    def lanes(self) -> dict[str, tuple[Event, ...]]:
        """Lane -> its events in order, for `reach.orders`."""
        found: dict[str, list[Event]] = {lane: [] for lane in self.procedure.lanes}
        by_step: dict[str, list[Event]] = {}
        for deed in self.deeds:
            by_step.setdefault(deed.step.name, []).append(deed.event)
        for step in self.steps:
            found[step.lane] += by_step[step.name]
        return {lane: tuple(events) for lane, events in found.items() if events}

    @cached_property
    def _of_step(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for k, deed in enumerate(self.deeds):
            found.setdefault(deed.step.name, []).append(k)
        return found

    def step(self, name: str) -> Step:
        """Return a step by name."""
        return next(step for step in self.steps if step.name == name)

    def deeds_in(self, step: str) -> tuple[Deed, ...]:
        """Return the deeds of a step in order."""
        return tuple(self.deeds[k] for k in self._of_step[step])

    def before(self, deed: Deed) -> Mapping[str, Value]:
        """Return how everything is just before a deed, as written."""
        return self.states[self._rank[deed.name]]

    def after(self, step: str) -> Mapping[str, Value]:
        """Return how everything is when a step is over, as written."""
        return self.states[self._of_step[step][-1] + 1]

    def around(self, step: str, i: int) -> tuple[Mapping[str, Value], Mapping[str, Value]]:
        """Return how everything is before and after the action number ``i`` of a step."""
        mine = [k for k in self._of_step[step] if self.deeds[k].i == i]
        return self.states[mine[0]], self.states[mine[-1] + 1]

    @property
    def finally_(self) -> Mapping[str, Value]:
        """How everything is when all is done."""
        return self.states[-1]

    def ever(self, name: str) -> tuple[Value, ...]:
        """Return all values that a variable (no set) may take in any order, the first one first."""
        key = ("ever", name)
        if key not in self.memo:
            effects = (deed.event.effect(name) for deed in self.deeds)
            values = [one.value for one in effects if isinstance(one, Put)]
            self.memo[key] = tuple(dict.fromkeys([self.start.get(name), *values]))
        found: tuple[Value, ...] = self.memo[key]
        return found

    @cached_property
    def lanes_changing(self) -> Mapping[str, frozenset[str]]:
        """Variable -> the lanes whose deeds change it."""
        found: dict[str, set[str]] = {}
        for deed in self.deeds:
            for name in deed.event.writes:
                found.setdefault(name, set()).add(deed.lane)
        return {name: frozenset(lanes) for name, lanes in found.items()}

    def rank(self, deed: Deed) -> int:
        """Return which deed in order of time it is, from 0."""
        return self._rank[deed.name]

    @cached_property
    def examiner(self) -> Examiner:
        """Rules are asked of this: whether they hold in every order.

        Raises
        ------
        ValueError
            If a step has the name of another one's event: a wait for it would be for either.
        """
        return Examiner(self.lanes, self.links, self.start)

    def deed_named(self, name: str) -> Deed:
        """Return a deed by its own name, or the first of a step by that of the step."""
        return self._named[name]

    @cached_property
    def _named(self) -> dict[str, Deed]:
        found: dict[str, Deed] = {}
        for deed in self.deeds:
            found.setdefault(deed.name, deed)
            found.setdefault(deed.step.name, deed)
        return found

    @cached_property
    def _rank(self) -> dict[str, int]:
        return {deed.name: k for k, deed in enumerate(self.deeds)}

    @property
    def end(self) -> float:
        """When the last step ends, s."""
        return max((span.end for span in self.spans.values()), default=0.0)


def outing_of(
    scene: Scene, procedure: Procedure, lasting: Mapping[str, float] | None = None
) -> Outing:
    """Return the outing of a procedure that was read with its scene.

    Parameters
    ----------
    scene : Scene
    procedure : Procedure
    lasting : mapping of step name -> s, optional
        How long steps last that do not say so; 0 if not given.
    """
    steps = tuple(written_order(procedure.steps))
    tasks = tuple(_task(step, (lasting or {}).get(step.name, 0.0)) for step in steps)
    spans = as_written(tasks) if tasks else {}
    deeds, states = deeds_of(scene, steps, spans, beginning(scene, procedure))
    return Outing(scene, procedure, steps, tasks, spans, deeds, states, _links(steps))


def _task(step: Step, lasts: float) -> Task:
    from reach.clock import Spread

    likely = lasts if step.duration is None else step.duration
    if step.between is not None:
        low, high = step.between
        likely = min(max(likely, low), high) if step.duration is None else likely
        spread = Spread(low, likely, high)
    else:
        spread = Spread.of(likely)
    return Task(step.name, (step.lane, *step.others), spread, step.after, step.start)


def _links(steps: Sequence[Step]) -> tuple[Link, ...]:
    links = [Link(first, step.name) for step in steps for first in step.after]
    for i, step in enumerate(steps):
        for lane in step.others:
            before = [one for one in steps[:i] if lane in (one.lane, *one.others)]
            behind = [one for one in steps[i + 1 :] if lane in (one.lane, *one.others)]
            links += [Link(before[-1].name, step.name)] if before else []
            links += [Link(step.name, behind[0].name)] if behind else []
    return tuple(dict.fromkeys(link for link in links if link.first != link.then))
