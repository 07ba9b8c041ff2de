"""Question. Is everything that is taken along tied to something all the time?

Margin. 0 where each item has a tether at every moment outside the lock, in every order that the
links between steps allow, what goes along with a worker is tied to nothing that stays, and no end
of a safety line is let go of; -1 where not.

Limit. None: a thing is tied to its new place before it is let go of at the old one.

Blind spots. Whether a tether is strong or short enough is not looked at. More than one tether at
the end of a step is told, not judged. What stands in no list of items is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from reach.checks.lapses import Lapse, Told, always
from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, chain_of, holders_of, judge, lines_of, names
from reach.ledger.keeping import ends_up
from reach.ledger.riding import anchors_on, tips_of
from reach.model.handling import Attach, Pass, PickUp, Stow
from reach.model.procedure import Ingress, MoveCrane, Release, Translate
from reach.motions import crane_of, is_on
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


@dataclass(frozen=True, eq=False)
class _Going:
    """A deed by which somebody goes away, what goes along beside them, and how, in words."""

    deed: Deed
    worker: str
    along: frozenset[str]
    way: str


def _goings(outing: Outing) -> Iterator[_Going]:
    """Yield each time that somebody moves off, goes into the lock or is taken along by a crane."""
    for deed in outing.deeds:
        action, lane = deed.action, deed.lane
        if isinstance(action, Translate) and not deed.is_last:
            yield _Going(deed, lane, frozenset({lane}), "goes away")
        elif isinstance(action, Ingress) and action.to is not None:
            yield _Going(deed, lane, frozenset({lane, *outing.scene.hatches}), "goes in")
        elif isinstance(action, MoveCrane):
            crane = crane_of(outing.scene, action)
            riders = [one for one in outing.workers if names.place(one) in deed.event.writes]
            with_it = {crane, *riders, *tips_of(outing, crane), *anchors_on(outing, crane)}
            if action.payload is not None:
                with_it.add(action.payload)
            for rider in riders:
                yield _Going(deed, rider, frozenset(with_it), f"rides {crane}")


def _left_tied(outing: Outing, items: Sequence[str]) -> list[Finding]:
    """Return one finding for each thing on a worker who goes away while it is tied elsewhere."""
    tied = {deed.action.what for deed in outing.deeds if isinstance(deed.action, Attach | Release)}
    asked = [
        (going, item, condition)
        for going in _goings(outing)
        for item in items
        if item in tied and (condition := _goes_along(outing, item, going)) is not None
    ]
    rules = [
        Rule(f"{item} free for {going.deed.name}", condition, At(going.deed.name))
        for going, item, condition in asked
    ]
    found = []
    for (going, item, _), judged in zip(asked, judge(outing, rules), strict=True):
        deed, worker = going.deed, going.worker
        told = outing.before(deed).get(names.ties(item), frozenset())
        bags = {one for one in items if worker in chain_of(outing.before(deed), one)}
        ties = sorted(map(str, as_set(told) - going.along - bags))
        to = f"tied to {' and '.join(ties)}" if ties and not judged.elsewhere else "tied elsewhere"
        found.append(
            ruled(
                NAME,
                judged,
                (item, worker),
                f"{worker} goes on with {item} tied to them alone",
                f"{worker} {going.way} with {item}, which is {to}",
                step=deed.step.name,
                fix=f"Attach {item} to {worker} alone before step '{deed.step.name}'.",
            )
        )
    return [one for one in found if one.low < 0.0]


def _goes_along(outing: Outing, item: str, going: _Going) -> Condition | None:
    """Return the condition that an item does not go along, or is tied to nothing that stays.

    Who moves off has it tied to themself where it hangs on them, not in a bag; None where it
    never is with them.
    """
    worker, ties = going.worker, names.ties(item)
    goals = {
        deed.action.to
        for deed in outing.deeds
        if isinstance(deed.action, Attach) and deed.action.what == item
    }
    goals |= set(holders_of(outing, item))
    free: list[Condition] = []
    for one in sorted(goals - going.along):
        if _is_on(outing, going, one):
            continue
        loose = Not(Has(ties, one))
        carried = [
            ends_up(outing, one, with_it)
            for with_it in sorted(going.along)
            if one in outing.scene.items
        ]
        free.append(Some((loose, *carried)))
    if isinstance(going.deed.action, Translate):
        free.append(Some((Not(Is(names.holder(item), worker)), Has(ties, worker))))
    if not free:
        return None
    kept: list[Condition] = [Not(ends_up(outing, item, worker)), All(tuple(free))]
    action = going.deed.action
    if isinstance(action, MoveCrane) and action.payload is None:
        # A crane that stays where it is takes nobody along.
        kept.append(Is(names.place(worker), action.to))
    return Some(tuple(kept))


def _is_on(outing: Outing, going: _Going, place: str) -> bool:
    """Return whether a place is on a payload that goes along."""
    payloads = going.along & set(outing.scene.payloads)
    return any(is_on(outing.scene, one, place) for one in payloads)


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
