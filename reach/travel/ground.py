"""Rails and places of a scene in the world, as the rail graph takes them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.geometry import point_distance, transform_directions, transform_points
from reach.model.scene import Handrail
from reach.model.travel import Handhold, rail_spot
from reach.rails.graph import RailGraph, rail_graph
from reach.rails.records import Rail, Spot
from reach.rails.span import HandSpan, span_of
from reach.site import Site, Situation, Surroundings

Array = NDArray[np.float64]

ZENITH = (0.0, 0.0, 1.0)
"""The side from which a rail is held that is nowhere near any structure."""

ON_RAIL = 1e-6
"""A place on a rail meets that rail and no other (m)."""

PITCH = 0.30
"""Grips of the graph along one rail are at most this far apart (m): hands may hold anywhere."""


def rails_in(site: Site, surroundings: Surroundings) -> tuple[Rail, ...]:
    """Return every handrail and handhold in the world; those on a payload are left out."""
    key = ("rails", id(surroundings))
    if key not in site.memo:
        scene = site.scene
        records: dict[str, Handrail | Handhold] = {**scene.handrails, **scene.handholds}
        site.memo[key] = tuple(
            _rail(name, record, surroundings, site.limit("crew_load").value)
            for name, record in records.items()
            if not scene.rides(record.frame)
        )
    found: tuple[Rail, ...] = site.memo[key]
    return found


def _rail(name: str, record: Handrail | Handhold, around: Surroundings, load: float) -> Rail:
    pose = around.world_from[record.frame]
    ends = (record.start, record.end) if isinstance(record, Handrail) else (record.at,) * 2
    start, stop = transform_points(pose, np.asarray(ends, float))
    if record.out is None:
        out = _away(around, 0.5 * (start + stop))
    else:
        out = transform_directions(pose, np.asarray(record.out)[None])[0]
    return Rail(
        name,
        _vec(start),
        _vec(stop),
        _vec(out),
        record.condition,
        record.rated and (record.rating is None or record.rating >= load),
        record.rating,
        record.stowed,
    )


def _away(around: Surroundings, middle: Array) -> Array:
    """Return the unit vector from the nearest structure to the middle of a rail."""
    nearest = point_distance(around.tree, middle[None])
    away = middle - nearest.on_mesh[0]
    length = float(np.linalg.norm(away))
    if not around.names or length < 1e-9:
        return np.array(ZENITH)
    return np.asarray(away / length)


def _vec(v: Array) -> tuple[float, float, float]:
    return (float(v[0]), float(v[1]), float(v[2]))


def spot_in(site: Site, situation: Situation, name: str) -> Spot:
    """Return a place by name, in the world.

    A station is where the middle of the trunk is of a body that stands in it, a socket where
    the restraint is plugged in: the setting of the restraint turns the body about it.
    """
    scene, world_from = site.scene, situation.surroundings.world_from
    links = situation.body.links
    middle = 0.5 * (links.hip + links.shoulder) + situation.suit.sole
    if name in scene.stations:
        station = scene.stations[name]
        at = np.asarray(station.at, float) + middle * np.asarray(station.up)
        return Spot(name, _vec(transform_points(world_from[station.frame], at[None])[0]))
    if name in world_from:
        # Boots on a crane's tip that a payload's path has taken along.
        return Spot(name, _vec(transform_points(world_from[name], np.array([[0, 0, middle]]))[0]))
    for table in (scene.hatches, scene.sockets, scene.anchors, scene.handholds):
        if name in table:
            record = table[name]
            point = np.asarray(record.at, float)[None]
            return Spot(name, _vec(transform_points(world_from[record.frame], point)[0]))
    rail, along = rail_spot(name)
    bar = scene.handrails[rail]
    ends = transform_points(world_from[bar.frame], np.array([bar.start, bar.end], float))
    way = ends[1] - ends[0]
    share = min(1.0, along / float(np.linalg.norm(way)))
    # A rail on what is moved is no way: whoever comes to it spans the gap from a rail that is one.
    span = gap_limit(site).value if scene.rides(bar.frame) else ON_RAIL
    return Spot(name, _vec(ends[0] + share * way), span)


def on_crane(site: Site, anchor: str) -> str:
    """Return the crane on whose tip an anchor is, or nothing: where it is, nothing says then."""
    return site.scene.anchors[anchor].on or ""


def spots_now(
    site: Site, situation: Situation, names: Iterable[str]
) -> tuple[tuple[float, float, float], ...]:
    """Return where places are by now, for those on what moves are elsewhere later, m."""
    return tuple(spot_in(site, situation, name).point for name in names if name)


def body_span(site: Site, situation: Situation) -> HandSpan:
    """Return what this body spans from hand to hand, as an interval."""
    key = ("span", situation.body, id(situation.suit))
    if key not in site.memo:
        site.memo[key] = span_of(situation.body, situation.suit)
    found: HandSpan = site.memo[key]
    return found


def gap_limit(site: Site) -> Limit:
    """Return the limit on gaps in force."""
    return site.limit("rail_gap")


def graph_in(
    site: Site, situation: Situation, names: tuple[str, ...], avoid: tuple[str, ...] = ()
) -> RailGraph:
    """Return the rail graph of one body, with the places ``names`` in it."""
    gap = min(gap_limit(site).value, body_span(site, situation).low)
    spots = tuple(spot_in(site, situation, name) for name in dict.fromkeys(names))
    rails = rails_in(site, situation.surroundings)
    known = {rail.name for rail in rails}
    avoid = tuple(name for name in avoid if name in known)
    key = ("graph", id(situation.surroundings), gap, spots, avoid)
    if key not in site.memo:
        span = site.limit("place_span").value
        site.memo[key] = rail_graph(rails, spots, gap, span, PITCH, avoid)
    found: RailGraph = site.memo[key]
    return found
