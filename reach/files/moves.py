"""Moves along rails checked against the scene: where from and to, what is carried, which line."""

from __future__ import annotations

import math
from collections.abc import Iterable

from reach.files.lines import Place
from reach.files.problem import Problem, unknown
from reach.files.records import Report
from reach.model.procedure import Translate
from reach.model.scene import Scene
from reach.model.travel import rail_spot
from reach.units import text_of

ROUNDING = 1e-9
"""A point this much beyond the end of a rail (m) is at its end."""


def move_problems(
    scene: Scene, action: Translate, i: int, where: str | None, report: Report
) -> list[Problem]:
    """Return everything in one translate action that does not fit the scene.

    Parameters
    ----------
    scene : Scene
    action : Translate
        Number ``i`` of its step.
    where : str or None
        Where the worker is known to be before it.
    report : callable
        Makes a problem at a place of the step.
    """
    problems: list[Problem] = []

    def add(place: Place, message: str) -> None:
        problems.append(report(("actions", i, *place), message))

    def check(place: Place, name: str | None, kind: str, known: Iterable[str]) -> None:
        if name is not None and name not in known:
            add(place, unknown(kind, name, list(known)))

    for key, spot in (("to", action.to), ("from", action.start)):
        if spot is not None and (message := place_problem(scene, spot)):
            add((key,), message)
    if action.start is None and where is None:
        add(("from",), "is missing: it is not known where the worker is")
    if action.start is not None and where is not None and action.start != where:
        add(
            ("from",),
            f"{action.start!r} is not where the worker is: the steps before leave it at {where!r}",
        )
    if action.to in (action.start, where if action.start is None else None):
        add(("to",), f"the worker is at {action.to!r} already")
    for key in ("carrying", "in_hand"):
        for j, item in enumerate(getattr(action, key)):
            check((key, j), item, "item", scene.items)
    for item in dict.fromkeys(action.in_hand):
        if item in action.carrying:
            add(("in_hand",), f"{item!r} is both carried on the suit and held in the hand")
    check(("tether",), action.tether, "tether", scene.tethers)
    check(("anchor",), action.anchor, "anchor", scene.anchors)
    line = scene.tethers.get(action.tether or "")
    if line is not None and line.anchor is None and action.anchor is None:
        add(("anchor",), f"is missing: {action.tether} names none of its own")
    for j, tether in enumerate(action.crosses):
        check(("crosses", j), tether, "tether", scene.tethers)
    words = [word for name, one in scene.headings.items() for word in (name, one.opposite) if word]
    for rail, aside in action.body.items():
        check(("body", rail), rail, "handrail or handhold", [*scene.handrails, *scene.handholds])
        if isinstance(aside.toward, str):
            check(("body", rail, "toward"), aside.toward, "heading", words)
    return problems


def place_problem(scene: Scene, name: str) -> str:
    """Return why ``name`` is no place to move from or to, or nothing.

    Places are hatches, sockets, stations, anchors, handholds, and rails, with ``RL09@1.5`` for
    the point 1.5 m from the start of a rail.
    """
    tables = (scene.hatches, scene.sockets, scene.stations, scene.anchors, scene.handholds)
    known = [place for table in tables for place in table] + list(scene.handrails)
    if name in known:
        return ""
    try:
        rail, along = rail_spot(name)
    except ValueError as error:
        return str(error)
    if rail not in scene.handrails:
        return unknown("place", name, known)
    length = math.dist(scene.handrails[rail].start, scene.handrails[rail].end)
    if along > length + ROUNDING:
        return f"{name!r}: {rail} is {text_of(length, 'm')} long"
    return ""
