"""Draws moves: structure, rails used, spans, tube, safety line, from two sides on one sheet."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.geometry import any_hit, rotation_about, transform_points
from reach.model.scene import Scene
from reach.pictures.camera import Camera, fitted
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
from reach.pictures.pen import Pen, lay_over, new_sheet
from reach.pictures.renderer import rendered
from reach.pictures.sheet import VIEW, framed
from reach.pictures.structure import Structure
from reach.pictures.studio import Studio
from reach.pictures.surface import Surface, capsule, joined, mesh_of, painted, rod
from reach.pictures.worker import COLOURS
from reach.rails.records import Rail
from reach.site import Site, Surroundings
from reach.travel.ground import rails_in, spot_in

Array = NDArray[np.float64]

BAND = 28
"""Height of the line over each view that says where it is taken from, px."""

HALF = (VIEW[2], VIEW[3] // 2 - BAND)
"""Width and height of one of the two views, px."""

THICK, THIN = 0.05, 0.022
"""Radius of rails that are used and of others as drawn, m: true ones would not be seen."""

_TUBE, _HAZARD = 0.20, 0.16
CLOSE = 0.5
"""A move smaller than this share of what is drawn with its line is also drawn nearer."""

_SECOND = math.radians(70.0)
_AROUND = 4.0
"""Rails and hazards within this of the way are drawn, m."""


class MoveStudio(Studio):
    """Draws the moves of one run; to be closed, or used in a ``with`` statement."""

    def __init__(self, site: Site) -> None:
        super().__init__(site, HALF)

    def picture(self, move: Move) -> Image.Image:
        """Return the picture of a move: two views, one above the other, with what was found."""
        sheet = framed(move_frame(move))
        points, near = subject(move), subject(move, with_line=False)
        around = move.situation.surroundings
        self._build(move, points)
        # Beside a line that comes from far a short move would not be seen.
        is_short = _size(near) < CLOSE * _size(points)
        views = [(points, ""), (near, ", nearer") if is_short else (points, "")]
        line = near if move.route is None else move.route.points
        ways = sides_of(line, outs_of(move), around)
        for k, (way, (held, words)) in enumerate(zip(ways, views, strict=True)):
            self._lay(sheet, k, way, held, move_notes(move), bodies_of(move), words)
        return sheet

    def _lay(
        self,
        sheet: Image.Image,
        k: int,
        way: Array,
        points: Array,
        notes: Notes,
        rows: Array,
        words: str = "",
    ) -> None:
        """Draw view number ``k`` of what is built, with its notes and where it is taken from."""
        camera = fitted(points, way, HALF[0] / HALF[1])
        left, top = VIEW[0], VIEW[1] + k * (HALF[1] + BAND)
        pen = Pen(sheet)
        pen.box((left, top, left + HALF[0], top + BAND), PAPER, round_=0)
        seen = f"{side_words(self.site.scene, way)}{words}"
        pen.text((left + 14.0, top + 0.5 * BAND), seen, 15.0, INK, True)
        pen.rule((left, top), (left + HALF[0], top), INK, 2)
        sheet.paste(Image.fromarray(self.bare_view(camera)), (left, top + BAND))
        overlay, over = new_sheet(*HALF)
        window = Window(camera, *HALF)
        draw_notes(over, window, notes, rows)
        draw_axes(over, window)
        lay_over(sheet, overlay, (left, top + BAND))

    def bare_view(self, camera: Camera) -> NDArray[np.uint8]:
        """Return what a camera sees of what is built, shape (h, w, 3)."""
        view = self.plotter.camera
        view.position, view.focal_point, view.up = camera.position, camera.focus, camera.up
        view.view_angle = math.degrees(camera.angle)
        away = float(np.linalg.norm(camera.position - camera.focus))
        view.clipping_range = (0.05 * away, 4.0 * away + 40.0)
        return rendered(self.plotter)

    def _build(self, move: Move, points: Array) -> None:
        self.plotter.clear_actors()
        around = move.situation.surroundings
        self._add(faint_structure(self._structure(around), points), shine=0.04)
        used = set() if move.route is None else set(move.route.rails)
        rails = [rail for rail in rails_in(self.site, around) if _near(rail, points)]
        far: set[str] = set()
        if move.none is not None and move.route is None:
            used, far = set(move.none.from_start), set(move.none.from_stop)
        others = [rail for rail in rails if rail.name not in used | far]
        self._add(rail_rods(others, THIN, HANDRAIL))
        self._add(rail_rods([rail for rail in rails if rail.name in used], THICK, RAIL_USED))
        self._add(rail_rods([rail for rail in rails if rail.name in far], THICK, RAIL_BEYOND))
        rows, names = body_rows(move)
        if len(rows):
            parts = [capsule(r[:3], r[3:6], r[6], COLOURS.get(name, SUIT))
                     for r, name in zip(rows, names, strict=True)]  # fmt: skip
            self._add(joined(parts), outline=0.012)
        self._add(hazard_veils(around, points), opacity=_HAZARD)
        if move.corridor is not None:
            tube = [capsule(a, b, move.corridor.radius, CORRIDOR) for a, b in move.corridor.axis]
            # Only what faces the viewer: pieces that overlap would else show their ends.
            self.plotter.add_mesh(
                mesh_of(joined(tube)), color=CORRIDOR, opacity=_TUBE, culling="back", ambient=0.5,
                diffuse=0.5, render=False, reset_camera=False,
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


def sides_of(points: Array, outs: Array, around: Surroundings) -> tuple[Array, Array]:
    """Return two ways to look from, unit: what the rails are held from, and across it.

    The second is turned about the long direction of the way, to the side that shows more.
    """
    middle = points.mean(axis=0)
    long = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    out = outs.mean(axis=0)
    out = out - (out @ long) * long
    if np.linalg.norm(out) < 0.2:
        out = np.cross(long, [0.0, 0.0, 1.0])
    if np.linalg.norm(out) < 0.2:
        out = np.array([0.0, 1.0, 0.0])
    out /= np.linalg.norm(out)
    first = _tilted(rotation_about(long, math.radians(12.0)) @ out)
    turned = [_tilted(rotation_about(long, sign * _SECOND) @ out) for sign in (1.0, -1.0)]
    seen = [_share_seen(points, way, around) for way in turned]
    return first, turned[int(np.argmax(seen))]


def _tilted(way: Array) -> Array:
    """Return a way to look from that is not straight up or down."""
    flat = math.hypot(way[0], way[1])
    if flat > 0.3:
        return np.asarray(way / np.linalg.norm(way))
    side = way[:2] / flat if flat > 1e-6 else np.array([0.0, 1.0])
    tilted = np.array([0.35 * side[0], 0.35 * side[1], way[2]])
    return np.asarray(tilted / np.linalg.norm(tilted))


def _share_seen(points: Array, way: Array, around: Surroundings) -> float:
    far = 60.0 * np.broadcast_to(way, points.shape)
    return float(1.0 - any_hit(around.tree, points + 0.05 * way, far, 1.0).mean())


def side_words(scene: Scene, way: Array) -> str:
    """Return where a view is taken from: ``seen from forward and zenith``, else by the axes."""
    named: list[tuple[str, Array]] = []
    for name, heading in scene.headings.items():
        to = np.asarray(heading.to, float)
        named += [(name, to)] + ([(heading.opposite, -to)] if heading.opposite else [])
    if not named:
        axes = zip("xyz", np.eye(3), strict=True)
        named = [(f"{sign}{a}", d * (1 if sign == "+" else -1)) for a, d in axes for sign in "+-"]
    shares = sorted(((float(way @ to), name) for name, to in named), reverse=True)
    words = [name for share, name in shares if share > 0.3]
    return f"seen from {' and '.join(words or [shares[0][1]])}"


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


def _near(rail: Rail, points: Array) -> bool:
    middle = 0.5 * (np.asarray(rail.start) + np.asarray(rail.stop))
    return bool(np.linalg.norm(points - middle, axis=1).min() < _AROUND)


def hazards_by(around: Surroundings, points: Array) -> list[tuple[str, str, Array]]:
    """Return name, kind and triangles (n, 3, 3) of hazards near points."""
    near = []
    for name, kind, tree, _ in around.hazards:
        low, high = tree.bounds
        gap = np.maximum(np.maximum(low - points, points - high), 0.0)
        if np.linalg.norm(gap, axis=1).min() < _AROUND:
            near.append((name, kind, tree.tri.reshape(-1, 3, 3)))
    return near


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
    """Return the capsules that tags should leave in sight."""
    return body_rows(move)[0]
