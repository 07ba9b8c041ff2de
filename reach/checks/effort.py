"""Question. Are the arm and the hand strong enough for the push and the torque, held as found?

Margin. Share of strength: the limit less the largest share that shoulder, elbow, wrist or hand
is asked for. A held force counts against the sustained limit; the peak (the push home, and the
torque with its breakaway) against the peak limit. The low end is that of the posture found, or
of an easier one near it; the high end what no posture can do with less: the hand passes on every
force, and a torque that goes into the hand is felt in full at every joint. Of two hands one
takes half the push or more; they may turn by opposite forces, so no torque is certain at a joint.

Limit. ``effort_sustained`` and ``effort_peak`` of the scene's limits, the strengths there of
the worker's sex, times ``grip_share`` of the suit for the hand. Strengths are one number a
joint, whichever way it is loaded, and not scaled by body. Of the torque of a tool the hand feels
the share ``felt``; ratchets and wrenches are turned by a force at the hand.

Blind spots. Static and weightless: the mass of arm and tool, the stiffness of the suit's joints,
fatigue and friction of the glove are left out. Where both hands work the low end is that of the
leading one doing it alone. Another posture may ask for less, so too much in the posture found
stays open unless no posture can do with less.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import (
    SURE,
    blank,
    drives,
    finding_on,
    not_asked,
    point,
    ranked_attempts,
    standing,
    who,
)
from reach.easing import Points, arm_points, easier_posture
from reach.finding import Finding, Limit, Mark
from reach.geometry import transform_points
from reach.loading import Load, grips_of, is_two_handed, lever_at, lever_of, load_of
from reach.site import Site, Situation
from reach.straining import JOINTS, Strain, least_of_two, least_strain, shares, strain_of
from reach.work import Attempt
from reach.worker.posing import CLEAR, SEEN

Array = NDArray[np.float64]

NAME = "effort"
IDS = ("A4",)

DIGITS = 12
"""Shares are told to so many decimals, so that what is equal to its limit passes."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    head, held = situation.head, situation.held
    assert head is not None
    assert held is not None
    load = load_of(situation)
    if not load.is_any:
        return not_asked(NAME, situation, f"Nothing says how hard {head.name} is worked.")
    load = replace(load, torque=load.torque * held.record.felt)
    lever = lever_of(held)
    least = _least(situation, load, lever)
    least_held = _least(situation, _held_alone(load), lever)
    room = _room(site, situation, least, least_held)
    worst = min(room, key=lambda name: room[name])
    if room[worst] < -SURE:
        joint, cause = worst
        because = (
            f"Whatever the posture, work on {head.name} asks the {joint} of {who(situation)} for "
            f"{_share(site, situation, least if cause == 'peak' else least_held, joint):.0%} of "
            f"its strength; {_limit(site, cause).value:.0%} is the most ({cause})."
        )
        return _answer(site, situation, because, -math.inf, room[worst], worst)
    missing = blank(situation)
    if missing:
        return not_asked(NAME, situation, missing)
    found = _easiest(site, situation, load, lever)
    if found is None:
        return not_asked(NAME, situation, f"No clear posture is known that reaches {head.name}.")
    low, limb, attempt, points, numbers = found
    joint, cause = limb
    because = (
        f"{who(situation)} {standing(situation)} works on {head.name} with the {attempt.hand} "
        f"hand: of its strength the {joint} gives {_limit(site, cause).value - low:.0%} in the "
        f"posture found ({cause})."
    )
    marks = (_mark(attempt, points, low < 0.0),)
    high = max(room[worst], low) + SURE
    return _answer(site, situation, because, low, high, limb, marks, numbers)


def _answer(
    site: Site,
    situation: Situation,
    because: str,
    low: float,
    high: float,
    limb: tuple[str, str],
    marks: tuple[Mark, ...] = (),
    numbers: dict[str, object] | None = None,
) -> Finding:
    joint, cause = limb
    limits = (_limit(site, cause), site.limit(f"{joint}_strength_{situation.body.sex}"))
    fix = ""
    if low < 0.0:
        fix = "Push and turn less, use a tool that takes the torque, or a setting that is nearer."
    return finding_on(
        NAME, situation, because, low, high, "", limits, fix, marks, numbers=numbers or {}
    )


def _least(situation: Situation, load: Load, lever: float) -> Strain:
    """Return what no posture can do with less than, with one hand or two."""
    if not is_two_handed(situation):
        return least_strain(load, lever)
    assert situation.held is not None
    grips = grips_of(situation)
    by_force = lever > 0.0 and len(grips) == 2
    levers = tuple(lever_at(situation.held, grip) for grip in grips) if by_force else ()
    return least_of_two(load, levers)


def _held_alone(load: Load) -> Load:
    """Return the load that lasts: the force that is held, no torque."""
    return Load(load.held, load.held, 0.0)


def _limit(site: Site, cause: str) -> Limit:
    return site.limit(f"effort_{cause}")


def _strength(site: Site, situation: Situation) -> Strain:
    sex = situation.body.sex
    joints = {joint: site.limit(f"{joint}_strength_{sex}").value for joint in JOINTS}
    hand = site.limit(f"hand_strength_{sex}").value * situation.suit.grip_share
    return Strain(hand=hand, **joints)


def _share(site: Site, situation: Situation, strain: Strain, joint: str) -> float:
    return shares(strain, _strength(site, situation))[joint]


def _room(
    site: Site, situation: Situation, peak: Strain, held: Strain
) -> dict[tuple[str, str], float]:
    """Return what is left of the limit, by joint and cause."""
    strength = _strength(site, situation)
    return {
        (joint, cause): round(_limit(site, cause).value - share, DIGITS)
        for cause, strain in (("peak", peak), ("sustained", held))
        if cause == "peak" or strain.hand > 0.0
        for joint, share in shares(strain, strength).items()
    }


def _easiest(
    site: Site, situation: Situation, load: Load, lever: float
) -> tuple[float, tuple[str, str], Attempt, Points, dict[str, object]] | None:
    """Return what is left in the easiest posture known: margin, limb, hand, joints, numbers."""
    best = None
    alone = _held_alone(load)
    for attempt in ranked_attempts(site, situation):
        if attempt.short > 0.0 or attempt.clear_only is None:
            continue
        tip, direction = attempt.target.tip, attempt.target.direction

        def room_of(
            points: Points, tip: Array = tip, direction: Array = direction
        ) -> dict[tuple[str, str], float]:
            peak = strain_of(points, tip, direction, load, lever)
            return _room(site, situation, peak, strain_of(points, tip, direction, alone, lever))

        wanted = CLEAR | (SEEN if attempt.witness is not None else 0)
        x = easier_posture(
            attempt, attempt.clear_only.posture, wanted, lambda at: min(room_of(at).values())
        )
        points = arm_points(attempt, x)
        peak, room = strain_of(points, tip, direction, load, lever), room_of(points)
        limb = min(room, key=lambda name: room[name])
        if best is None or room[limb] > best[0]:
            numbers: dict[str, object] = {
                f"{name} {'force' if name == 'hand' else 'moment'}": getattr(peak, name)
                for name in (*JOINTS, "hand")
            }
            best = (room[limb], limb, attempt, points, {"hand": attempt.hand, **numbers})
    return best


def _mark(attempt: Attempt, points: Points, bad: bool) -> Mark:
    pose = attempt.world_from_boots
    ends = transform_points(pose, [points["shoulder"], points["grip"]])
    return Mark("segment", (point(ends[0]), point(ends[1])), "shoulder to grip", bad=bad)
