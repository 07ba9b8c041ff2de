"""Question. Where a step needs both hands, do both reach their grips from one trunk posture?

Margin. Metres: at least 0 when a posture of both arms is found; when one hand is proved short,
so many metres at least.

Limit. Joint ranges of the suit file; the second hand holds the tool at its ``second_grip``.

Blind spots. By joint limits alone: clearance and sight of the two-handed posture are not looked
at, the other checks judge the leading hand alone. The second hand may hold on any way round.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import (
    at_least,
    attempts,
    blank,
    drives,
    finding_on,
    head_mark,
    standing,
    who,
)
from reach.finding import Finding
from reach.geometry import transform_points
from reach.model.procedure import Drive
from reach.site import Site, Situation
from reach.work import Attempt
from reach.worker.chain import N_FREEDOMS, ROLL, SWIVEL, evaluate, work_arrays
from reach.worker.figure import GRIP, Figure, Grip, figure_of, mirrored
from reach.worker.margin import sphere_points
from reach.worker.two_hands import find_two_handed, mirror_trunk

Array = NDArray[np.float64]

NAME = "two-handed"
IDS = ("A3",)

ROUNDS = 4
"""Turns of the tool tried from each posture."""

N_WAYS = 60
TURNS = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
"""How the second hand is tried: directions of the forearm, rolls and elbow swivels."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each two-handed action and each body."""
    return [
        _finding(site, situation)
        for situation in drives(situations)
        if isinstance(situation.action, Drive) and situation.action.hand == "both"
    ]


def _finding(site: Site, situation: Situation) -> Finding:
    assert situation.held is not None
    assert situation.head is not None
    missing = blank(situation)
    if missing is None and situation.held.record.second_grip is None:
        missing = f"{situation.held.title} gives no second grip to hold."
    if missing:
        return _unsettled(situation, missing)
    tried = attempts(site, situation)
    reaching = [attempt for attempt in tried if attempt.in_envelope]
    if not reaching:
        short = min(attempt.short for attempt in tried)
        because = (
            f"Neither hand of {who(situation)} {standing(situation)} brings the tool onto "
            f"{situation.head.name}"
        )
        if short > 0.0:
            return _short(situation, f"{because}: {at_least(short)} short at least.", short)
        return _unsettled(situation, f"{because} in the postures tried.")
    for attempt in reaching:
        if _both(situation, attempt):
            other = "left" if attempt.hand == "right" else "right"
            because = (
                f"{who(situation)} {standing(situation)} holds the tool on {situation.head.name} "
                f"with the {attempt.hand} hand and its second grip with the {other} one "
                "(joint limits)."
            )
            return finding_on(
                NAME,
                situation,
                because,
                0.0,
                math.inf,
                "m",
                marks=(head_mark(situation, False),),
                numbers={"leading hand": attempt.hand},
            )
    return _unsettled(
        situation,
        f"No trunk posture of {who(situation)} {standing(situation)} was found from which both "
        f"hands hold the tool on {situation.head.name}, and none is excluded.",
    )


def _both(situation: Situation, attempt: Attempt) -> bool:
    """Try postures of the leading hand until the other hand reaches the second grip from one.

    Where the second grip is hangs on how the tool is turned: it is taken from each posture, and
    a pair found for one turn of the tool is a posture to try at its own.
    """
    assert situation.held is not None
    second = np.asarray(situation.held.record.second_grip, float)
    figure, target = attempt.figure, attempt.target
    bare = Grip(tolerance=figure.grip.tolerance)
    known = [attempt.envelope[1]]
    if attempt.witness is not None:
        known.insert(0, attempt.witness.posture)
    for posture in known:
        for _ in range(ROUNDS):
            other = second_grip_of(attempt, posture, second)
            if _other_hand(figure_of(figure.body, figure.suit, bare), posture, other):
                return True
            pair = find_two_handed(figure, bare, target.tip, target.direction, other)
            if pair.violation[0] > 0.0:
                break
            posture = pair.right[0]
    return False


def second_grip_of(attempt: Attempt, posture: Array, second: Array) -> Array:
    """Return where the second grip is in a posture of the leading hand, m, boot frame."""
    p, target = attempt.figure.p, attempt.target
    work, out = work_arrays()
    evaluate(p, target.tip, target.direction, posture, work, out)
    return np.asarray(work[10] + p[GRIP] * work[3:6, 0] + work[3:6] @ second, np.float64)


def other_glove(situation: Situation, attempt: Attempt) -> tuple[Array, float] | None:
    """Return a ball (world, m) that holds the glove at the second grip, any way round.

    Centre and radius; None where one hand is enough. Without a posture the tool is on the
    fastener all the same, turned any way.
    """
    head, held, action = situation.head, situation.held, situation.action
    if not isinstance(action, Drive) or action.hand != "both" or held is None or head is None:
        return None
    if held.record.second_grip is None:
        return None
    second = np.asarray(held.record.second_grip, float)
    around = situation.suit.hand_radius + situation.body.links.grip
    if attempt.witness is None:
        return head.point, around + float(np.linalg.norm(np.asarray(held.tip, float) - second))
    there = second_grip_of(attempt, attempt.witness.posture, second)
    return transform_points(attempt.world_from_boots, there[None])[0], around


def _other_hand(figure: Figure, posture: Array, grip: Array) -> bool:
    """Return whether the other hand reaches a grip, any way round, from the trunk of a posture."""
    work, out = work_arrays()
    other, tip = np.zeros(N_FREEDOMS), mirrored(grip)
    mirror_trunk(posture, other)
    for direction in sphere_points(N_WAYS):
        for roll in TURNS:
            for swivel in TURNS:
                other[ROLL], other[SWIVEL] = roll, swivel
                if evaluate(figure.p, tip, direction, other, work, out) <= 0.0:
                    return True
    return False


def _short(situation: Situation, because: str, short: float) -> Finding:
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        -short,
        "m",
        marks=(head_mark(situation, True),),
    )


def _unsettled(situation: Situation, because: str) -> Finding:
    return finding_on(NAME, situation, because, -math.inf, math.inf, "m")
