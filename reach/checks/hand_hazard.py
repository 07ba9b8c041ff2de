"""Question. Do hands keep off pinch points and stored energy while these are active?

Asked of hands that hold something, at every hold, hand over and alignment, and of the hand that
turns something.

Margin. Metres between the glove in the posture shown and the hazard, its stand-off taken off. The
high end counts what no choice of the place along a grip can better.

Limit. ``stand_off`` of each hazard of kind ``pinch`` or ``stored energy``, while it is ``active``.

Blind spots. What such a hazard throws or pulls in is not looked at beyond its stand-off; arms and
body are judged by the check on clearance, where something is turned. Hands on their way to a grip
are not asked about.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from reach.checks.partners import Holding, holdings, why_not
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
from reach.model.procedure import Align, Drive, HandOver, Hold
from reach.model.provenance import Provenance
from reach.site import Grasp, Site, Situation
from reach.travel.hazards import Met, met
from reach.units import text_of
from reach.worker.posing import capsules_of

Array = NDArray[np.float64]

NAME = "hand-hazard"
IDS = ("B5H",)

KINDS = ("pinch", "stored energy")


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return the nearest glove and hazard of each action of hands."""
    found = []
    for situation in situations:
        if isinstance(situation.action, Hold | HandOver | Align | Drive):
            found.append(_finding(site, situation))
    return found


def _finding(site: Site, situation: Situation) -> Finding:
    hazards = [one for one in met(site, situation) if one.record.kind in KINDS]
    if not hazards:
        return not_asked(NAME, situation, "There is no pinch point or stored energy then.")
    answers = list(_answers(site, situation, hazards))
    if not answers:
        return not_asked(NAME, situation, "No posture of the hands is known.")
    gap, hazard, name, capsule, who_words = min(answers, key=lambda one: one[0] - _off(one[1]))
    low = gap - _off(hazard) - SURE
    high = min(_most(site, situation, hazards), UNKNOWN)
    because = (
        f"The {name} of {who_words} comes to {apart(gap)} {hazard.name}, stand-off "
        f"{text_of(hazard.record.stand_off, 'm')}."
    )
    limit = Limit(f"stand-off of {hazard.name}", hazard.record.stand_off, "m", Provenance())
    mark = Mark(
        "capsule", (point(capsule[:3]), point(capsule[3:6])), name, float(capsule[6]), low < 0
    )
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


def _off(hazard: Met) -> float:
    """Return the stand-off from the facets of a hazard, m: how far it is round is in it."""
    return hazard.record.stand_off + hazard.error


def _answers(
    site: Site, situation: Situation, hazards: list[Met]
) -> Iterator[tuple[float, Met, str, Array, str]]:
    """Yield (gap, hazard, name of the hand, its capsule in the world, whose)."""
    for words, name, capsule in _hands(site, situation):
        for one in hazards:
            gap = capsule_clearance(one.tree, capsule[:3], capsule[3:6], float(capsule[6]))
            yield float(gap[0]), one, name, capsule, words


def _hands(site: Site, situation: Situation) -> Iterator[tuple[str, str, Array]]:
    for holding in _held(site, situation):
        grasped = grasped_of(site, holding.situation, holding.grasp)
        place = holding.situation.place
        assert place is not None
        assert place.world_from_boots is not None
        for name, capsule in zip(grasped.names, grasped.capsules, strict=True):
            if name.endswith(" hand"):
                yield who(holding.situation), name, _world(place.world_from_boots, capsule)
    if isinstance(situation.action, Drive) and blank(situation) is None:
        attempt = best_attempt(site, situation)
        if attempt.witness is not None:
            x = attempt.witness.posture
            capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, x)
            hand = capsules[attempt.bulk.names.index("hand")]
            yield who(situation), f"{attempt.hand} hand", _world(attempt.world_from_boots, hand)


def _held(site: Site, situation: Situation) -> Iterator[Holding]:
    for one in holdings(site, situation):
        if isinstance(one, Holding) and not why_not(site, one):
            yield one


def _world(pose: Array, capsule: Array) -> Array:
    ends = transform_points(pose, capsule[:6].reshape(2, 3))
    return np.append(ends, capsule[6])


def _most(site: Site, situation: Situation, hazards: list[Met]) -> float:
    """Return a margin that no place of the hands along their grips exceeds, m."""
    least = UNKNOWN
    for one in _held(site, situation):
        least = min(least, _along(site, one.situation, one.grasp, hazards))
    return least


def _along(site: Site, situation: Situation, grasp: Grasp, hazards: list[Met]) -> float:
    radius = situation.suit.hand_radius
    least = UNKNOWN
    for bar in bars_of(site, situation.surroundings, grasp):
        half = 0.5 * float(np.linalg.norm(bar.end - bar.start))
        for one in hazards:
            far = float(point_distance(one.tree, bar.at(0.5)[None]).distance[0])
            least = min(least, far + half - radius - one.record.stand_off)
    return least + SURE
