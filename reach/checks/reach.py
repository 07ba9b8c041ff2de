"""Question. Can the worker, held as the step says, bring the tool onto the fastener, on its axis?

Three tiers are looked at and each is reported as what it is: the outer bound (how far any
trunk and arm posture can bring the wrist at all), the envelope (joint limits, no obstacles)
and the posture (joint limits, tool on the axis within tolerance, body and tool clear of
everything but the intended contact, fastener in view).

Margin. Metres the fastener could move in any direction and still be reached with the same
tool direction, measured in 60 directions outward in shells, less what is asked; its error is
carried. When out of reach, at least so many metres beyond the bound.

Limit. ``reach_margin`` and ``axis_tolerance`` of the scene's limits, joint ranges of the
suit file. A pass needs a witness posture, a fail a proof: the outer bound, or a bound that
refutes every cell of trunk postures. Everything else stays open.

Blind spots. Legs are straight at hip and knee, the feet do not shift in the restraint, arms
do not deform the suit, strength and fatigue are not looked at, handrails and boots are not
obstacles, and a direction between the 60 probed ones can be worse than the error says.
"""

from __future__ import annotations

import math

from reach.checks.fixes import reach_fix
from reach.checks.wording import (
    SURE,
    at_least,
    attempts,
    best_attempt,
    blank,
    drives,
    enough,
    finding_on,
    head_mark,
    point,
    ranked_attempts,
    refuted_by_all,
    standing,
    who,
)
from reach.finding import Finding, Mark
from reach.geometry import transform_points
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import ARM, ROOM, SIGHT, Attempt
from reach.worker.chain import IMPOSSIBLE
from reach.worker.figure import R_MAX
from reach.worker.posing import Held as Posed
from reach.worker.posture import posture_of

NAME = "reach"
IDS = ("A1",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    missing = blank(situation)
    if missing:
        return _open(situation, missing, math.inf)
    attempt = best_attempt(site, situation)
    if attempt.short > 0.0:
        return _beyond(site, situation, attempt)
    if attempt.witness is not None:
        return _reached(site, situation)
    if attempt.in_envelope:
        return _blocked(site, situation, attempt)
    return _unfound(situation, attempt)


def _numbers(attempt: Attempt) -> dict[str, object]:
    tiers = {
        "outer bound": "out of reach" if attempt.short > 0.0 else "not excluded",
        "envelope": "found" if attempt.in_envelope else "not found",
        "posture": "found" if attempt.in_envelope and attempt.witness else "not found",
    }
    return {"hand": attempt.hand, "tiers": tiers}


def _beyond(site: Site, situation: Situation, attempt: Attempt) -> Finding:
    limit = site.limit("reach_margin")
    short = attempt.short
    held = situation.held
    assert situation.head is not None
    assert held is not None
    because = (
        f"{who(situation)} {standing(situation)} cannot bring {held.title} onto "
        f"{situation.head.name}: whatever the posture, the {attempt.hand} wrist stays at least "
        f"{at_least(short)} short (outer bound)."
    )
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        -short - limit.value,
        "m",
        (limit, site.limit("axis_tolerance")),
        reach_fix(site, situation, short),
        (head_mark(situation, True), *_spheres(attempt)),
        _numbers(attempt),
    )


def _spheres(attempt: Attempt) -> tuple[Mark, ...]:
    """Return the two reach spheres, one a shoulder at rest, as marks."""
    rest = posture_of(attempt.figure, [0.0] * 9, attempt.target.tip, attempt.target.direction)
    pose = attempt.world_from_boots
    radius = float(attempt.figure.p[R_MAX])
    marks = []
    for label, centre in (("working arm", rest.shoulder), ("idle arm", rest.idle_shoulder)):
        world = transform_points(pose, centre[None])[0]
        marks.append(Mark("sphere", (point(world),), f"reach of the {label} at rest", radius))
    return tuple(marks)


def _reached(site: Site, situation: Situation) -> Finding:
    limit = site.limit("reach_margin")
    assert situation.head is not None
    attempt, low, high = _best_margin(site, situation, limit.value)
    margin = attempt.margin
    because = (
        f"{who(situation)} {standing(situation)} reaches {situation.head.name} with the "
        f"{attempt.hand} hand, clear and in view; by joint limits {situation.head.name} could lie "
        f"{text_of(margin.radius, 'm')} off any way (60 directions) and still be reached."
    )
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (limit, site.limit("axis_tolerance")),
        "" if low >= 0.0 else reach_fix(site, situation, -low),
        (head_mark(situation, False),),
        {
            **_numbers(attempt),
            "margin radius": margin.radius,
            "margin error": margin.within,
            "margin ceiling": margin.ceiling,
            "directions": 60,
            "joint room": -attempt.witness.violation if attempt.witness else math.nan,
        },
    )


def _best_margin(site: Site, situation: Situation, asked: float) -> tuple[Attempt, float, float]:
    """Return the hand with the largest margin, and [low, high] over all hands, m.

    The first hand that passes is enough; hands that do not pass speak together.
    """
    best: tuple[float, Attempt] | None = None
    high = -math.inf
    for attempt in ranked_attempts(site, situation):
        if attempt.short > 0.0:
            continue
        if attempt.witness is None:
            high = math.inf
            continue
        margin = attempt.margin
        low = max(0.0, margin.radius - margin.within) - asked
        high = max(high, max(margin.radius + margin.within, margin.ceiling) - asked)
        if best is None or low > best[0]:
            best = (low, attempt)
        if low >= 0.0:
            break
    assert best is not None
    return best[1], best[0], high


def _blocked(site: Site, situation: Situation, attempt: Attempt) -> Finding:
    limit = site.limit("reach_margin")
    assert situation.head is not None
    refuted = refuted_by_all(site, situation, ARM | ROOM | SIGHT)
    base = f"{who(situation)} {standing(situation)}"
    numbers = {**_numbers(attempt), "cells": refuted.n_cells, "cells refuted by": refuted.counts}
    if refuted.proved:
        because = (
            f"{base} could bring the tool onto {situation.head.name}, but no posture is clear and "
            f"sees it: every one of {refuted.n_cells} cells of trunk postures is refuted, "
            f"most because {refuted.reason}."
        )
        return finding_on(
            NAME,
            situation,
            because,
            -math.inf,
            -SURE,
            "m",
            (limit,),
            reach_fix(site, situation, 0.0),
            (head_mark(situation, True),),
            numbers,
        )
    miss = attempt.nearest_miss
    because = (
        f"{base} could bring the tool onto {situation.head.name}, but no posture was found that is "
        f"also clear and sees it; the nearest one lacks {lacking(miss)}."
    )
    tried = [one for one in attempts(site, situation) if one.short <= 0.0]
    high = max(one.margin.ceiling if one.in_envelope else math.inf for one in tried)
    return _open(situation, because, high - limit.value, numbers)


def lacking(miss: Posed) -> str:
    """Return what a posture lacks, in words."""
    if miss.violation >= IMPOSSIBLE:
        return "more than can be told: none comes near"
    parts = []
    for room, words in ((miss.body_room, "of body"), (miss.arm_room, "of arm and tool")):
        if room < 0.0:
            parts.append(f"{enough(-room)} of clearance {words}")
    if miss.own_room < 0.0:
        parts.append("room between the tool and the worker's own body")
    if miss.violation > 0.0:
        parts.append(f"{text_of(miss.violation, 'rad')} of joint range")
    return ", ".join(parts) or "sight of the head"


def _unfound(situation: Situation, attempt: Attempt) -> Finding:
    assert situation.head is not None
    beyond = attempt.envelope[0]
    nearest = "none comes near"
    if beyond < IMPOSSIBLE:
        nearest = f"the nearest one is {text_of(beyond, 'rad')} beyond a joint limit"
    because = (
        f"No posture of {who(situation)} {standing(situation)} was found that brings the tool onto "
        f"{situation.head.name}, and the outer bound does not exclude one; {nearest}."
    )
    return _open(situation, because, math.inf, _numbers(attempt))


def _open(
    situation: Situation, because: str, high: float, numbers: dict[str, object] | None = None
) -> Finding:
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        max(high, 0.0),
        "m",
        numbers=numbers or {},
    )
