"""Question. Does the gloved hand have room round it where it works?

Margin. Metres between the glove and the structure in the work posture, less what is asked.

Limit. ``hand_clearance`` of the scene's limits; the glove's bulk is ``hand_radius`` of the suit.

Blind spots. The hand is one capsule from wrist to grip: fingers that reach on to a connector are
meant to touch and are not counted. The way in is not looked at. Another posture may have more
room: the figure is for the one shown, so a shortage stays open.
"""

from __future__ import annotations

import math

from reach.checks.clearance import closest_of
from reach.checks.wording import (
    SURE,
    blank,
    drives,
    finding_on,
    not_asked,
    ranked_attempts,
    who,
)
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.units import text_of
from reach.worker.posing import capsules_of
from reach.worker.volume import N_IDLE

NAME = "glove"
IDS = ("A6",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    missing = blank(situation)
    if missing:
        return not_asked(NAME, situation, missing)
    tried = ranked_attempts(site, situation)
    assert situation.head is not None
    name = situation.head.name
    attempt = next((one for one in tried if one.clear_only is not None), tried[0])
    posed = attempt.clear_only
    if posed is None:
        return not_asked(NAME, situation, f"No clear posture reaches {name}, so there is no hand.")
    hand = attempt.bulk.n_body + N_IDLE + 2
    capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, posed.posture)
    closest = closest_of(
        attempt.surroundings,
        attempt.world_from_boots,
        capsules[hand : hand + 1],
        attempt.floor[hand : hand + 1],
        ("glove",),
    )
    good = closest.margin >= 0.0
    because = (
        f"The {attempt.hand} glove of {who(situation)} at {name} is "
        f"{text_of(closest.distance, 'm')} from {closest.solid}."
    )
    return finding_on(
        NAME,
        situation,
        because,
        closest.margin - SURE,
        closest.margin + situation.surroundings.error + SURE if good else math.inf,
        "m",
        (site.limit("hand_clearance"),),
        marks=(
            Mark(
                "segment",
                (closest.on_part, closest.on_solid),
                f"glove to {closest.solid}",
                bad=not good,
            ),
        ),
        numbers={"distance": closest.distance, "solid": closest.solid},
    )
