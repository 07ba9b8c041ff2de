"""What has a name and can be picked: where it is, how it is drawn, which is under a pixel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, any_hit, transform_directions, transform_points
from reach.pictures.camera import Camera
from reach.pictures.palette import FASTENER, HANDRAIL, INK, OTHER_FASTENER, RESTRAINT
from reach.pictures.surface import Surface, disc, joined, rod
from reach.placing import socket_pose, station_pose
from reach.site import Site, Surroundings
from reach.travel.ground import rails_in

Array = NDArray[np.float64]

NEAR = 14.0
"""A thing within so many pixels of a click is meant."""

ALIKE = 5.0
"""Things whose distances to a click differ by less are under it alike, px."""

RAIL, PLATE = 0.022, 0.17
"""Radius of rails and half width of plates of stations as drawn, m."""

RISE = 0.03
"""How far an outline stands off what it is round, to the viewer, m."""


@dataclass(frozen=True, eq=False, slots=True)
class Thing:
    """A fastener, socket, station or rail in the world.

    Attributes
    ----------
    kind : str
        ``"fastener"``, ``"socket"``, ``"station"`` or ``"rail"``.
    name : str
    ends : ndarray, shape (2, 3), m, world
        Twice the same point for what is no rail.
    axis : ndarray, shape (3,)
        Unit: outward of a head or socket, up of a station, square to a rail.
    """

    kind: str
    name: str
    ends: Array
    axis: Array

    @property
    def middle(self) -> Array:
        """The point that it is named at, m, world."""
        return np.asarray(self.ends.mean(axis=0))


def things_of(site: Site, around: Surroundings) -> tuple[Thing, ...]:
    """Return everything that can be picked, as payloads are placed."""
    scene, world_from = site.scene, around.world_from
    found = []
    for name, record in scene.fasteners.items():
        pose = world_from[record.frame]
        at = transform_points(pose, np.array([record.at]))[0]
        axis = transform_directions(pose, np.array([record.axis], float))[0]
        found.append(Thing("fastener", name, np.stack([at, at]), axis / np.linalg.norm(axis)))
    for name, socket in scene.sockets.items():
        there = socket_pose(socket, world_from)
        found.append(Thing("socket", name, np.stack([there[:3, 3]] * 2), there[:3, 2]))
    for name, station in scene.stations.items():
        there = station_pose(station, world_from)
        found.append(Thing("station", name, np.stack([there[:3, 3]] * 2), there[:3, 2]))
    for rail in rails_in(site, around):
        if rail.status != "gone":
            ends = np.array([rail.start, rail.stop], float)
            found.append(Thing("rail", rail.name, ends, np.asarray(rail.out, float)))
    return tuple(found)


def drawn(thing: Thing) -> Surface:
    """Return a thing as it stands in the picture when it is not the one asked about."""
    at, axis = thing.middle, thing.axis
    if thing.kind == "rail":
        return rail_surface(thing, RAIL)
    if thing.kind == "socket":
        cup = rod(at - 0.03 * axis, at + 0.04 * axis, 0.05, RESTRAINT)
        return joined([cup, disc(at + 0.045 * axis, axis, 0.045, 0.085, RESTRAINT)])
    if thing.kind == "station":
        return disc(at + 0.004 * axis, axis, PLATE - 0.03, PLATE, RESTRAINT)
    return rod(at - 0.012 * axis, at + 0.012 * axis, 0.022, OTHER_FASTENER)


def outlined(thing: Thing, to_viewer: Array, metres: float) -> Surface:
    """Return what shows that a thing is picked: an ochre ring with an ink edge, or a sleeve.

    Parameters
    ----------
    to_viewer : ndarray, shape (3,)
        Unit, from the thing to the viewer: rings face that way.
    metres : float
        What a pixel is worth there; rings are never too small to be seen.
    """
    if thing.kind == "rail":
        return rail_surface(thing, RAIL + 2.0 * metres, FASTENER)
    size = {"socket": 0.12, "station": PLATE + 0.05}.get(thing.kind, 0.06)
    inner = max(size, 11.0 * metres)
    at = thing.middle + RISE * to_viewer
    edge = disc(at, to_viewer, inner - 1.5 * metres, 1.35 * inner + 1.5 * metres, INK)
    ring = disc(at + 0.002 * to_viewer, to_viewer, inner, 1.35 * inner, FASTENER)
    return joined([edge, ring])


def rail_surface(thing: Thing, radius: float, colour: str = HANDRAIL) -> Surface:
    """Return a rail as a rod; a handhold, which has no length, as a short one."""
    start, stop = thing.ends
    if np.linalg.norm(stop - start) < 1e-6:
        start, stop = start - [0.06, 0.0, 0.0], stop + np.array([0.06, 0.0, 0.0])
    return rod(np.asarray(start), np.asarray(stop), radius, colour)


def picked(
    things: Iterable[Thing], camera: Camera, tree: Tree, x: float, y: float, width: int, height: int
) -> Thing | None:
    """Return the thing under a click, None where there is none.

    Of several within reach of the click one that structure does not hide comes first, then the
    nearest to the click, then the nearest to the viewer.

    Parameters
    ----------
    x, y : float, px
        From the left and the top of a picture of ``width`` and ``height``.
    """
    best: tuple[tuple[bool, int, float], Thing] | None = None
    for thing in things:
        gap, at = _pixels(thing, camera, x, y, width, height)
        if gap > NEAR:
            continue
        start = at + 0.03 * thing.axis
        is_hidden = bool(any_hit(tree, start[None], (camera.position - start)[None], 1.0)[0])
        away = float(np.linalg.norm(camera.position - at))
        order = (is_hidden, int(gap / ALIKE) + (thing.kind == "rail"), away)
        if best is None or order < best[0]:
            best = order, thing
    return None if best is None else best[1]


def _pixels(
    thing: Thing, camera: Camera, x: float, y: float, width: int, height: int
) -> tuple[float, Array]:
    """Return how many pixels a thing lies from a click, and its point that is nearest to it."""
    shares = np.linspace(0.0, 1.0, 41 if thing.kind == "rail" else 1)[:, None]
    points = thing.ends[0] + shares * (thing.ends[1] - thing.ends[0])
    seen = (points - camera.position) @ camera.axes.T
    depth = -seen[:, 2]
    scale = 0.5 * height / np.tan(0.5 * camera.angle)
    with np.errstate(divide="ignore", invalid="ignore"):
        across = 0.5 * width + scale * seen[:, 0] / depth
        down = 0.5 * height - scale * seen[:, 1] / depth
    gaps = np.where(depth > 0.0, np.hypot(across - x, down - y), np.inf)
    k = int(np.argmin(gaps))
    return float(gaps[k]), points[k]
