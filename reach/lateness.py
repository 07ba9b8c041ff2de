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
    found: dict[str, float] = {}
    longest = {step.name: step.longest or 0.0 for step in steps}
    for _ in steps:  # a step may wait for one that is told later
        before = dict(found)
        for step in steps:
            over = [found[one] + longest[one] for one in links[step.name] if one in found]
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
    if motion.start is None or not motion.duration:
        return ""
    links = links_of(steps)
    late, alone = latest_begins(steps, links), _alone(steps, worker)
    before = all_before(motion.name, links)
    over = late[motion.name] + (motion.longest or motion.duration)
    for step in steps:
        if step.lane != worker or step.start is None or step.name in before:
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


def late_steps(steps: Sequence[Step], motion: Step) -> list[str]:
    """Return the steps that may go on during a motion, though their times do not say when.

    Each lasts until the next of its lane begins.  That it may, is told of those steps alone that
    begin late, are followed by one that does, or are beside a motion that does; not of what waits
    for the motion, nor of what the motion has waited to be followed.
    """
    if motion.start is None or not motion.duration:
        return []
    links = links_of(steps)
    latest, before = latest_begins(steps, links), all_before(motion.name, links)
    over = latest[motion.name] + (motion.longest or motion.duration)
    found = []
    for lane in dict.fromkeys(step.lane for step in steps if step.lane != motion.lane):
        mine = [step for step in steps if step.lane == lane]
        for step, after in zip(mine, [*mine[1:], None], strict=True):
            told = [one for one in (motion, step, after) if one is not None]
            if not any(latest[one.name] > (one.start or 0.0) + SAME for one in told):
                continue
            is_left = after is not None and (
                after.name in before or latest[after.name] <= motion.start + SAME
            )
            is_before = (step.start or 0.0) < over - SAME
            if is_before and not is_left and motion.name not in all_before(step.name, links):
                found.append(step.name)
    return found


def _goes(step: Step) -> bool:
    """Return whether a step may take its worker elsewhere."""
    bodily = Translate | Egress | Ingress
    return step.where is not None or any(isinstance(one, bodily) for one in step.actions)


def _alone(steps: Sequence[Step], worker: str) -> dict[str, float]:
    """Return when somebody's steps begin at the latest by themselves."""
    mine = [step for step in steps if step.lane == worker]
    links: dict[str, set[str]] = {step.name: set() for step in mine}
    for one, other in pairwise(mine):
        links[other.name].add(one.name)
    return latest_begins(mine, links)


__all__ = ["all_before", "late_steps", "latest_begins", "links_of", "strays"]
