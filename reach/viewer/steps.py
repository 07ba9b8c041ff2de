"""A procedure step by step: who is where, what moves, as the picture and the ledger show it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from reach.finding import Finding
from reach.model.procedure import Step
from reach.payload.planned import settled
from reach.pictures.carries import Carry
from reach.pictures.moves import Move
from reach.site import Site, Situation, Surroundings

FRAMES = 12
"""Pictures that a motion is played in."""


@dataclass(frozen=True, eq=False)
class Moment:
    """One step as it is drawn.

    Attributes
    ----------
    number : int
        From 0, in the order of the procedure.
    step : Step
    site : Site
    around : Surroundings
        Payloads as they are when the step begins.
    people : dict of worker -> Situation
        Everyone whose boots are placed, as steps are written.
    busy : tuple of str
        Those who do something in this step.
    moves : tuple of Move
        Ways along rails that it takes.
    carries : tuple of Carry
        Motions of payloads in it.
    """

    number: int
    step: Step
    site: Site
    around: Surroundings
    people: dict[str, Situation]
    busy: tuple[str, ...]
    moves: tuple[Move, ...]
    carries: tuple[Carry, ...]

    @property
    def n_frames(self) -> int:
        """Pictures that it is played in: one, or some more for a motion."""
        return FRAMES if self.carries else 1

    @cached_property
    def shown_around(self) -> Surroundings:
        """What stands while something moves: everything else."""
        return self.carries[0].around if self.carries else self.around

    def place(self, share: float) -> float:
        """Return the place of its motion's way after a share of its time, as its track counts."""
        carry = self.carries[0]
        ends = np.concatenate([[0.0], np.asarray(carry.ends, float)])
        return float(np.interp(share, ends, np.arange(len(ends), dtype=float)))


class Steps:
    """The steps of one version of a procedure.

    Parameters
    ----------
    site, situations : Site, sequence of Situation
        As `reach.situations.resolve` gives them, ways of payloads found.
    steps : sequence of Step
    around : Surroundings
        Before anything is known of any step.
    """

    def __init__(
        self,
        site: Site,
        situations: Sequence[Situation],
        steps: Sequence[Step],
        around: Surroundings,
    ) -> None:
        self.site, self.situations, self.steps = site, tuple(situations), tuple(steps)
        self.around = around
        self.findings: dict[str, list[Finding]] = {}
        self.is_checked = False
        self._moments: dict[int, Moment] = {}

    def take(self, findings: Sequence[Finding]) -> None:
        """Take in what the checks found."""
        self.findings, self.is_checked = {}, True
        for one in findings:
            self.findings.setdefault(one.step, []).append(one)

    def number(self, name: str) -> int:
        """Return the number of a step by name; 0 for an unknown one."""
        return next((k for k, step in enumerate(self.steps) if step.name == name), 0)

    def at(self, number: int) -> Moment:
        """Return a step as it is drawn."""
        number = min(max(number, 0), len(self.steps) - 1)
        if number not in self._moments:
            self._moments[number] = self._moment(number)
        return self._moments[number]

    def worksite(self, name: str) -> Situation | None:
        """Return what is turned in a step, else where somebody stands in it."""
        mine = [one for one in self.situations if one.step == name and _stands(one)]
        return next((one for one in mine if one.head is not None), next(iter(mine), None))

    def _moment(self, number: int) -> Moment:
        step = self.steps[number]
        people: dict[str, Situation] = {}
        around = self.around
        for one in self._until(number):
            around = one.surroundings
            if _stands(one):
                people[one.worker] = one
            elif one.passage is not None:
                people.pop(one.worker, None)
        mine = [one for one in self.situations if one.step == step.name]
        moved = [one for one in self.site.carriages if one.step == step.name]
        for carriage in moved:
            around = carriage.surroundings
        ways = [settled(self.site, one)[0] for one in moved if one.payload]
        carries = tuple(
            Carry(k, self.site, one, (), (one.case,))
            for k, one in enumerate(ways)
            if not one.is_blank
        )
        moves = tuple(
            Move(k, self.site, one, (), (one.case,))
            for k, one in enumerate(mine)
            if one.passage is not None
        )
        busy = tuple(dict.fromkeys(one.worker for one in mine))
        return Moment(number, step, self.site, around, people, busy, moves, carries)

    def _until(self, number: int) -> Iterator[Situation]:
        """Yield situations up to the end of a step; of one step and worker the telling one last."""
        names = {step.name: k for k, step in enumerate(self.steps)}
        for one in self.situations:
            if names.get(one.step, number + 1) <= number:
                yield one


def _stands(situation: Situation) -> bool:
    place = situation.place
    return place is not None and place.world_from_boots is not None and situation.passage is None


def action_words(step: Step) -> list[str]:
    """Return what is done in a step, an action a line."""
    return [_said(action) for action in step.actions] or ["nothing is asked"]


def _said(action: Any) -> str:
    words = [action.do]
    for name in ("fastener", "item", "items", "what", "payload", "crane", "start", "to", "place",
                 "tool", "bit", "path", "inhibit"):  # fmt: skip
        value = getattr(action, name, None)
        if value:
            said = ", ".join(value) if isinstance(value, tuple | list) else str(value)
            words.append(
                {"start": "from ", "to": "to ", "tool": "with ", "path": "by "}.get(name, "") + said
            )
    return " ".join(words)
