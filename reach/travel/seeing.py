"""What someone who holds a rail beside an anchor sees of the hook there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import any_hit, capsule_clearance, inside, point_distance, transform_points
from reach.rails.records import Rail
from reach.site import Site, Situation
from reach.travel.ground import PITCH, rails_in
from reach.travel.stance import eye_of, mover_of, stance_at, view_of
from reach.worker.volume import view_excess

Array = NDArray[np.float64]

HOOK = 0.020
"""Points of a hook lie so far from its anchor (m)."""

ASIDE = (0.0, 0.3, -0.3)
"""The body is tried so far aside of straight out (m)."""

GOLDEN = (1.0 + 5.0**0.5) / 2.0
CORNERS = np.array(
    [np.roll([0.0, a, b * GOLDEN], k) for k in range(3) for a in (1, -1) for b in (1, -1)]
) / np.hypot(1.0, GOLDEN)
"""Twelve points on a unit sphere; the set is its own mirror image in every coordinate."""


@dataclass(frozen=True, eq=False)
class Seen:
    """The stance from which most of a hook is seen.

    Attributes
    ----------
    share : float
        Of the points of the hook that nothing hides.
    rail : str
        The rail held.
    eye, grip : ndarray, shape (3,), m, world
    """

    share: float
    rail: str
    eye: Array
    grip: Array


def best_view(site: Site, situation: Situation, hook: Array) -> Seen | None:
    """Return the stance that sees most of a hook, None where no clear stance faces it.

    Stances hold a rail within ``place_span`` of the hook, along it either way, and are clear of
    the structure; the hook lies in the field of view.
    """
    around, radius = situation.surroundings, site.limit("corridor_radius").value
    mover, eye, view = mover_of(site, situation), eye_of(situation), view_of(situation)
    best: Seen | None = None
    for rail, grip, way in _grips(site, situation, hook):
        out = np.asarray(rail.out, float)
        across = np.cross(way, out)
        for aside in ASIDE:
            off = radius * out + aside * across
            pose = stance_at(grip + off, way, -off)
            seer = transform_points(pose, eye[None])[0]
            if view_excess(pose[:3, :3], seer, hook, view) > 0.0:
                continue
            ends = (transform_points(pose, mover.p), transform_points(pose, mover.q))
            room = capsule_clearance(around.tree, *ends, mover.radius).min()
            if room <= around.error:
                continue
            to = hook_points(hook, seer, out) - seer
            share = float(1.0 - any_hit(around.tree, np.tile(seer, (12, 1)), to, 1.0).mean())
            if best is None or share > best.share:
                best = Seen(share, rail.name, seer, grip)
    return best


def hook_points(hook: Array, eye: Array, out: Array) -> Array:
    """Return the points of a hook, shape (12, 3), m: they turn with who looks at it."""
    ahead = (eye - hook) / np.linalg.norm(eye - hook)
    side = np.cross(ahead, out)
    if float(np.linalg.norm(side)) < 1e-9:
        side = np.cross(ahead, np.eye(3)[int(np.argmin(np.abs(ahead)))])
    side /= np.linalg.norm(side)
    return np.asarray(hook + HOOK * CORNERS @ np.stack([ahead, side, np.cross(ahead, side)]))


def is_buried(situation: Situation, hook: Array) -> bool:
    """Return whether all of a hook lies inside a solid, however its points are turned."""
    tree = situation.surroundings.tree
    if not situation.surroundings.names or not bool(inside(tree, hook[None])[0]):
        return False
    return float(point_distance(tree, hook[None]).distance[0]) > HOOK + situation.surroundings.error


def _grips(site: Site, situation: Situation, hook: Array) -> list[tuple[Rail, Array, Array]]:
    """Return rails near a hook, points on them, and the way ahead along each (unit)."""
    span, found = site.limit("place_span").value, []
    for rail in rails_in(site, situation.surroundings):
        if not rail.usable:
            continue
        start, stop = np.asarray(rail.start), np.asarray(rail.stop)
        along = stop - start
        length = float(np.linalg.norm(along))
        if length < 1e-6:
            grips, ways = start[None], _across(np.asarray(rail.out, float))
        else:
            nearest = np.clip((hook - start) @ along / length**2, 0.0, 1.0)
            shares = np.clip(nearest + np.array([0.0, 1, -1, 2, -2]) * PITCH / length, 0.0, 1.0)
            grips, ways = start + shares[:, None] * along, [along / length, -along / length]
        near = [grip for grip in grips if float(np.linalg.norm(grip - hook)) <= span]
        found += [(rail, grip, way) for grip in near for way in ways]
    return found


def _across(out: Array) -> list[Array]:
    """Return four ways square to the outward side of a handhold."""
    first = np.cross(out, np.eye(3)[int(np.argmin(np.abs(out)))])
    first /= np.linalg.norm(first)
    second = np.cross(out, first)
    return [first, -first, second, -second]
