"""Where the pictures are taken from: outside with the best view, and from the worker's eyes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from reach.geometry import any_hit, first_hit, segment_pair_distance, transform_points
from reach.pictures.shown import Shown
from reach.pictures.structure import piece_of
from reach.pictures.surface import cross
from reach.site import Situation
from reach.worker.margin import sphere_points

Array = NDArray[np.float64]

OUTSIDE_ANGLE = math.radians(34.0)
EYES_ANGLE = math.radians(70.0)
"""Fields of view, upright, of the two cameras."""

ARROW = 0.32
"""Length of the arrow that is drawn along a fastener's axis, m."""

N_DIRECTIONS = 60
FILL = 0.84
"""Share of the picture that the subject may take up."""

ZENITH = np.array([0.0, 0.0, 1.0])
_PLATE = np.array([[x, y, z] for x in (-0.2, 0.26) for y in (-0.22, 0.22) for z in (-0.03, 0.1)])
_STEEPEST = math.sin(math.radians(62.0))
_ANOTHER_SIDE = math.cos(math.radians(70.0))
_LEAST_WIDTH = 2.4
_LOOK_DOWN = 0.25


@dataclass(frozen=True, eq=False, slots=True)
class Camera:
    """A point of view.

    Attributes
    ----------
    position, focus : ndarray, shape (3,), m, world
    up : ndarray, shape (3,)
    angle : float, rad
        Field of view, upright.
    aspect : float
        Width over height.
    axes : ndarray, shape (3, 3)
        Rows: right, up, towards the viewer; orthonormal.
    """

    position: Array
    focus: Array
    up: Array
    angle: float
    aspect: float

    axes: Array = field(init=False)

    def __post_init__(self) -> None:
        back = self.position - self.focus
        back = back / np.linalg.norm(back)
        right = cross(self.up, back)
        right /= np.linalg.norm(right)
        object.__setattr__(self, "axes", np.stack([right, cross(back, right), back]))

    def project(self, points: Array) -> tuple[Array, Array]:
        """Return (x, y) in picture heights from the middle, y up, and depth (m), of points (n, 3).

        Points at or behind the camera have a depth of at most 0 and no meaningful place.
        """
        seen = (points - self.position) @ self.axes.T
        depth = -seen[:, 2]
        scale = 0.5 / (math.tan(0.5 * self.angle) * np.maximum(depth, 1e-6))
        return seen[:, :2] * scale[:, None], depth


def eyes_camera(shown: Shown, target: Array | None, aspect: float) -> Camera:
    """Return the view from the eye point at the fastener, or straight ahead and a little down."""
    ahead = shown.torso[:, 0] - _LOOK_DOWN * shown.torso[:, 2]
    focus = shown.eye + ahead if target is None else target
    up = shown.torso[:, 2]
    if np.linalg.norm(cross(focus - shown.eye, up)) < 0.05 * np.linalg.norm(focus - shown.eye):
        up = shown.torso[:, 0]
    return Camera(shown.eye, focus, up, EYES_ANGLE, aspect)


def subject_of(shown: Shown, situation: Situation, more: Array) -> Array:
    """Return the points that an outside picture has to hold, shape (n, 3), m, world."""
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    rows = shown.capsules
    points = [transform_points(place.world_from_boots, _PLATE), more]
    ways = np.concatenate([np.eye(3), -np.eye(3)])
    points += [rows[:, i : i + 3] + rows[:, 6:7] * way for i in (0, 3) for way in ways]
    head = situation.head
    if head is not None:
        points.append(np.stack([head.point, head.point + ARROW * head.axis]))
    points += [centre + radius * ways for centre, radius in shown.spheres]
    if place.world_from_socket is not None:
        points.append(place.world_from_socket[None, :3, 3])
    return np.concatenate(points)


def outside_camera(
    shown: Shown,
    situation: Situation,
    aspect: float,
    more: Array | None = None,
    other_than: Array | None = None,
) -> Camera:
    """Return the view, of many tried, that shows most of the body and the fastener.

    Parameters
    ----------
    aspect : float
        Width over height.
    more : ndarray, shape (n, 3), m, world, optional
        Further points that the picture has to hold.
    other_than : ndarray, shape (3,), optional
        Way towards the viewer of another view: this one is from another side.
    """
    subject = subject_of(shown, situation, np.empty((0, 3)) if more is None else more)
    head = situation.head
    target = subject.mean(axis=0) if head is None else head.point
    line = target - shown.eye
    best: tuple[float, Camera] | None = None
    for way in sphere_points(N_DIRECTIONS):
        if abs(way @ ZENITH) > _STEEPEST:
            continue
        if other_than is not None and way @ other_than > _ANOTHER_SIDE:
            continue
        camera = fitted(subject, way, aspect)
        score = _score(camera, shown, situation, way, line)
        if best is None or score > best[0]:
            best = score, camera
    assert best is not None
    return best[1]


def fitted(subject: Array, way: Array, aspect: float) -> Camera:
    """Return the nearest camera on the side ``way`` (unit, from the subject) that holds it all."""
    tall = math.tan(0.5 * OUTSIDE_ANGLE) * FILL
    wide = tall * aspect
    focus = 0.5 * (subject.min(axis=0) + subject.max(axis=0))
    camera = Camera(focus + way, focus, ZENITH, OUTSIDE_ANGLE, aspect)
    axes = camera.axes
    for _ in range(3):
        seen = (subject - focus) @ axes.T
        fit = seen[:, 2] + np.maximum(np.abs(seen[:, 0]) / wide, np.abs(seen[:, 1]) / tall)
        distance = max(float(fit.max()), 0.5 * _LEAST_WIDTH / wide)
        shares = seen[:, :2] / (distance - seen[:, 2])[:, None]
        middle = 0.5 * (shares.min(axis=0) + shares.max(axis=0)) * distance
        focus = focus + middle @ axes[:2]
    return Camera(focus + distance * way, focus, ZENITH, OUTSIDE_ANGLE, aspect)


def veiling_pieces(camera: Camera, shown: Shown, situation: Situation) -> NDArray[np.int64]:
    """Return the pieces of structure that stand between the camera and worker or fastener."""
    around = situation.surroundings
    points = _checked(shown, situation)
    origin = np.broadcast_to(camera.position, points.shape).copy()
    pieces: set[int] = set()
    for _ in range(6):
        hit = first_hit(around.tree, origin, points - origin, 0.97)
        blocked = hit.face >= 0
        if not blocked.any():
            break
        pieces.update(piece_of(around, hit.face[blocked]).tolist())
        way = points - origin
        step = np.where(blocked, hit.t, 0.0)[:, None] * way
        length = np.linalg.norm(way, axis=1, keepdims=True)
        origin = np.where(blocked[:, None], origin + step + 1e-4 * way / length, points - 1e-6)
    return np.fromiter(sorted(pieces), np.int64)


def _checked(shown: Shown, situation: Situation) -> Array:
    """Return the points whose visibility counts: all parts, tool to fastener, fastener last."""
    rows = shown.capsules
    shares = np.linspace(0.0, 1.0, 4)[:, None, None]
    points = [(rows[:, :3] + shares * (rows[:, 3:6] - rows[:, :3])).reshape(-1, 3)]
    head = situation.head
    if head is not None and shown.tip is not None:
        points.append(shown.tip + np.linspace(0.0, 0.9, 6)[:, None] * (head.point - shown.tip))
    if head is not None:
        points.append(head.point[None] + 0.02 * head.axis)
    return np.concatenate(points)


def _score(camera: Camera, shown: Shown, situation: Situation, way: Array, line: Array) -> float:
    points = _checked(shown, situation)
    hidden = any_hit(situation.surroundings.tree, points, camera.position - points, 1.0)
    score = 2.0 * float(1.0 - hidden.mean())
    for _, _, tree, _ in situation.surroundings.hazards:
        score -= 1.2 * float(any_hit(tree, points, camera.position - points, 1.0).mean())
    head = situation.head
    if head is not None:
        score += 1.0 - float(hidden[-1])
        rows = shown.capsules[: shown.n_own]
        at = head.point + 0.03 * head.axis
        gap = segment_pair_distance(rows[:, :3], rows[:, 3:6], at, camera.position) - rows[:, 6]
        score += 0.8 * float(gap.min() > 0.0)
        if shown.tip is not None:
            hand = shown.capsules[shown.n_own + 2, 3:6]
            gap = segment_pair_distance(rows[:, :3], rows[:, 3:6], hand, camera.position)
            score += 0.8 * float((gap - rows[:, 6]).min() > 0.0)
        score += 0.3 * float(way @ head.axis > -0.2)
    across = line / max(float(np.linalg.norm(line)), 1e-9)
    score += 0.5 * float(np.linalg.norm(cross(across, way)))
    score += 0.9 * float(np.linalg.norm(cross(shown.torso[:, 2], way)))
    score += 0.45 * float(shown.torso[:, 0] @ way)
    return score - 0.5 * abs(float(way @ ZENITH) - 0.25)
