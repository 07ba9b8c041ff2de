"""Question. Has everything that this outing leaves outside somebody who answers for it, and a date?

Margin. 0 where it has a record, -1 where it has none. Exact.

Limit. ``left`` of the procedure's ``end``, asked where it names anything: for each of its
``items`` that comes out of the lock on this outing.

Blind spots. Who is named, and whether the date is a good one, is not looked at. What was outside
before is taken to have its record already.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Outing, chain_of, names
from reach.ledger.keeping import is_in_lock, spot_of
from reach.model.outing import End
from reach.site import Site

NAME = "left-record"
IDS = ("R3",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each item that is left outside by this outing."""
    end = outing.procedure.end
    if not outing.is_declared or end is None or not end.left or not outing.deeds:
        return []
    return [
        _finding(outing, end, item)
        for item, goal in end.items.items()
        if _stays_out(outing, end, goal) and _came_out(outing, item)
    ]


def _stays_out(outing: Outing, end: End, goal: str) -> bool:
    """Return whether what is to end at a goal stays outside: in a bag it is where the bag is."""
    passed: set[str] = set()
    while goal in outing.scene.items and goal not in passed:
        passed.add(goal)
        goal = end.items.get(goal) or end.rest or goal
    return goal != end.rest and goal not in outing.scene.hatches


def _came_out(outing: Outing, item: str) -> bool:
    """Return whether an item was in the lock, or with somebody in there, when it all began."""
    chain = chain_of(outing.start, item)
    end = outing.procedure.end
    spot = spot_of(outing, outing.start, item)
    home = end is not None and end.rest in chain
    return bool(chain) and (home or is_in_lock(outing, outing.start, spot))


def _finding(outing: Outing, end: End, item: str) -> Finding:
    writes = [one for one in outing.deeds if one.event.effect(names.holder(item)) is not None]
    deed = writes[-1] if writes else outing.deeds[-1]
    record = end.left.get(item)
    goal = end.items[item]
    if record is None:
        said = f"{item} is left at {goal}, and nobody is named who answers for it"
    else:
        said = f"{item} is left at {goal} until {record.until}; {record.owner} answers for it"
    return finding_in(
        NAME,
        deed.step.name,
        (deed.lane, item, goal),
        f"{said}.",
        -1.0 if record is None else 0.0,
        fix=f"Say under end.left who answers for {item} and until when.",
    )
