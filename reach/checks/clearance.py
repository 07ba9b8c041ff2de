"""Question. Do suited body, arms and tool stay clear of the structure in the work posture?

Margin. Metres beyond the clearance asked, the least over all parts of suited body and tool,
for the posture that is held: a lower bound (facets of round parts and rounding are taken
off), signed when a part is inside a solid (winding number).

Limit. ``body_clearance`` for helmet, backpack, trunk and legs, ``arm_clearance`` for arms and
tool, ``hand_clearance`` for the gloved hand, and the stand-off of each hazard.

Blind spots. Vents are not looked at. Holds for the posture drawn, not for the way into it.
Boots and handrails are left out, what the hand is meant to touch is not counted, the suit does
not bulge, structure does not move. Hazards are held to the posture found and do not steer the
search for it. A fail says that every cell of trunk postures is refuted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import (
    SURE,
    apart,
    best_attempt,
    blank,
    drives,
    enough,
    finding_on,
    not_asked,
    point,
    ranked_attempts,
    refuted_by_all,
    standing,
    who,
)
from reach.finding import Finding, Mark
from reach.geometry import capsule_clearance, segment_distance, transform_points
from reach.model.procedure import Ingress
from reach.resting import Resting, resting_of
from reach.site import Site, Situation, Surroundings
from reach.work import ARM, ROOM, Attempt
from reach.worker.posing import Held as Posed
from reach.worker.posing import capsules_of

NAME = "clearance"
IDS = ("B1",)

FAR = 1e3
"""The margin (m) where there is no structure at all."""


@dataclass(frozen=True, slots=True)
class Closest:
    """The part that has the least room: margin (m), what is near it, witness points."""

    margin: float
    distance: float
    part: str
    solid: str
    on_part: tuple[float, float, float]
    on_solid: tuple[float, float, float]


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each ingress, for each body."""
    found = [_drive(site, situation) for situation in drives(situations)]
    found += [
        _ingress(site, situation)
        for situation in situations
        if isinstance(situation.action, Ingress)
    ]
    return found


def _drive(site: Site, situation: Situation) -> Finding:
    missing = blank(situation)
    if missing:
        return _unsettled(situation, missing, {})
    attempt = best_attempt(site, situation)
    head = situation.head
    assert head is not None
    if attempt.short > 0.0 or not attempt.in_envelope:
        return not_asked(
            NAME, situation, f"No posture reaches {head.name}, so there is none to keep clear."
        )
    for tried in ranked_attempts(site, situation):
        posed = tried.clear_only
        if posed is not None:
            return _held(site, situation, tried, posed)
    return _blocked(site, situation, attempt)


def _held(site: Site, situation: Situation, attempt: Attempt, posed: Posed) -> Finding:
    capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, posed.posture)
    closest = closest_of(
        attempt.surroundings, attempt.world_from_boots, capsules, attempt.floor, attempt.names
    )
    assert situation.head is not None
    seen = "" if attempt.witness is not None else ", sight left out"
    because = (
        f"{who(situation)} {standing(situation)} working on {situation.head.name}{seen}: the "
        f"{closest.part} is {apart(closest.distance)} {closest.solid}."
    )
    return _measured(site, situation, closest, because)


def _measured(site: Site, situation: Situation, closest: Closest, because: str) -> Finding:
    good = closest.margin >= 0.0
    marks = (
        Mark(
            "segment",
            (closest.on_part, closest.on_solid),
            f"{closest.part} to {closest.solid}",
            bad=not good,
        ),
    )
    return finding_on(
        NAME,
        situation,
        because,
        closest.margin - SURE,
        closest.margin + situation.surroundings.error + SURE if good else math.inf,
        "m",
        (
            site.limit("body_clearance"),
            site.limit("arm_clearance"),
            site.limit("hand_clearance"),
        ),
        marks=marks,
        numbers={
            "part": closest.part,
            "solid": closest.solid,
            "distance": closest.distance,
        },
    )


def _blocked(site: Site, situation: Situation, attempt: Attempt) -> Finding:
    assert situation.head is not None
    refuted = refuted_by_all(site, situation, ARM | ROOM)
    numbers = {"cells": refuted.n_cells, "cells refuted by": refuted.counts}
    base = f"{who(situation)} {standing(situation)} working on {situation.head.name}"
    if refuted.proved:
        because = (
            f"{base}: no posture keeps clear; each of {refuted.n_cells} cells of trunk postures is "
            "refuted by arm length or by a part too close to the structure."
        )
        return finding_on(
            NAME,
            situation,
            because,
            -math.inf,
            -SURE,
            "m",
            (site.limit("body_clearance"), site.limit("arm_clearance")),
            numbers=numbers,
        )
    miss = attempt.nearest_miss
    room = min(miss.body_room, miss.arm_room)
    missing = f"; the nearest one lacks {enough(-room)}" if room < 0.0 else ""
    because = f"{base}: no clear posture was found and none is excluded{missing}."
    return _unsettled(situation, because, numbers)


def _unsettled(situation: Situation, because: str, numbers: dict[str, object]) -> Finding:
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        math.inf,
        "m",
        numbers=numbers,
    )


def _ingress(site: Site, situation: Situation) -> Finding:
    missing = blank(situation)
    if missing:
        return _unsettled(situation, missing, {})
    rest = resting_of(site, situation)
    closest = closest_of(
        situation.surroundings, rest.world_from_boots, rest.capsules, rest.floor, rest.names
    )
    base = f"{who(situation)} {standing(situation)} {rest.words}"
    if closest.margin >= 0.0 or not _all_refuted(rest):
        because = f"{base}: the {closest.part} is {apart(closest.distance)} {closest.solid}."
        return _measured(site, situation, closest, because)
    because = f"{base}: whatever the trunk does, a part is too close to the structure."
    return finding_on(
        NAME,
        situation,
        because,
        -math.inf,
        -SURE,
        "m",
        (site.limit("body_clearance"),),
        numbers={"cells": rest.refuted.n_cells},
    )


def _all_refuted(rest: Resting) -> bool:
    return rest.refuted.proved


def closest_of(
    around: Surroundings,
    world_from_boots: NDArray[np.float64],
    capsules: NDArray[np.float64],
    floor: NDArray[np.float64],
    names: tuple[str, ...],
) -> Closest:
    """Return the part with the least room to structure and hazards.

    Parameters
    ----------
    capsules : ndarray, shape (n, 7), m, boot frame
    floor : ndarray, shape (n,), m
        Clearance asked of each.
    names : tuple of str, length n
    """
    p = transform_points(world_from_boots, capsules[:, :3])
    q = transform_points(world_from_boots, capsules[:, 3:6])
    radius = capsules[:, 6]
    best = Closest(FAR, FAR, names[0], "any structure", point(p[0]), point(p[0]))
    if len(around.solid_of):
        nearest = segment_distance(around.tree, p, q)
        signed = np.asarray(capsule_clearance(around.tree, p, q, radius))
        # A solid a little farther may have the larger error: the largest is taken off.
        room = signed - floor - around.error
        i = int(np.argmin(room))
        best = Closest(
            float(room[i]),
            float(signed[i]),
            names[i],
            around.names[around.solid_of[nearest.face[i]]],
            point(nearest.on_query[i]),
            point(nearest.on_mesh[i]),
        )
    for name, kind, tree, stand_off in around.hazards:
        if kind == "vent":
            continue
        distance = np.asarray(capsule_clearance(tree, p, q, radius))
        j = int(np.argmin(distance))
        if distance[j] - stand_off < best.margin:
            witness = segment_distance(tree, p[j : j + 1], q[j : j + 1])
            best = Closest(
                float(distance[j] - stand_off),
                float(distance[j]),
                names[j],
                name,
                point(witness.on_query[0]),
                point(witness.on_mesh[0]),
            )
    return best
