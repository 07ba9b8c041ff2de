"""Where a setting of the trial belongs in the procedure: the stand from which its target is turned.

A stand is a run of steps of one worker in one restraint, at one place, that is not set anew in
between.  Its steps carry on the setting of the first, or repeat it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.files.problem import InputError, Problem
from reach.model.procedure import Drive, Procedure
from reach.site import Place, Situation
from reach.viewer.trial import Trial


@dataclass(frozen=True, slots=True)
class Stand:
    """A stand of the procedure.

    Attributes
    ----------
    steps : tuple of str
        All that is done from it.
    written : tuple of str
        Those of them that hold the setting: they are written again.
    turned : tuple of str
        Fasteners turned from it.
    """

    steps: tuple[str, ...]
    written: tuple[str, ...]
    turned: tuple[str, ...]


def stands_of(
    situations: Sequence[Situation], procedure: Procedure, worker: str
) -> list[tuple[Place, Stand]]:
    """Return the stands of a worker in restraints that are set, in the order of the procedure."""
    runs: list[tuple[Place, list[Situation]]] = []
    last: Place | None = None
    for one in situations:
        if one.worker != worker:
            continue
        here = one.place if one.passage is None else None
        if here is None or here.world_from_socket is None:
            last = None
        elif last is not None and _is_same(here, last):
            runs[-1][1].append(one)
        else:
            runs.append((here, [one]))
            last = here
    return [(place, _stand(mine, procedure)) for place, mine in runs]


def stands_turning(
    situations: Sequence[Situation], procedure: Procedure, trial: Trial
) -> list[Stand]:
    """Return the stands from which the trial's worker turns its target where the trial is.

    Raises
    ------
    InputError
        Where there is none; it says from where the target is turned instead.
    """
    if not trial.fastener:
        message = "take a target into the trial: the setting goes to the step that turns it"
        raise InputError([Problem("page", "setting", None, message)])
    turning = [
        (place, stand)
        for place, stand in stands_of(situations, procedure, trial.worker)
        if trial.fastener in stand.turned
    ]
    here = (trial.where, trial.restraint)
    found = [one for place, one in turning if (place.name, place.restraint_name) == here]
    if found:
        return found
    where = f"{trial.worker} in {trial.restraint} at {trial.where}"
    message = f"no step of the procedure has {where} turn {trial.fastener}"
    if turning:
        place = turning[0][0]
        message += (
            f"; there it is turned in {place.restraint_name} at {place.name}, and to work from"
        )
        message += " elsewhere takes more than a setting"
    raise InputError([Problem("page", "setting", None, message)])


def _is_same(one: Place, other: Place) -> bool:
    names = one.name == other.name and one.restraint_name == other.restraint_name
    return names and one.setting == other.setting


def _stand(mine: Sequence[Situation], procedure: Procedure) -> Stand:
    steps = tuple(dict.fromkeys(one.step for one in mine))
    holding = {step.name for step in procedure.steps if step.setting is not None}
    written = tuple(name for name in steps if name in holding)
    turned = [one.action.fastener for one in mine if isinstance(one.action, Drive)]
    # What no step holds is as it was left before: the first one then says it.
    return Stand(steps, written or steps[:1], tuple(dict.fromkeys(turned)))
