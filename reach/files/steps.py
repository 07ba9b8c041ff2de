"""Steps checked against the scene: lanes, places, restraint settings, tools, order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from reach.files.carrying import holding_problems, moving_problems
from reach.files.lines import Place
from reach.files.moves import move_problems
from reach.files.problem import Problem, unknown
from reach.files.records import Report
from reach.files.references import circle_from, missing
from reach.model.handling import Confirm, GloveCheck, Handling, Wait
from reach.model.hardware import Restraint, Tool
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
    is_bodily,
)
from reach.model.scene import Handrail, Scene
from reach.model.travel import Handhold

Written = tuple[Step, Report]
"""A step and what makes a problem at a place inside it."""


def hardware(scene: Scene, table: str, name: str) -> Any:
    """Return the restraint, tool, bit or extension called ``name``, directly or as an item.

    None when there is no such piece or it is of another table.
    """
    kinds: Mapping[str, Any] = getattr(scene, table)
    if name in kinds:
        return kinds[name]
    item = scene.items.get(name)
    return None if item is None else kinds.get(item.kind)


def step_problems(
    steps: Sequence[Written], lanes: Mapping[str, str], scene: Scene
) -> list[Problem]:
    """Return everything in the steps that does not fit the scene, the lanes or each other."""
    problems = _names(steps)
    standing: dict[str, _Standing] = {}
    placed: dict[str, str] = {}
    for step, report in steps:
        placed |= step.placed
        check = _StepCheck(scene, step, report, lanes, placed)
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
    after = {step.name: step.after for step, _ in steps}
    circles = set()
    for step, report in steps:
        for i, name in enumerate(step.after):
            if name not in names:
                problems.append(report(("after", i), unknown("step", name, sorted(names))))
        circle = circle_from(step.name, after)
        if circle and frozenset(circle) not in circles:
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
    problems: list[Problem] = field(default_factory=list)

    def add(self, place: Place, message: str) -> None:
        self.problems.append(self.report(place, message))

    def run(self, lane_kind: str, standing: _Standing) -> None:
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
            standing.restraint = None if station is None else station.restraint

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
        setting = self.step.setting or {}
        if restraint is None:
            if name is None:
                self.add(("setting",), "there is no restraint here to set")
            return
        joints = {joint.name: joint for joint in restraint.joints}
        for key, value in setting.items():
            if key not in joints:
                self.add(("setting", key), unknown("joint", key, joints))
                continue
            try:
                joints[key].angle_of(value)
            except ValueError as error:
                # Whole numbers stay whole only when they are written without a unit.
                degrees = isinstance(value, int) and not joints[key].numbered
                message = f"{value} is in rad; write '{value} deg'" if degrees else str(error)
                self.add(("setting", key), message)
        for key in joints:
            if key not in setting:
                self.add(("setting",), f"joint {key!r} of {name} is missing")

    def action(self, i: int, action: Action, standing: _Standing) -> None:
        if isinstance(action, Ingress | Release | Moving | Handling):
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
        known = self.known(("actions", i, "tool"), "tools", action.tool)
        tool: Tool | None = hardware(self.scene, "tools", action.tool) if known else None
        for key, table in (("bit", "bits"), ("extension", "extensions")):
            name = getattr(action, key)
            if name is None:
                continue
            self.known(("actions", i, key), table, name)
            if tool is not None and not tool.takes_bits:
                self.add(("actions", i, key), f"tool {action.tool!r} takes no {key}")
        if tool is not None and tool.takes_bits and action.bit is None:
            fitting = fitting_bits(self.scene, action.fastener)
            hint = f"; {fitting[0]!r} fits the head" if fitting else ""
            self.add(("actions", i), f"key 'bit' is missing: tool {action.tool!r} takes one{hint}")

    def known(self, place: Place, table: str, name: str) -> bool:
        """Return whether a piece of hardware exists; note the problem if it does not."""
        if hardware(self.scene, table, name) is not None:
            return True
        kind = table.removesuffix("s")
        if name in self.scene.items:
            self.add(place, f"item {name!r} is a {self.scene.items[name].kind}, not a {kind}")
        else:
            items = [n for n in self.scene.items if hardware(self.scene, table, n) is not None]
            names = {table: [*getattr(self.scene, table), *items]}
            self.add(place, missing(name, names, [table]))
        return False

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


def fitting_bits(scene: Scene, fastener: str) -> list[str]:
    """Return the bits whose head size is that of a fastener."""
    head = scene.fasteners[fastener].head if fastener in scene.fasteners else ""
    return [name for name, bit in scene.bits.items() if head and bit.head == head]
