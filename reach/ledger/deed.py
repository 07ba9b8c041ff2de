"""One instant at which a step changes something."""

from __future__ import annotations

from dataclasses import dataclass

from reach.model.procedure import Action, Step
from reach.orders import Event


@dataclass(frozen=True, slots=True, eq=False)
class Deed:
    """What one action, or one part of it, changes.

    Attributes
    ----------
    event : Event
        Its name (unique), step, lane and what it writes.
    step : Step
    action : Action or None
        None where the step begins.
    i : int
        Number of the action in its step; -1 where the step begins.
    moment : float, s
        When it is done, as written: actions of a step follow each other in equal parts, glove
        checks take none.
    is_last : bool
        Whether the action is done with it: a move leaves before it arrives.
    """

    event: Event
    step: Step
    action: Action | None
    i: int
    moment: float
    is_last: bool = True

    @property
    def name(self) -> str:
        """The event's name."""
        return self.event.name

    @property
    def lane(self) -> str:
        """Who does it."""
        return self.event.lane
