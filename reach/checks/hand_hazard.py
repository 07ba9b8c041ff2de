"""Question. Do hands keep off pinch points and stored energy while these are active?

Asked of hands that hold something, at every hold, hand over and alignment, and of the hands that
turn something.

Margin. Metres between the glove in the posture shown and the hazard, its stand-off taken off. The
high end counts what no choice of the place along a grip can better. Of a hand whose posture is not
known the low end counts all the room that its glove may take up: round its grip, round the second
grip of a tool, or round the fastener that it turns.

Limit. ``stand_off`` of each hazard of kind ``pinch`` or ``stored energy``, while it is ``active``.
One that is so for a part of the step alone proves no fail, nor do hands from which what they hold
was moved away.

Blind spots. What such a hazard throws or pulls in is not looked at beyond its stand-off; arms and
body are judged by the check on clearance, where something is turned. Hands on their way to a grip
are not asked about.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.partners import Holding, holdings, why_not
from reach.checks.two_handed import other_glove
from reach.checks.wording import (
    SURE,
    UNKNOWN,
    apart,
    best_attempt,
    blank,
    finding_on,
    not_asked,
    point,
    who,
)
from reach.finding import Finding, Limit, Mark
from reach.geometry import capsule_clearance, point_distance, transform_points
from reach.grasping import bars_of, grasped_of
from reach.kept.noting import altered
from reach.model.procedure import Align, Drive, HandOver, Hold
from reach.model.provenance import Provenance
from reach.site import Site, Situation
from reach.travel.hazards import Met, is_active_throughout, met
from reach.units import text_of
from reach.worker.posing import capsules_of

Array = NDArray[np.float64]

NAME = "hand-hazard"
IDS = ("B5H",)

KINDS = ("pinch", "stored energy")


@dataclass(frozen=True, slots=True, eq=False)
class _Glove:
    """Room that a glove takes up, or may take up, as a capsule in the world, m.

    ``around`` is the situation whose surroundings it is among.
    """

    name: str
    capsule: Array
    whose: str
    is_known: bool
    around: Situation


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return the nearest glove and hazard of each action of hands."""
    found = []
    for situation in situations:
        if isinstance(situation.action, Hold | HandOver | Align | Drive):
            found.append(_finding(site, situation))
    return found


def _finding(site: Site, situation: Situation) -> Finding:
    if not list(_hazards(site, situation, situation)):
        return not_asked(NAME, situation, "There is no pinch point or stored energy then.")
    gloves, missing = _gloves(site, situation)
    if not gloves and not missing:
        return not_asked(NAME, situation, "No hand holds or turns anything.")
    answers = [
        (_gap(hazard, glove), hazard, glove)
        for glove in gloves
        for hazard in _hazards(site, situation, glove.around)
    ]
    high = min(_most(site, situation), UNKNOWN)
    if missing:
        # The gloves that are known may prove a fail, never a pass.
        return finding_on(
            NAME, situation, f"It is not known where hands are: {missing}", -UNKNOWN, high, "m"
        )
    gap, hazard, glove = min(answers, key=lambda one: one[0] - _off(one[1]))
    low = gap - _off(hazard) - SURE
    comes = "comes" if glove.is_known else "may, in a posture that is not known, come"
    because = (
        f"The {glove.name} of {glove.whose} {comes} to {apart(gap)} {hazard.name}, stand-off "
        f"{text_of(hazard.record.stand_off, 'm')}."
    )
    limit = Limit(f"stand-off of {hazard.name}", hazard.record.stand_off, "m", Provenance())
    ends = (point(glove.capsule[:3]), point(glove.capsule[3:6]))
    mark = Mark("capsule", ends, glove.name, float(glove.capsule[6]), low < 0)
    return finding_on(
        NAME,
        situation,
        because,
        low,
        max(high, low + 2.0 * SURE),
        "m",
        (limit,),
        "" if high >= 0.0 else f"Make {hazard.name} safe beforehand, or hold it elsewhere.",
        (mark,),
        {"hazard": hazard.name, "gap": gap},
    )


def _hazards(site: Site, situation: Situation, around: Situation) -> Iterator[Met]:
    """Yield what is active in a step where the surroundings of another situation have it."""
    there = altered(situation, surroundings=around.surroundings)
    return (one for one in met(site, there) if one.record.kind in KINDS)


def _off(hazard: Met) -> float:
    """Return the stand-off from the facets of a hazard, m: how far it is round is in it."""
    return hazard.record.stand_off + hazard.error


def _gap(hazard: Met, glove: _Glove) -> float:
    capsule = glove.capsule
    gap = capsule_clearance(hazard.tree, capsule[:3], capsule[3:6], float(capsule[6]))
    return float(gap[0])


def _gloves(site: Site, situation: Situation) -> tuple[list[_Glove], str]:
    """Return the gloves of everyone concerned, and why nothing can be said of one, or nothing."""
    gloves, missing = [], ""
    for one in holdings(site, situation):
        why = one if isinstance(one, str) else why_not(site, one)
        missing = missing or why
        if isinstance(one, Holding) and not why:
            gloves += list(_holding(site, one))
    if isinstance(situation.action, Drive):
        why = blank(situation) or ""
        missing = missing or why
        if not why:
            gloves += list(_turning(site, situation))
    return gloves, missing


def _holding(site: Site, holding: Holding) -> Iterator[_Glove]:
    situation = holding.situation
    grasped = grasped_of(site, situation, holding.grasp)
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    for name, capsule in zip(grasped.names, grasped.capsules, strict=True):
        if name.endswith(" hand"):
            world = _world(place.world_from_boots, capsule)
            yield _Glove(name, world, who(situation), True, situation)
    if not grasped.found:
        around = situation.suit.hand_radius + situation.body.links.grip
        for bar in bars_of(site, situation.surroundings, holding.grasp):
            room = np.array([*bar.start, *bar.end, around])
            yield _Glove(f"hand on {bar.name}", room, who(situation), False, situation)


def _turning(site: Site, situation: Situation) -> Iterator[_Glove]:
    """Yield the hand that turns something, and the one at the second grip of its tool."""
    head, held = situation.head, situation.held
    assert head is not None
    assert held is not None
    attempt = best_attempt(site, situation)
    around = situation.suit.hand_radius + situation.body.links.grip
    whose, grip = who(situation), np.asarray(held.tip, float)
    if attempt.witness is not None:
        x = attempt.witness.posture
        capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, x)
        hand = _world(attempt.world_from_boots, capsules[attempt.bulk.names.index("hand")])
        yield _Glove(f"{attempt.hand} hand", hand, whose, True, situation)
    else:
        # However the tool is turned, the fist is as far from the head as from the tool's tip.
        far = float(np.linalg.norm(grip)) + around
        room = np.array([*head.point, *head.point, far])
        yield _Glove("hand that turns", room, whose, False, situation)
    other = other_glove(situation, attempt)
    if other is not None:
        at, far = other
        yield _Glove("other hand", np.array([*at, *at, far]), whose, False, situation)


def _world(pose: Array, capsule: Array) -> Array:
    ends = transform_points(pose, capsule[:6].reshape(2, 3))
    return np.append(ends, capsule[6])


def _most(site: Site, situation: Situation) -> float:
    """Return a margin that no place of the hands along their grips exceeds, m."""
    least = UNKNOWN
    for one in holdings(site, situation):
        if isinstance(one, Holding) and not why_not(site, one) and not one.doubt:
            least = min(least, _along(site, situation, one))
    return least


def _along(site: Site, situation: Situation, holding: Holding) -> float:
    there = holding.situation
    radius = there.suit.hand_radius
    least = UNKNOWN
    for bar in bars_of(site, there.surroundings, holding.grasp):
        half = 0.5 * float(np.linalg.norm(bar.end - bar.start))
        for one in _hazards(site, situation, there):
            if not is_active_throughout(one.record, situation):
                continue
            far = float(point_distance(one.tree, bar.at(0.5)[None]).distance[0])
            least = min(least, far + half - radius - one.record.stand_off)
    return least + SURE
