"""Which moves are drawn, and what is known of each: way, tube, safety line, what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.finding import RANK, Finding, Verdict, worst_of
from reach.lines.taut import Taut
from reach.pictures.worksite import elsewhere, groups_of, stem_of
from reach.rails.proof import NoRoute
from reach.rails.route import Route
from reach.run import Outcome
from reach.site import Site, Situation
from reach.travel.corridor import Corridor
from reach.travel.led import Led, led_to, tight_of
from reach.travel.path import path_of
from reach.travel.sides import corridor_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Move:
    """One move of one worker, in the body for which it comes out worst.

    Attributes
    ----------
    number : int
        From 1, in the order of the procedure, worksites counted too.
    site : Site
    situation : Situation
    findings : tuple of Finding
        What was found about it, worst verdict first.
    cases : tuple of str
        All bodies that it was run for.
    elsewhere : tuple of Finding
        What does not pass of the same step and is about something that is not drawn.
    """

    number: int
    site: Site
    situation: Situation
    findings: tuple[Finding, ...]
    cases: tuple[str, ...]
    elsewhere: tuple[Finding, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst verdict; not asked when nothing was judged."""
        return worst_of(self.findings)

    @property
    def stem(self) -> str:
        """Its file name without ending."""
        return stem_of(self.number, self.situation.step, "translate", self.situation.at)

    @cached_property
    def route(self) -> Route | None:
        """The way; None where there is none."""
        return path_of(self.site, self.situation).route

    @cached_property
    def none(self) -> NoRoute | None:
        """Why there is no way."""
        return path_of(self.site, self.situation).none

    @cached_property
    def corridor(self) -> Corridor | None:
        """The tube with the sides that are checked."""
        return corridor_of(self.site, self.situation)

    @cached_property
    def led(self) -> Led | None:
        """The safety line, led to that end of the way to which it is longer, as it is checked.

        None where none is worn or no rails lead from its anchor.
        """
        one, passage = self.situation, self.situation.passage
        if one.line is None or passage is None or self.route is None:
            return None
        both = [led_to(self.site, one, one.line, at) for at in (passage.start, passage.stop)]
        known = [led for led in both if led is not None]
        return max(known, key=lambda led: led.route.length, default=None)

    @cached_property
    def tight(self) -> Taut | None:
        """The safety line pulled tight; None where it is led through structure."""
        if self.led is None:
            return None
        try:
            return tight_of(self.site, self.situation, self.led)
        except ValueError:
            return None


def moves_of(outcome: Outcome) -> tuple[Move, ...]:
    """Return the moves of a run, in order."""
    return tuple(
        _worst(outcome.site, number, group, outcome.findings)
        for number, group in groups_of(outcome)
        if group[0].passage is not None
    )


def _worst(
    site: Site, number: int, group: Sequence[Situation], findings: Sequence[Finding]
) -> Move:
    cases = tuple(situation.case for situation in group)
    moves = [
        Move(number, site, situation, mine, cases, elsewhere(findings, situation.step, mine))
        for situation in group
        for mine in [_about(situation, findings)]
    ]
    return min(moves, key=lambda move: (RANK[move.verdict], _least(move)))


def _least(move: Move) -> float:
    return min((f.high for f in move.findings if f.verdict is move.verdict), default=0.0)


def _about(situation: Situation, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return what was found about a move in its body, or for all bodies at once."""
    checks: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.step == situation.step and situation.worker in finding.about:
            checks.setdefault(finding.check, []).append(finding)
    mine: list[Finding] = []
    for answers in checks.values():
        own = [finding for finding in answers if finding.case == situation.case]
        mine += own or [f for f in answers if f.case == answers[0].case]
    return tuple(sorted(mine, key=lambda finding: RANK[finding.verdict]))
