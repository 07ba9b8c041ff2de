"""What the checks on people who hold something share: where the others are, how a hold is told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from reach.checks.wording import blank, point
from reach.finding import Mark
from reach.geometry import transform_points
from reach.grasp import Grasp
from reach.grasping import Grasped, moved_around, without_direction
from reach.kept.noting import altered, asked_whole, step_of
from reach.model.procedure import Align, HandOver, Hold
from reach.site import Carriage, Site, Situation, Surroundings

CLOSE = 1e-9
"""A payload whose pose differs by less (m, and as parts of 1 of its axes) is where it is asked."""


@dataclass(frozen=True, slots=True, eq=False)
class Holding:
    """Somebody who holds something at a moment that a check asks about.

    Attributes
    ----------
    situation : Situation
        Of the one who holds: their place and body, with the surroundings of that moment.
    grasp : Grasp
    when : str
        In words that follow "holds", such as ``"when it is given"``.
    doubt : str
        Why it is not said that they still hold it; empty where they do.
    """

    situation: Situation
    grasp: Grasp
    when: str = ""
    doubt: str = ""


def last_of(site: Site, situation: Situation, worker: str) -> Situation | None:
    """Return another worker's last situation before a step, as steps are written.

    In the same case where that worker is asked in it, with the surroundings of ``situation``;
    what they did there is left out.
    """
    last = _last_before(site, situation, worker)
    if last is None:
        return None
    return altered(
        last,
        step=step_of(situation),
        head=None,
        held=None,
        surroundings=situation.surroundings,
        holds=situation.holds,
    )


@asked_whole
def _last_before(site: Site, situation: Situation, worker: str) -> Situation | None:
    before: list[Situation] = []
    for one in site.asked:
        if one.step == situation.step:
            break
        if one.worker == worker:
            before.append(one)
    return _same_case(situation, before)[-1] if before else None


def _same_case(situation: Situation, some: list[Situation]) -> list[Situation]:
    mine = [one for one in some if one.case == situation.case]
    return mine or some


def with_payload_at(
    site: Site, situation: Situation, around: Surroundings, payload: str, pose: np.ndarray
) -> Situation:
    """Return a situation in some surroundings, a payload in them at a pose (world_from_payload)."""
    now = around.world_from[payload]
    if not np.allclose(now, pose, rtol=0.0, atol=CLOSE):
        around = moved_around(site, around, payload, pose)
    return altered(situation, surroundings=around)


@asked_whole
def alignment_of(site: Site, situation: Situation) -> Carriage | None:
    """Return the motion of an align action, or None."""
    moved = [
        one
        for one in site.carriages
        if one.step == situation.step and isinstance(one.action, Align)
        and one.action == situation.action
    ]  # fmt: skip
    mine = [one for one in moved if one.case == situation.case]
    return next(iter(mine or moved), None)


def holdings(site: Site, situation: Situation) -> Iterator[Holding | str]:
    """Yield everyone who holds something in an action, moment by moment, or why not known."""
    action = situation.action
    if isinstance(action, Hold):
        yield Holding(situation, held_after(site, situation, action))
    elif isinstance(action, HandOver):
        yield from _given(site, situation, action)
    elif isinstance(action, Align):
        yield from _aligned(site, situation)


def held_after(site: Site, situation: Situation, action: Hold) -> Grasp:
    """Return what both hands of a worker are on once they hold what an action says too."""
    more = Grasp.of(site.scene, action.grips)
    before = situation.holds.get(situation.worker)
    return more if before is None else before.and_then(more)


def _given(site: Site, situation: Situation, action: HandOver) -> Iterator[Holding | str]:
    more = Grasp.of(site.scene, action.grips)
    given = situation.holds.get(situation.worker)
    if given is None:
        yield f"{situation.worker} holds nothing that could be given."
    elif not given.holds(more.on[0]):
        yield f"{situation.worker} does not hold {more.on[0]}, which is to be given."
    else:
        yield Holding(situation, given, "while it is given", _doubt(situation, more.on[0]))
    taker = last_of(site, situation, action.to)
    if taker is None:
        yield f"It is not known where {action.to} is."
        return
    before = situation.holds.get(action.to)
    yield Holding(taker, more if before is None else before.taking(more), "as it is taken")


def _aligned(site: Site, situation: Situation) -> Iterator[Holding | str]:
    moved = alignment_of(site, situation)
    if moved is None:
        return
    for worker, grasp in situation.holds.items():
        own = situation if worker == situation.worker else last_of(site, situation, worker)
        if own is None:
            yield f"It is not known where {worker} is."
            continue
        if not grasp.holds(moved.payload):
            continue
        for name, pose in ((moved.names[0], moved.poses[0]), (moved.names[-1], moved.poses[-1])):
            there = with_payload_at(site, own, moved.surroundings, moved.payload, pose)
            when, doubt = f"with {moved.payload} at {name}", _doubt(own, moved.payload)
            yield Holding(there, grasp, when, doubt)


def _doubt(situation: Situation, payload: str) -> str:
    """Return why it is not said that a worker holds a payload that they had hold of, or nothing."""
    grasp = situation.holds.get(situation.worker)
    if grasp is None or grasp.holds_surely(payload):
        return ""
    return f"{payload} was moved away from {situation.worker}, who may have let go of it"


def why_not(site: Site, holding: Holding) -> str:
    """Return why nothing can be said about a hold, or nothing."""
    situation = holding.situation
    if situation.passage is not None:
        return f"{situation.worker} is on the way to {situation.at} and stands nowhere."
    if not holding.grasp.is_sure:
        grips = " and ".join(holding.grasp.grips)
        return f"{situation.worker} has two hands for {grips}: nothing says which they leave."
    nameless = without_direction(site.scene, holding.grasp)
    if nameless:
        return f"Handhold {nameless} does not say along which direction its bar runs."
    return blank(situation) or ""


def grips_words(grasped: Grasped) -> str:
    """Return which hand is on which grip: ``HB1 with the right hand and HB4 with the left one``."""
    if not grasped.hands:
        return " and ".join(grasped.grips)
    words = [f"{grasped.grips[0]} with the {grasped.hands[0]} hand"]
    words += [
        f"{grip} with the {hand} one"
        for grip, hand in zip(grasped.grips[1:], grasped.hands[1:], strict=True)
    ]
    return " and ".join(words)


def grip_marks(grasped: Grasped, bad: bool) -> tuple[Mark, ...]:
    """Return marks where the grips are held, or where they are."""
    return tuple(
        Mark("point", (point(p),), grip, bad=bad)
        for grip, p in zip(grasped.grips, grasped.points, strict=True)
    )


def hand_marks(situation: Situation, grasped: Grasped) -> tuple[Mark, ...]:
    """Return the hands that hold, as capsules in the world."""
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    pose = situation.place.world_from_boots
    marks = []
    for name, capsule in zip(grasped.names, grasped.capsules, strict=True):
        if name.endswith(" hand"):
            a, b = transform_points(pose, capsule[:6].reshape(2, 3))
            marks.append(Mark("capsule", (point(a), point(b)), name, float(capsule[6])))
    return tuple(marks)
