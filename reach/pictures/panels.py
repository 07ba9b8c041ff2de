"""From which sides a way is looked at, in what words, and how the two panels lie on the sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import any_hit, rotation_about
from reach.model.scene import Scene
from reach.pictures.camera import OUTSIDE_ANGLE, Camera, fitted
from reach.pictures.sheet import VIEW
from reach.site import Surroundings
from reach.worker.margin import sphere_points

Array = NDArray[np.float64]

BAND = 28
"""Height of the line over each panel that says where it is taken from, px."""

KEPT = 0.62
"""Structure about a way is held whole where the way is drawn at least so large all the same."""

_FIRST, _SECOND = math.radians(12.0), math.radians(70.0)
_SHARE, _LITTLE = 0.3, 0.1
"""A direction is named when the way to look from leans to it by more than this cosine."""

_MAINLY = 0.6
"""A direction with less than this share of the strongest one is a little of it."""

_COVERED = 0.7
_N_OUTERMOST = 80


@dataclass(frozen=True, slots=True)
class Panel:
    """Where one view lies on the sheet, px; the line of words stands above it."""

    left: int
    top: int
    width: int
    height: int


def _flat() -> tuple[Panel, Panel]:
    left, top, width, height = VIEW
    tall = height // 2 - BAND
    return (
        Panel(left, top + BAND, width, tall),
        Panel(left, top + BAND + tall + BAND, width, tall),
    )


def _upright() -> tuple[Panel, Panel]:
    left, top, width, height = VIEW
    wide = width // 2
    return (
        Panel(left, top + BAND, wide, height - BAND),
        Panel(left + wide, top + BAND, wide, height - BAND),
    )


FLAT, UPRIGHT = _flat(), _upright()
"""One above the other, for what is long; side by side, for what is tall."""


@dataclass(frozen=True, eq=False, slots=True)
class View:
    """What a view has to hold.

    Attributes
    ----------
    way : ndarray, shape (3,), unit
        From what is looked at to the viewer.
    points : ndarray, shape (n, 3), m, world
    context : ndarray, shape (n, 3), m, world
        What is held besides where the points stay large.
    words : str
        After where it is taken from.
    """

    way: Array
    points: Array
    context: Array
    words: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class Seen:
    """A view with its camera, its words and its pixels a metre at the middle."""

    camera: Camera
    words: str
    pixels: float


def laid(scene: Scene, views: Sequence[View]) -> list[tuple[Seen, Panel]]:
    """Return two views with the panels in which the smaller of them is the larger."""
    ways = side_words(scene, [view.way for view in views])
    best: list[tuple[Seen, Panel]] = []
    for panels in (FLAT, UPRIGHT):
        each = [
            (_seen(view, panel, words), panel)
            for view, panel, words in zip(views, panels, ways, strict=True)
        ]
        if not best or _least(each) > _least(best):
            best = each
    return best


def _least(each: Sequence[tuple[Seen, Panel]]) -> float:
    return min(seen.pixels for seen, _ in each)


def _seen(view: View, panel: Panel, words: str) -> Seen:
    aspect = panel.width / panel.height
    close = fitted(view.points, view.way, aspect)
    whole = fitted(np.concatenate([view.points, view.context]), view.way, aspect)
    camera = whole if _pixels(whole, panel) > KEPT * _pixels(close, panel) else close
    return Seen(camera, f"{words}{view.words}", _pixels(camera, panel))


def _pixels(camera: Camera, panel: Panel) -> float:
    away = float(np.linalg.norm(camera.position - camera.focus))
    return panel.height / (2.0 * math.tan(0.5 * OUTSIDE_ANGLE) * away)


def outermost(points: Array) -> Array:
    """Return the points that lie farthest out in many directions, shape (n, 3)."""
    farthest = np.argmax(points @ sphere_points(_N_OUTERMOST).T, axis=0)
    return np.asarray(points[np.unique(farthest)])


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
    first = _tilted(rotation_about(long, _FIRST) @ out)
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


def side_words(scene: Scene, ways: Sequence[Array]) -> list[str]:
    """Return where each view is taken from, all different: ``seen from forward and zenith``.

    Directions are called by the headings of the scene; along axes of the world to which no
    heading points they are called by the axis.
    """
    named = _directions(scene)
    words = [_words(named, way, _SHARE) for way in ways]
    if len({frozenset(said.split()) for said in words}) < len(words):
        words = [_words(named, way, _SHARE, True) for way in ways]
    if len(set(words)) < len(words):
        words = [_words(named, way, _LITTLE, True) for way in ways]
    if len(set(words)) < len(words):  # nothing named tells them apart
        words = [
            f"{said}, along [" + ", ".join(f"{v + 0.0:.2f}" for v in np.round(-way, 2)) + "]"
            for said, way in zip(words, ways, strict=True)
        ]
    return words


def _directions(scene: Scene) -> list[tuple[str, Array]]:
    named: list[tuple[str, Array]] = []
    for name, heading in scene.headings.items():
        to = np.asarray(heading.to, float)
        named += [(name, to)] + ([(heading.opposite, -to)] if heading.opposite else [])
    known = np.array([to for _, to in named]).reshape(-1, 3)
    for letter, axis in zip("xyz", np.eye(3), strict=True):
        for sign, to in (("+", axis), ("-", -axis)):
            if not (known @ to > _COVERED).any():
                named.append((f"{sign}{letter}", to))
    return named


def _words(
    named: Sequence[tuple[str, Array]], way: Array, least: float, is_graded: bool = False
) -> str:
    """Return what a way leans to, the most first; graded, with the little ones apart."""
    shares = sorted(((float(way @ to), name) for name, to in named), reverse=True)
    known = [(share, name) for share, name in shares if share > least] or shares[:1]
    bar = _MAINLY * known[0][0] if is_graded else 0.0
    main = [name for share, name in known if share >= bar]
    aside = [name for share, name in known if share < bar]
    words = f"seen from {_listed(main)}"
    return f"{words}, a little from {_listed(aside)}" if aside else words


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}" if names[1:] else names[0]
