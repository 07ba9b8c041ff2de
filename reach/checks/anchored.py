"""Question. Is the line that somebody wears hooked to an anchor that is right for where they are?

Margin. 0 where, whenever a crane moves with somebody, all lines they wear are hooked to anchors on
that crane's tip, whenever it moves without them none is, and no line they wear is hooked to a
payload that moves, or all are, or to the tip that moves it, where they stand on it, in every order
that the links between steps allow; -1 where not.

Limit. None. ``on`` of an anchor says on which crane it is; one that gives no ``rating`` is not
known to be one.

Blind spots. Asked when a motion is over: a line changed while it goes on is seen where no link
keeps it from being changed later. What else moves than cranes and payloads, and anchors across a
joint of the structure, is not known.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from reach.checks.ruling import ruled, unasked
from reach.finding import Finding
from reach.ledger import Deed, Judged, Outing, ends_of, judge, lines_for, names, worn
from reach.ledger.riding import (
    Ride,
    anchors_on,
    crane_moves,
    held_back,
    ridden,
    rides_of,
    tips_of,
)
from reach.model.procedure import MoveCrane, Moving
from reach.motions import crane_of, is_on
from reach.orders import All, Among, At, Condition, Is, Not, Rule, Some
from reach.site import Site

NAME = "anchored"
IDS = ("G3",)
TAKES = "outing"


@dataclass(frozen=True, eq=False)
class _Asked:
    """What is asked of one worker and what moves: of one ride, or of all motions without them."""

    worker: str
    mover: str
    deeds: tuple[Deed, ...]
    condition: Condition
    ride: Ride | None = None
    is_told: bool = True
    """Whether it is told when all is right; what no written order brings up is not."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each ride of a worker, and for each that a motion may pull at."""
    if not outing.is_declared:
        return []
    asked = [*_of_cranes(outing), *_of_payloads(outing)]
    rules = [
        Rule(f"anchor of {one.worker}", one.condition, At(deed.name))
        for one in asked
        for deed in one.deeds
    ]
    judged = iter(judge(outing, rules))
    found = _unrated(outing)
    for one in asked:
        worst = _worst([next(judged) for _ in one.deeds])
        if not one.is_told and worst.margin == (0.0, 0.0):
            continue
        deed = one.deeds[0] if worst.deed is None else worst.deed
        found.append(_finding(site, outing, one, deed, worst))
    return found


def _of_cranes(outing: Outing) -> Iterator[_Asked]:
    for crane in outing.scene.cranes:
        here, moves = anchors_on(outing, crane), crane_moves(outing, crane)
        rides = [ride for ride in rides_of(outing) if ride.crane == crane]
        for worker in outing.workers:
            lines = lines_for(outing, worker)
            condition = _right(outing, worker, crane)
            mine = [ride for ride in rides if ride.worker == worker]
            for ride in mine if lines else ():
                wears = any(worn(outing, outing.before(deed), worker) for deed in ride.deeds)
                yield _Asked(worker, crane, ride.deeds, condition, ride, wears)
            off = tuple(deed for deed in moves if all(deed not in ride.deeds for ride in mine))
            if off and lines:
                hooks = any(here & set(outing.ever(names.hook(line))) for line in lines)
                # In another order they may be on the tip while it moves.
                rides_ever = tips_of(outing, crane) & set(outing.ever(names.place(worker)))
                if hooks or rides_ever:
                    yield _Asked(worker, crane, off, condition, is_told=hooks)


def _right(outing: Outing, worker: str, crane: str) -> Condition:
    """Return the condition that lines worn on the tip are hooked there, and others are not."""
    on_tip = Among(names.place(worker), tips_of(outing, crane))
    here = anchors_on(outing, crane)
    return All(
        tuple(
            Some(
                (
                    Not(Is(names.reel(line), worker)),
                    All((on_tip, Among(names.hook(line), here))),
                    All((Not(on_tip), Not(Among(names.hook(line), here)))),
                )
            )
            for line in lines_for(outing, worker)
        )
    )


def _of_payloads(outing: Outing) -> Iterator[_Asked]:
    scene = outing.scene
    for payload, crane in product(scene.payloads, ("", *scene.cranes)):
        deeds = tuple(one for one in outing.deeds if _moves(outing, one, payload, crane))
        here = frozenset(n for n, a in scene.anchors.items() if scene.rides_on(a.frame) == payload)
        along = here | (anchors_on(outing, crane) if crane else frozenset())
        for worker in outing.workers if deeds else ():
            lines, place = lines_for(outing, worker), names.place(worker)
            on = frozenset(at for at in outing.ever(place) if is_on(scene, payload, str(at)))
            hooks = any(here & set(outing.ever(names.hook(line))) for line in lines)
            if not lines or not (on or hooks):
                continue
            on_it = Among(place, on)
            condition = All(
                tuple(
                    Some(
                        (
                            Not(Is(names.reel(line), worker)),
                            All((on_it, Among(names.hook(line), along))),
                            All((Not(on_it), Not(Among(names.hook(line), here)))),
                        )
                    )
                    for line in lines
                )
            )
            before = [outing.before(deed) for deed in deeds]
            rides = any(one[place] in on and worn(outing, one, worker) for one in before)
            yield _Asked(worker, payload, deeds, condition, is_told=hooks or rides)


def _moves(outing: Outing, deed: Deed, payload: str, crane: str) -> bool:
    """Return whether a deed moves a payload by a crane, or by none."""
    if not isinstance(deed.action, Moving) or names.pose(payload) not in deed.event.writes:
        return False
    by = crane_of(outing.scene, deed.action) if isinstance(deed.action, MoveCrane) else ""
    return crane == by


def _worst(several: list[Judged]) -> Judged:
    """Return the first that is broken as written, else in another order, else not settled."""
    written = [one for one in several if one.is_broken and not one.elsewhere]
    broken = [one for one in several if one.is_broken]
    doubtful = [one for one in several if one.margin[0] < 0.0]
    return next(iter([*written, *broken, *doubtful, *several]))


def _finding(site: Site, outing: Outing, one: _Asked, deed: Deed, worst: Judged) -> Finding:
    values = outing.before(deed)
    if worst.elsewhere and worst.ruling.values is not None:
        values = worst.ruling.values
    worker, mover = one.worker, one.mover
    lines = worn(outing, values, worker)
    hooks = " and ".join(f"{line} hooked to {values[names.hook(line)]}" for line in lines)
    on = hooks or "no line"
    fix = cause = ""
    if mover in outing.scene.cranes and values[names.place(worker)] in tips_of(outing, mover):
        seen = f"{worker} rides {mover} on {on}"
        broken = f"{seen}, not to an anchor on its tip"
        wrong = held_back(outing, one.ride, deed) if one.ride is not None else ()
        if one.ride is not None and wrong:
            fix = _swap(site, outing, one.ride, deed, wrong)
            cause = ridden(one.ride, wrong[0], values)
    elif is_on(outing.scene, mover, str(values[names.place(worker)])):
        seen = f"{worker} stands on {mover}, which moves, on {on}"
        broken = f"{seen}, not to an anchor that moves with it"
        fix = f"Change the line of {worker} to an anchor on {mover} before it moves."
    else:
        seen = f"{mover} moves while {worker} is on {on}"
        broken = f"{seen}, which moves as well"
        fix = f"Change the line of {worker} before {mover} moves."
    return ruled(
        NAME,
        worst,
        (worker, mover, *lines),
        seen,
        broken,
        step=deed.step.name,
        fix=fix,
        cause=cause,
    )


def _swap(site: Site, outing: Outing, ride: Ride, deed: Deed, wrong: tuple[str, ...]) -> str:
    """Name the line to change to on the crane's tip, and where to park the one taken off."""
    values, old = outing.before(deed), " and ".join(wrong)
    here = sorted(anchors_on(outing, ride.crane))
    if not here:
        return f"Give {ride.crane} an anchor on its tip with a line of its own."
    step = ride.boards.step.name if ride.boards is not None else deed.step.name
    spare = [
        (line, str(values[names.hook(line)]))
        for line in outing.scene.tethers
        if values.get(names.hook(line)) in here and line not in wrong
    ]
    new, anchor = spare[0] if spare else ("a line", here[0])
    park = _nearest(site, outing, ride)
    return (
        f"In step '{step}' attach {new} on {anchor}, then release {old} and park "
        f"{'its reel' if len(wrong) == 1 else 'their reels'} at {park}."
    )


def _nearest(site: Site, outing: Outing, ride: Ride) -> str:
    """Return the anchor of the structure that is nearest to where somebody boards."""
    deed = ride.deeds[0]
    at = outing.before(deed)[names.place(ride.worker)]
    here = ends_of(site, str(at))
    scene = outing.scene
    fixed = [n for n, one in scene.anchors.items() if not one.on and not scene.rides_on(one.frame)]
    if here is None or not fixed:
        return "an anchor at hand"

    def far(name: str) -> float:
        there = ends_of(site, name)
        return float("inf") if there is None else float(np.linalg.norm(there[0] - here[0]))

    return min(fixed, key=far)


def _unrated(outing: Outing) -> list[Finding]:
    """Return what cannot be asked of anchors that are used and give no rating."""
    lines = outing.scene.tethers
    used = {str(one) for line in lines for one in outing.ever(names.hook(line)) if one}
    unrated = [n for n, one in outing.scene.anchors.items() if n in used and one.rating is None]
    if not unrated or not outing.steps:
        return []
    verb = "gives" if len(unrated) == 1 else "give"
    because = f"{', '.join(unrated)} {verb} no rating: whether a line may be hooked there is open."
    return [unasked(NAME, outing.steps[0].name, tuple(unrated), because)]
