"""Question. Can a hand be caught between what moves and what stands?

Asked of every motion of a payload that hands hold, for each glove on its grip, and of hands that
turn something beside a payload that moves.

Margin. Metres of the least gap, over the whole motion, between a glove that rides on its grip and
all structure that does not ride along, ``hand_clearance`` taken off; a guaranteed bracket, not
samples. The low end counts the glove from the wrist on, the high end what is round the grip.
Likewise between a hand at work and the payload that passes it.

Limit. ``hand_clearance``, from the glove's surface (``hand_radius`` of the suit). Of a way that was
found a fail is proved only where it begins and ends: another may keep clear. Of hands from which
the payload is moved away it is proved only where they hold it as it begins: they may let go.

Blind spots. Hands that hold are as the posture found has them when the motion begins, and turn
with the payload; where none was found they may be anywhere along their grip and any way round it,
and no fail is proved. What rides along cannot close on them here, and gaps inside a mechanism are
not in the scene. Of a hand at work the glove alone counts, at all that its step turns, and that at
a second grip, any way round; where its posture was not found it is not asked about. It is taken to
be there throughout the motion; a fail is proved only where its step lasts as long and does nothing
else.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reach.checks.carrying import (
    NO_WAY,
    finding_of_carriage,
    gap_mark,
    has_no_way,
    is_way_known,
    leg_words,
)
from reach.checks.momentum import hands_on
from reach.checks.two_handed import other_glove
from reach.checks.wording import ANOTHER_WAY, SURE, UNKNOWN, best_attempt, blank, enough, who
from reach.finding import Finding
from reach.geometry import (
    Tree,
    build,
    capsule_clearance,
    inverse,
    swept_gap,
    transform_points,
)
from reach.grasping import Grasped, bars_of, grasped_of, trees_of, without_direction
from reach.kept.noting import altered, asked_whole
from reach.model.procedure import Drive
from reach.payload.bystanders import is_if_late
from reach.site import Bystander, Carriage, Site, Situation
from reach.units import text_of
from reach.worker.posing import capsules_of
from reach.worker.volume import N_IDLE

Array = NDArray[np.float64]

NAME = "pinch"
IDS = ("B5",)
TAKES = "carriages"

BEYOND = 2.0
"""Gaps larger than this (m) count as this large."""

HAND = 2
"""Which capsule of a working arm the hand is."""

LASTS = 1e-6
"""A stay that covers the motion but for this share of it covers it."""


def find(site: Site, carriages: tuple[Carriage, ...]) -> list[Finding]:
    """Return a finding for each worker who holds what moves, and each hand at work beside it."""
    found = []
    for carriage in carriages:
        if not carriage.payload or len(carriage.poses) < 2:
            continue
        found += [_held(site, carriage, worker) for worker in hands_on(carriage)]
        seen: set[int] = set()
        for stay in carriage.bystanders:
            for one in _deeds(site, stay.situation):
                if isinstance(one.action, Drive) and id(one.action) not in seen:
                    seen.add(id(one.action))
                    found += _at_work(site, carriage, stay, one)
    return found


@asked_whole
def _deeds(site: Site, situation: Situation) -> tuple[Situation, ...]:
    """Return all that somebody does in a step, of which a stay tells the first."""
    mine = (situation.step, situation.worker, situation.case)
    return tuple(one for one in site.asked if (one.step, one.worker, one.case) == mine)


class _Least:
    """The least gap of a mesh that rides along, leg by leg, or as the motion begins."""

    def __init__(
        self, carriage: Carriage, still: Tree, riding: Tree, at_begin: bool = False
    ) -> None:
        self.low = self.high = BEYOND
        self.at = np.nan
        self.on_riding = self.on_still = np.full(3, np.nan)
        self.row = -1
        for i, leg in enumerate(carriage.legs):
            about = np.zeros(3) if leg.about is None else np.asarray(leg.about, float)
            start, stop = carriage.poses[i], carriage.poses[i if at_begin else i + 1]
            gap = swept_gap(still, riding, start, stop, beyond=BEYOND, about=about)
            self.low = min(self.low, gap.low)
            if gap.high < self.high:
                self.high, self.at = gap.high, i + gap.time
                self.on_riding, self.on_still = gap.on_payload, gap.on_scene
                self.row = gap.face_payload
            if at_begin:
                self.at = 0.0
                break

    def meet(self, tree: Tree, ends: Array) -> None:
        """Count lines (m) that lie inside of a solid as the motion begins, away from its skin."""
        gaps = capsule_clearance(tree, ends[:, 0], ends[:, 1], 0.0)
        k = int(gaps.argmin())
        if gaps[k] < min(self.low, 0.0):
            self.low = self.high = float(gaps[k])
            self.at, self.row = 0.0, k
            self.on_riding = self.on_still = ends[k, 1]


@asked_whole
def _seen_first(site: Site, worker: str) -> Situation | None:
    return next((one for one in site.asked if one.worker == worker), None)


def _held(site: Site, carriage: Carriage, worker: str) -> Finding:
    grasp = carriage.holds[worker]
    mine = grasp.keeping([carriage.payload])
    assert mine is not None
    limit = site.limit("hand_clearance")
    nameless = without_direction(site.scene, grasp)
    if nameless:
        why = f"Handhold {nameless} does not say along which direction its bar runs."
        return _unsettled(carriage, why, worker)
    situation = _holder(carriage, worker)
    bars = np.array([[bar.start, bar.end] for bar in bars_of(site, carriage.surroundings, mine)])
    gloves = fists = None
    if situation is not None:
        grasped = grasped_of(site, situation, grasp) if grasp.is_sure else None
        if grasped is not None and grasped.found:
            on = [grasped.grips.index(grip) for grip in mine.grips]
            gloves = _gloves(situation, grasped, on)
            fists = grasped.points[on, None].repeat(2, axis=1)
    elif (situation := _seen_first(site, worker)) is None:
        return _unsettled(carriage, f"It is not known in which suit {worker} is.", worker)
    radius = situation.suit.hand_radius
    # Not knowing which way round a bar is held, the wrist may be to any side of it.
    around_bar = 0.0 if gloves is not None else situation.body.links.grip
    least = _riding_along(site, carriage, bars if gloves is None else gloves, radius)
    shown = least if fists is None else _riding_along(site, carriage, fists, radius)
    # Hands may let go of what is moved away from them; where it was before, they may have by now.
    may_let_go = worker in carriage.parted
    if may_let_go and fists is not None:
        shown = _riding_along(site, carriage, fists, radius, at_begin=True)
    around = carriage.surroundings
    low = least.low - around_bar - radius - around.error - limit.value - SURE
    high = shown.high - radius + around.excess - limit.value + SURE
    is_on = grasp.holds_surely(carriage.payload) and not (may_let_go and high >= 0.0)
    if fists is None or not is_on:
        high = UNKNOWN
    chosen = high < 0.0 and not _is_certain(carriage, shown)
    grip = mine.grips[least.row] if least.row >= 0 else " and ".join(mine.grips)
    where = f" {leg_words(carriage, least.at)}" if np.isfinite(least.at) else ""
    because = (
        f"The glove of {who(situation)} on {grip} comes to {_gap_words(least, radius)} "
        f"what does not ride along with {carriage.payload}{where}."
    )
    if chosen:
        high, because = UNKNOWN, because + ANOTHER_WAY
    if has_no_way(site, carriage):
        low, because = -UNKNOWN, because + (NO_WAY if high >= 0.0 else "")
    if may_let_go and low < 0.0 <= high:
        because += f" {worker} stays where they are and may have let go of it by then."
    return finding_of_carriage(
        NAME,
        carriage,
        because,
        low,
        max(high, low),
        "m",
        (limit,),
        "" if high >= 0.0 else f"Hold it elsewhere, or leave {enough(-low)} more there.",
        gap_mark(least.on_riding, least.on_still, grip, low < 0.0),
        {
            "answer": f"{worker} holds",
            "gap": least.high - radius,
            "gap at the grip": shown.high - radius,
        },
        (worker, *mine.grips),
    )


def _is_certain(carriage: Carriage, least: _Least) -> bool:
    """Return whether every way comes as near: the one that is written, or where all begin or end.

    Of others one is looked at.
    """
    return is_way_known(carriage) or least.at in (0.0, float(len(carriage.legs)))


def _gloves(situation: Situation, grasped: Grasped, on: Sequence[int]) -> Array:
    """Return the gloves on some grips as wrist and fist in the world, m, shape (n, 2, 3)."""
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    mine = [grasped.names.index(f"{grasped.hands[k]} hand") for k in on]
    ends = grasped.capsules[mine, :6].reshape(-1, 3)
    return transform_points(situation.place.world_from_boots, ends).reshape(-1, 2, 3)


def _riding_along(
    site: Site, carriage: Carriage, ends: Array, radius: float, at_begin: bool = False
) -> _Least:
    """Return the least gap of lines (m, world) that ride along; below 0 inside of a solid."""
    around = carriage.surroundings
    still = trees_of(site, around, carriage.payload)[1]
    own = inverse(around.world_from[carriage.payload])
    local = transform_points(own, ends.reshape(-1, 3)).reshape(-1, 2, 3)
    mesh = build(np.concatenate((local, local[:, 1:]), axis=1))
    least = _Least(carriage, still, mesh, at_begin)
    least.meet(still, transform_points(carriage.poses[0], local.reshape(-1, 3)).reshape(-1, 2, 3))
    return least


def _gap_words(least: _Least, radius: float) -> str:
    if not np.isfinite(least.at):
        return f"no less than {text_of(BEYOND - radius, 'm')} from"
    return f"{text_of(least.high - radius, 'm')} from"


def _unsettled(carriage: Carriage, why: str, worker: str) -> Finding:
    numbers = {"answer": f"{worker} holds"}
    return finding_of_carriage(
        NAME, carriage, why, -UNKNOWN, UNKNOWN, "m", numbers=numbers, about=(worker,)
    )


def _holder(carriage: Carriage, worker: str) -> Situation | None:
    """Return where who holds stands as the motion begins, or None if that is not known."""
    if carriage.rider is not None and carriage.rider.worker == worker:
        found = carriage.rider
    else:
        mine = [one for one in carriage.bystanders if one.worker == worker]
        stays = [one.situation for one in mine if not is_if_late(one)]
        placed = [one for one in stays if one.passage is None and blank(one) is None]
        if not placed:
            return None
        found = placed[0]
    if found.passage is not None or blank(found) is not None:
        return None
    return altered(found, surroundings=carriage.surroundings)


def _at_work(
    site: Site, carriage: Carriage, stay: Bystander, situation: Situation
) -> list[Finding]:
    """Return the finding about the hand of somebody who turns something meanwhile."""
    if blank(situation) is not None or situation.head is None:
        return []
    attempt = best_attempt(site, situation)
    if attempt.witness is None:
        return []
    capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, attempt.witness.posture)
    hand = capsules[attempt.bulk.n_body + N_IDLE + HAND]
    a, b = transform_points(attempt.world_from_boots, hand[:6].reshape(2, 3))
    around = carriage.surroundings
    held = trees_of(site, around, carriage.payload)[0]
    payload_from_world = inverse(around.world_from[carriage.payload])
    corners = transform_points(payload_from_world, held.tri.reshape(-1, 3)).reshape(-1, 3, 3)
    cargo = build(corners)
    least = _Least(carriage, build([[a, b, b]]), cargo)
    start = transform_points(inverse(carriage.poses[0]), np.array([a, b]))
    least.meet(cargo, start[None])
    limit, radius = site.limit("hand_clearance"), float(hand[6])
    nearest = least.low - radius
    other = other_glove(situation, attempt)
    if other is not None:
        at, far = other
        there = _Least(carriage, build([[at, at, at]]), cargo)
        there.meet(cargo, transform_points(inverse(carriage.poses[0]), np.array([at, at]))[None])
        nearest = min(nearest, there.low - far)
    low = nearest - around.error - limit.value - SURE
    high = least.high - radius + around.excess - limit.value + SURE
    if not _is_there(site, carriage, stay):
        high = UNKNOWN
    chosen = high < 0.0 and not _is_certain(carriage, least)
    where = f" {leg_words(carriage, least.at)}" if np.isfinite(least.at) else ""
    because = (
        f"{carriage.payload} comes to {_gap_words(least, radius)} the glove of {who(situation)} "
        f"on {situation.head.name}{where}."
    )
    if chosen:
        high, because = UNKNOWN, because + ANOTHER_WAY
    if has_no_way(site, carriage):
        low, because = -UNKNOWN, because + (NO_WAY if high >= 0.0 else "")
    return [
        finding_of_carriage(
            NAME,
            carriage,
            because,
            low,
            max(high, low),
            "m",
            (limit,),
            "" if high >= 0.0 else f"Turn {situation.head.name} before or after it has passed.",
            gap_mark(least.on_riding, least.on_still, f"{situation.worker}'s hand", low < 0.0),
            {"answer": f"{situation.worker} works", "gap": least.high - radius},
            (situation.worker, situation.head.name),
        )
    ]


def _is_there(site: Site, carriage: Carriage, stay: Bystander) -> bool:
    """Return whether a hand at work is there all the while a motion lasts, for sure."""
    step = stay.situation
    if len(_deeds(site, step)) != 1 or step.start is None or not step.longest:
        return False
    goes_on = carriage.start is None or step.start + step.longest > carriage.start
    lasts = stay.is_timed and stay.begins <= LASTS and stay.ends >= 1.0 - LASTS
    return lasts and goes_on
