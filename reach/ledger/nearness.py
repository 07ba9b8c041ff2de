"""Which places, items and payloads are at hand of somebody who is at a place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry import build, point_distance, segment_pair_distance, transform_points
from reach.model.travel import rail_spot
from reach.placing import frames_of
from reach.site import Site
from reach.solids import triangles_of

Array = NDArray[np.float64]

TOUCH = 1e-9
"""What is as far as is at hand is at hand; lengths (m) that differ by less are the same."""


def at_hand(site: Site, place: str, other: str, pose: str = "", times: float = 1.0) -> bool | None:
    """Return whether something at ``other`` is at hand of somebody at ``place``.

    Parameters
    ----------
    site : Site
    place, other : str
        Places by name; ``other`` may be a payload, in its pose ``pose``.
    times : float
        How many times the limit is enough: two where somebody reaches from both places.

    Returns
    -------
    bool or None
        None where one of them is nowhere in particular: a crane's tip under way, the world.
    """
    if place == other:
        return True
    key = ("at hand", place, other, pose, times)
    if key not in site.memo:
        apart = _apart(site, place, other, pose)
        limit = site.limit("at_hand").value
        site.memo[key] = None if apart is None else apart <= times * limit + TOUCH
    found: bool | None = site.memo[key]
    return found


def _apart(site: Site, place: str, other: str, pose: str) -> float | None:
    here = ends_of(site, place)
    if here is None:
        return None
    if other in site.scene.payloads:
        return _to_payload(site, here, other, pose)
    there = ends_of(site, other)
    if there is None:
        return None
    p, q, r, s = (np.asarray(point)[None] for point in (*here, *there))
    return float(segment_pair_distance(p, q, r, s)[0])


def ends_of(site: Site, place: str) -> tuple[Array, Array] | None:
    """Return both ends of a place in the world, m, the same point twice unless it is a rail.

    Places on a payload are taken in its first pose; None for a name that is no place.
    """
    scene, world_from = site.scene, site.world_from
    for table in (
        scene.stations, scene.hatches, scene.sockets, scene.anchors, scene.handholds,
        scene.fasteners,
    ):  # fmt: skip
        if place in table:
            record = table[place]
            at = transform_points(world_from[record.frame], np.asarray(record.at, float)[None])[0]
            return at, at
    rail, along = rail_spot(place)
    if rail not in scene.handrails:
        return None
    bar = scene.handrails[rail]
    ends = transform_points(world_from[bar.frame], np.array([bar.start, bar.end], float))
    if "@" not in place:
        return ends[0], ends[1]
    way = ends[1] - ends[0]
    at = ends[0] + min(1.0, along / float(np.linalg.norm(way))) * way
    return at, at


def _to_payload(site: Site, here: tuple[Array, Array], payload: str, pose: str) -> float | None:
    """Return how far the nearest solid of a payload is from the middle of a place."""
    scene = site.scene
    world_from = frames_of(scene, {payload: pose} if pose else {})
    solids = [
        transform_points(world_from[name], triangles_of(solid).reshape(-1, 3)).reshape(-1, 3, 3)
        for name, solid in scene.solids.items()
        if scene.rides_on(name) == payload and solid.mesh is None
    ]
    if not solids:
        return None
    tree = build(np.ascontiguousarray(np.concatenate(solids)))
    return float(point_distance(tree, 0.5 * (here[0] + here[1])[None]).distance[0])
