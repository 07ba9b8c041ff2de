"""Draws moves: structure, rails used, spans, tube, safety line, from two sides on one sheet."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.geometry import Tree, transform_points
from reach.pictures.camera import Camera
from reach.pictures.move_notes import move_frame, move_notes
from reach.pictures.moves import Move
from reach.pictures.notes import Notes
from reach.pictures.overlay import Window, draw_axes, draw_notes
from reach.pictures.palette import (
    CORRIDOR,
    FAR_STRUCTURE,
    HANDRAIL,
    HAZARD,
    INK,
    PAPER,
    RAIL_BEYOND,
    RAIL_USED,
    STRUCTURE,
    SUIT,
    mixed,
    rgb,
)
from reach.pictures.panels import BAND, Panel, Seen, View, laid, outermost, sides_of
from reach.pictures.pen import Pen, lay_over, new_sheet
from reach.pictures.renderer import rendered
from reach.pictures.sheet import VIEW, framed
from reach.pictures.structure import Structure
from reach.pictures.studio import Studio
from reach.pictures.surface import Surface, capsule, joined, mesh_of, painted, rod
from reach.pictures.worker import COLOURS
from reach.rails.records import Rail
from reach.site import Surroundings
from reach.travel.ground import rails_in, spot_in

Array = NDArray[np.float64]

THICK, THIN = 0.05, 0.022
"""Radius of rails that are used and of others as drawn, m: true ones would not be seen."""

LEAST_THICK, LEAST_THIN, LEAST_EDGE = 4.5, 1.2, 1.1
"""Least radius of both in the picture and width of the edge of those used, px.

A dotted line of 5 px, a safety line along the rail, leaves ochre on either side.
"""

_TUBE, _HAZARD = 0.20, 0.16
CLOSE = 0.5
"""A move smaller than this share of what is drawn with its line is also drawn nearer."""

_AROUND = 4.0
"""Rails and hazards within this of the way are drawn, m."""


class MoveStudio(Studio):
    """Draws the moves of one run; to be closed, or used in a ``with`` statement."""

    def picture(self, move: Move) -> Image.Image:
        """Return the picture of a move: two views on one sheet, with what was found."""
        sheet = framed(move_frame(move))
        points, near = subject(move), subject(move, with_line=False)
        around = move.situation.surroundings
        # Beside a line that comes from far a short move would not be seen.
        is_short = _size(near) < CLOSE * _size(points)
        line = near if move.route is None else move.route.points
        ways = sides_of(line, outs_of(move), around)
        more = self.context(around, points)
        views = [View(ways[0], points, more)]
        views += [
            View(ways[1], near, near, ", nearer") if is_short else replace(views[0], way=ways[1])
        ]
        notes = move_notes(move)
        for seen, panel in laid(self.site.scene, views):
            self._build(move, points, seen.pixels)
            self._lay(sheet, panel, seen, notes, bodies_of(move))
        return sheet

    def context(self, around: Surroundings, points: Array) -> Array:
        """Return outermost points of structure and hazards near points, shape (n, 3), m."""
        hazards = [corners.reshape(-1, 3) for _, _, corners in hazards_by(around, points)]
        return outermost(np.concatenate([self._structure(around).points, points, *hazards]))

    def _lay(self, sheet: Image.Image, panel: Panel, seen: Seen, notes: Notes, rows: Array) -> None:
        """Draw one view of what is built, with its notes and where it is taken from."""
        left, top, size = panel.left, panel.top, (panel.width, panel.height)
        pen = Pen(sheet)
        pen.box((left, top - BAND, left + size[0], top), PAPER, round_=0)
        pen.text((left + 14.0, top - 0.5 * BAND), seen.words, 15.0, INK, True)
        pen.rule((left, top - BAND), (left + size[0], top - BAND), INK, 2)
        self.plotter.window_size = list(size)
        sheet.paste(Image.fromarray(self.bare_view(seen.camera)), (left, top))
        overlay, over = new_sheet(*size)
        window = Window(seen.camera, *size)
        draw_notes(over, window, notes, rows)
        draw_axes(over, window)
        lay_over(sheet, overlay, (left, top))
        if left > VIEW[0]:
            pen.rule((left, top - BAND), (left, top + size[1]), INK, 2)

    def bare_view(self, camera: Camera) -> NDArray[np.uint8]:
        """Return what a camera sees of what is built, shape (h, w, 3)."""
        view = self.plotter.camera
        view.position, view.focal_point, view.up = camera.position, camera.focus, camera.up
        view.view_angle = math.degrees(camera.angle)
        away = float(np.linalg.norm(camera.position - camera.focus))
        view.clipping_range = (0.05 * away, 4.0 * away + 40.0)
        return rendered(self.plotter)

    def _build(self, move: Move, points: Array, pixels: float) -> None:
        """Build what is drawn; ``pixels`` a metre at the middle say how thick rails must be."""
        self.plotter.clear_actors()
        around = move.situation.surroundings
        self._add(faint_structure(self._structure(around), points), shine=0.04)
        self._add(hazard_veils(around, points), opacity=_HAZARD)
        self._add_move(move, points, pixels)

    def _add_move(self, move: Move, points: Array, pixels: float) -> None:
        """Add rails, the body half-way and the tube that must be free."""
        around = move.situation.surroundings
        used = set() if move.route is None else set(move.route.rails)
        rails = [rail for rail in rails_in(self.site, around) if is_near(rail, points)]
        far: set[str] = set()
        if move.none is not None and move.route is None:
            used, far = set(move.none.from_start), set(move.none.from_stop)
        others = [rail for rail in rails if rail.name not in used | far and rail.status != "gone"]
        thick, thin = max(THICK, LEAST_THICK / pixels), max(THIN, LEAST_THIN / pixels)
        self._add(rail_rods(others, thin, HANDRAIL))
        for group, colour in ((used, RAIL_USED), (far, RAIL_BEYOND)):
            mine = [rail for rail in rails if rail.name in group]
            self._add(rail_rods(mine, thick, colour), outline=LEAST_EDGE / pixels)
        rows, names = body_rows(move)
        if len(rows):
            parts = [capsule(r[:3], r[3:6], r[6], COLOURS.get(name, SUIT))
                     for r, name in zip(rows, names, strict=True)]  # fmt: skip
            self._add(joined(parts), outline=0.012)
        if move.corridor is not None:
            tube = [capsule(a, b, move.corridor.radius, CORRIDOR) for a, b in move.corridor.axis]
            # Only what faces the viewer: pieces that overlap would else show their ends.
            self._mesh(
                mesh_of(joined(tube)), color=CORRIDOR, opacity=_TUBE, culling="back", ambient=0.5,
                diffuse=0.5,
            )  # fmt: skip


def _size(points: Array) -> float:
    return float(np.linalg.norm(np.ptp(points, axis=0)))


def subject(move: Move, with_line: bool = True) -> Array:
    """Return the points that a picture of a move has to hold, shape (n, 3), m, world."""
    points = []
    if move.route is not None:
        points.append(move.route.points)
    if move.none is not None:
        points += [np.array([gap.start, gap.stop]) for gap in move.none.gaps]
        around = move.situation.surroundings
        known = {rail.name: rail for rail in rails_in(move.site, around)}
        near = [known[n] for n in (*move.none.from_start, *move.none.from_stop)]
        points += [np.array([rail.start, rail.stop]) for rail in near]
        points.append(np.array([spot for _, spot in ends_of(move)]))
    if move.corridor is not None:
        axis = move.corridor.axis.reshape(-1, 3)
        rows = body_rows(move)[0]
        points += [rows[:, :3], rows[:, 3:6]]
        for way in np.concatenate([np.eye(3), -np.eye(3)]):
            points.append(axis + move.corridor.radius * way)
    if with_line and move.led is not None:
        points.append(move.led.route.points)
    if with_line or not points:
        marks = [mark for finding in move.findings for mark in finding.marks if mark.bad]
        points += [np.asarray(mark.points, float) for mark in marks]
    return np.concatenate(points) if points else np.zeros((1, 3))


def ends_of(move: Move) -> list[tuple[str, Array]]:
    """Return names and points, m, world, of the places that a move leads from and to."""
    passage = move.situation.passage
    assert passage is not None
    return [
        (name, np.asarray(spot_in(move.site, move.situation, name).point))
        for name in (passage.start, passage.stop)
    ]


def outs_of(move: Move) -> Array:
    """Return the sides from which the rails of a way are held, shape (n, 3)."""
    rails = rails_in(move.site, move.situation.surroundings)
    used = [rail.name for rail in rails] if move.route is None else list(move.route.rails)
    found = [rail.out for rail in rails if rail.name in used]
    return np.array(found or [(0.0, 1.0, 0.0)], float)


def faint_structure(structure: Structure, points: Array) -> Surface | None:
    """Return the structure in a pale colour, a little darker near the points."""
    if not len(structure.points):
        return None
    low, high = points.min(axis=0), points.max(axis=0)
    gap = np.maximum(np.maximum(low - structure.points, structure.points - high), 0.0)
    share = np.clip(np.linalg.norm(gap, axis=1) / 3.0, 0.0, 1.0)[:, None]
    near = np.asarray(rgb(mixed(STRUCTURE, FAR_STRUCTURE, 0.45)))
    far = np.asarray(rgb(FAR_STRUCTURE))
    colours = np.asarray(np.rint((1.0 - share) * near + share * far), np.uint8)
    return Surface(structure.points, structure.normals, structure.faces, colours)


def rail_rods(rails: list[Rail], radius: float, colour: str) -> Surface | None:
    """Return rails as rods, handholds as short ones square to nothing in particular."""
    parts = []
    for rail in rails:
        ends = np.array([rail.start, rail.stop], float)
        if np.linalg.norm(ends[1] - ends[0]) < 1e-6:
            ends = ends + 0.06 * np.array([[-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
        parts.append(rod(ends[0], ends[1], radius, colour))
    return joined(parts) if parts else None


def is_near(rail: Rail, points: Array) -> bool:
    """Return whether a rail is near enough to points (n, 3), m, to be drawn with them."""
    middle = 0.5 * (np.asarray(rail.start) + np.asarray(rail.stop))
    return bool(np.linalg.norm(points - middle, axis=1).min() < _AROUND)


def hazards_by(around: Surroundings, points: Array) -> list[tuple[str, str, Array]]:
    """Return name, kind and triangles (n, 3, 3) of hazards near points."""
    return [
        (name, kind, tree.tri.reshape(-1, 3, 3))
        for name, kind, tree, _ in around.hazards
        if is_hazard_near(tree, points)
    ]


def is_hazard_near(tree: Tree, points: Array) -> bool:
    """Return whether a hazard is near enough to points (n, 3), m, to be drawn with them."""
    low, high = tree.bounds
    gap = np.maximum(np.maximum(low - points, points - high), 0.0)
    return bool(np.linalg.norm(gap, axis=1).min() < _AROUND)


def hazard_veils(around: Surroundings, points: Array) -> Surface | None:
    """Return hazards near points as plain surfaces."""
    corners = [triangles for _, _, triangles in hazards_by(around, points)]
    if not corners:
        return None
    triangles = np.concatenate(corners)
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    faces = np.arange(3 * len(triangles)).reshape(-1, 3)
    return painted(triangles.reshape(-1, 3), np.repeat(normals, 3, axis=0), faces, HAZARD)


def body_rows(move: Move) -> tuple[Array, tuple[str, ...]]:
    """Return the capsules of the body half-way along the longest rail, and their names."""
    corridor = move.corridor
    if corridor is None:
        return np.empty((0, 7)), ()
    axis, owner = corridor.pieces
    along = np.array([corridor.stretches[i].is_along for i in owner])
    lengths = np.linalg.norm(axis[:, 1] - axis[:, 0], axis=1)
    k = int(np.argmax(np.where(along, lengths, 0.0)))
    pose = corridor.poses[0][k].copy()
    pose[:3, 3] = axis[k].mean(axis=0)
    mover = corridor.mover
    p, q = transform_points(pose, mover.p), transform_points(pose, mover.q)
    return np.hstack([p, q, mover.radius[:, None]]), mover.names


def bodies_of(move: Move) -> Array:
    """Return the capsules that tags should leave in sight: the body, and rails in pieces."""
    rails = rails_in(move.site, move.situation.surroundings)
    used = set(() if move.route is None else move.route.rails)
    if move.none is not None:
        used |= {*move.none.from_start, *move.none.from_stop}
    rods = [body_rows(move)[0]]
    for rail in rails:
        if rail.name not in used:
            continue
        start, way = np.asarray(rail.start), np.subtract(rail.stop, rail.start)
        shares = np.linspace(0.0, 1.0, 1 + max(1, round(float(np.linalg.norm(way)))))[:, None]
        ends = start + shares * way
        rods.append(np.hstack([ends[:-1], ends[1:], np.full((len(ends) - 1, 1), THICK)]))
    return np.concatenate(rods)
