"""Stays: what one worker does in one place from coming there until leaving it."""

from __future__ import annotations

from dataclasses import dataclass

from reach.dossier.basis import Basis
from reach.ledger import Outing
from reach.model.procedure import Step, Translate
from reach.site import Situation


@dataclass(frozen=True, eq=False, slots=True)
class Stay:
    """One stay of one worker in one place.

    Attributes
    ----------
    worker, place : str
    steps : tuple of Step
        In order; a step in which the worker goes elsewhere ends the stay before it.
    situations : tuple of Situation
        What is done there by body and hands, for the first body it is asked for.
    """

    worker: str
    place: str
    steps: tuple[Step, ...]
    situations: tuple[Situation, ...]

    @property
    def names(self) -> frozenset[str]:
        """Names of the steps."""
        return frozenset(step.name for step in self.steps)


def stays_of(basis: Basis) -> tuple[Stay, ...]:
    """Return all stays in which something is done, by the step with which each begins."""
    outing = basis.outing
    if outing is None:
        return ()
    rank = {step.name: k for k, step in enumerate(outing.steps)}
    found = [stay for worker in outing.workers for stay in _of_worker(basis, outing, worker)]
    return tuple(sorted(found, key=lambda stay: rank[stay.steps[0].name]))


def _of_worker(basis: Basis, outing: Outing, worker: str) -> list[Stay]:
    situations = _first(basis, worker)
    found: list[Stay] = []
    place, steps, done = "", list[Step](), list[Situation]()

    def close() -> None:
        nonlocal steps, done
        if place and done:
            found.append(Stay(worker, place, tuple(steps), tuple(done)))
        steps, done = [], []

    for step in outing.steps:
        if worker not in (step.lane, *step.others):
            continue
        mine = [one for one in situations.get(step.name, []) if one.place is not None]
        at = next((one.place.name for one in mine if one.place is not None), "")
        if any(isinstance(action, Translate) for action in step.actions) and not mine:
            close()
            place = ""
            continue
        if at and at != place:
            close()
            place = at
        steps.append(step)
        done += mine
    close()
    return found


def _first(basis: Basis, worker: str) -> dict[str, list[Situation]]:
    """Return for each step what the worker does, action by action, for the first body."""
    found: dict[str, dict[int, Situation]] = {}
    for one in basis.outcome.situations:
        if one.worker == worker:
            found.setdefault(one.step, {}).setdefault(id(one.action), one)
    return {step: list(each.values()) for step, each in found.items()}
