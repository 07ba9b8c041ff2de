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

from reach.checks.wording import about, attempts, blank, drives, head_mark, standing, who
from reach.finding import Finding
from reach.model.procedure import Drive
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import Attempt
from reach.worker.chain import evaluate, work_arrays
from reach.worker.figure import GRIP, Grip
from reach.worker.two_hands import find_two_handed

NAME = "two-handed"
IDS = ("A3",)


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
            return _short(situation, f"{because}: {text_of(short, 'm')} short at least.", short)
        return _unsettled(situation, f"{because} in the postures tried.")
    for attempt in reaching:
        if _both(situation, attempt):
            other = "left" if attempt.hand == "right" else "right"
            because = (
                f"{who(situation)} {standing(situation)} holds the tool on {situation.head.name} "
                f"with the {attempt.hand} hand and its second grip with the {other} one."
            )
            return Finding(
                NAME,
                situation.step,
                about(situation),
                situation.case,
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
    """Try the second grip where the tool is in the postures found for the leading hand."""
    assert situation.held is not None
    second = np.asarray(situation.held.record.second_grip, float)
    figure, target = attempt.figure, attempt.target
    known = [attempt.envelope[1]]
    if attempt.witness is not None:
        known.insert(0, attempt.witness.posture)
    for posture in known:
        work, out = work_arrays()
        evaluate(figure.p, target.tip, target.direction, posture, work, out)
        grip = work[10] + figure.p[GRIP] * work[3:6, 0]
        other = grip + work[3:6] @ second
        found = find_two_handed(
            figure,
            Grip(tolerance=figure.grip.tolerance),
            target.tip,
            target.direction,
            other,
        )
        if found.violation[0] <= 0.0:
            return True
    return False


def _short(situation: Situation, because: str, short: float) -> Finding:
    return Finding(
        NAME,
        situation.step,
        about(situation),
        situation.case,
        because,
        -math.inf,
        -short,
        "m",
        marks=(head_mark(situation, True),),
    )


def _unsettled(situation: Situation, because: str) -> Finding:
    return Finding(
        NAME, situation.step, about(situation), situation.case, because, -math.inf, math.inf, "m"
    )

