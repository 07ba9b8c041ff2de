"""Steps checked against the scene: lanes, places, restraint settings, tools, order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from reach.files.carrying import holding_problems, moving_problems
from reach.files.handling import handling_problems
from reach.files.holders import repeated
from reach.files.kit import bit_problem, fitting_bits, hardware, kit_problem, setting_problems
from reach.files.lines import Place
from reach.files.moves import move_problems
from reach.files.problem import Problem, unknown
from reach.files.records import Report
from reach.files.references import circle_from
from reach.model.handling import Confirm, GloveCheck, Handling, Wait
from reach.model.hardware import Restraint, Tool
from reach.model.outing import Start
from reach.model.plugged import note_plugged, plugged_first
from reach.model.procedure import (
    Action,
    Drive,
    HandOver,
    Hold,
    Ingress,
    Moving,
    Release,
    Step,
    Translate,
    hatch_passed,
    is_bodily,
    written_order,
)
from reach.model.scene import Handrail, Scene
from reach.model.travel import Handhold

Written = tuple[Step, Report]
"""A step and what makes a problem at a place inside it."""


def step_problems(
    steps: Sequence[Written],
    lanes: Mapping[str, str],
    scene: Scene,
    begin: Start | None = None,
    inhibits: Collection[str] | None = None,
) -> list[Problem]:
    """Return everything in the steps that does not fit the scene, the lanes or each other.

    Parameters
    ----------
    steps : sequence of (Step, report)
    lanes : mapping of lane -> kind
    scene : Scene
    begin : Start, optional
        Where workers and restraints are when the procedure begins.
    inhibits : collection of str, optional
        Names of the procedure's inhibits; None where they are not known.
    """
    problems = _names(steps)
    begin = begin or Start()
    standing = {lane: _Standing(at=place) for lane, place in begin.workers.items()}
    placed: dict[str, str] = {}
    plugged = plugged_first(scene, begin)
    reports = {id(step): report for step, report in steps}
    for step in written_order([step for step, _ in steps]):
        report = reports[id(step)]
        placed |= step.placed
        for action in step.actions:
            note_plugged(plugged, action)
        check = _StepCheck(scene, step, report, lanes, placed, plugged, inhibits)
        if step.lane not in lanes:
            check.add(("lane",), unknown("lane", step.lane, lanes))
        check.run(lanes.get(step.lane, "worker"), standing.setdefault(step.lane, _Standing()))
        problems += check.problems
    return problems


def _names(steps: Sequence[Written]) -> list[Problem]:
    problems = []
    names: set[str] = set()
    for step, report in steps:
        if step.name in names:
            problems.append(report(("name",), f"duplicate name {step.name!r}: two steps have it"))
        names.add(step.name)
    for step, report in steps:
        # Actions are called by their step and a colon: a wait for one name could mean either.
        colons = [i for i in range(len(step.name)) if step.name.startswith(": ", i)]
        of = next((step.name[:i] for i in colons if step.name[:i] in names), None)
        if of is not None:
            message = f"{step.name!r} is called like an action of step {of!r}: leave out the colon"
            problems.append(report(("name",), message))
    after = {step.name: step.after for step, _ in steps}
    circles = set()
    for step, report in steps:
        for i, name in enumerate(step.after):
            if name not in names:
                problems.append(report(("after", i), unknown("step", name, sorted(names))))
        circle = circle_from(step.name, after)
        if step.name in step.after:
            i = step.after.index(step.name)
            problems.append(report(("after", i), f"{step.name!r} waits for itself"))
        elif circle and frozenset(circle) not in circles:
            circles.add(frozenset(circle))
            path = " after ".join([*circle, circle[0]])
            problems.append(report(("after",), f"steps wait for each other: {path}"))
    return problems


@dataclass(slots=True)
class _Standing:
    """Where the worker of a lane was left, and by what restraint held.

    ``where`` is the place of work, ``at`` any place: after a move there is no place of work.
    """

    where: str | None = None
    restraint: str | None = None
    at: str | None = None


@dataclass(slots=True)
class _StepCheck:
    """The problems of one step."""

    scene: Scene
    step: Step
    report: Report
    lanes: Mapping[str, str]
    placed: dict[str, str]
    plugged: Mapping[str, str]
    inhibits: Collection[str] | None
    problems: list[Problem] = field(default_factory=list)

    def add(self, place: Place, message: str) -> None:
        self.problems.append(self.report(place, message))

    def run(self, lane_kind: str, standing: _Standing) -> None:
        self.others()
        self.place(standing)
        restraint = self.restraint(standing)
        if self.step.setting is not None:
            self.setting(restraint, standing.restraint)
        for i, action in enumerate(self.step.actions):
            if isinstance(action, Moving):
                self.problems += moving_problems(
                    self.scene, self.step, action, i, lane_kind, self.placed, self.report
                )
                continue
            if lane_kind in ("crane", "inside lead"):
                if not isinstance(action, Confirm | GloveCheck | Wait):
                    message = f"a worker does this, not a lane of {lane_kind!r}"
                    self.add(("actions", i, "do"), message)
            elif standing.where is None and needs_place(action):
                self.add(("where",), "is missing: a socket or station to work from")
            self.action(i, action, standing)
        self.movables()

    def others(self) -> None:
        """Check the other lanes that are in the step."""
        for i, lane in enumerate(self.step.others):
            if lane == self.step.lane:
                self.add(("with", i), f"{lane!r} is the step's own lane")
            elif lane not in self.lanes:
                self.add(("with", i), unknown("lane", lane, self.lanes))
        for i, message in repeated(self.step.others):
            self.add(("with", i), message)

    def place(self, standing: _Standing) -> None:
        """Check where the step is done, and move the worker of its lane there."""
        where = self.step.where
        if where is None:
            return
        if where not in self.scene.sockets and where not in self.scene.stations:
            known = [*self.scene.sockets, *self.scene.stations]
            self.add(("where",), unknown("socket or station", where, known))
        if where != standing.where:
            standing.where = standing.at = where
            station = self.scene.stations.get(where)
            in_socket = self.plugged.get(where)
            standing.restraint = in_socket if station is None else station.restraint

    def restraint(self, standing: _Standing) -> Restraint | None:
        """Check what holds the worker; return it when it is known."""
        name = self.step.restraint
        if name is not None:
            standing.restraint = name
            if not self.known(("restraint",), "restraints", name):
                return None
        at_socket = standing.where in self.scene.sockets
        if standing.restraint is None:
            if at_socket and self.step.where is not None:
                message = f"is missing: what holds the worker in socket {standing.where}"
                self.add(("restraint",), message)
            return None
        found: Restraint | None = hardware(self.scene, "restraints", standing.restraint)
        if found is not None and name is not None:
            self.restraint_fits(found, standing, at_socket)
        return found

    def restraint_fits(self, found: Restraint, standing: _Standing, at_socket: bool) -> None:
        if at_socket and found.kind != "foot restraint":
            self.add(
                ("restraint",),
                f"{standing.restraint!r} is a {found.kind}, a socket takes a foot restraint",
            )
        if standing.where in self.scene.stations and found.joints:
            self.add(
                ("restraint",),
                f"{standing.restraint!r} has joints and needs a socket, "
                f"{standing.where} is a station",
            )

    def setting(self, restraint: Restraint | None, name: str | None) -> None:
        """Check that every joint of the restraint has a value that it can take."""
        if restraint is None:
            if name is None:
                self.add(("setting",), "there is no restraint here to set")
            return
        for place, message in setting_problems(restraint, name or "", self.step.setting or {}):
            self.add(("setting", *place), message)

    def action(self, i: int, action: Action, standing: _Standing) -> None:
        if isinstance(action, Ingress | Release | Handling):
            self.problems += handling_problems(
                self.scene, action, i, self.step.lane, self.lanes, self.inhibits, self.report
            )
            if (hatch := hatch_passed(action)) is not None:
                standing.where, standing.restraint, standing.at = None, None, hatch
            return
        if isinstance(action, Moving):
            return
        if isinstance(action, Hold | HandOver):
            self.problems += holding_problems(
                self.scene, action, i, self.step.lane, self.lanes, self.report
            )
            return
        if isinstance(action, Translate):
            self.problems += move_problems(self.scene, action, i, standing.at, self.report)
            standing.where, standing.restraint, standing.at = None, None, action.to
            return
        if action.fastener not in self.scene.fasteners:
            message = unknown("fastener", action.fastener, self.scene.fasteners)
            self.add(("actions", i, "fastener"), message)
        if isinstance(action, Drive):
            self.drive(i, action)

    def drive(self, i: int, action: Drive) -> None:
        """Check tool, bit and extension; whether the bit fits the head is not judged here."""
        scene = self.scene
        self.known(("actions", i, "tool"), "tools", action.tool)
        tool: Tool | None = hardware(scene, "tools", action.tool)
        for key in ("bit", "extension"):
            name = getattr(action, key)
            if name is not None and (message := bit_problem(scene, action.tool, name, key)):
                self.add(("actions", i, key), message)
        if tool is not None and tool.takes_bits and action.bit is None:
            fitting = fitting_bits(scene, action.fastener)
            hint = f"; {fitting[0]!r} fits the head" if fitting else ""
            self.add(("actions", i), f"key 'bit' is missing: tool {action.tool!r} takes one{hint}")
        fastener = scene.fasteners.get(action.fastener)
        if action.do != "drive" and fastener is not None and fastener.kind != "connector":
            message = f"connectors are mated and demated; {action.fastener} is a {fastener.kind}"
            self.add(("actions", i, "do"), message)

    def known(self, place: Place, table: str, name: str) -> bool:
        """Return whether a piece of hardware exists; note the problem if it does not."""
        message = kit_problem(self.scene, table, name)
        if message:
            self.add(place, message)
        return not message

    def movables(self) -> None:
        for payload, pose in self.step.placed.items():
            if payload not in self.scene.payloads:
                message = unknown("payload", payload, self.scene.payloads)
                self.add(("placed", payload), message)
            elif pose not in self.scene.payloads[payload].poses:
                message = unknown("pose", pose, self.scene.payloads[payload].poses)
                self.add(("placed", payload), message)
        first = next(iter(self.step.actions), None)
        if self.step.where is not None and isinstance(first, Translate):
            self.add(("where",), "is a place to work at; a move says 'from' and 'to'")
        for i, action in enumerate(self.step.actions):
            if isinstance(action, Translate) and self.step.route is not None:
                for rail in action.body:
                    if rail not in self.step.route:
                        self.add(("actions", i, "body", rail), f"{rail} is not on the route")
        n_moved = sum(isinstance(action, Moving) for action in self.step.actions)
        if self.step.path is not None and n_moved != 1:
            message = f"is the way of one payload; the step moves {n_moved or 'none'}"
            self.add(("path",), message)
        n_moves = sum(isinstance(action, Translate) for action in self.step.actions)
        if self.step.route is not None and n_moves != 1:
            self.add(("route",), f"is the way of one move; the step has {n_moves or 'none'}")
        known: dict[str, Handrail | Handhold] = {**self.scene.handrails, **self.scene.handholds}
        for i, name in enumerate(self.step.route or ()):
            if name not in known:
                self.add(("route", i), unknown("handrail or handhold", name, known))
            elif self.scene.rides(known[name].frame):
                self.add(("route", i), f"{name} is on a payload: what is moved is no way")


def needs_place(action: Action) -> bool:
    """Return whether an action asks for boots on a place of work."""
    return is_bodily(action) and not isinstance(action, Translate)
