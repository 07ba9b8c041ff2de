"""What moves rigidly with what is moved: its solids, who rides on it, the plate they stand on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, transform_points
from reach.model.arm import ArmLink, LinkShape
from reach.model.shapes import Cylinder, Shaped
from reach.payload.bodies import body_facets
from reach.payload.facets import box_facets, capsule_facets, kept_tree, placed
from reach.payload.records import Part, PartKind
from reach.site import Carriage, Site, Surroundings
from reach.solids import tessellation_error, triangles_of

Array = NDArray[np.float64]


def parts_of(site: Site, carriage: Carriage) -> tuple[Part, ...]:
    """Return what is moved, in its own frame: payload, rider, boot plate (kept on the site).

    The frame is the payload's, or that of the boots where no payload is moved.
    """
    key = ("parts", carriage)
    if key not in site.memo:
        found = [_payload(site, carriage), _rider(site, carriage), _plate(site, carriage)]
        site.memo[key] = tuple(part for part in found if part is not None)
    parts: tuple[Part, ...] = site.memo[key]
    return parts


def farthest_of(site: Site, carriage: Carriage) -> float:
    """Return how far any part of what is moved is from the origin of its frame, m."""
    key = ("farthest", carriage)
    if key not in site.memo:
        corners = [part.tree.tri.reshape(-1, 3) for part in parts_of(site, carriage)]
        lengths = (float(np.linalg.norm(one, axis=1).max()) for one in corners)
        site.memo[key] = max(lengths, default=0.0)
    far: float = site.memo[key]
    return far


def _payload(site: Site, carriage: Carriage) -> Part | None:
    if not carriage.payload:
        return None
    around = carriage.surroundings
    key = ("payload part", carriage.payload, id(around))
    if key not in site.memo:
        site.memo[key] = around, _payload_part(site, carriage.payload, around)
    found: Part | None = site.memo[key][1]
    return found


def _payload_part(site: Site, payload: str, around: Surroundings) -> Part | None:
    frame_from_world = inverse(around.world_from[payload])
    sets, names, error, excess = [], [], 0.0, 0.0
    for name in solids_on(site, payload):
        triangles = solid_triangles(around, name)
        sets.append(transform_points(frame_from_world, triangles.reshape(-1, 3)).reshape(-1, 3, 3))
        names.append(name)
        one_error, one_excess = errors_of(site, around, name)
        error, excess = max(error, one_error), max(excess, one_excess)
    return _part(payload, "payload", sets, names, error, excess)


def solids_on(site: Site, payload: str) -> tuple[str, ...]:
    """Return the solids that ride on a payload: placed in it, or in what is."""
    scene = site.scene
    return tuple(
        name for name, solid in scene.solids.items() if scene.rides_on(solid.frame) == payload
    )


def solid_triangles(around: Surroundings, name: str) -> Array:
    """Return the triangles of one solid in the world, shape (n, 3, 3), m."""
    rows = np.flatnonzero(around.solid_of[around.tree.face] == around.names.index(name))
    return around.tree.tri[rows].reshape(-1, 3, 3)


def errors_of(site: Site, around: Surroundings, name: str) -> tuple[float, float]:
    """Return how far a solid stands outside its facets, and they outside it, at most, m."""
    index = around.names.index(name)
    error = float(around.errors[index])
    mine = around.solid_of == index
    is_hollow = site.scene.solids[name].mesh is None and bool((around.part_of[mine] < 0).any())
    return error, error if is_hollow else 0.0


def _rider(site: Site, carriage: Carriage) -> Part | None:
    rider, from_boots = carriage.rider, carriage.payload_from_boots
    if rider is None or from_boots is None:
        return None
    sets, names, excess = body_facets(site, rider, from_boots)
    return _part(rider.worker, "rider", sets, names, 0.0, excess)


def _plate(site: Site, carriage: Carriage) -> Part | None:
    arm = site.arms.get(carriage.crane)
    if arm is None or carriage.payload_from_tip is None:
        return None
    link = arm.links[-1]
    sets, error, excess = link_facets(link)
    return _part(
        link.name.replace("_", " "),
        "plate",
        [placed(carriage.payload_from_tip, one) for one in sets],
        [link.name] * len(sets),
        error,
        excess,
    )


def link_facets(link: ArmLink) -> tuple[list[Array], float, float]:
    """Return the facets of a link in its frame, shape by shape, with error and excess (m)."""
    sets, error, excess = [], 0.0, 0.0
    for shape in link.shapes:
        facets, more, over = _shape_facets(shape)
        sets.append(placed(shape.link_from_shape, facets))
        error, excess = max(error, more), max(excess, over)
    return sets, error, excess


def _shape_facets(shape: LinkShape) -> tuple[Array, float, float]:
    if shape.kind == "box":
        half = 0.5 * np.asarray(shape.size, float)
        return box_facets(-half, half), 0.0, 0.0
    if shape.kind == "cylinder":
        radius, height = shape.size
        shaped = Shaped(cylinder=Cylinder(radius=radius, height=height))
        return triangles_of(shaped), tessellation_error(shaped), 0.0
    if shape.kind == "sphere":
        facets, excess = capsule_facets(np.array([0.0] * 6 + [shape.size[0]]))
        return facets, 0.0, excess
    return shape.triangles, 0.0, 0.0


def _part(
    name: str,
    kind: PartKind,
    sets: Sequence[Array],
    names: Sequence[str],
    error: float,
    excess: float,
) -> Part | None:
    """Return a part made of sets of triangles, one for each name; None without a triangle."""
    if not sum(map(len, sets)):
        return None
    return Part(
        name,
        kind,
        kept_tree(np.concatenate(sets)),
        tuple(names),
        np.repeat(np.arange(len(sets)), [len(one) for one in sets]),
        error,
        excess,
    )
