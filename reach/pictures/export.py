"""A scene with ways, tubes and safety lines as named parts for a GLB file."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.files.glb import Part, glb_of
from reach.pictures.carries import Carry, carries_among
from reach.pictures.carrying import moved_surfaces, way_of, waypoints_of
from reach.pictures.moves import moves_of
from reach.pictures.moving import rail_rods
from reach.pictures.palette import (
    CARGO,
    CARGO_PALE,
    CORRIDOR,
    FAIL,
    HANDRAIL,
    HAZARD,
    LINE,
    RAIL_USED,
    STRUCTURE,
    SUIT,
    TAUT,
    rgb,
)
from reach.pictures.palette import WAY as CARGO_WAY
from reach.pictures.surface import Surface, capsule, joined
from reach.site import Site, Surroundings
from reach.travel.ground import rails_in

if TYPE_CHECKING:
    from reach.pictures.moves import Move
    from reach.routes import Routes
    from reach.sweeps import Sweeps

Array = NDArray[np.float64]

WAY, TETHER = 0.02, 0.01
"""Radius of a way and of a safety line as tubes, m."""

COARSE = (12, 1)
"""Facets round a tube, and rings on its ends: there are many in one scene."""

RAIL = 0.016
"""Radius of a rail that gives none, m."""


def glb_of_routes(routes: Routes) -> bytes:
    """Return scene, ways, tubes and lines as the bytes of a GLB file."""
    around = routes.situation.surroundings
    parts = [*structure_parts(around), *hazard_parts(around)]
    parts += rail_parts(routes.site, around)
    seen: set[str] = set()
    for move in moves_of(routes.outcome):
        if move.situation.step not in seen:
            seen.add(move.situation.step)
            parts += move_parts(move)
    return glb_of(parts)


def glb_of_sweeps(sweeps: Sweeps) -> bytes:
    """Return a scene with its payload at waypoints and worst moments as the bytes of a GLB file."""
    carries = carries_among(sweeps.outcome, [one.carriage for one in sweeps.swept])
    if not carries:
        around = sweeps.site.carriages[0].surroundings
        return glb_of([*structure_parts(around), *hazard_parts(around)])
    around = carries[0].around
    parts = [*structure_parts(around), *hazard_parts(around)]
    for carry in carries:
        parts += carry_parts(carry)
    return glb_of(parts)


def carry_parts(carry: Carry, riders: bool = True) -> Iterator[Part]:
    """Yield the way as a tube, what moves at waypoints (pale) and at the worst moment.

    Without ``riders`` those are left out at waypoints.
    """
    name = carry.carriage.path or carry.carriage.step
    yield part(f"{name} way", _tube(way_of(carry), WAY, CARGO_WAY), CARGO_WAY)
    for place in waypoints_of(carry):
        pose = carry.carriage.names[place]
        for one, surface in zip(
            carry.parts, moved_surfaces(carry, carry.carriage.poses[place], True), strict=True
        ):
            if riders or one.kind != "rider":
                yield part(f"{name} {one.name} {pose}", surface, CARGO_PALE, 0.35)
    worst = carry.worst
    if worst is None:
        return
    for one, surface in zip(carry.parts, moved_surfaces(carry, worst.pose, False), strict=True):
        colour = SUIT if one.kind == "rider" else CARGO
        yield part(f"{name} {one.name} worst", surface, colour)
    ends = np.array([worst.on_part, worst.on_thing])
    if float(np.linalg.norm(ends[1] - ends[0])) > 1e-6:
        yield part(f"{name} nearest pair", _tube(ends, WAY, FAIL), FAIL)


def move_parts(move: Move) -> Iterator[Part]:
    """Yield the way of a move, its tube and its safety line."""
    name = move.situation.step
    if move.route is not None:
        yield part(name, _tube(move.route.points, WAY, RAIL_USED), RAIL_USED)
    corridor = move.corridor
    if corridor is not None:
        tube = joined(capsule(a, b, corridor.radius, CORRIDOR, COARSE) for a, b in corridor.axis)
        yield part(f"{name} corridor", tube, CORRIDOR, 0.25)
    if move.led is not None:
        line = _tube(move.led.route.points, TETHER, LINE)
        yield part(f"{name} {move.led.line.tether} as led", line, LINE)
        if move.tight is not None:
            tight = _tube(move.tight.points, TETHER, TAUT)
            yield part(f"{name} {move.led.line.tether} pulled tight", tight, TAUT)


def structure_parts(around: Surroundings) -> Iterator[Part]:
    """Yield the solids of a scene, each under its name."""
    corners = np.empty((len(around.tree.face), 3, 3))
    corners[around.tree.face] = around.tree.tri.reshape(-1, 3, 3)
    for i, name in enumerate(around.names):
        yield _triangles(name, corners[around.solid_of == i], STRUCTURE)


def rail_parts(site: Site, around: Surroundings) -> Iterator[Part]:
    """Yield the rails and handholds that are there, each under its name."""
    for rail in rails_in(site, around):
        if rail.status == "gone":
            continue
        record = site.scene.handrails.get(rail.name)
        rod = rail_rods([rail], RAIL if record is None else record.radius, HANDRAIL)
        assert rod is not None
        yield part(rail.name, rod, HANDRAIL)


def hazard_parts(around: Surroundings) -> Iterator[Part]:
    """Yield the hazards of a scene, each under its name."""
    for name, _, tree, _ in around.hazards:
        yield _triangles(name, tree.tri.reshape(-1, 3, 3), HAZARD, 0.4)


def _triangles(name: str, triangles: Array, colour: str, opacity: float = 1.0) -> Part:
    points, faces = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    return Part(name, points, faces.reshape(-1, 3).astype(np.int64), rgb(colour), opacity)


def _tube(points: Array, radius: float, colour: str) -> Surface:
    return joined(capsule(a, b, radius, colour, COARSE) for a, b in pairwise(points))


def part(name: str, surface: Surface, colour: str, opacity: float = 1.0) -> Part:
    """Return a surface as a part of one colour."""
    return Part(name, surface.points, surface.faces, rgb(colour), opacity)
