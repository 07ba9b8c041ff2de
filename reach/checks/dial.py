"""Question. Is the tool set to what the fastener takes, or still as the last one wanted it?

Margin. Torque between what the tool is set to and the nearer end of what the fastener takes,
below zero outside of that, as written; where only another order breaks it, the shortage there.
A tool that another order leaves unset is short of the least; where no least is asked it is open.

Limit. From ``torque`` to ``most_torque`` of the fastener, or ``torque`` alone where it says no
more; ``breakaway`` at least where it is turned out. In the scene. Exact: equal passes.

Blind spots. What a tool was set to is what the steps say; that it gives what its dial shows is
not looked at. Tools that cannot be set and fasteners without a torque are not judged.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from reach.checks.ruling import finding_in, unasked
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.model.procedure import Drive
from reach.model.scene import Fastener
from reach.orders import Among, Answer, At, Put, Rule
from reach.site import Site
from reach.units import text_of

NAME = "dial"
IDS = ("J3",)
TAKES = "outing"

Range = tuple[float, float]
"""Least and most torque that a fastener takes, N m."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each fastener that is turned with a tool that is set."""
    return [
        found
        for deed in outing.deeds
        if isinstance(deed.action, Drive) and _is_set(outing, deed.action)
        for found in _finding(outing, deed, deed.action)
    ]


def _is_set(outing: Outing, action: Drive) -> bool:
    """Return whether a tool has a dial (the least it can be set to), or is set all the same."""
    if action.torque is not None:
        return True
    scene = outing.scene
    kind = scene.items[action.tool].kind if action.tool in scene.items else action.tool
    return kind in scene.tools and scene.tools[kind].least_torque is not None


def _finding(outing: Outing, deed: Deed, action: Drive) -> Iterator[Finding]:
    record = outing.scene.fasteners[action.fastener]
    about = (deed.lane, action.fastener, action.tool)
    takes = _takes(record, action.undoes)
    if takes is None:
        return
    dial = names.torque(action.tool)
    value = outing.before(deed).get(dial) if action.torque is None else action.torque
    if not isinstance(value, float):
        if outing.is_declared:
            said = f"Nothing says what {action.tool} is set to when it turns {action.fastener}"
            yield unasked(NAME, deed.step.name, about, f"{said}.", "N m")
        return
    low = high = _left(takes, value)
    other = _elsewhere(outing, deed, takes) if action.torque is None and low >= 0.0 else None
    if other is not None:
        low, high = other[0], min(high, other[1])
    since = _since(outing, deed, action)
    yield finding_in(
        NAME,
        deed.step.name,
        about,
        f"{action.tool} is set to {text_of(value, 'N m')}{since}; {_said(action, takes)}"
        f"{other[2] if other else ''}.",
        (low, high),
        "N m",
        fix=f"Set {action.tool} to {text_of(_wanted(record, takes), 'N m')} for {action.fastener}.",
        set_to=value,
        orders="another order" if other else "all" if low >= 0.0 else "as written",
    )


def _takes(record: Fastener, undoes: bool) -> Range | None:
    """Return what a fastener takes, or None where it does not say."""
    most = record.most_torque if record.most_torque is not None else float("inf")
    if undoes:
        least = record.breakaway
        return None if least is None and record.most_torque is None else (least or 0.0, most)
    if record.torque is not None:
        return record.torque, record.torque if record.most_torque is None else most
    return None if record.most_torque is None else (0.0, most)


def _wanted(record: Fastener, takes: Range) -> float:
    return takes[0] if takes[0] > 0.0 else takes[1]


def _left(takes: Range, value: float) -> float:
    return min(value - takes[0], takes[1] - value)


def _said(action: Drive, takes: Range) -> str:
    least, most = (text_of(one, "N m") for one in takes)
    if takes[1] == float("inf"):
        return f"{action.fastener} comes loose at {least}"
    if takes[0] == 0.0:
        return f"{action.fastener} bears {most}"
    if takes[0] == takes[1]:
        return f"{action.fastener} takes {least}"
    return f"{action.fastener} takes {least} to {most}"


def _since(outing: Outing, deed: Deed, action: Drive) -> str:
    """Return since when a tool is set as it is, in words; nothing where the action says it."""
    if action.torque is not None:
        return ""
    writes = [
        one
        for one in outing.deeds[: outing.rank(deed)]
        if one.event.effect(names.torque(action.tool)) is not None
    ]
    return f" since step '{writes[-1].step.name}'" if writes else " from the start"


def _elsewhere(outing: Outing, deed: Deed, takes: Range) -> tuple[float, float, str] | None:
    """Return margin and words of another order: None where every order leaves it set right."""
    assert isinstance(deed.action, Drive)
    dial = names.torque(deed.action.tool)
    ever = [outing.start.get(dial)]
    for one in outing.deeds:
        effect = one.event.effect(dial)
        if isinstance(effect, Put):
            ever.append(effect.value)
    right = frozenset(one for one in ever if isinstance(one, float) and _left(takes, one) >= 0.0)
    (judged,) = judge(outing, [Rule(f"{dial}: {deed.name}", Among(dial, right), At(deed.name))])
    if judged.ruling.answer is Answer.HOLDS:
        return None
    if not judged.elsewhere:
        wrong = [one for one in ever if isinstance(one, float) and one not in right]
        low = min((_left(takes, one) for one in wrong), default=_unset(takes)[0])
        return low, 0.0, "; not every order could be looked at"
    value = (judged.ruling.values or {}).get(dial)
    if not isinstance(value, float):
        return *_unset(takes), f"; in another order it is not set yet: {judged.said}"
    left = _left(takes, value)
    return left, left, f"; in another order it is {text_of(value, 'N m')}: {judged.said}"


def _unset(takes: Range) -> tuple[float, float]:
    """Return the margin of a tool that nobody has set: short of the least that is asked.

    Where no least is asked it may be set to anything: that is not known.
    """
    return (-takes[0], -takes[0]) if takes[0] > 0.0 else (-math.inf, math.inf)
