"""What a run is besides as planned: other people in the lanes, other hands, every size class.

And whatever else is typed as *what if*.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.model.procedure import Action, Drive
from reach.model.scene import Worker
from reach.varying import Variation as Change
from reach.varying import sizes_problems, told_as, varied_copies, words_of

_OTHER = {"right": "left", "left": "right"}


@dataclass(frozen=True, slots=True)
class Variation:
    """One way to run a procedure.

    Attributes
    ----------
    turn : int
        Places that the people move on through the lanes; 0 as planned.
    hands : bool
        Whether right and left are exchanged for every worker and in every step.
    sizes : tuple of str
        Size classes to run together instead of each worker's own body; empty for the own.
    changes : tuple of reach.varying.Variation
        What else is otherwise, after people and hands have changed.
    words : str
        The variation as tables name it.
    """

    turn: int = 0
    hands: bool = False
    sizes: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()
    words: str = "as planned"


def workers_of(asked: LoadedProcedure) -> list[str]:
    """Return the lanes of workers, in the order in which the procedure gives them."""
    return [lane for lane, kind in asked.procedure.lanes.items() if kind == "worker"]


def variations(
    n_workers: int,
    vary: Sequence[str],
    sizes: tuple[str, ...],
    classes: Sequence[str],
    cases: Sequence[tuple[Change, ...]] = (),
) -> list[Variation]:
    """Return every combination of what is varied, the run as planned first.

    Parameters
    ----------
    n_workers : int
        Two workers change lanes; more move on through the lanes, once for each rotation.
    vary : sequence of str
        Any of ``"crew"``, ``"hands"``, ``"sizes"``.
    sizes : tuple of str
        Size classes that the run names; they replace the own bodies, or with ``"sizes"``
        are what is run besides them.
    classes : sequence of str
        Size classes of the scene: what ``"sizes"`` runs when the run names none.
    cases : sequence of tuples of reach.varying.Variation
        What else may be otherwise, case by case.  A case that gives somebody a body is left out
        where size classes replace every body.

    Examples
    --------
    >>> [each.words for each in variations(2, ["crew", "hands"], (), [])]
    ['as planned', 'hands swapped', 'crew swapped', 'crew swapped, hands swapped']
    >>> [each.words for each in variations(3, ["crew"], (), [])]
    ['as planned', 'crew moved on by 1', 'crew moved on by 2']
    >>> [each.sizes for each in variations(1, ["sizes"], (), ["small", "large"])]
    [(), ('small', 'large')]
    """
    turns = range(n_workers) if "crew" in vary and n_workers else range(1)
    hands = (False, True) if "hands" in vary else (False,)
    bodies = ((), sizes or tuple(classes)) if "sizes" in vary else (sizes,)
    return [
        Variation(turn, swapped, body, case, _words(turn, swapped, body, case, n_workers))
        for turn, swapped, body, case in product(turns, hands, bodies, ((), *cases))
        if not sizes_problems(case, body)
    ]


def _words(
    turn: int, hands: bool, sizes: tuple[str, ...], case: Sequence[Change], n_workers: int
) -> str:
    words = _people_words(turn, hands, n_workers)
    if sizes:
        words.append(f"sizes {'; '.join(sizes)}")
    return ", ".join([*words, *map(words_of, case)]) or "as planned"


def _people_words(turn: int, hands: bool, n_workers: int) -> list[str]:
    words = []
    if turn:
        words.append("crew swapped" if n_workers == 2 else f"crew moved on by {turn}")
    if hands:
        words.append("hands swapped")
    return words


def varied(
    loaded: LoadedScene, asked: LoadedProcedure, variation: Variation
) -> tuple[LoadedScene, LoadedProcedure]:
    """Return scene and procedure as they are when varied; lanes keep their names.

    A person who changes lanes brings body, hand and suit along.  Swapped hands are those
    of the workers and those that steps name; what a fastener allows stays.  Both copies say
    how they differ from their files.

    Raises
    ------
    UnfitError
        With every reason why a change cannot be had.
    """
    told = _people_words(variation.turn, variation.hands, len(workers_of(asked)))
    workers = dict(loaded.scene.workers)
    if variation.turn:
        lanes = workers_of(asked)
        moved = lanes[variation.turn :] + lanes[: variation.turn]
        workers |= {
            lane: loaded.scene.workers[person] for lane, person in zip(lanes, moved, strict=True)
        }
    if variation.hands:
        workers = {name: _other_handed(worker) for name, worker in workers.items()}
        steps = tuple(
            step.model_copy(update={"actions": tuple(_mirrored(a) for a in step.actions)})
            for step in asked.procedure.steps
        )
        asked = replace(asked, procedure=asked.procedure.model_copy(update={"steps": steps}))
    if workers != loaded.scene.workers:
        loaded = replace(loaded, scene=loaded.scene.model_copy(update={"workers": workers}))
    return varied_copies(*told_as(loaded, asked, told), variation.changes)


def _other_handed(worker: Worker) -> Worker:
    return worker.model_copy(update={"hand": _OTHER[worker.hand]})


def _mirrored(action: Action) -> Action:
    if isinstance(action, Drive) and action.hand in _OTHER:
        return action.model_copy(update={"hand": _OTHER[action.hand]})
    return action
