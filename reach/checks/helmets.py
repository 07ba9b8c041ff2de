"""Question. Do two workers who work side by side keep their helmets, and their bodies, apart?

Asked at every hand over and alignment, and of whoever else stands within 5 m of a worker whose
step begins, or is over: at work while their own step lasts, at rest in the same place after it.
Each pair of places and tasks is asked once; of several tasks of the other's step the nearest is
told.

Margin. Metres from helmet to helmet in the postures shown, the limit taken off, and a second
answer for all else of the two bodies; arms are left out of it where both hold the same thing.
The low end is that of the postures shown: those that hold the grips, that turn the fastener, or
at rest. The high end no pair of postures exceeds: helmets by the lean of the trunks, bodies by
the legs just above the boots, which no posture moves.

Limit. ``helmet_distance``; bodies must not touch.

Blind spots. One posture of each is looked at, not all that their work may take, nor the ways
between two steps; while one of them moves along rails, or has ridden off on a crane, nothing is
asked. Without times, of others than those at a hand over or alignment nothing is asked.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple

from reach.checks.near_bodies import (
    Body,
    at_work,
    body_at,
    how_near,
    is_far,
    stands,
    task_of,
)
from reach.checks.once import known_of
from reach.checks.partners import Holding, holdings, last_of, why_not
from reach.checks.wording import enough, finding_on
from reach.finding import Finding
from reach.kept.noting import asked_whole
from reach.model.procedure import Align, HandOver
from reach.site import Site, Situation
from reach.units import text_of

NAME = "helmets"
IDS = ("U3",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return two findings, helmets and bodies, for each pair of workers near each other."""
    found = []
    for situation in situations:
        if _is_together(situation):
            found += _together(site, situation)
        else:
            found += _beside(site, situation)
    return found


def _is_together(situation: Situation) -> bool:
    return isinstance(situation.action, HandOver | Align)


def _together(site: Site, situation: Situation) -> list[Finding]:
    """Return the findings of those who hold something together, or stand by as it is aligned."""
    moments: dict[str, list[Body]] = {}
    for one in holdings(site, situation):
        if isinstance(one, Holding) and not why_not(site, one):
            when = "" if isinstance(situation.action, HandOver) else one.when
            body = body_at(site, one.situation, one.grasp)
            moments.setdefault(when, []).append(body)
    pairs: list[tuple[Body, Body, str, bool]] = []
    for when, bodies in moments.items():
        pairs += [(one, other, when, True) for one, other in combinations(bodies, 2)]
        if not isinstance(situation.action, Align):
            continue
        holding, around = {one.situation.worker for one in bodies}, bodies[0].situation
        for worker in (situation.worker, *situation.others):
            other = last_of(site, around, worker)
            if worker not in holding and other is not None and stands(other):
                pairs += [(one, body_at(site, other, None), when, False) for one in bodies]
    found: dict[str, list[Finding]] = {}
    for mine, theirs, when, together in pairs:
        if is_far(mine.situation, theirs.situation):
            continue
        for finding in _findings(site, situation, mine, theirs, when, together):
            found.setdefault(finding.answer, []).append(finding)
    # Of several moments the one that leaves least is told.
    return [min(some, key=lambda finding: finding.low) for some in found.values()]


def _beside(site: Site, situation: Situation) -> Iterator[Finding]:
    """Yield the findings about those who stand near when a step begins, and after it."""
    found: dict[str, list[Finding]] = {}
    for pair in _others_beside(site, situation):
        if not _asks_first(site, situation, *pair):
            continue
        mine = at_work(site, situation, pair.is_over)
        theirs = at_work(site, pair.other, pair.other_is_over)
        for finding in _findings(site, situation, mine, theirs, "", False):
            found.setdefault(finding.answer, []).append(finding)
    # Of several moments the one that leaves least is told.
    yield from (
        min(some, key=lambda finding: (finding.low, finding.high)) for some in found.values()
    )


class _Pair(NamedTuple):
    """Another who stands near at a moment, and whether either's step is over by then."""

    other: Situation
    is_over: bool
    other_is_over: bool


def _others_beside(site: Site, situation: Situation) -> Iterator[_Pair]:
    """Yield the others who stand near when a step begins, and when it is over."""
    if _is_together(situation) or not stands(situation) or situation.start is None:
        return
    for moment in _moments(site, situation):
        is_over = moment > situation.start
        for worker in _workers(site):
            if worker == situation.worker:
                continue
            for other in _begun_before(site, situation, worker, moment):
                if not stands(other) or is_far(situation, other):
                    continue
                if not _has_ridden(site, other, moment):
                    yield _Pair(other, is_over, _is_over(other, moment))


@asked_whole
def _moments(site: Site, situation: Situation) -> tuple[float, ...]:
    """Return when a worker takes up a task, and comes to rest after it in the same place, s."""
    start, duration = situation.start, situation.duration
    assert start is not None
    mine = [one for one in site.asked if one.worker == situation.worker]
    mine = [one for one in mine if one.case == situation.case and one.start is not None]
    if not duration or _last_of(site, situation) is not situation:
        return (start,)
    end = start + duration
    goes_on = any(start < (one.start or 0.0) <= end for one in mine)
    return (start,) if goes_on or _has_ridden(site, situation, end) else (start, end)


def _last_of(site: Site, situation: Situation) -> Situation:
    """Return the last that is asked of a worker in a step."""
    return [
        one
        for one in site.asked
        if (one.step, one.worker, one.case) == (situation.step, situation.worker, situation.case)
    ][-1]


@asked_whole
def _workers(site: Site) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.worker for one in site.asked))


@asked_whole
def _asks_first(
    site: Site, situation: Situation, other: Situation, is_over: bool, other_is_over: bool
) -> bool:
    """Return whether no step before has the two at the same tasks."""
    if id(situation) not in known_of(site):
        return True
    key = ("tasks beside each other", site.asked)
    if key not in site.memo:
        told = [
            (pair.is_over, one, _tasks(one, *pair))
            for one in site.asked
            for pair in _others_beside(site, one)
        ]
        told.sort(key=lambda each: _moment(each[1], each[0]))
        first: dict[object, tuple[int, bool]] = {}
        for was_over, one, tasks in told:
            first.setdefault(tasks, (id(one), was_over))
        site.memo[key] = first
    tasks = _tasks(situation, other, is_over, other_is_over)
    return bool(site.memo[key][tasks] == (id(situation), is_over))


def _moment(one: Situation, is_over: bool) -> float:
    """Return when a step begins, or is over, s."""
    return (one.start or 0.0) + ((one.duration or 0.0) if is_over else 0.0)


def _tasks(one: Situation, other: Situation, is_over: bool, other_is_over: bool) -> object:
    return frozenset((task_of(one, is_over), task_of(other, other_is_over)))


@asked_whole
def _has_ridden(site: Site, situation: Situation, moment: float) -> bool:
    """Return whether a crane has taken a worker away since a step began, by a moment (s)."""
    since = situation.start or 0.0
    return any(
        one.rider is not None
        and one.rider.worker == situation.worker
        and one.start is not None
        and since < one.start <= moment
        for one in site.carriages
    )


def _is_over(situation: Situation, moment: float) -> bool:
    """Return whether a step has ended by a moment (s); no if its duration is not known."""
    if situation.start is None or situation.duration is None:
        return False
    return situation.start + situation.duration <= moment


@asked_whole
def _begun_before(
    site: Site, situation: Situation, worker: str, moment: float
) -> tuple[Situation, ...]:
    """Return what is asked of another worker in the step that they began last by a moment (s).

    At the begin of a step that is all which is told before it; once it is over the last alone.
    """
    rank = {id(one): i for i, one in enumerate(site.asked)}
    mine = rank.get(id(situation), len(rank)) if moment == situation.start else -1
    some = [
        one
        for one in site.asked
        if one.worker == worker
        and one.start is not None
        and (one.start, rank[id(one)]) < (moment, mine)
    ]
    some = [one for one in some if one.case == situation.case] or some
    last = max(some, key=lambda one: (one.start or 0.0, rank[id(one)]), default=None)
    if last is None:
        return ()
    same = [one for one in some if one.step == last.step and one.case == last.case]
    return tuple(same[-1:] if _is_over(last, moment) else same)


def _findings(
    site: Site, situation: Situation, one: Body, other: Body, when: str, together: bool
) -> Iterator[Finding]:
    words = f"{one.title} and {other.title}{' ' + when if when else ''}"
    for found in how_near(site, one, other, together):
        short = found.gap - (found.limits[0].value if found.limits else 0.0)
        mends = found.what == "helmets" and short < 0.0
        yield finding_on(
            NAME,
            situation,
            f"{found.what.capitalize()} of {words} are {text_of(found.gap, 'm')} apart in the "
            "postures shown.",
            found.low,
            found.high,
            "m",
            found.limits,
            f"Keep {other.situation.worker} {enough(-short)} farther off." if mends else "",
            (found.mark,),
            {"answer": f"{found.what.split()[0]}, {other.situation.worker}", "distance": found.gap},
        )
