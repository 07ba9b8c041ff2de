"""Question. Is every item called before going in, and is all of it home in the end?

Margin. 0 where an item is called, or expected to stay outside, and ends where it belongs; -1 where
it is not called, or elsewhere in the end, as written or in any order.

Limit. ``end`` of the procedure: ``items`` are expected outside, all others at ``rest``. Calling a
bag calls what is in it.

Blind spots. A call counts whenever it is made; that an item was there when it was called follows
from where it ends. Items that no step and no begin puts anywhere are not along. Where those
that stay outside end is a check of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reach.checks.present import cause_of
from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Deed, Judged, Outing, chain_of, judge, names
from reach.ledger.keeping import ends_up, outermost
from reach.model.handling import Confirm
from reach.model.outing import End
from reach.orders import Answer, At, AtEnd, Rule, Some, Value
from reach.site import Site

NAME = "inventory"
IDS = ("R1",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each outermost item: with all that is in it."""
    end = outing.procedure.end
    if not outing.is_declared or end is None or not outing.deeds:
        return []
    along = [name for name in _along(outing) if name not in end.items]
    homes = _homes(outing, end, along)
    groups: dict[str, list[str]] = {}
    for item in along:
        groups.setdefault(outermost(outing, outing.finally_, item), []).append(item)
    called = _Called(_called(outing), _by_bag_alone(outing, along))
    return [_finding(outing, root, inside, called, homes) for root, inside in groups.items()]


@dataclass(frozen=True)
class _Called:
    """Which items are called: as written, and what is known of those called with a bag alone."""

    written: frozenset[str]
    by_bag: Mapping[str, Judged]

    def misses(self, item: str) -> bool:
        """Return whether an item is not called, as written or in another order."""
        judged = self.by_bag.get(item)
        return item not in self.written or (judged is not None and judged.is_broken)

    def is_sure(self, item: str) -> bool:
        """Return whether an item is called in every order."""
        judged = self.by_bag.get(item)
        return not self.misses(item) and (judged is None or judged.margin[0] >= 0.0)


def _along(outing: Outing) -> list[str]:
    """Return the items that the outing has with it."""
    final = outing.finally_
    return [name for name in outing.scene.items if final.get(names.holder(name)) is not None]


def _homes(outing: Outing, end: End, along: Sequence[str]) -> Mapping[str, Judged]:
    """Return for each item what is known of its coming home; none where no rest is named."""
    if end.rest is None:
        return {}
    rules = [Rule(f"{name} home", ends_up(outing, name, end.rest), AtEnd()) for name in along]
    return dict(zip(along, judge(outing, rules), strict=True))


def _calls(outing: Outing) -> list[Deed]:
    return [one for one in outing.deeds if isinstance(one.action, Confirm) and one.action.items]


def _called(outing: Outing) -> frozenset[str]:
    """Return all items that are called, with those in a bag that is called."""
    found: set[str] = set()
    for deed in _calls(outing):
        assert isinstance(deed.action, Confirm)
        named, values = set(deed.action.items), outing.before(deed)
        found |= named | {
            name for name in outing.scene.items if named & set(chain_of(values, name))
        }
    return frozenset(found)


def _by_bag_alone(outing: Outing, along: Sequence[str]) -> dict[str, Judged]:
    """Return for items that are called with a bag alone what is known of that, by orders.

    The rule of one call: the item is in a bag that is called by then.  Of several calls the one
    that catches it in every order counts; where none does, they may still catch it together.
    """
    calls, found = _calls(outing), {}
    named = {name for deed in calls for name in _named(deed)}
    for item in (one for one in along if one not in named):
        caught = [d for d in calls if set(_named(d)) & set(chain_of(outing.before(d), item))]
        rules = [
            Rule(
                f"{item} called by {deed.name}",
                Some(tuple(ends_up(outing, item, bag) for bag in _named(deed))),
                At(deed.name),
            )
            for deed in caught
        ]
        told = judge(outing, rules)
        sure = next((one for one in told if one.margin[0] >= 0.0), None)
        if sure is None and len(told) > 1:
            settled = replace(told[0].ruling, answer=Answer.NOT_SETTLED)
            sure = replace(told[0], ruling=settled)
        if told:
            found[item] = sure or told[0]
    return found


def _named(deed: Deed) -> tuple[str, ...]:
    assert isinstance(deed.action, Confirm)
    return deed.action.items


def _finding(
    outing: Outing,
    root: str,
    inside: Sequence[str],
    called: _Called,
    homes: Mapping[str, Judged],
) -> Finding:
    calls = _calls(outing)
    asked = calls[-1] if calls else outing.deeds[-1]
    uncalled = [name for name in inside if called.misses(name)]
    astray = [name for name in inside if name in homes and homes[name].is_broken]
    unsure = [name for name in inside if name in homes and homes[name].margin[0] < 0.0]
    unsure += [name for name in inside if not called.is_sure(name)]
    wrong = _wrong(outing, root, uncalled, astray)
    elsewhere = [one for one in uncalled if one in called.by_bag and called.by_bag[one].said]
    if elsewhere:
        wrong += f": {called.by_bag[elsewhere[0]].said}"
    if astray and homes[astray[0]].said:
        wrong += f": {homes[astray[0]].said}"
    low = -1.0 if wrong or unsure else 0.0
    home = " and at rest in the end" if homes else ""
    return finding_in(
        NAME,
        asked.step.name,
        (asked.lane, root),
        f"{wrong}." if wrong else f"{_with(root, inside)} called{home}.",
        (low, -1.0 if wrong else 0.0),
        fix=_fix(outing, root, uncalled, astray),
        cause=cause_of(outing, outing.deeds[-1], root) if astray else "",
        inside=[name for name in inside if name != root],
        uncalled=uncalled,
        astray=astray,
    )


def _wrong(outing: Outing, root: str, uncalled: Sequence[str], astray: Sequence[str]) -> str:
    """Return what is wrong with an item and those in it, in words; empty if nothing is."""
    where = f"home in the end, but {_where(outing, root)}"
    if uncalled and uncalled == astray:
        return f"{_with(root, uncalled)} neither called nor {where}"
    words = []
    if uncalled:
        words.append(f"{_with(root, uncalled)} not called")
        words[0] += "" if _calls(outing) else ", for no step calls anything"
    if astray:
        words.append(f"{_with(root, astray)} not {where}")
    return "; ".join(words)


def _with(root: str, some: Sequence[str]) -> str:
    """Return an item with those in it, and the verb that follows."""
    inside = [name for name in some if name != root]
    listed = ", ".join(inside[:-1]) + (" and " if len(inside) > 1 else "") + "".join(inside[-1:])
    if root in some:
        return f"{root} with {listed} is" if inside else f"{root} is"
    return f"{listed} in {root} {'is' if len(inside) == 1 else 'are'}"


def _where(outing: Outing, item: str) -> str:
    """Return where an item is in the end, as written, in words."""
    chain = chain_of(outing.finally_, item)
    values: Mapping[str, Value] = outing.finally_
    if chain and chain[-1] in outing.workers:
        return f"on {chain[-1]} at {values.get(names.place(chain[-1]))}"
    return f"at {chain[-1]}" if chain else "nowhere"


def _fix(outing: Outing, root: str, uncalled: Sequence[str], astray: Sequence[str]) -> str:
    calls = _calls(outing)
    words = []
    if astray:
        words.append(f"collect {root} on the way home")
    if uncalled and calls:
        missing = [root] if len(uncalled) > 1 or root in uncalled else list(uncalled)
        words.append(f"call {' and '.join(missing)} in step '{calls[-1].step.name}'")
    elif uncalled:
        words.append(f"call {root} before going in")
    said = " and ".join(words)
    return f"{said[:1].upper()}{said[1:]}." if said else ""
