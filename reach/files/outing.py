"""Tables of a whole outing checked: how it begins, stores, windows, guards, phases, its end."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from reach.files.holders import (
    bag_circles,
    end_problem,
    holder_problem,
    hook_problem,
    repeated,
)
from reach.files.kit import bit_problem, hardware, kit_problem, piece_problem, setting_problems
from reach.files.lines import Place
from reach.files.moves import place_problem
from reach.files.problem import Problem, unknown
from reach.files.references import circle_from
from reach.model.outing import Clock, Dial, End, Ends, Guard, Phase, Start, Store
from reach.model.procedure import Drive, Procedure
from reach.model.scene import Scene

Told = Callable[[Place, str], Problem]
"""Makes a problem of a place in the procedure and a message."""


def outing_problems(
    procedure: Procedure,
    lanes: Mapping[str, str],
    scene: Scene,
    report: Told,
    written: Mapping[str, Iterable[str]] | None = None,
) -> list[Problem]:
    """Return everything in the tables of a procedure that does not fit the scene or the steps.

    Parameters
    ----------
    procedure : Procedure
        With all its steps.
    lanes : mapping of lane -> kind
    scene : Scene
    report : callable
        Makes a problem at a place of the procedure, such as ``("guards", "CB3", "window")``.
    written : mapping of table -> names, optional
        What the file names under ``windows`` and ``inhibits``, readable or not: a window that is
        wrong is not one that is missing too.
    """
    names = {table: tuple(some) for table, some in (written or {}).items()}
    check = _Outing(procedure, lanes, scene, report, names)
    check.run()
    return check.problems


@dataclass(slots=True)
class _Outing:
    """The problems of the tables of one procedure."""

    procedure: Procedure
    lanes: Mapping[str, str]
    scene: Scene
    report: Told
    written: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def add(self, place: Place, message: str) -> None:
        """Note a problem if there is one: no message, no problem."""
        if message:
            self.problems.append(self.report(place, message))

    def known(self, place: Place, what: str, name: str | None, names: Iterable[str]) -> bool:
        """Return whether ``name`` is one of ``names``, or is left out; note it if it is not."""
        if name is None or name in names:
            return True
        self.add(place, unknown(what, name, names))
        return False

    def fasteners(self, place: Place, names: Sequence[str]) -> None:
        """Check a list of fasteners, each at most once."""
        for i, name in enumerate(names):
            self.known((*place, i), "fastener", name, self.scene.fasteners)
        for i, message in repeated(names):
            self.add((*place, i), message)

    def inhibits(self, place: Place, names: Sequence[str]) -> None:
        for i, name in enumerate(names):
            self.known((*place, i), "inhibit", name, self.names_of("inhibits"))

    def names_of(self, table: str) -> list[str]:
        """Return the names in a table of the procedure, with those that cannot be read."""
        return list(
            {**dict.fromkeys(self.written.get(table, ())), **getattr(self.procedure, table)}
        )

    def run(self) -> None:
        procedure = self.procedure
        if procedure.begin is not None:
            self.begin(procedure.begin)
        for name, store in procedure.stores.items():
            self.store(name, store)
        for name, order in procedure.orders.items():
            self.fasteners(("orders", name, "fasteners"), order.fasteners)
        for name, guard in procedure.guards.items():
            self.guard(name, guard)
        self.guard_circles()
        for name, clock in procedure.clocks.items():
            self.clock(name, clock)
        for name, phase in procedure.phases.items():
            self.phase(name, phase)
        if procedure.end is not None:
            self.end(procedure.end)

    def begin(self, begin: Start) -> None:
        workers = [lane for lane in self.lanes if lane in self.scene.workers]
        for lane, where in begin.workers.items():
            self.known(("begin", "workers", lane), "worker with a lane", lane, workers)
            self.add(("begin", "workers", lane), place_problem(self.scene, where))
        held = {item: kept.holder for item, kept in begin.items.items()}
        self.items("begin", held, "in")
        self.lines("begin", begin.lines)
        for tool, dial in begin.tools.items():
            self.dial(tool, dial)
        for name, setting in begin.settings.items():
            place: Place = ("begin", "settings", name)
            message = piece_problem(self.scene, "restraints", name)
            self.add(place, message)
            if not message:
                restraint = hardware(self.scene, "restraints", name)
                for inner, wrong in setting_problems(restraint, name, setting):
                    self.add((*place, *inner), wrong)
        self.fasteners(("begin", "tight"), begin.tight)
        self.inhibits(("begin", "confirmed"), begin.confirmed)

    def items(self, table: str, held: Mapping[str, str], key: str | None = None) -> None:
        """Check which item is in what; ``key`` is where the holder stands, if not alone."""
        for item, holder in held.items():
            place: Place = (table, "items", item)
            self.add(place, self.no_item(item))
            self.add(place if key is None else (*place, key), holder_problem(self.scene, holder))
        for item, message in bag_circles(held):
            self.add((table, "items", item), message)

    def no_item(self, name: str) -> str:
        """Return why ``name`` is no item, or nothing; a kind of hardware is none."""
        if name in self.scene.items:
            return ""
        for table in ("restraints", "tools", "bits", "extensions"):
            if name in getattr(self.scene, table):
                return piece_problem(self.scene, table, name)
        return unknown("item", name, self.scene.items)

    def lines(self, table: str, lines: Mapping[str, Ends]) -> None:
        for name, ends in lines.items():
            place: Place = (table, "lines", name)
            self.known(place, "tether", name, self.scene.tethers)
            if ends.hook is not None:
                self.add((*place, "hook"), hook_problem(self.scene, ends.hook))
            if ends.reel is not None:
                self.add((*place, "reel"), end_problem(self.scene, ends.reel))

    def dial(self, tool: str, dial: Dial) -> None:
        place: Place = ("begin", "tools", tool)
        self.add(place, kit_problem(self.scene, "tools", tool))
        if dial.bit is not None:
            self.add((*place, "bit"), bit_problem(self.scene, tool, dial.bit))

    def store(self, name: str, store: Store) -> None:
        known = [*self.scene.items, *self.scene.workers]
        place: Place = ("stores", name)
        if self.known(place, "item or worker", name, known) and name in self.scene.workers:
            turns = store.turns is not None
            self.add((*place, "turns"), "are those of a drive, not of a worker" if turns else "")

    def guard(self, name: str, guard: Guard) -> None:
        place: Place = ("guards", name)
        self.known(place, "fastener", name, self.scene.fasteners)
        self.known((*place, "held"), "payload", guard.held, self.scene.payloads)
        self.known((*place, "window"), "window", guard.window, self.names_of("windows"))
        self.inhibits((*place, "inhibits"), guard.inhibits)
        self.fasteners((*place, "after"), guard.after)
        for i, item in enumerate(guard.items):
            self.known((*place, "items", i), "item", item, self.scene.items)

    def guard_circles(self) -> None:
        """Check that no fasteners wait for each other."""
        after = {name: guard.after for name, guard in self.procedure.guards.items()}
        seen = set()
        for name in after:
            circle = circle_from(name, after)
            if circle and frozenset(circle) not in seen:
                seen.add(frozenset(circle))
                path = " after ".join([*circle, circle[0]])
                self.add(("guards", name, "after"), f"fasteners wait for each other: {path}")

    def clock(self, name: str, clock: Clock) -> None:
        for key, mark in (("from", clock.start), ("to", clock.stop)):
            self.add(("clocks", name, key), self.no_mark(mark))
        if clock.start == clock.stop:
            self.add(("clocks", name, "to"), f"is where it starts: {clock.stop!r}")

    def no_mark(self, name: str) -> str:
        """Return why ``name`` is no step nor a fastener that one turns, or nothing."""
        steps = [step.name for step in self.procedure.steps]
        if name in steps:
            return ""
        actions = (action for step in self.procedure.steps for action in step.actions)
        turned = {action.fastener for action in actions if isinstance(action, Drive)}
        if name in turned:
            return ""
        if name in self.scene.fasteners:
            return f"no step turns fastener {name!r}"
        return unknown("step or fastener", name, [*steps, *self.scene.fasteners])

    def phase(self, name: str, phase: Phase) -> None:
        steps = {step.name: step for step in self.procedure.steps}
        for key, mark in (("from", phase.start), ("to", phase.stop_at)):
            self.known(("phases", name, key), "step", mark, steps)
        first, last = steps.get(phase.start), steps.get(phase.stop_at)
        if first is None or last is None or first.start is None or last.start is None:
            return
        if last.start < first.start:
            message = f"{last.name!r} starts before {first.name!r}: the phase ends before it begins"
            self.add(("phases", name, "to"), message)

    def end(self, end: End) -> None:
        self.items("end", end.items)
        self.lines("end", end.lines)
        if end.rest is not None:
            self.add(("end", "rest"), holder_problem(self.scene, end.rest))
        for item in end.left:
            self.add(("end", "left", item), self.no_item(item))
