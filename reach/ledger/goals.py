"""Where an action puts something, and whether that is at hand of who does it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reach.ledger import names
from reach.ledger.deed import Deed
from reach.ledger.line_ends import is_at_anchor
from reach.ledger.nearness import at_hand
from reach.ledger.outing import Outing
from reach.ledger.presence import Need, at_tip, is_here, place_at, wherever
from reach.model.handling import Attach, Install, Pass, Stow
from reach.model.procedure import hatch_passed
from reach.orders import Among, Condition, Is, Some
from reach.site import Site


@dataclass(frozen=True, slots=True)
class Goal:
    """What a deed asks to be at hand because something, or the worker, goes there.

    Attributes
    ----------
    name : str
        A place, a worker, a payload, a crane, an item.
    why : str
        Such as ``"stows D1 there"``.
    condition : Condition
        That it is at hand, in every order.
    """

    name: str
    why: str
    condition: Condition


def goals_of(site: Site, outing: Outing, deed: Deed) -> list[Goal]:
    """Return what a deed goes to or puts something at; bags are needs, they are left out.

    Places on a payload move with it; they are not asked, nor is a worker who is nowhere in
    particular.
    """
    return list(_goals(site, outing, deed))


def _goals(site: Site, outing: Outing, deed: Deed) -> Iterator[Goal]:
    action = deed.action
    if deed.lane not in outing.workers or not deed.is_last:
        return
    if action is None:
        where = deed.step.where
        if where not in (None, place_at(outing, deed)) and _is_fixed(site, where):
            yield Goal(where, "works there", _is_at(site, outing, deed.lane, where))
        return
    hatch = hatch_passed(action)
    if hatch is not None:
        inside = Is(names.outside(deed.lane), False)
        yield Goal(
            hatch,
            f"{action.do}es there",
            Some((inside, _is_at(site, outing, deed.lane, hatch))),
        )
        return
    if isinstance(action, Stow | Pass):
        goal, what = action.to, ", ".join(action.items)
    elif isinstance(action, Install):
        goal, what = action.to, action.item
    elif isinstance(action, Attach) and action.what in outing.scene.items:
        goal, what = action.to, action.what
    else:
        return
    said = {"stow": "stows", "pass": "passes", "install": "installs", "attach": "ties"}[action.do]
    way = "to them" if goal in outing.workers else "there"
    found = _at_goal(site, outing, deed, goal)
    if found is not None:
        yield Goal(goal, f"{said} {what} {way}", found)


def _at_goal(site: Site, outing: Outing, deed: Deed, goal: str) -> Condition | None:
    scene = outing.scene
    if goal == deed.lane or not isinstance(place_at(outing, deed), str):
        return None
    if goal in scene.items:
        tied = isinstance(deed.action, Attach)
        return is_here(site, outing, deed, Need(goal, "")) if tied else None
    holders = (outing.workers, scene.cranes, scene.payloads)
    if not any(goal in one for one in holders) and not _is_fixed(site, goal):
        return None
    return wherever(outing, deed, lambda where: _is_goal_at(site, outing, deed, goal, str(where)))


def _is_goal_at(site: Site, outing: Outing, deed: Deed, goal: str, where: str) -> Condition:
    """Return the condition that a goal is at hand of the worker of a deed, who is at a place."""
    scene = outing.scene
    if goal in outing.workers:
        name = names.place(goal)
        # Who gives and who takes both reach out.
        times = 2.0 if isinstance(deed.action, Pass) else 1.0
        return Among(name, _near(site, outing, where, name, times))
    if goal in scene.cranes:
        return _kept(deed, where, at_tip(scene, where, goal))
    if goal in scene.payloads:
        poses = scene.payloads[goal].poses
        near = frozenset(pose for pose in poses if at_hand(site, where, goal, pose) is not False)
        return Among(names.pose(goal), near)
    if goal in scene.anchors:
        return _kept(deed, where, is_at_anchor(site, where, goal))
    return _kept(deed, where, _is_near(site, where, goal))


def _kept(deed: Deed, where: str, good: bool) -> Condition:
    """Return a condition that is met, or that nothing meets: the worker is where they are."""
    name = names.place(deed.lane)
    return Is(name, where) if good else Among(name, frozenset())


def _is_at(site: Site, outing: Outing, worker: str, goal: str) -> Condition:
    """Return the condition that a worker is at a place, or has it at hand."""
    name = names.place(worker)
    return Among(name, _near(site, outing, goal, name))


def _near(site: Site, outing: Outing, goal: str, name: str, times: float = 1.0) -> frozenset[str]:
    """Return all that a place may ever be from which another is at hand."""
    places = (one for one in outing.ever(name) if isinstance(one, str))
    return frozenset(one for one in places if _is_near(site, one, goal, times))


def _is_near(site: Site, one: str, other: str, times: float = 1.0) -> bool:
    """Return whether two places are at hand of each other.

    A tip that a payload took somewhere is nowhere in particular: nothing is too far from there.
    """
    cranes = site.scene.cranes
    if any(at_tip(site.scene, one, crane) and at_tip(site.scene, other, crane) for crane in cranes):
        return True
    return at_hand(site, one, other, times=times) is not False


def _is_fixed(site: Site, place: str) -> bool:
    """Return whether a name is a place that no payload takes along."""
    scene = site.scene
    rail = place.partition("@")[0]
    tables = (
        scene.stations, scene.hatches, scene.sockets, scene.anchors, scene.handholds,
        scene.fasteners, scene.handrails,
    )  # fmt: skip
    record = next((table[rail] for table in tables if rail in table), None)
    return record is not None and not scene.rides_on(record.frame)
