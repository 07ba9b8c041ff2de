"""Question. Is everything that is taken along tied to something all the time?

Margin. 0 where each item has a tether at every moment outside the lock, in every order that the
links between steps allow, what goes along with a worker is tied to them alone, and no end of a
safety line is let go of; -1 where not.

Limit. None: a thing is tied to its new place before it is let go of at the old one.

Blind spots. Whether a tether is strong or short enough is not looked at. More than one tether at
the end of a step is told, not judged. What stands in no list of items is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reach.checks.lapses import Lapse, Told, always
from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Outing, holders_of, judge, lines_of, names
from reach.model.handling import Attach, Pass, PickUp, Stow
from reach.model.procedure import Release, Translate
from reach.orders import All, Always, Among, At, AtLeast, Condition, Has, Is, Not, Rule, Some
from reach.orders.events import as_set
from reach.site import Site

NAME = "custody"
IDS = ("G7",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each item and each line, or one for each time it is loose."""
    if not outing.is_declared:
        return []
    items = [one for one in outing.scene.items if any(outing.ever(names.holder(one)))]
    lines = lines_of(outing)
    rules = [Rule(f"{one} tied", is_tied(outing, one), Always()) for one in items]
    rules += [Rule(f"{one} kept", is_kept(outing, one), Always()) for one in lines]
    found = []
    for name, judged in zip((*items, *lines), judge(outing, rules), strict=True):
        if name in lines:
            holds, tell = f"Neither end of {name} is ever let go of", _line_teller(name)
        else:
            holds, tell = f"{name} is always tied to something{_twice(outing, name)}", _teller(name)
        found += always(NAME, judged, (name,), holds, tell, step=_first(outing, name))
    return [*found, *_left_tied(outing, items)]


def _left_tied(outing: Outing, items: Sequence[str]) -> list[Finding]:
    """Return one finding for each thing on a worker who goes away while it is not tied to them."""
    tied = {deed.action.what for deed in outing.deeds if isinstance(deed.action, Attach | Release)}
    asked = [
        (deed, item)
        for deed in outing.deeds
        if isinstance(deed.action, Translate) and not deed.is_last
        for item in items
        if item in tied
    ]
    rules = [
        Rule(f"{item} free for {deed.name}", _goes_along(outing, item, deed.lane), At(deed.name))
        for deed, item in asked
    ]
    found = []
    for (deed, item), judged in zip(asked, judge(outing, rules), strict=True):
        told = outing.before(deed).get(names.ties(item), frozenset())
        ties = sorted(map(str, as_set(told) - {deed.lane}))
        to = f"tied to {' and '.join(ties)}" if ties and not judged.elsewhere else "tied elsewhere"
        found.append(
            ruled(
                NAME,
                judged,
                (item, deed.lane),
                f"{deed.lane} goes on with {item} tied to them alone",
                f"{deed.lane} goes away with {item}, which is {to}",
                step=deed.step.name,
                fix=f"Attach {item} to {deed.lane} alone before step '{deed.step.name}'.",
            )
        )
    return [one for one in found if one.low < 0.0]


def _goes_along(outing: Outing, item: str, worker: str) -> Condition:
    """Return the condition that an item hangs on somebody else, or on a worker alone."""
    goals = {deed.action.to for deed in outing.deeds if isinstance(deed.action, Attach)}
    goals |= {one for one in outing.ever(names.holder(item)) if isinstance(one, str)}
    places = sorted(goals - {worker} - set(outing.scene.items))
    here = Has(names.ties(item), worker)
    alone = All((here, *(Not(Has(names.ties(item), one)) for one in places)))
    return Some((Not(Is(names.holder(item), worker)), alone))


def is_tied(outing: Outing, item: str) -> Condition:
    """Return the condition that an item is not along, in the lock, or tied to something.

    Bags that are in each other hang on nothing.
    """
    inside = frozenset(outing.scene.hatches) | {None}
    tied = Some((Among(names.holder(item), inside), AtLeast(names.ties(item), 1)))
    hangs, is_open = _hangs(outing, item, frozenset())
    return All((tied, hangs)) if is_open else tied


def _hangs(outing: Outing, item: str, above: frozenset[str]) -> tuple[Condition, bool]:
    """Return the condition that an item is in no circle of bags, and whether it ever may be."""
    name, above = names.holder(item), above | {item}
    ever = {*holders_of(outing, item), *outing.ever(name)}
    bags = sorted(one for one in ever if isinstance(one, str) and one in outing.scene.items)
    inner = {one: _hangs(outing, one, above) for one in bags if one not in above}
    is_open = len(inner) < len(bags) or any(told[1] for told in inner.values())
    found: list[Condition] = [All((Is(name, one), told[0])) for one, told in inner.items()]
    return Some((Among(name, frozenset(ever - set(bags))), *found)), is_open


def is_kept(outing: Outing, line: str) -> Condition:
    """Return the condition that no end of a line is adrift; a hook may hang on a worn reel."""
    worn = Among(names.reel(line), frozenset(outing.workers))
    return All(
        (
            Not(Is(names.reel(line), names.ADRIFT)),
            Some((Not(Is(names.hook(line), names.ADRIFT)), worn)),
        )
    )


def _teller(item: str) -> Callable[[Lapse], Told]:
    def tell(lapse: Lapse) -> Told:
        return Told(f"{item} is tied to nothing", _fix(item, lapse))

    return tell


def _fix(item: str, lapse: Lapse) -> str:
    if lapse.by is None:
        return f"Tie {item} at the start, or say in begin.items what it is tied to."
    action = lapse.by.action
    if isinstance(action, Release):
        return f"Attach {item} to its new place before it is released from {action.start}."
    if isinstance(action, PickUp | Stow | Pass):
        return f"Tie {item} to its new place before the old tether is let go: tied = true."
    return f"Tie {item} before '{lapse.by.name}'."


def _line_teller(line: str) -> Callable[[Lapse], Told]:
    def tell(lapse: Lapse) -> Told:
        reel, hook = (lapse.values.get(one) for one in (names.reel(line), names.hook(line)))
        end = "reel" if reel == names.ADRIFT or hook != names.ADRIFT else "hook"
        to = "an anchor at hand"
        if lapse.until is not None and isinstance(lapse.until.action, Attach):
            to = lapse.until.action.to
        fix = f"Park the {end} of {line} at {to} when it is released."
        return Told(f"The {end} of {line} is adrift", fix)

    return tell


def _twice(outing: Outing, item: str) -> str:
    """Return at the end of which steps an item has more than one tether, in words."""
    steps = []
    for step in outing.steps:
        ties = outing.after(step.name).get(names.ties(item), frozenset())
        wrote = any(names.ties(item) in deed.event.writes for deed in outing.deeds_in(step.name))
        if wrote and isinstance(ties, frozenset) and len(ties) > 1:
            steps.append(f"'{step.name}'")
    return f" (to more than one after {', '.join(steps)})" if steps else ""


def _first(outing: Outing, name: str) -> str:
    """Return the step in which an item or a line is first handled."""
    asked = (names.holder(name), names.ties(name), names.reel(name), names.hook(name))
    for deed in outing.deeds:
        if any(one in deed.event.writes for one in asked):
            return deed.step.name
    return ""
