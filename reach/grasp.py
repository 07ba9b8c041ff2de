"""What the hands of a worker are on, and what becomes of that as they take hold of more."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from reach.model.scene import Scene


@dataclass(frozen=True, slots=True)
class Grasp:
    """What the hands of a worker are on.

    Attributes
    ----------
    grips : tuple of str
        In the order in which they were taken.  More than two where nothing says which of them a
        hand has left for the last one.
    on : tuple of str
        The payload that each grip is on; empty for structure.
    parted : tuple of str
        The payloads among them that were moved away since: whether hands kept hold is not said.
    """

    grips: tuple[str, ...]
    on: tuple[str, ...]
    parted: tuple[str, ...] = ()

    @classmethod
    def of(cls, scene: Scene, grips: Sequence[str]) -> Grasp:
        """Return the grasp of some grips of a scene."""
        return cls(tuple(grips), tuple(scene.payload_of(one) for one in grips))

    @property
    def payloads(self) -> tuple[str, ...]:
        """Every payload that is held, the one that was taken first first."""
        return tuple(dict.fromkeys(one for one in self.on if one))

    @property
    def is_sure(self) -> bool:
        """Whether two hands do for all grips."""
        return len(self.grips) <= 2

    def holds(self, payload: str) -> bool:
        """Return whether a hand is on a payload; never on one without a name."""
        return bool(payload) and payload in self.on

    def holds_surely(self, payload: str) -> bool:
        """Return whether a hand is on a payload that was not moved away since."""
        return self.holds(payload) and payload not in self.parted

    def grips_on(self, payload: str) -> tuple[str, ...]:
        """Return the grips of one payload that are held."""
        return tuple(one for one, on in zip(self.grips, self.on, strict=True) if on == payload)

    def keeping(self, payloads: Collection[str]) -> Grasp | None:
        """Return what is left where hands keep hold of these payloads alone; None for nothing."""
        kept = [k for k, on in enumerate(self.on) if on in payloads]
        grips, on = tuple(self.grips[k] for k in kept), tuple(self.on[k] for k in kept)
        parted = tuple(one for one in self.parted if one in payloads)
        return Grasp(grips, on, parted) if kept else None

    def parting(self, payloads: Collection[str]) -> Grasp:
        """Return what hands are on after some payloads were moved away: held still, or not."""
        more = [one for one in self.payloads if one in payloads]
        return Grasp(self.grips, self.on, tuple(dict.fromkeys([*self.parted, *more])))

    def and_then(self, more: Grasp) -> Grasp:
        """Return what hands are on after they took hold of more: what was held stays held.

        Grips of the same payload give way to the new ones, hands on structure are free for
        anything.  What two new grips leave no hand for is let go; which of two payloads one new
        grip takes a hand from is not known.
        """
        kept = self.keeping([one for one in self.payloads if one not in more.on])
        if kept is None or len(more.grips) > 1:
            return more
        return Grasp((*kept.grips, *more.grips), (*kept.on, *more.on), kept.parted)

    def taking(self, more: Grasp) -> Grasp:
        """Return what hands are on after they took what is given to them.

        Unlike `and_then`, a grip of the same payload is kept where a hand is left for it.
        """
        then = self.and_then(more)
        kept = tuple(one for one in self.grips_on(more.on[0]) if one not in more.grips)
        if len(kept) + len(then.grips) > 2:
            return then
        return Grasp((*kept, *then.grips), (*[more.on[0]] * len(kept), *then.on), then.parted)
