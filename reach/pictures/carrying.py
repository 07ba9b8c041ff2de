"""Draws a payload's way from two sides: at waypoints and at its worst moment, past hazards."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.geometry import any_hit, transform_points
from reach.payload.records import Part
from reach.pictures.carries import Carry
from reach.pictures.carry_notes import carry_frame, carry_notes
from reach.pictures.moving import MoveStudio, faint_structure, hazard_veils
from reach.pictures.palette import CARGO, CARGO_PALE, CRANE_LINK, SUIT, WAY
from reach.pictures.panels import View, laid
from reach.pictures.sheet import framed
from reach.pictures.stand_offs import stand_off_shells
from reach.pictures.surface import Surface, capsule, joined, painted
from reach.worker.margin import sphere_points

Array = NDArray[np.float64]

_PALE, _SHELL, _VEIL = 0.30, 0.10, 0.22
"""How solid the payload is at its waypoints, stand-offs and hazards are."""

WAY_RADIUS = 0.03
"""Radius of the way as drawn, m."""

_FINE = 12
"""Pieces that the way is drawn in on each leg, m."""

_TOO_STEEP = 0.85
_N_WAYS = 60


class CarryStudio(MoveStudio):
    """Draws the motions of payloads of one run."""

    def sweep(self, carry: Carry) -> Image.Image:
        """Return the picture of a motion: the whole way, and its worst moment nearer."""
        sheet = framed(carry_frame(carry))
        whole, near = whole_subject(carry), near_subject(carry)
        more = self.context(carry.around, near)
        views = [
            View(best_way(carry, whole, None), whole, whole),
            View(best_way(carry, near, _gap_line(carry)), near, near, ", the worst moment"),
        ]
        views[1] = replace(views[1], context=more)
        for (seen, panel), is_near in zip(laid(self.site.scene, views), (False, True), strict=True):
            self.build(carry, whole)
            notes = carry_notes(carry, is_near)
            self._lay(sheet, panel, seen, notes, busy_rows(carry))
        return sheet

    def build(self, carry: Carry, points: Array) -> None:
        """Build what is drawn of a motion."""
        self.plotter.clear_actors()
        self._add(faint_structure(self._structure(carry.around), points), shine=0.04)
        self._add(joined([capsule(a, b, WAY_RADIUS, WAY) for a, b in pairwise(way_of(carry))]))
        worst = carry.worst
        if worst is not None:
            self._add_moment(carry, worst.pose, worst.at)
        for place in waypoints_of(carry):
            pale = moved_surfaces(carry, carry.carriage.poses[place], True)
            self._add(joined(pale), opacity=_PALE)
        self._add(hazard_veils(carry.around, points), opacity=_VEIL)
        self._add(stand_off_shells(self.site, carry.around, points), opacity=_SHELL)

    def _add_moment(self, carry: Carry, pose: Array, at: float) -> None:
        """Add what moves, and the crane, at one place of the way."""
        for surface in moved_surfaces(carry, pose, False):
            self._add(surface, outline=0.02)
        links = carry.links_at(at)
        if len(links):
            parts = [capsule(row[:3], row[3:6], row[6], CRANE_LINK) for row in links]
            self._add(joined(parts), outline=0.02)


def way_of(carry: Carry) -> Array:
    """Return the way of the point that runs straight, or of the payload's origin, (n, 3), m."""
    carriage = carry.carriage
    places = np.linspace(0.0, len(carriage.legs), 1 + _FINE * len(carriage.legs))
    points = []
    for at in places.tolist():
        about = carriage.legs[min(int(at), len(carriage.legs) - 1)].about or (0.0, 0.0, 0.0)
        points.append(transform_points(carry.track.pose_at(at), np.array([about]))[0])
    return np.array(points)


def waypoints_of(carry: Carry) -> list[int]:
    """Return the numbers of the poses with names."""
    return [k for k, name in enumerate(carry.carriage.names) if name]


def moved_surfaces(carry: Carry, pose: Array, is_pale: bool) -> list[Surface]:
    """Return what moves as surfaces at a pose, payload first."""
    found = []
    for part in carry.parts:
        colour = {"payload": CARGO, "rider": SUIT, "plate": CARGO}[part.kind]
        corners = transform_points(pose, part.tree.tri.reshape(-1, 3)).reshape(-1, 3, 3)
        found.append(flat(corners, CARGO_PALE if is_pale else colour))
    return found


def flat(triangles: Array, colour: str) -> Surface:
    """Return triangles (n, 3, 3) as a plain surface of one colour."""
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    faces = np.arange(3 * len(triangles)).reshape(-1, 3)
    return painted(triangles.reshape(-1, 3), np.repeat(normals, 3, axis=0), faces, colour)


def corners_at(carry: Carry, pose: Array) -> Array:
    """Return the corners of the boxes round what moves, at a pose, shape (n, 3), m, world."""
    shares = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
    boxes = [low + shares * (high - low) for low, high in (p.tree.bounds for p in carry.parts)]
    return transform_points(pose, np.concatenate(boxes))


def whole_subject(carry: Carry) -> Array:
    """Return the points that the view of the whole way has to hold, shape (n, 3), m."""
    poses = [carry.carriage.poses[place] for place in waypoints_of(carry)]
    return np.concatenate([way_of(carry), *(corners_at(carry, pose) for pose in poses)])


def near_subject(carry: Carry) -> Array:
    """Return the points that the view of the worst moment has to hold, shape (n, 3), m."""
    worst = carry.worst
    if worst is None:
        return whole_subject(carry)
    return np.concatenate([corners_at(carry, worst.pose), [worst.on_part, worst.on_thing]])


def _gap_line(carry: Carry) -> Array | None:
    worst = carry.worst
    return None if worst is None else np.array([worst.on_part, worst.on_thing])


def best_way(carry: Carry, points: Array, gap: Array | None) -> Array:
    """Return the side, unit, from which most of some points, and a gap across, is seen.

    The long direction of the points lies across the view, so does the gap.
    """
    middle = points.mean(axis=0)
    long = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    best, most = np.array([0.0, 1.0, 0.0]), -np.inf
    for way in sphere_points(_N_WAYS):
        if abs(way[2]) > _TOO_STEEP:
            continue
        far = 60.0 * np.broadcast_to(way, points.shape)
        hidden = any_hit(carry.around.tree, points + 0.05 * way, far, 1.0)
        score = 1.0 - float(hidden.mean()) - 0.6 * abs(float(long @ way)) - 0.2 * abs(way[2] - 0.35)
        if gap is not None:
            ends = gap + 0.02 * way
            score += 1.0 - float(any_hit(carry.around.tree, ends, far[:2], 1.0).mean())
            length = float(np.linalg.norm(gap[1] - gap[0]))
            if length > 1e-6:
                score -= 0.8 * abs(float((gap[1] - gap[0]) @ way)) / length
        if score > most:
            best, most = way, score
    return np.asarray(best)


def busy_rows(carry: Carry) -> Array:
    """Return what tags should leave in sight as capsules (n, 7): the way, what moves, the gap."""
    way = way_of(carry)
    rows = [np.hstack([way[:-1], way[1:], np.full((len(way) - 1, 1), WAY_RADIUS)])]
    worst = carry.worst
    if worst is not None:
        for part in carry.parts:
            rows.append(_moved(worst.pose, piece_rows(part)))
        rows.append(np.concatenate([worst.on_part, worst.on_thing, [0.03]])[None])
    return np.concatenate(rows)


def piece_rows(part: Part) -> Array:
    """Return a capsule along the longest side of the box of each piece of a part, (n, 7), m."""
    corners = np.empty((len(part.tree.face), 3, 3))
    corners[part.tree.face] = part.tree.tri.reshape(-1, 3, 3)
    rows = []
    for k in range(len(part.names)):
        mine = corners[part.name_of == k].reshape(-1, 3)
        if not len(mine):
            continue
        low, high = mine.min(axis=0), mine.max(axis=0)
        half = 0.5 * (high - low)
        longest = int(np.argmax(half))
        radius = float(np.median(half))
        along = np.zeros(3)
        along[longest] = max(half[longest] - radius, 0.0)
        middle = 0.5 * (low + high)
        rows.append(np.concatenate([middle - along, middle + along, [radius]]))
    return np.array(rows).reshape(-1, 7)


def _moved(pose: Array, rows: Array) -> Array:
    ends = [transform_points(pose, rows[:, k : k + 3]) for k in (0, 3)]
    return np.hstack([*ends, rows[:, 6:]])
