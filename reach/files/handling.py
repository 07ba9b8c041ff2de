"""Actions of the outing checked: who takes what from where to where, ties, tools, calls."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from reach.files.holders import (
    bag_problem,
    end_problem,
    holder_problem,
    hook_problem,
    repeated,
    tie_problem,
)
from reach.files.kit import bit_problem, hardware, kit_problem, piece_problem
from reach.files.lines import Place
from reach.files.moves import place_problem
from reach.files.problem import Problem, unknown
from reach.files.records import Report
from reach.model.handling import (
    Adjust,
    Attach,
    Confirm,
    Egress,
    GloveCheck,
    Handling,
    Install,
    Lay,
    Pass,
    PickUp,
    Remove,
    Stow,
)
from reach.model.procedure import Ingress, Release
from reach.model.scene import Scene


def handling_problems(
    scene: Scene,
    action: Handling | Ingress | Release,
    i: int,
    lane: str,
    lanes: Mapping[str, str],
    inhibits: Collection[str] | None,
    report: Report,
) -> list[Problem]:
    """Return everything in one action that does not fit the scene, the lanes or the inhibits.

    Parameters
    ----------
    scene : Scene
    action : record
        Number ``i`` of a step of ``lane``.
    lanes : mapping of lane -> kind
    inhibits : collection of str or None
        Names of the procedure's inhibits; None where they are not known.
    report : callable
        Makes a problem at a place of the step.
    """
    check = _Handled(scene, i, lane, lanes, inhibits, report)
    check.run(action)
    return check.problems


@dataclass(slots=True)
class _Handled:
    """The problems of one action."""

    scene: Scene
    i: int
    lane: str
    lanes: Mapping[str, str]
    inhibits: Collection[str] | None
    report: Report
    problems: list[Problem] = field(default_factory=list)

    def add(self, place: Place, message: str) -> None:
        """Note a problem if there is one: no message, no problem."""
        if message:
            self.problems.append(self.report(("actions", self.i, *place), message))

    def known(self, place: Place, what: str, name: str | None, names: Iterable[str]) -> None:
        if name is not None and name not in names:
            self.add(place, unknown(what, name, names))

    def run(self, action: Handling | Ingress | Release) -> None:
        match action:
            case Egress():
                self.known(("from",), "hatch", action.start, self.scene.hatches)
            case Ingress():
                self.known(("to",), "hatch", action.to, self.scene.hatches)
            case Attach():
                self.attach(action)
            case Release():
                self.release(action)
            case PickUp():
                self.pick_up(action)
            case Stow():
                self.stow(action)
            case Pass():
                self.give(action)
            case Install():
                self.install(action)
            case Remove():
                self.restraint(action.item)
            case Adjust():
                self.adjust(action)
            case Lay():
                self.lay(action)
            case Confirm():
                self.confirm(action)
            case GloveCheck():
                self.glove_check(action)

    def attach(self, action: Attach) -> None:
        scene = self.scene
        if action.what in scene.tethers:
            self.add(("to",), end_problem(scene, action.to))
        elif action.what not in scene.items:
            self.no_tether_or_item(action.what)
        elif action.what == action.to:
            self.add(("to",), f"{action.what!r} cannot be tied to itself")
        else:
            self.add(("to",), tie_problem(scene, action.to))

    def release(self, action: Release) -> None:
        scene = self.scene
        if action.what is None or action.start is None:
            return
        if action.what in scene.tethers:
            self.add(("from",), end_problem(scene, action.start))
            if action.to is not None:
                self.add(("to",), hook_problem(scene, action.to))
        elif action.what not in scene.items:
            self.no_tether_or_item(action.what)
        else:
            self.add(("from",), tie_problem(scene, action.start))
            if action.to is not None:
                self.add(("to",), f"is where a reel is parked; {action.what} is an item")

    def no_tether_or_item(self, name: str) -> None:
        known = [*self.scene.tethers, *self.scene.items]
        self.add(("what",), unknown("tether or item", name, known))

    def items(self, names: tuple[str, ...], to: str | None = None, key: str = "items") -> None:
        """Check a list of items, none of them twice nor going into itself."""
        for k, name in enumerate(names):
            self.known((key, k), "item", name, self.scene.items)
        for k, message in repeated(names):
            self.add((key, k), message)
        if to in names:
            self.add(("to",), f"{to!r} cannot go into itself")

    def pick_up(self, action: PickUp) -> None:
        self.items(action.items, action.to)
        if action.to is not None:
            self.add(("to",), bag_problem(self.scene, action.to))

    def stow(self, action: Stow) -> None:
        self.items(action.items, action.to)
        if action.to in self.scene.workers:
            how = "they pick up" if action.to == self.lane else "pass the items"
            self.add(("to",), f"{action.to!r} is a worker: {how}")
        else:
            self.add(("to",), holder_problem(self.scene, action.to))

    def give(self, action: Pass) -> None:
        self.items(action.items)
        if action.to == self.lane:
            self.add(("to",), f"{self.lane!r} cannot pass to themself")
        else:
            self.known(("to",), "worker with a lane", action.to, self.workers)

    @property
    def workers(self) -> list[str]:
        """Workers of the scene who have a lane."""
        return [name for name in self.lanes if name in self.scene.workers]

    def install(self, action: Install) -> None:
        if self.restraint(action.item):
            kind = hardware(self.scene, "restraints", action.item).kind
            if kind != "foot restraint":
                self.add(("item",), f"{action.item!r} is a {kind}, a socket takes a foot restraint")
        self.known(("to",), "socket", action.to, self.scene.sockets)

    def restraint(self, name: str) -> bool:
        message = piece_problem(self.scene, "restraints", name)
        self.add(("item",), message)
        return not message

    def adjust(self, action: Adjust) -> None:
        message = kit_problem(self.scene, "tools", action.tool)
        self.add(("tool",), message)
        if action.bit is not None:
            self.add(("bit",), bit_problem(self.scene, action.tool, action.bit))
        if action.bit is None and action.torque is None:
            self.add((), "sets nothing: say torque or bit")

    def lay(self, action: Lay) -> None:
        scene = self.scene
        self.known(("item",), "item", action.item, scene.items)
        if kind := scene.items[action.item].kind if action.item in scene.items else "":
            self.add(("item",), f"item {action.item!r} is a {kind}, not a lead")
        self.known(("to",), "fastener", action.to, scene.fasteners)
        for k, place in enumerate(action.through):
            self.add(("through", k), place_problem(scene, place))
        self.items(action.clamps, key="clamps")

    def confirm(self, action: Confirm) -> None:
        if self.inhibits is not None:
            self.known(("inhibit",), "inhibit", action.inhibit, self.inhibits)
        self.items(action.items)
        if action.inhibit is None and not action.items and not action.what:
            self.add((), "confirms nothing: say inhibit, items, or what it is")

    def glove_check(self, action: GloveCheck) -> None:
        for k, name in enumerate(action.of):
            self.known(("of", k), "worker with a lane", name, self.workers)
        for k, message in repeated(action.of):
            self.add(("of", k), message)
        if not action.of and self.lanes.get(self.lane) in ("crane", "inside lead"):
            self.add(("of",), "is missing: whose gloves are looked at")
