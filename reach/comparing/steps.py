"""Steps of two procedures matched: by name, then what is left by what is done in them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from difflib import SequenceMatcher

from reach.comparing.changes import same
from reach.model.procedure import Step

ALIKE = 0.55
"""Steps of one lane with the same actions are one step renamed from this likeness on.

It stands in code: it says how two versions are read, not what is good enough."""

_OF_NAME, _OF_ACTIONS = 0.3, 0.4


def renamed_steps(old: Sequence[Step], new: Sequence[Step]) -> dict[str, str]:
    """Return old name -> new name of the steps that go by another name.

    The most alike are matched first; steps of different lanes or with other kinds of actions
    are never one step.
    """
    old_names, new_names = {step.name for step in old}, {step.name for step in new}
    left = [step for step in old if step.name not in new_names]
    came = [step for step in new if step.name not in old_names]
    scored = sorted(
        ((likeness(a, b), i, j) for i, a in enumerate(left) for j, b in enumerate(came)),
        key=lambda each: (-each[0], each[1], each[2]),
    )
    renamed: dict[str, str] = {}
    for score, i, j in scored:
        free = left[i].name not in renamed and came[j].name not in renamed.values()
        if score >= ALIKE and free:
            renamed[left[i].name] = came[j].name
    return renamed


def likeness(a: Step, b: Step) -> float:
    """Return how alike two steps are, 0 to 1; 0 where they cannot be one step.

    Names count, then what the actions say, then the rest of the step.
    """
    kinds_a, kinds_b = ([type(one) for one in step.actions] for step in (a, b))
    if a.lane != b.lane or kinds_a != kinds_b:
        return 0.0
    name = SequenceMatcher(None, a.name, b.name, autojunk=False).ratio()
    pairs = [
        same(getattr(x, key), getattr(y, key))
        for x, y in zip(a.actions, b.actions, strict=True)
        for key in type(x).model_fields
        if key in x.model_fields_set | y.model_fields_set
    ]
    rest = [
        same(getattr(a, key), getattr(b, key))
        for key in type(a).model_fields
        if key in (a.model_fields_set | b.model_fields_set) - {"name", "lane", "actions"}
    ]
    of_rest = 1.0 - _OF_NAME - _OF_ACTIONS
    return _OF_NAME * name + _OF_ACTIONS * _share(pairs) + of_rest * _share(rest)


def out_of_order(places: Sequence[int]) -> set[int]:
    """Return the fewest positions that have to move so that the rest stands in order.

    Parameters
    ----------
    places : sequence of int
        Where each thing stood before, in the order in which they stand now; all different.

    Examples
    --------
    >>> sorted(out_of_order([0, 3, 1, 2])), out_of_order([0, 1, 2])
    ([1], set())
    """
    ends: list[int] = []
    at: list[int] = []
    before: list[int] = []
    for k, place in enumerate(places):
        n = bisect_left(ends, place)
        before.append(at[n - 1] if n else -1)
        ends[n : n + 1] = [place]
        at[n : n + 1] = [k]
    stays: set[int] = set()
    k = at[-1] if at else -1
    while k >= 0:
        stays.add(k)
        k = before[k]
    return set(range(len(places))) - stays


def _share(pairs: Sequence[bool]) -> float:
    return sum(pairs) / len(pairs) if pairs else 1.0
