"""Which grips two hands may be on: every way in which they may have been moved, side by side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations
from typing import Any, TypeAlias

Ways: TypeAlias = frozenset[frozenset[str]]
"""Sets of at most two grips; which of them is so, nothing says."""

FREE: Ways = frozenset([frozenset()])
"""Hands that hold nothing."""


class Hands:
    """Two hands in one scene, where each grip is on a payload or on structure."""

    def __init__(self, scene: Mapping[str, Any]) -> None:
        self.on = {
            name: str(one.get("in", ""))
            for table in ("handrails", "handholds")
            for name, one in scene.get(table, {}).items()
            if one.get("in") in scene["payloads"]
        }

    def payload(self, grip: str) -> str:
        """Return the payload of a grip, nothing for structure."""
        return self.on.get(grip, "")

    def take(self, ways: Ways, grips: Iterable[str]) -> Ways:
        """Return the ways after grips were taken: as many as can be of the others stay in hand.

        But those of the same thing, and of structure, for which nothing is worth a hand.
        """
        new = frozenset(grips)
        own = {"", *map(self.payload, new)}
        found = set()
        for held in ways:
            kept = [one for one in held if self.payload(one) not in own]
            n_kept = min(len(kept), 2 - len(new))
            found |= {new | set(some) for some in combinations(kept, n_kept)}
        return frozenset(found)

    def keep(self, ways: Ways, payloads: Iterable[str] = ()) -> Ways:
        """Return the ways after hands let go of all but some payloads."""
        left = set(payloads)
        return frozenset(
            frozenset(one for one in held if self.payload(one) in left) for held in ways
        )

    def holds(self, ways: Ways, payload: str) -> bool | None:
        """Return whether a payload is in hand; None if that is not said."""
        said = {any(self.payload(one) == payload for one in held) for held in ways}
        return said.pop() if len(said) == 1 else None

    def is_busy(self, ways: Ways) -> bool:
        """Return whether a payload is in hand, whichever."""
        return any(self.payload(one) for held in ways for one in held)


def one_of(answers: Iterable[bool | None]) -> bool | None:
    """Return whether one of some answers is yes; None where that hangs on what is not known."""
    said = set(answers)
    return True if True in said else None if None in said else False
