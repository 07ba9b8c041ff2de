"""A procedure step by step: who is where, what moves, as the picture and the ledger show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from reach.finding import Finding
from reach.model.handling import Egress
from reach.model.procedure import Ingress, Step
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
        people, around = self._people(number)
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

    def _people(self, number: int) -> tuple[dict[str, Situation], Surroundings]:
        """Return who stands where while a step is done, and payloads as they are then.

        Who got out of a restraint, went along rails or was carried off in an earlier step is left
        out until a step says anew where they stand.
        """
        people: dict[str, Situation] = {}
        around, outside = self.around, set[str]()
        for k, step in enumerate(self.steps[: number + 1]):
            if step.where is not None or any(isinstance(one, Ingress) for one in step.actions):
                outside.discard(step.lane)
            for one in self._in_step.get(step.name, ()):
                around = one.surroundings
                if _stands(one) and one.worker not in outside:
                    people[one.worker] = one
                elif one.passage is not None:
                    people.pop(one.worker, None)
            if k < number:
                if any(isinstance(one, Egress) for one in step.actions):
                    outside.add(step.lane)
                for worker in (*outside, *self._riders.get(step.name, ())):
                    people.pop(worker, None)
        return people, around

    @cached_property
    def _riders(self) -> dict[str, set[str]]:
        found: dict[str, set[str]] = {}
        for one in self.site.carriages:
            if one.rider is not None:
                found.setdefault(one.step, set()).add(one.rider.worker)
        return found

    @cached_property
    def _in_step(self) -> dict[str, list[Situation]]:
        found: dict[str, list[Situation]] = {}
        for one in self.situations:
            found.setdefault(one.step, []).append(one)
        return found


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
