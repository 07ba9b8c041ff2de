"""How late steps may begin where those before them last as long as they may, by links and lanes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from reach.model.handling import Egress
from reach.model.procedure import Ingress, Step, Translate
from reach.units import text_of

SAME = 1e-6
"""Moments nearer to each other than this (s) are one."""


def links_of(steps: Sequence[Step]) -> dict[str, set[str]]:
    """Return which steps each one comes after at once: the one before it in its lane, ``after``.

    Parameters
    ----------
    steps : sequence of Step
        In the order they are written.
    """
    lanes: dict[str, list[str]] = {}
    for step in steps:
        lanes.setdefault(step.lane, []).append(step.name)
    links = {step.name: set(step.after) for step in steps}
    for names in lanes.values():
        for one, other in pairwise(names):
            links[other].add(one)
    return links


def latest_begins(steps: Sequence[Step], links: Mapping[str, Iterable[str]]) -> dict[str, float]:
    """Return when steps begin at the latest, s: all before them last as long as they may.

    Steps without a start begin when what they come after is over.
    """
    return _begins(steps, links, {step.name: step.longest or 0.0 for step in steps})


def earliest_begins(steps: Sequence[Step], links: Mapping[str, Iterable[str]]) -> dict[str, float]:
    """Return when steps begin at the earliest, s: all before them last as little as they may.

    A start that is written is not before.
    """
    return _begins(steps, links, {step.name: step.shortest or 0.0 for step in steps})


def _begins(
    steps: Sequence[Step], links: Mapping[str, Iterable[str]], lasting: Mapping[str, float]
) -> dict[str, float]:
    found: dict[str, float] = {}
    for _ in steps:  # a step may wait for one that is told later
        before = dict(found)
        for step in steps:
            over = [found[one] + lasting[one] for one in links[step.name] if one in found]
            found[step.name] = max([step.start or 0.0, *over])
        if found == before:
            break
    return found


def all_before(name: str, links: Mapping[str, Iterable[str]]) -> set[str]:
    """Return every step that one comes after, at whatever remove."""
    found: set[str] = set()
    asked = [name]
    while asked:
        for one in links.get(asked.pop(), ()):
            if one not in found:
                found.add(one)
                asked.append(one)
    return found


def strays(steps: Sequence[Step], motion: Step, worker: str) -> str:
    """Return why somebody may be elsewhere during a motion, whatever written times say; or nothing.

    What their own steps do to each other is not told here.
    """
    if not motion.duration:
        return ""
    links = links_of(steps)
    late, alone = latest_begins(steps, links), _alone(steps, worker)
    early, before = earliest_begins(steps, links), all_before(motion.name, links)
    over = late[motion.name] + (motion.longest or motion.duration)
    for step in steps:
        if step.lane != worker or step.name in before:
            continue
        if step.start is None or motion.start is None:
            since = early[motion.name] if motion.start is None else motion.start
            at = early[step.name], late[step.name] + _away(step)
            if (
                _goes(step)
                and at[0] < over - SAME
                and at[1] > since + SAME
                and motion.name not in all_before(step.name, links)
            ):
                return f"when step '{step.name}' begins is not fixed: it may be in the motion"
            continue
        begins_before_end = step.start < motion.start + (motion.longest or motion.duration)
        if begins_before_end and late[step.name] > alone[step.name] + SAME:
            return f"step '{step.name}' may be late for what it waits for"
        goes_on = motion.start - SAME <= step.start < over - SAME and _goes(step)
        is_late = late[motion.name] > motion.start + SAME
        # Last, as it looks through all that comes before.
        if is_late and goes_on and motion.name not in all_before(step.name, links):
            begin = text_of((late[motion.name] - motion.start) / 60.0, "")
            return (
                f"the motion may begin {begin} min later than written, and step '{step.name}' "
                "does not wait for it"
            )
    return ""


def _goes(step: Step) -> bool:
    """Return whether a step may take its worker elsewhere."""
    bodily = Translate | Egress | Ingress
    return step.where is not None or any(isinstance(one, bodily) for one in step.actions)


def _away(step: Step) -> float:
    """Return how long at most a step keeps its worker from where it takes them, s."""
    is_way = any(isinstance(one, Translate | Egress) for one in step.actions)
    return step.longest or 0.0 if is_way else 0.0


def _alone(steps: Sequence[Step], worker: str) -> dict[str, float]:
    """Return when somebody's steps begin at the latest by themselves."""
    mine = [step for step in steps if step.lane == worker]
    links: dict[str, set[str]] = {step.name: set() for step in mine}
    for one, other in pairwise(mine):
        links[other.name].add(one.name)
    return latest_begins(mine, links)


__all__ = ["all_before", "earliest_begins", "latest_begins", "links_of", "strays"]
