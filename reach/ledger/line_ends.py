"""Both ends of safety lines: which deed moves one, who wears which, whether an end is at hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from reach.ledger import names
from reach.ledger.deed import Deed
from reach.ledger.nearness import at_hand
from reach.ledger.outing import Outing
from reach.ledger.presence import at_tip, wherever
from reach.model.procedure import Translate
from reach.orders import All, Among, Condition, Is, Put, Some, Value
from reach.site import Site


@dataclass(frozen=True, slots=True)
class Shift:
    """One end of a line that a deed takes from where it is to somewhere else.

    Attributes
    ----------
    line : str
    end : str
        ``"hook"`` or ``"reel"``.
    to : str or None
        An anchor, a worker, ADRIFT.
    """

    line: str
    end: str
    to: Value

    @property
    def name(self) -> str:
        """The variable that says where the end is."""
        return names.hook(self.line) if self.end == "hook" else names.reel(self.line)


def lines_of(outing: Outing) -> tuple[str, ...]:
    """Return the safety lines that are taken along or used, in the order of the scene."""
    return tuple(
        line
        for line in outing.scene.tethers
        if any((*outing.ever(names.hook(line)), *outing.ever(names.reel(line))))
    )


def lines_for(outing: Outing, worker: str) -> tuple[str, ...]:
    """Return the lines whose reel a worker ever wears, in any order."""
    return tuple(line for line in lines_of(outing) if worker in outing.ever(names.reel(line)))


def worn(outing: Outing, values: Mapping[str, Value], worker: str) -> tuple[str, ...]:
    """Return the lines whose reel is on a worker's suit."""
    lines = lines_for(outing, worker)
    return tuple(line for line in lines if values.get(names.reel(line)) == worker)


def shifts_of(outing: Outing, deed: Deed) -> tuple[Shift, ...]:
    """Return the ends of lines that a deed moves."""
    return tuple(_shifts(outing, deed))


def _shifts(outing: Outing, deed: Deed) -> Iterator[Shift]:
    for line in outing.scene.tethers:
        for end, name in (("hook", names.hook(line)), ("reel", names.reel(line))):
            effect = deed.event.effect(name)
            if isinstance(effect, Put):
                yield Shift(line, end, effect.value)


def ends_left_to_others(outing: Outing, deed: Deed) -> tuple[Shift, ...]:
    """Return the ends that a move names and finds in place, as written, and other lanes move too.

    In another order they may not be there yet: whoever moves then takes them there.
    """
    action = deed.action
    if not isinstance(action, Translate) or deed.is_last:
        return ()
    values = outing.before(deed)
    line = action.tether or values.get(names.worn(deed.lane))
    named = [("reel", deed.lane)] if action.tether is not None else []
    named += [("hook", action.anchor)] if action.anchor is not None else []
    shifts = [Shift(str(line), end, to) for end, to in named] if line else []
    changing = outing.lanes_changing
    return tuple(
        one
        for one in shifts
        if values.get(one.name) == one.to and changing.get(one.name, frozenset()) - {deed.lane}
    )


def is_end_here(site: Site, outing: Outing, deed: Deed, shift: Shift) -> Condition:
    """Return the condition that an end, and where it is taken to, are at hand of who does it.

    In every order: the worker is where `wherever` says, the end wherever any order may have left
    it.  An end that is nowhere yet lies in the lock, or hangs with the reel.
    """
    return wherever(outing, deed, lambda where: _is_end_at(site, outing, deed, shift, where))


def _is_end_at(site: Site, outing: Outing, deed: Deed, shift: Shift, where: Value) -> Condition:
    found: list[Condition] = []
    for value in outing.ever(shift.name):
        if value in (None, names.ADRIFT):
            here = Is(shift.name, value)
            if value is None and where in outing.scene.hatches:
                found.append(here)
            elif shift.end == "hook":
                found.append(All((here, Is(names.reel(shift.line), deed.lane))))
        else:
            near = _near(site, outing, deed.lane, where, str(value))
            if near is not None:
                found.append(All((Is(shift.name, value), *near)))
    goal: tuple[Condition, ...] | None = ()
    if shift.to not in (None, names.ADRIFT):
        goal = _near(site, outing, deed.lane, where, str(shift.to))
    if goal is None or not found:
        return Among(shift.name, frozenset())  # nothing serves
    return All((Some(tuple(found)), *goal))


def _near(
    site: Site, outing: Outing, lane: str, where: Value, other: str
) -> tuple[Condition, ...] | None:
    """Return what must be so that an anchor or a worker is at hand; None if it never is."""
    if other == lane:
        return ()
    if not isinstance(where, str):
        return None
    if other in outing.scene.anchors:
        return () if is_at_anchor(site, where, other) else None
    places = outing.ever(names.place(other))
    near = frozenset(one for one in places if isinstance(one, str) and at_hand(site, where, one))
    return (Among(names.place(other), near),) if near else None


def is_at_anchor(site: Site, where: str, anchor: str) -> bool:
    """Return whether an anchor is at hand of somebody at a place."""
    crane = site.scene.anchors[anchor].on
    if crane is not None:
        return at_tip(site.scene, where, crane)
    return bool(at_hand(site, where, anchor))


__all__ = [
    "Shift", "ends_left_to_others", "is_at_anchor", "is_end_here", "lines_for", "lines_of",
    "shifts_of", "worn",
]  # fmt: skip
