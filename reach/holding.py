"""What a worker standing in a restraint can hold on to: rated rails, and the restraint's handle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, transform_directions, transform_points
from reach.site import Site, Situation
from reach.travel.ground import rails_in
from reach.work import MIRROR
from reach.worker.bound import tip_sphere
from reach.worker.figure import Figure, Grip, figure_of
from reach.worker.search import find_postures

Array = NDArray[np.float64]

SPACING = 0.10
"""Grip points along a rail are so far apart at most (m)."""

WIDTH = 0.10
"""Breadth of a single handhold, which is held anywhere along it (m)."""

BATCH = 8
MOST_QUICK, MOST_FULL = 64, 12
"""Grips that get a short look, and a hard one, for each hand; the nearest first."""

CHEST = (0.35, 0.0, 1.2)
"""Point (m, boot frame) that grips are sorted about: what is near it is the likeliest."""


@dataclass(frozen=True, slots=True, eq=False)
class Rail:
    """Something to hold: its name and two ends (m, world)."""

    name: str
    start: Array
    end: Array


@dataclass(frozen=True, slots=True, eq=False)
class Hold:
    """What was found about handholds.

    Attributes
    ----------
    rail : str
        The one that is held, or the nearest one.
    point : ndarray, shape (3,), m, world
        Where it is held, or its nearest point.
    hand : str
        The hand that holds it; empty when none was found.
    short : float, m
        How far every one is proved out of reach, at least; 0 or less proves nothing.
    """

    rail: str
    point: Array
    hand: str
    short: float


def rails_of(site: Site, situation: Situation) -> list[Rail]:
    """Return everything that may be held in the world, and the handle of the restraint stood in.

    Blocked, gone, no-touch and unrated rails are left out, as are those rated too low, grips on a
    payload (what is moved is nothing to hold on to), and handholds that give no direction.
    """
    place, world_from = situation.place, situation.surroundings.world_from
    rails = []
    for rail in (one for one in rails_in(site, situation.surroundings) if one.usable):
        ends = np.array([rail.start, rail.stop], float)
        hold = site.scene.handholds.get(rail.name)
        if hold is not None and hold.along is not None:
            along = transform_directions(world_from[hold.frame], np.asarray(hold.along)[None])[0]
            ends = ends + 0.5 * WIDTH * np.array([-along, along])
        if np.linalg.norm(ends[1] - ends[0]) > 0.0:
            rails.append(Rail(rail.name, ends[0], ends[1]))
    if place is not None and place.restraint.handle and place.world_from_boots is not None:
        handle = place.restraint.handle
        ends = transform_points(place.world_from_boots, np.array([handle.start, handle.end]))
        rails.append(Rail(f"the handle of {place.restraint_name}", ends[0], ends[1]))
    return rails


def hold_of(site: Site, situation: Situation, rails: list[Rail]) -> Hold:
    """Return a hold by joint limits, or how far all are proved out of reach.

    The hand holds a rail in the fist, either way round, askew by ``grip_tolerance`` at most.
    """
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    figure = _figure(site, situation)
    boots = inverse(place.world_from_boots)
    ends = [transform_points(boots, np.array([rail.start, rail.end])) for rail in rails]
    inner, outer = tip_sphere(figure)
    nearest = [_nearest(start, end) for start, end in ends]
    far = np.array([np.linalg.norm(point) for point in nearest]) - outer
    near = inner - np.array([np.linalg.norm(pair, axis=1).max() for pair in ends])
    short = np.maximum(far, near)
    best = int(np.argmin(short))
    world = transform_points(place.world_from_boots, nearest[best][None])[0]
    nothing = Hold(rails[best].name, world, "", float(short[best]))
    if short[best] > 0.0:
        return nothing
    grips = [
        (point, end - start, i)
        for i, (start, end) in enumerate(ends)
        if short[i] <= 0.0
        for point in _grips(start, end)
    ]
    grips.sort(key=lambda grip: round(float(np.linalg.norm(grip[0] - np.array(CHEST))), 6))
    hands = ("left", "right") if situation.own_hand == "left" else ("right", "left")
    for effort, most in (("quick", MOST_QUICK), ("full", MOST_FULL)):
        for k in range(0, min(most, len(grips)), BATCH):
            batch = grips[k : min(k + BATCH, most)]
            for hand in hands:
                i = _first_held(figure, batch, hand, effort)
                if i is not None:
                    point, _, rail = batch[i]
                    world = transform_points(place.world_from_boots, point[None])[0]
                    return Hold(rails[rail].name, world, hand, 0.0)
    return nothing


def _figure(site: Site, situation: Situation) -> Figure:
    key = ("bare hand", situation.worker, situation.case)
    if key not in site.memo:
        grip = Grip((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), site.limit("grip_tolerance").value)
        site.memo[key] = figure_of(situation.body, situation.suit, grip)
    found: Figure = site.memo[key]
    return found


def _nearest(start: Array, end: Array) -> Array:
    """Return the point of a segment that is nearest to the origin."""
    along = end - start
    share = min(1.0, max(0.0, float(-(start @ along) / (along @ along))))
    return np.asarray(start + share * along, np.float64)


def _grips(start: Array, end: Array) -> Array:
    """Return points along a rail, both ends and its middle part, shape (n, 3)."""
    n = max(2, int(np.ceil(np.linalg.norm(end - start) / SPACING - 1e-9)) + 1)
    return np.asarray(start + np.linspace(0.0, 1.0, n)[:, None] * (end - start), np.float64)


def _first_held(
    figure: Figure, batch: list[tuple[Array, Array, int]], hand: str, effort: str
) -> int | None:
    """Return which grip of a batch a hand holds, or None."""
    tips = np.array([point for point, _, _ in batch for _ in (0, 1)])
    ways = np.array([way * along for _, along, _ in batch for way in (1.0, -1.0)])
    if hand == "left":
        tips, ways = tips @ MIRROR[:3, :3], ways @ MIRROR[:3, :3]
    held = np.flatnonzero(find_postures(figure, tips, ways, effort).violation <= 0.0)
    return int(held[0]) // 2 if len(held) else None
