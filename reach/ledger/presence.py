"""What each action needs at hand, and whether it is there: on the suit, in a bag, or near by."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from reach.ledger import names
from reach.ledger.deed import Deed
from reach.ledger.nearness import at_hand
from reach.ledger.outing import Outing
from reach.model.handling import Adjust, Attach, Install, Lay, Pass, PickUp, Remove, Stow
from reach.model.procedure import Drive, Release, Translate
from reach.model.scene import Scene
from reach.orders import All, Among, Condition, Is, Some, Value
from reach.site import Site


@dataclass(frozen=True, slots=True)
class Need:
    """One item, or one line, that a deed needs at hand.

    Attributes
    ----------
    item : str
    why : str
        What it is needed for: ``tool``, ``bit``, ``extension``, ``to pick up``, ``to stow`` ...
    on_suit : bool
        It must be on the worker's suit or in a bag there: near by is not enough.
    """

    item: str
    why: str
    on_suit: bool = False


def needs_of(outing: Outing, deed: Deed) -> list[Need]:
    """Return what an action needs at hand; nothing for beginnings and for kinds of hardware.

    A guard's items count as well.
    """
    action, items = deed.action, outing.scene.items
    if isinstance(action, Translate) and not deed.is_last:
        carried = dict.fromkeys((*action.carrying, *action.in_hand))
        return [Need(name, "to carry", on_suit=True) for name in carried if name in items]
    if action is None or not deed.is_last:
        return []
    found: list[Need] = []
    if isinstance(action, Drive):
        found += [Need(action.tool, "tool")]
        found += [Need(action.bit, "bit")] if action.bit else []
        found += [Need(action.extension, "extension")] if action.extension else []
        guard = outing.procedure.guards.get(action.fastener)
        found += [Need(name, f"needed for {action.fastener}") for name in _items(guard)]
    elif isinstance(action, Adjust):
        found += [Need(action.tool, "tool")]
        found += [Need(action.bit, "bit")] if action.bit else []
    elif isinstance(action, PickUp):
        found += [Need(name, "to pick up") for name in action.items]
        found += [Need(action.to, "bag")] if action.to else []
    elif isinstance(action, Stow | Pass):
        word = "to stow" if isinstance(action, Stow) else "to pass"
        found += [Need(name, word, on_suit=True) for name in action.items]
        found += [Need(action.to, "bag")] if action.to in items else []
    elif isinstance(action, Install):
        found += [Need(action.item, "to install", on_suit=True)]
    elif isinstance(action, Remove):
        found += [Need(action.item, "to remove")]
    elif isinstance(action, Lay):
        found += [Need(action.item, "to lay")]
        found += [Need(name, "clamp") for name in action.clamps]
    elif isinstance(action, Attach | Release) and action.what in items:
        found += [Need(action.what, "tether")]
    return [need for need in found if need.item in items]


def _items(guard: object) -> Iterable[str]:
    return getattr(guard, "items", ()) if guard is not None else ()


def place_at(outing: Outing, deed: Deed) -> Value:
    """Return where the worker of a deed is by then, as written."""
    return outing.before(deed).get(names.place(deed.lane))


def is_here(site: Site, outing: Outing, deed: Deed, need: Need) -> Condition:
    """Return the condition that an item is with the worker of a deed, or at hand there.

    In every order: the worker is where `wherever` says, the item wherever any order may have
    left it.
    """
    return wherever(
        outing,
        deed,
        lambda where: _with(site, outing, deed.lane, where, need.item, need.on_suit, frozenset()),
    )


def wherever(outing: Outing, deed: Deed, near: Callable[[Value], Condition]) -> Condition:
    """Return a condition that hangs on where the worker of a deed is by then, in every order.

    Their own lane sees to where that is, but on the tip of a crane: there it is wherever the
    crane has taken them by then.

    Parameters
    ----------
    outing : Outing
    deed : Deed
    near : callable
        Place of the worker -> condition.
    """
    where = place_at(outing, deed)
    tips = _tips_with(outing, deed.lane, where)
    if len(tips) < 2:
        return near(where)
    name = names.place(deed.lane)
    return Some(tuple(All((Is(name, one), near(one))) for one in tips))


def _tips_with(outing: Outing, worker: str, where: Value) -> tuple[str, ...]:
    """Return all places on a crane's tip that somebody on it may be at, in any order."""
    for crane in outing.scene.cranes if isinstance(where, str) else ():
        if at_tip(outing.scene, str(where), crane):
            ever = outing.ever(names.place(worker))
            return tuple(
                one for one in ever if isinstance(one, str) and at_tip(outing.scene, one, crane)
            )
    return ()


def _with(
    site: Site,
    outing: Outing,
    worker: str,
    where: Value,
    item: str,
    on_suit: bool,
    above: frozenset[str],
) -> Condition:
    found: list[Condition] = []
    name = names.holder(item)
    for one in holders_of(outing, item):
        if one == worker:
            found.append(Is(name, one))
        elif one in outing.scene.items and one not in above:
            inner = _with(site, outing, worker, where, one, on_suit, above | {item})
            found.append(All((Is(name, one), inner)))
        elif on_suit or not isinstance(where, str):
            continue
        elif one in outing.scene.payloads:
            near = _near_poses(site, outing, where, one)
            if near:
                found.append(All((Is(name, one), Among(names.pose(one), near))))
        elif one in outing.scene.cranes:
            if at_tip(outing.scene, where, one):
                found.append(Is(name, one))
        elif at_hand(site, where, one):
            found.append(Is(name, one))
    # Where nothing serves, a condition that no value meets: an empty one is refused.
    return Some(tuple(found)) if found else Is(name, _NOWHERE)


_NOWHERE = "nowhere that serves"


def at_tip(scene: Scene, where: str, crane: str) -> bool:
    """Return whether a place is on the tip of a crane."""
    stations = scene.stations
    return where == f"{crane} tip" or (where in stations and stations[where].on == crane)


def _near_poses(site: Site, outing: Outing, where: str, payload: str) -> frozenset[str]:
    poses = outing.scene.payloads[payload].poses
    return frozenset(pose for pose in poses if at_hand(site, where, payload, pose))


def holders_of(outing: Outing, item: str) -> tuple[str, ...]:
    """Return all that an item may ever be in or on, in any order."""
    found = outing.ever(names.holder(item))
    return tuple(str(one) for one in found if one not in (None, names.ADRIFT))


def chain_of(values: Mapping[str, Value], item: str) -> tuple[str, ...]:
    """Return what an item is in, what that is in, and so on, inner first.

    Examples
    --------
    >>> chain_of({names.holder("PT-1"): "BG-2", names.holder("BG-2"): "RL30"}, "PT-1")
    ('BG-2', 'RL30')
    """
    return tuple(_chain(values, item))


def _chain(values: Mapping[str, Value], item: str) -> Iterator[str]:
    seen = {item}
    while True:
        above = values.get(names.holder(item))
        if not isinstance(above, str) or above in seen:
            return
        yield above
        seen.add(above)
        item = above
