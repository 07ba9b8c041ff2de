"""Triangles of parametric shapes, outward facing, in the frame of the shape (m).

Round parts are faceted with their corners on the true surface: the surface stands
outside the facets by at most `tessellation_error`.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.model.shapes import Cone, Cylinder, Plate, Shaped, Truss

Triangles = NDArray[np.float64]

STEP_FACETS = 0.5e-3
"""How far facets of a STEP file may lie beside its surface, as it is asked of its reader, m."""
STEP_ERROR = 3.0 * STEP_FACETS
"""How far they may lie beside it: of spheres and tori up to 2.1 times as far was measured, m."""

LONGEST_EDGE = 0.5
"""Facets along a tube are cut to this length (m), so that winding numbers stay accurate."""


def triangles_of(shaped: Shaped, mesh: Triangles | None = None) -> Triangles:
    """Return the surface of a solid or hazard as triangles.

    Parameters
    ----------
    shaped : Shaped
    mesh : ndarray, shape (n, 3, 3), m, shape frame
        What its mesh file holds; needed when the shape is a mesh.

    Returns
    -------
    triangles : ndarray, shape (n, 3, 3), m, shape frame
        Corners anticlockwise seen from outside.

    Raises
    ------
    ValueError
        If the shape is a mesh file and ``mesh`` is not given.

    Examples
    --------
    >>> triangles_of(Shaped(box=(1, 1, 2))).shape
    (12, 3, 3)
    """
    if shaped.mesh is not None:
        if mesh is None:
            raise ValueError("the triangles of a mesh file must be given")
        return mesh
    if shaped.truss is not None:
        return np.concatenate(_tubes_of(shaped.truss))
    if shaped.box is not None:
        return _box(shaped.box)
    if shaped.cylinder is not None:
        return _cylinder(shaped.cylinder)
    if shaped.cone is not None:
        return _cone(shaped.cone)
    assert shaped.plate is not None
    return _plate(shaped.plate)


def tessellation_error(shaped: Shaped) -> float:
    """Return how far the true surface may stand outside the facets, m; 0 for flat shapes.

    Of mesh files the facets are the surface, but for STEP, which is made into facets here.

    Examples
    --------
    >>> round(tessellation_error(Shaped(cylinder={"radius": 1, "height": 1, "sides": 6})), 6)
    0.133975
    """
    radius, sides = 0.0, 6
    if shaped.mesh is not None:
        return STEP_ERROR if shaped.mesh.is_step else 0.0
    if shaped.truss is not None:
        truss = shaped.truss
        radius, sides = max(truss.chord, truss.batten, truss.diagonal), truss.sides
    elif shaped.cylinder is not None:
        radius, sides = shaped.cylinder.radius, shaped.cylinder.sides
    elif shaped.cone is not None:
        radius, sides = max(shaped.cone.base, shaped.cone.top), shaped.cone.sides
    elif shaped.plate is not None and shaped.plate.holes:
        radius, sides = max(hole[2] for hole in shaped.plate.holes), shaped.plate.sides
    return radius * (1.0 - math.cos(math.pi / sides))


def convex_parts(shaped: Shaped, mesh: Triangles | None = None) -> list[Triangles]:
    """Return closed convex pieces whose union is the shape, or none when there are none known.

    Parameters
    ----------
    shaped : Shaped
    mesh : ndarray, shape (n, 3, 3), m, shape frame
        What its mesh file holds, when the shape is a mesh.

    Returns
    -------
    pieces : list of ndarray, shape (n, 3, 3), m, shape frame
        Each tube of a truss; a box, cylinder, cone or plate without holes as a whole;
        a mesh when it is closed and convex.
    """
    if shaped.truss is not None:
        return list(_tubes_of(shaped.truss))
    if shaped.mesh is not None:
        return [mesh] if mesh is not None and _is_convex(mesh) else []
    hollow = shaped.cylinder is not None and shaped.cylinder.bore > 0.0
    pierced = shaped.plate is not None and bool(shaped.plate.holes)
    return [] if hollow or pierced else [triangles_of(shaped)]


def _is_convex(triangles: Triangles) -> bool:
    import trimesh  # takes long, and few scenes need it

    faces = np.arange(3 * len(triangles)).reshape(-1, 3)
    surface = trimesh.Trimesh(triangles.reshape(-1, 3), faces, process=True)
    closed = surface.is_watertight and surface.is_winding_consistent and surface.volume > 0.0
    return bool(closed and surface.is_convex)


def _box(size: tuple[float, float, float]) -> Triangles:
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = [face for a, b, c, d in quads for face in ((a, b, c), (a, c, d))]
    return np.asarray((corners * (np.asarray(size) / 2.0))[np.array(faces)])


def _circle(radius: float, sides: int) -> NDArray[np.float64]:
    """Return the corners of a faceted circle, anticlockwise about z, shape (sides, 2)."""
    angle = 2.0 * math.pi * np.arange(sides) / sides
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def _wall(rings: list[NDArray[np.float64]]) -> Triangles:
    """Return the facets between closed rings of equal length, outside to the right going up."""
    pieces = []
    for low, high in pairwise(rings):
        low_next, high_next = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
        pieces += [np.stack([low, low_next, high_next], 1), np.stack([low, high_next, high], 1)]
    return np.concatenate(pieces)


def _at_height(circle: NDArray[np.float64], z: float) -> NDArray[np.float64]:
    return np.column_stack([circle, np.full(len(circle), z)])


def _cap(ring: NDArray[np.float64], up: bool) -> Triangles:
    """Return a flat cap over a ring of points that runs anticlockwise seen from above."""
    centre = np.broadcast_to(ring.mean(axis=0), ring.shape)
    after = np.roll(ring, -1, axis=0)
    return np.stack([centre, ring, after] if up else [centre, after, ring], 1)


@lru_cache(maxsize=512)
def _rod(radius: float, low: float, high: float, sides: int) -> Triangles:
    """Return a closed round rod along z from ``low`` to ``high``."""
    circle = _circle(radius, sides)
    facet = 2.0 * radius * math.sin(math.pi / sides)
    # A wide facet cannot be brought under the longest edge by cutting along the rod.
    along = math.sqrt(max(LONGEST_EDGE**2 - facet**2, (LONGEST_EDGE / 2.0) ** 2))
    heights = np.linspace(low, high, max(1, math.ceil((high - low) / along)) + 1)
    rings = [_at_height(circle, z) for z in heights]
    rod = np.concatenate([_cap(rings[0], up=False), _wall(rings), _cap(rings[-1], up=True)])
    rod.flags.writeable = False  # tubes of a truss share it
    return rod


def _cylinder(shape: Cylinder) -> Triangles:
    half = shape.height / 2.0
    if shape.bore == 0.0:
        return _rod(shape.radius, -half, half, shape.sides).copy()
    outer, inner = _circle(shape.radius, shape.sides), _circle(shape.bore, shape.sides)
    rings = [
        _at_height(inner, half),
        _at_height(inner, -half),
        _at_height(outer, -half),
        _at_height(outer, half),
        _at_height(inner, half),
    ]
    return _wall(rings)


def _cone(shape: Cone) -> Triangles:
    low = _at_height(_circle(shape.base, shape.sides), 0.0)
    high = _at_height(_circle(shape.top, shape.sides), shape.height)
    pieces = [_wall([low, high])]
    if shape.base > 0.0:
        pieces.append(_cap(low, up=False))
    if shape.top > 0.0:
        pieces.append(_cap(high, up=True))
    triangles = np.concatenate(pieces)
    return triangles[_areas(triangles) > 0.0]


def _areas(triangles: Triangles) -> NDArray[np.float64]:
    a, b, c = triangles.transpose(1, 0, 2)
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=-1) / 2.0)


def _plate(shape: Plate) -> Triangles:
    x, y = shape.size[0] / 2.0, shape.size[1] / 2.0
    outline = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
    holes = [_circle(radius, shape.sides) + np.array([cx, cy]) for cx, cy, radius in shape.holes]
    top, bottom = shape.thickness / 2.0, -shape.thickness / 2.0
    flat = _flat(outline, holes)
    above = np.concatenate([flat, np.full((*flat.shape[:2], 1), top)], axis=-1)
    below = above * (1.0, 1.0, -1.0)
    walls = [_wall([_at_height(outline, bottom), _at_height(outline, top)])]
    walls += [_wall([_at_height(hole, top), _at_height(hole, bottom)]) for hole in holes]
    return np.concatenate([above, below[:, ::-1], *walls])


def _flat(outline: NDArray[np.float64], holes: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return anticlockwise triangles between a convex outline and round holes, shape (n, 3, 2).

    The facets of a hole lie on an empty circle, so they are edges of the Delaunay
    triangulation, and the hole is just the triangles with all corners on it.
    """
    from scipy.spatial import Delaunay

    points = np.concatenate([outline, *holes])
    owner = np.repeat(np.arange(len(holes) + 1), [len(outline), *map(len, holes)])
    faces = Delaunay(points).simplices
    owners = owner[faces]
    in_hole = (owners[:, 0] > 0) & np.all(owners == owners[:, :1], axis=1)
    triangles = np.asarray(points[faces[~in_hole]])
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    clockwise = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] < 0.0
    triangles[clockwise] = triangles[clockwise][:, ::-1]
    return triangles


@lru_cache(maxsize=16)
def _tubes_of(truss: Truss) -> tuple[Triangles, ...]:
    """Return every tube of a truss: chords, battens, diagonals, each closed; not to be changed."""
    y, z = truss.width / 2.0, truss.height / 2.0
    corners = [(-y, -z), (y, -z), (y, z), (-y, z)]
    length = truss.bays * truss.bay
    tubes = [_tube((0.0, *c), (length, *c), truss.chord, truss.sides) for c in corners]
    sides = list(zip(corners, corners[1:] + corners[:1], strict=True))
    for i in range(truss.bays + 1):
        x = i * truss.bay
        tubes += [_tube((x, *a), (x, *b), truss.batten, truss.sides) for a, b in sides]
    if truss.diagonal > 0.0:
        for i in range(truss.bays):
            x, x_next = i * truss.bay, (i + 1) * truss.bay
            turned = truss.pattern == "zigzag" and i % 2 == 1
            for a, b in sides:
                start, end = (b, a) if turned else (a, b)
                tubes.append(_tube((x, *start), (x_next, *end), truss.diagonal, truss.sides))
    for tube in tubes:
        tube.flags.writeable = False
    return tuple(tubes)


def _tube(start: ArrayLike, end: ArrayLike, radius: float, sides: int) -> Triangles:
    """Return a closed round tube between two points."""
    a, b = np.asarray(start, float), np.asarray(end, float)
    length = float(np.linalg.norm(b - a))
    along = (b - a) / length
    across = np.eye(3)[np.argmin(np.abs(along))]
    across = across - along * (across @ along)
    across /= np.linalg.norm(across)
    axes = np.stack([across, np.cross(along, across), along])
    return np.asarray(_rod(radius, 0.0, length, sides) @ axes + a)
