"""Question. Do two workers who work side by side keep their helmets, and their bodies, apart?

Asked at every hand over and alignment, and of whoever else stands within 5 m of a worker whose
step begins: at work while their own step lasts, at rest in the same place after it. Each pair of
places and tasks is asked once; of several tasks of the other's step the nearest is told.

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


def _beside(site: Site, situation: Situation) -> list[Finding]:
    """Return the findings about those who already stand near when a step begins."""
    found: dict[str, list[Finding]] = {}
    for other in _others_beside(site, situation):
        is_over = _is_over(other, situation.start or 0.0)
        if not _asks_first(site, situation, other):
            continue
        mine, theirs = at_work(site, situation), at_work(site, other, is_over)
        for finding in _findings(site, situation, mine, theirs, "", False):
            found.setdefault(finding.answer, []).append(finding)
    # Of several tasks of theirs the one that leaves least is told.
    return [min(some, key=lambda finding: (finding.low, finding.high)) for some in found.values()]


def _others_beside(site: Site, situation: Situation) -> Iterator[Situation]:
    """Yield the other workers who stand near when a step begins, at each task of theirs."""
    if _is_together(situation) or not stands(situation) or situation.start is None:
        return
    for worker in _workers(site):
        if worker == situation.worker:
            continue
        for other in _begun_before(site, situation, worker):
            if not stands(other) or is_far(situation, other):
                continue
            if not _has_ridden(site, other, situation.start):
                yield other


@asked_whole
def _workers(site: Site) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.worker for one in site.asked))


@asked_whole
def _asks_first(site: Site, situation: Situation, other: Situation) -> bool:
    """Return whether no step before has the two at the same tasks."""
    if id(situation) not in known_of(site):
        return True
    key = ("tasks beside each other", site.asked)
    if key not in site.memo:
        first: dict[object, Situation] = {}
        of_pair: dict[tuple[int, int], object] = {}
        for one in site.asked:
            for near in _others_beside(site, one):
                tasks = (task_of(one, False), task_of(near, _is_over(near, one.start or 0.0)))
                of_pair[id(one), id(near)] = frozenset(tasks)
                first.setdefault(frozenset(tasks), one)
        site.memo[key] = first, of_pair
    first, of_pair = site.memo[key]
    return first[of_pair[id(situation), id(other)]] is situation


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
def _begun_before(site: Site, situation: Situation, worker: str) -> tuple[Situation, ...]:
    """Return what another worker does in the step that began last before a step, or with it.

    All of it, for at what they are by then nothing says; what comes last once the step is over.
    """
    rank = {id(one): i for i, one in enumerate(site.asked)}
    assert situation.start is not None
    mine = rank.get(id(situation), len(rank))
    some = [
        one
        for one in site.asked
        if one.worker == worker
        and one.start is not None
        and (one.start, rank[id(one)]) < (situation.start, mine)
    ]
    some = [one for one in some if one.case == situation.case] or some
    if not some:
        return ()
    last = max(some, key=lambda one: (one.start or 0.0, rank[id(one)]))
    if _is_over(last, situation.start):
        return (last,)
    return tuple(one for one in some if (one.step, one.case) == (last.step, last.case))


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
