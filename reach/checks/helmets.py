"""Question. Do two workers who work side by side keep their helmets, and their bodies, apart?

Asked at every hand over and alignment, and of whoever else stands within 5 m of a worker whose
step begins: at work while their own step lasts, at rest in the same place after it. Each pair of
places and tasks is asked once.

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

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from reach.checks.once import known_of
from reach.checks.partners import Holding, holdings, last_of, why_not
from reach.checks.wording import SURE, best_attempt, blank, enough, finding_on, point, who
from reach.finding import Finding, Mark
from reach.geometry import segment_pair_distance, transform_points
from reach.grasping import body_of
from reach.kept.noting import asked_whole
from reach.model.procedure import Align, Drive, HandOver, Hold
from reach.site import Grasp, Site, Situation
from reach.units import text_of
from reach.worker.figure import ANKLE, HIGH, HIP, LOW, SHOULDER, Grip, figure_of
from reach.worker.posing import capsules_of

Array = NDArray[np.float64]

NAME = "helmets"
IDS = ("U3",)

NEAR = 5.0
"""Boots farther from each other (m) are not asked about."""

HELMETS = ("helmet", "head")
"""What a suit's capsule round the head is called."""

_ARMS = (" upper arm", " forearm", " hand", "upper arm", "forearm", "hand", "tool")


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A body in the world in one posture: capsules (n, 7), names, how it is come by."""

    situation: Situation
    capsules: Array
    names: tuple[str, ...]
    words: str

    def part(self, wanted: tuple[str, ...]) -> Array:
        """Return the capsules with these names."""
        return self.capsules[[name in wanted for name in self.names]]

    def less_arms(self) -> Array:
        """Return the capsules of legs, trunk and helmet."""
        return self.capsules[[not name.endswith(_ARMS) for name in self.names]]


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
            body = _body(site, one.situation, one.grasp)
            moments.setdefault(when, []).append(body)
    pairs: list[tuple[Body, Body, str, bool]] = []
    for when, bodies in moments.items():
        pairs += [(one, other, when, True) for one, other in combinations(bodies, 2)]
        if not isinstance(situation.action, Align):
            continue
        holding, around = {one.situation.worker for one in bodies}, bodies[0].situation
        for worker in (situation.worker, *situation.others):
            other = last_of(site, around, worker)
            if worker not in holding and other is not None and _stands(other):
                pairs += [(one, _body(site, other, None), when, False) for one in bodies]
    found: dict[str, list[Finding]] = {}
    for mine, theirs, when, together in pairs:
        if _far(mine.situation, theirs.situation):
            continue
        for finding in _findings(site, situation, mine, theirs, when, together):
            found.setdefault(finding.answer, []).append(finding)
    # Of several moments the one that leaves least is told.
    return [min(some, key=lambda finding: finding.low) for some in found.values()]


def _beside(site: Site, situation: Situation) -> Iterator[Finding]:
    """Yield the findings about those who already stand near when a step begins."""
    for worker, other in _others_beside(site, situation):
        is_over = _is_over(other, situation.start or 0.0)
        if not _asks_first(site, situation, worker):
            continue
        mine, theirs = _at_work(site, situation), _at_work(site, other, is_over)
        yield from _findings(site, situation, mine, theirs, "", False)


def _others_beside(site: Site, situation: Situation) -> Iterator[tuple[str, Situation]]:
    """Yield the other workers who stand near when a step begins, and in which step."""
    if _is_together(situation) or not _stands(situation) or situation.start is None:
        return
    for worker in _workers(site):
        if worker == situation.worker:
            continue
        other = _begun_before(site, situation, worker)
        if other is None or not _stands(other) or _far(situation, other):
            continue
        if not _has_ridden(site, other, situation.start):
            yield worker, other


@asked_whole
def _workers(site: Site) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.worker for one in site.asked))


@asked_whole
def _asks_first(site: Site, situation: Situation, worker: str) -> bool:
    """Return whether no step before has the two at the same tasks."""
    if id(situation) not in known_of(site):
        return True
    key = ("tasks beside each other", site.asked)
    if key not in site.memo:
        first: dict[object, Situation] = {}
        of_pair: dict[tuple[int, str], object] = {}
        for one in site.asked:
            for name, other in _others_beside(site, one):
                tasks = (_task(one, False), _task(other, _is_over(other, one.start or 0.0)))
                of_pair[id(one), name] = frozenset(tasks)
                first.setdefault(frozenset(tasks), one)
        site.memo[key] = first, of_pair
    first, of_pair = site.memo[key]
    return first[of_pair[id(situation), worker]] is situation


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
def _begun_before(site: Site, situation: Situation, worker: str) -> Situation | None:
    """Return the step of another worker that began last before a step, or with it."""
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
    return max(some, key=lambda one: (one.start or 0.0, rank[id(one)]), default=None)


def _task(situation: Situation, is_over: bool) -> tuple[object, ...]:
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    action = situation.action
    task: object = None
    if isinstance(action, Drive) and not is_over:
        task = (action.fastener, action.tool, action.hand)
    elif isinstance(action, Hold | Align):
        task = _grasp(situation)
    boots = situation.place.world_from_boots.round(9).tobytes()
    return (situation.worker, situation.case, boots, task)


def _grasp(situation: Situation) -> Grasp | None:
    """Return what a worker goes on holding after an action, in the action's place."""
    if isinstance(situation.action, Hold):
        return Grasp("", situation.action.grips)
    if isinstance(situation.action, Align):
        return situation.holds.get(situation.worker)
    return None


def _at_work(site: Site, situation: Situation, is_over: bool = False) -> Body:
    """Return the body at its task, or after it."""
    grasp = _grasp(situation)
    if isinstance(situation.action, Hold) and grasp is not None:
        grasp = Grasp(site.scene.payload_of(grasp.grips[0]), grasp.grips)
    turns = isinstance(situation.action, Drive) and not is_over
    return _body(site, situation, grasp, turns)


def _stands(situation: Situation) -> bool:
    return situation.passage is None and blank(situation) is None


def _far(one: Situation, other: Situation) -> bool:
    assert one.place is not None
    assert other.place is not None
    assert one.place.world_from_boots is not None
    assert other.place.world_from_boots is not None
    gap = one.place.world_from_boots[:3, 3] - other.place.world_from_boots[:3, 3]
    return bool(np.linalg.norm(gap) > NEAR)


def _body(site: Site, situation: Situation, grasp: Grasp | None, turns: bool = False) -> Body:
    """Return the body in the posture that its task is shown to take: turning, holding, at rest."""
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    pose = situation.place.world_from_boots
    if turns and situation.head is not None:
        attempt = best_attempt(site, situation)
        if attempt.witness is not None:
            capsules = capsules_of(
                attempt.figure, attempt.bulk, attempt.target, attempt.witness.posture
            )
            world = _moved(attempt.world_from_boots, capsules)
            return Body(situation, world, attempt.names, f"turning {situation.head.name}")
    capsules, names, held = body_of(site, situation, grasp)
    words = f"holding {' and '.join(grasp.grips)}" if held and grasp else "at rest"
    return Body(situation, _moved(pose, capsules), names, words)


def _moved(pose: Array, capsules: Array) -> Array:
    p, q = transform_points(pose, capsules[:, :3]), transform_points(pose, capsules[:, 3:6])
    return np.hstack((p, q, capsules[:, 6:]))


def _findings(
    site: Site, situation: Situation, one: Body, other: Body, when: str, together: bool
) -> Iterator[Finding]:
    words = (
        f"{who(one.situation)} {one.words} and {who(other.situation)} {other.words}"
        f"{' ' + when if when else ''}"
    )
    heads = one.part(HELMETS), other.part(HELMETS)
    if len(heads[0]) and len(heads[1]):
        limit = site.limit("helmet_distance")
        gap, ends = _gap(*heads)
        most = gap + _play(one.situation) + _play(other.situation)
        low = gap - limit.value
        yield finding_on(
            NAME,
            situation,
            f"Helmets of {words} are {text_of(gap, 'm')} apart in the postures shown.",
            low - SURE,
            most - limit.value + SURE,
            "m",
            (limit,),
            "" if low >= 0.0 else f"Keep {other.situation.worker} {enough(-low)} farther off.",
            (_mark(ends, "helmet to helmet", low < 0.0),),
            {"answer": f"helmets, {other.situation.worker}", "distance": gap},
        )
    shells = (one.less_arms(), other.less_arms()) if together else (one.capsules, other.capsules)
    gap, ends = _gap(*shells)
    most = _gap(_feet(one), _feet(other))[0]
    yield finding_on(
        NAME,
        situation,
        f"{'Bodies without arms' if together else 'Bodies'} of {words} are "
        f"{text_of(gap, 'm')} apart in the postures shown.",
        gap - SURE,
        max(gap, most) + SURE,
        "m",
        marks=(_mark(ends, "body to body", gap < 0.0),),
        numbers={"answer": f"bodies, {other.situation.worker}", "distance": gap},
    )


def _feet(body: Body) -> Array:
    """Return balls at the lower ends of the legs, which no posture moves."""
    legs = body.part(("left leg", "right leg")).copy()
    legs[:, 3:6] = legs[:, :3]
    return legs


def _gap(one: Array, other: Array) -> tuple[float, tuple[Array, Array]]:
    """Return the least gap of two sets of capsules, m, and the middles of the two nearest."""
    n, m = len(one), len(other)
    a, b = np.repeat(one, m, axis=0), np.tile(other, (n, 1))
    gaps = segment_pair_distance(a[:, :3], a[:, 3:6], b[:, :3], b[:, 3:6]) - a[:, 6] - b[:, 6]
    i = int(np.argmin(gaps))
    return float(gaps[i]), (0.5 * (a[i, :3] + a[i, 3:6]), 0.5 * (b[i, :3] + b[i, 3:6]))


def _mark(ends: tuple[Array, Array], label: str, bad: bool) -> Mark:
    return Mark("segment", (point(ends[0]), point(ends[1])), label, bad=bad)


def _play(situation: Situation) -> float:
    """Return how far no lean of the trunk brings a helmet from where it now is, m.

    Two postures differ by a turn of the legs about the ankles and one of the trunk about the
    hips; no turn is larger than the sum of the ranges of its joints.
    """
    p = figure_of(situation.body, situation.suit, Grip()).p
    shoulders = np.array([0.0, 0.0, float(p[SHOULDER] - p[HIP])])
    above = max(
        float(np.linalg.norm(np.asarray(end, float) + (shell.above == "shoulders") * shoulders))
        for name, shell in situation.suit.torso.items()
        if name in HELMETS
        for end in (shell.start, shell.end)
    )
    ranges = p[HIGH : HIGH + 5] - p[LOW : LOW + 5]
    legs, trunk = min(math.pi, float(ranges[:2].sum())), min(math.pi, float(ranges[2:].sum()))
    leg = float(p[HIP] - p[ANKLE])
    return 2.0 * math.sin(0.5 * legs) * (leg + above) + 2.0 * math.sin(0.5 * trunk) * above
