"""Question. Does the worker see the fastener head in the work posture?

Margin. Share of the head that is seen, less the share asked. The head is 19 points a little in
front of its face; a line from the eye to each must be free, inside the field of view of helmet,
head and eyes, and not too flat to the fastener's axis. The share is that of the points: exact.

Limit. ``visible_share`` and ``sight_angle`` of the scene's limits, the field of view of the suit.

Blind spots. Glare, fogging and what the worker's own hand and tool hide are left out; darkness is
asked by the check on light.
The eye is one point fixed to the torso; the proofs add the play of the head in the helmet.
A fail says that from every eye position of every posture too much of the head is hidden.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import (
    best_attempt,
    blank,
    finding_on,
    head_mark,
    not_asked,
    point,
    ranked_attempts,
    refuted_by_all,
    standing,
    who,
)
from reach.finding import Finding, Mark
from reach.geometry import angle_between, transform_points
from reach.looking import look_of
from reach.model.procedure import Drive, Inspect
from reach.site import Site, Situation
from reach.spots import N_SPOTS
from reach.units import text_of
from reach.work import ARM, ROOM, SIGHT, Attempt
from reach.worker.cells import Refuted
from reach.worker.posing import Held as Posed
from reach.worker.posing import eye_of

NAME = "sight"
IDS = ("C1",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned or inspected, for each body."""
    return [_finding(site, situation) for situation in _asked(situations)]


def _asked(situations: tuple[Situation, ...]) -> Iterator[Situation]:
    return (s for s in situations if isinstance(s.action, Drive | Inspect))


def _finding(site: Site, situation: Situation) -> Finding:
    missing = blank(situation)
    if missing:
        return _unsettled(situation, missing)
    head = situation.head
    assert head is not None
    if isinstance(situation.action, Drive):
        attempt = best_attempt(site, situation)
        if attempt.short > 0.0 or not attempt.in_envelope:
            return not_asked(
                NAME, situation, f"No posture reaches {head.name}, so there is none to look from."
            )
    attempt, posed = sighting_of(site, situation)
    if posed is not None:
        return _seen(site, situation, attempt, posed)
    return _hidden(site, situation, _refuted(site, situation, attempt))


def sighting_of(site: Site, situation: Situation) -> tuple[Attempt, Posed | None]:
    """Return the attempt to look that gets farthest, and a posture that sees enough, if found."""
    if isinstance(situation.action, Inspect):
        look = look_of(site, situation)
        return look, look.sighting
    tried = ranked_attempts(site, situation)
    attempt = next((one for one in tried if one.seen_only is not None), tried[0])
    return attempt, attempt.seen_only


def eye_in(attempt: Attempt, posed: Posed) -> NDArray[np.float64]:
    """Return the eye point of a posture, shape (3,), m, world."""
    eye = eye_of(attempt.figure, attempt.bulk, posed.posture)[None]
    found: NDArray[np.float64] = transform_points(attempt.world_from_boots, eye)[0]
    return found


def _seen(site: Site, situation: Situation, attempt: Attempt, posed: Posed) -> Finding:
    limit = site.limit("visible_share")
    head = situation.head
    assert head is not None
    eye = eye_in(attempt, posed)
    worst = float(angle_between(eye - attempt.target.spots, head.axis).max())
    because = (
        f"{who(situation)} {standing(situation)} sees {posed.share:.0%} of {head.name}, "
        f"{text_of(posed.off, 'rad')} off its axis ({text_of(worst, 'rad')} at worst)."
    )
    return finding_on(
        NAME,
        situation,
        because,
        posed.share - limit.value,
        posed.share - limit.value,
        "",
        (limit, site.limit("sight_angle")),
        marks=(Mark("segment", (point(eye), point(head.point)), "line of sight"),),
        numbers={
            "share": posed.share,
            "angle off axis": posed.off,
            "worst angle off axis": worst,
            "angle room": site.limit("sight_angle").value - posed.off,
            "field-of-view room": -posed.outside,
        },
    )


def _refuted(site: Site, situation: Situation, attempt: Attempt) -> Refuted:
    if isinstance(situation.action, Inspect):
        refuted = attempt.refuted(SIGHT)
        return refuted if refuted.proved else attempt.refuted(ROOM | SIGHT)
    refuted = refuted_by_all(site, situation, SIGHT)
    return refuted if refuted.proved else refuted_by_all(site, situation, ARM | SIGHT)


def _hidden(site: Site, situation: Situation, refuted: Refuted) -> Finding:
    limit = site.limit("visible_share")
    head = situation.head
    assert head is not None
    numbers = {"cells": refuted.n_cells, "cells refuted by": refuted.counts}
    base = f"{who(situation)} {standing(situation)}"
    if not refuted.proved:
        return _unsettled(
            situation,
            f"No posture of {base} was found that sees {head.name}, and none is excluded.",
            numbers,
        )
    words = "from every eye position"
    if refuted.counts[0] or refuted.counts[1]:
        words += " that also reaches" if refuted.counts[0] else " that keeps clear"
    because = (
        f"{base} cannot see {head.name}: {words} more than {1.0 - limit.value:.0%} of the head is "
        f"hidden or too far aside ({refuted.n_cells} cells of trunk postures refuted)."
    )
    most = (math.ceil(limit.value * N_SPOTS - 1e-9) - 1) / N_SPOTS - limit.value
    return finding_on(
        NAME,
        situation,
        because,
        min(-limit.value, most),
        most,
        "",
        (limit, site.limit("sight_angle")),
        "Work from another side of what hides it, or turn the boots the other way up.",
        (head_mark(situation, True),),
        numbers,
    )


def _unsettled(
    situation: Situation, because: str, numbers: dict[str, object] | None = None
) -> Finding:
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        math.inf,
        "",
        numbers=numbers or {},
    )
