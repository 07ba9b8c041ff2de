"""A move along rails with every name looked up, and the safety line worn on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reach.model.hardware import Item
from reach.model.procedure import Aside


@dataclass(frozen=True, slots=True)
class Line:
    """A safety line as it is worn: its name, the anchor it leads from, its length in m."""

    tether: str
    anchor: str
    length: float


@dataclass(frozen=True, slots=True)
class Parked:
    """A line that a worker has taken off and left: still led from its anchor, to ``at``."""

    line: Line
    at: str


@dataclass(frozen=True, slots=True, eq=False)
class Passage:
    """One move of one worker.

    Attributes
    ----------
    start, stop : str
        Places.
    written : tuple of str or None
        Rails in the order in which they are used; None when the way is to be planned.
    carrying, in_hand : dict of str -> Item
        What hangs on the suit, and what a hand holds.
    body : dict of str -> Aside
        Rail -> to which side of straight out the body is held.
    avoid : tuple of str
        Rails that a planned way leaves out.
    """

    start: str
    stop: str
    written: tuple[str, ...] | None = None
    carrying: Mapping[str, Item] = field(default_factory=dict)
    in_hand: Mapping[str, Item] = field(default_factory=dict)
    body: Mapping[str, Aside] = field(default_factory=dict)
    avoid: tuple[str, ...] = ()

    @property
    def is_loaded(self) -> bool:
        """Whether something bulky is carried."""
        return any(item.bulky for item in (*self.carrying.values(), *self.in_hand.values()))
