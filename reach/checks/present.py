"""Question. Is everything that a step needs there: tools, bags, clamps, ends of lines, the worker?

Margin. 0 where it is with the worker, on the suit, in a bag there or at hand near by; -1 where
it is elsewhere, as written or in any order that the links between steps allow.  What something is
stowed at, tied to, plugged into, hooked to or passed to must be at hand as well, and so must the
place of a step, and the hatch, from where the worker was.

Limit. ``at_hand`` from where the worker is to where the item was left or goes to; twice that
between two of whom one passes something to the other.

Blind spots. That a bag can be opened, and that an item is on the right side of the body, is not
looked at; kinds of tools that are no named item are taken to be there, and places on a payload
at hand.
"""

from __future__ import annotations

from collections.abc import Mapping

from reach.checks.line_ends import lines_here
from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import (
    Deed,
    Need,
    Outing,
    chain_of,
    goals_of,
    is_here,
    judge,
    names,
    needs_of,
    place_at,
)
from reach.orders import At, Rule, Value
from reach.site import Site

NAME = "present"
IDS = ("I3", "J1")
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each item that a deed needs, and each end of a line it moves."""
    if not outing.is_declared:
        return []
    return [*_of_items(site, outing), *_of_goals(site, outing), *lines_here(NAME, site, outing)]


def _of_goals(site: Site, outing: Outing) -> list[Finding]:
    asked = [(deed, goal) for deed in outing.deeds for goal in goals_of(site, outing, deed)]
    rules = [
        Rule(f"{goal.name} for {deed.name}", goal.condition, At(deed.name)) for deed, goal in asked
    ]
    found = []
    for (deed, goal), judged in zip(asked, judge(outing, rules), strict=True):
        at = place_at(outing, deed)
        here = f"{deed.lane}, who is at {at}," if at else f"{deed.lane}, who is on the way,"
        found.append(
            ruled(
                NAME,
                judged,
                (deed.lane, goal.name),
                f"{here} {goal.why}: {goal.name} is at hand",
                f"{here} {goal.why}: {goal.name} is not at hand",
                step=deed.step.name,
                fix=f"Bring {deed.lane} to {goal.name} before '{deed.name}'.",
                why=goal.why,
            )
        )
    return found


def _of_items(site: Site, outing: Outing) -> list[Finding]:
    asked = [(deed, need) for deed in outing.deeds for need in needs_of(outing, deed)]
    rules = [
        Rule(f"{need.item} for {deed.name}", is_here(site, outing, deed, need), At(deed.name))
        for deed, need in asked
    ]
    found = []
    for (deed, need), judged in zip(asked, judge(outing, rules), strict=True):
        place = place_at(outing, deed)
        here = f"{deed.lane} at {place}" if place else f"{deed.lane} on the way"
        found.append(
            ruled(
                NAME,
                judged,
                (deed.lane, need.item),
                f"{here} has {need.item} ({need.why})",
                f"{need.item} ({need.why}) is not with {here}: {where(outing, deed, need)}",
                step=deed.step.name,
                fix=_fix(outing, deed, need),
                cause=cause_of(outing, deed, need.item),
                why=need.why,
            )
        )
    return found


def where(outing: Outing, deed: Deed, need: Need) -> str:
    """Return where an item is by then, as written, in words."""
    chain = chain_of(outing.before(deed), need.item)
    if not chain:
        return "it is not taken along at all"
    if chain[0] in outing.workers:
        return f"{chain[0]} has it"
    inside = "in" if chain[0] in outing.scene.items else "at"
    return f"it is {inside} {' at '.join(chain)}"


def cause_of(outing: Outing, deed: Deed, item: str) -> str:
    """Return what several missing items have in common: the outermost one, left somewhere."""
    values = outing.before(deed)
    chain = chain_of(values, item)
    if not chain:
        return f"{item} is not taken along."
    bags = [one for one in chain if one in outing.scene.items]
    root = bags[-1] if bags else item
    since = _since(outing, deed, root)
    return f"{root} is at {chain[-1]}{since}."


def _since(outing: Outing, deed: Deed, item: str) -> str:
    """Return since which step an item is where it is, in words."""
    holder = names.holder(item)
    for one in reversed(outing.deeds[: outing.rank(deed)]):
        if one.event.effect(holder) is not None:
            return f" since step '{one.step.name}'"
    return " from the start"


def _fix(outing: Outing, deed: Deed, need: Need) -> str:
    """Name when the item was last with the worker, or which like it is at hand."""
    values = outing.before(deed)
    like = _alike(outing, need.item, values, deed.lane)
    if like and need.why in ("tool", "bit", "extension"):
        return f"Use {like}, which {deed.lane} has, or bring {need.item} along."
    given = _given_away(outing, deed, need.item)
    if given is not None:
        return f"Keep {need.item} with {deed.lane} in step '{given.step.name}'."
    chain = chain_of(values, need.item)
    root = next((one for one in reversed(chain) if one in outing.scene.items), need.item)
    return f"Bring {root} along before step '{deed.step.name}'."


def _given_away(outing: Outing, deed: Deed, item: str) -> Deed | None:
    """Return the last deed by which the worker, who had an item, put it elsewhere."""
    for one in reversed(outing.deeds[: outing.rank(deed)]):
        if one.event.effect(names.holder(item)) is not None:
            return one if deed.lane in chain_of(outing.before(one), item) else None
    return None


def _alike(outing: Outing, item: str, values: Mapping[str, Value], worker: str) -> str:
    kind = outing.scene.items[item].kind
    for name, other in outing.scene.items.items():
        same = kind and other.kind == kind and name != item
        if same and worker in chain_of(values, name):
            return name
    return ""
