"""Lines and tags of a view, drawn where the camera sees their points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.pictures.camera import Camera
from reach.pictures.layout import Placed, layout, nearest_point
from reach.pictures.notes import Line, Notes, Tag
from reach.pictures.palette import FAIL, FASTENER, INK, OPEN, PAPER, SOFT_INK
from reach.pictures.pen import Pen, text_width

Array = NDArray[np.float64]
Point = tuple[float, float]

FINEST = 0.04
"""Lines are cut to pieces of this length (m) before they are drawn in perspective."""

NEAREST = 0.05
"""Nothing nearer to the camera than this is drawn, m."""

SMALL_CROSS = 5.0
"""Radius of crosses that many points have, px."""

SIZE = {"fail": 16.0, "open": 15.0, "asked": 17.0, "measure": 14.5, "name": 14.0}
FILL = {"fail": FAIL, "open": OPEN, "asked": FASTENER, "measure": PAPER, "name": PAPER}
COLOUR = {"fail": PAPER, "open": INK, "asked": INK, "measure": INK, "name": SOFT_INK}
BOLD = ("fail", "open", "asked")
_PADDING = (7.0, 4.5)
_LINE_SPACE = 1.28
_AXES_AT = 66.0
_ARM, _PLATE, _LETTER = 34.0, 58.0, 10.0
"""Length of the drawn axes, half the width of their plate, room about a letter, px."""

_SPOTS = {"ring": 14.0, "cross": 9.0, "diamond": 10.0, "dot": 3.0}


class Window:
    """The picture that a camera fills: from world to pixels."""

    def __init__(self, camera: Camera, width: float, height: float) -> None:
        self.camera = camera
        self.width, self.height = width, height
        self.axes_at = (_AXES_AT, height - _AXES_AT)

    def pixels(self, points: Array) -> tuple[Array, Array]:
        """Return pixels (n, 2) of points (n, 3), m, and their depths (m)."""
        xy, depth = self.camera.project(points)
        x = 0.5 * self.width + xy[:, 0] * self.height
        y = 0.5 * self.height - xy[:, 1] * self.height
        return np.stack([x, y], axis=1), depth

    def holds(self, xy: Array, edge: float = 4.0) -> NDArray[np.bool_]:
        """Return which pixels are inside, at least so far from the edge."""
        high = np.array([self.width - edge, self.height - edge])
        return np.asarray(((xy > edge) & (xy < high)).all(axis=1))


def draw_notes(pen: Pen, window: Window, notes: Notes, rows: Array) -> None:
    """Draw the lines, then the tags with their spots, of one view.

    ``rows``, shape (n, 7), are capsules that tags should leave in sight.
    """
    for line in notes.lines:
        draw_line(pen, window, line)
    for at in notes.crosses:
        xy, depth = window.pixels(at[None])
        if depth[0] > NEAREST:
            pen.cross((float(xy[0, 0]), float(xy[0, 1])), SMALL_CROSS)
    tags = [tag for tag in (_in_sight(window, tag) for tag in notes.tags) if tag is not None]
    places = [window.pixels(tag.anchor[None])[0][0] for tag in tags]
    anchors = [(float(x), float(y)) for x, y in places]
    busy = _busy(window, notes, rows)
    window.axes_at = _freest_corner(window, np.concatenate([busy, np.reshape(anchors, (-1, 2))]))
    view = (window.width, window.height)
    boxes = layout(anchors, [_size(tag) for tag in tags], view, busy, [axes_box(window)])
    placed = [(tag, box) for tag, box in zip(tags, boxes, strict=True) if box]
    for tag, box in placed:
        _leader(pen, tag, box)
    for tag, anchor in reversed(list(zip(tags, anchors, strict=True))):
        _spot(pen, tag, anchor)
    for tag, box in placed:
        _words(pen, tag, box)


def draw_line(pen: Pen, window: Window, line: Line) -> None:
    """Draw the pieces of a line that are in front of the camera and inside the window."""
    points = _cut_fine(line.points)
    xy, depth = window.pixels(points)
    seen = (depth > NEAREST) & window.holds(xy)
    for run in _runs(seen):
        piece = [(float(x), float(y)) for x, y in xy[run]]
        if len(piece) < 2:
            continue
        pen.line(piece, line.colour, line.width, line.pattern)
        if line.has_arrow and run.stop == len(points):
            back = max(0, len(piece) - 4)
            pen.arrow_head(piece[back], piece[-1], line.colour, 13.0)


def draw_axes(pen: Pen, window: Window) -> None:
    """Draw the directions of the world's axes in a corner, on a plate of their own.

    An axis along the line of sight is a dot; letters keep off one another and off the arrows.
    """
    at = window.axes_at
    pen.box(axes_box(window), PAPER, None, 215)
    ends = [(at[0] + _ARM * float(x), at[1] - _ARM * float(y)) for x, y in window.camera.axes[:2].T]
    for end in ends:
        pen.line([at, end], SOFT_INK, 2.0)
        if math.dist(at, end) > 0.15 * _ARM:
            pen.arrow_head(at, end, SOFT_INK, 7.0)
        else:
            pen.dot(at, 2.5)
    for name, (x, y) in zip("xyz", letters_at(at, ends), strict=True):
        pen.text((x - 4.5, y), name, 14.0, INK, True)


def axes_box(window: Window) -> tuple[float, float, float, float]:
    """Return the plate under the axes, which tags keep off, px."""
    x, y = window.axes_at
    return x - _PLATE, y - _PLATE, x + _PLATE, y + _PLATE


def _freest_corner(window: Window, xy: Array) -> Point:
    """Return where the axes hide the fewest points, shape (n, 2), px; the lower left one first."""
    low, right, under = _AXES_AT, window.width - _AXES_AT, window.height - _AXES_AT
    corners = [(low, under), (right, under), (low, low), (right, low)]
    return min(corners, key=lambda at: int((np.abs(xy - at) < _PLATE).all(axis=1).sum()))


def letters_at(at: Point, ends: Sequence[Point]) -> list[Point]:
    """Return the middles of letters at the ends of arrows from a point, none over another, px."""
    placed: list[Point] = []
    for x, y in ends:
        ahead = math.atan2(y - at[1], x - at[0])
        tries = [
            (x + far * math.cos(ahead + turn), y + far * math.sin(ahead + turn))
            for far in (13.0, 18.0)
            for turn in (0.0, 0.7, -0.7, 1.4, -1.4, 2.1, -2.1)
        ]
        placed.append(max(tries, key=lambda one: min(_clear(one, at, ends, placed), _LETTER)))
    return placed


def _clear(one: Point, at: Point, ends: Sequence[Point], placed: Sequence[Point]) -> float:
    """Return how far a letter is from arrows and, by half, from letters, px."""
    along = [
        (at[0] + share * (x - at[0]), at[1] + share * (y - at[1]))
        for x, y in ends
        for share in (0.0, 0.25, 0.5, 0.75, 1.0, 1.2)
    ]
    return min([math.dist(one, p) for p in along] + [0.6 * math.dist(one, p) for p in placed])


def _in_sight(window: Window, tag: Tag) -> Tag | None:
    """Return a tag at the first of its points that the window shows, or None."""
    points = tag.anchor[None] if tag.others is None else np.vstack([tag.anchor, tag.others])
    xy, depth = window.pixels(points)
    seen = np.flatnonzero((depth > NEAREST) & window.holds(xy, 8.0))
    return replace(tag, anchor=points[seen[0]]) if len(seen) else None


def _cut_fine(points: Array) -> Array:
    pieces = []
    for a, b in pairwise(points):
        n = max(1, math.ceil(float(np.linalg.norm(b - a)) / FINEST))
        pieces.append(a + (np.arange(n) / n)[:, None] * (b - a))
    return np.concatenate([*pieces, points[-1:]])


def _runs(flags: NDArray[np.bool_]) -> list[slice]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _busy(window: Window, notes: Notes, rows: Array) -> Array:
    """Return pixels that tags should leave free: the worker, the lines, the points spoken of."""
    points = [line.points for line in notes.lines if len(line.points) == 2]
    points = [a + np.linspace(0.0, 1.0, 9)[:, None] * (b - a) for a, b in points]
    shares = np.linspace(0.0, 1.0, 6)[:, None, None]
    points.append((rows[:, :3] + shares * (rows[:, 3:6] - rows[:, :3])).reshape(-1, 3))
    right, up, _ = window.camera.axes
    for way in (right, -right, up, -up):
        for ends in (slice(0, 3), slice(3, 6)):
            points.append(rows[:, ends] + 0.8 * rows[:, 6:7] * way)
    xy, depth = window.pixels(np.concatenate(points))
    return np.asarray(xy[depth > NEAREST])


def _size(tag: Tag) -> tuple[float, float]:
    size = SIZE[tag.style]
    wide = max(text_width(line, size, tag.style in BOLD) for line in tag.lines)
    return wide + 2 * _PADDING[0], len(tag.lines) * size * _LINE_SPACE + 2 * _PADDING[1]


def _leader(pen: Pen, tag: Tag, placed: Placed) -> None:
    end = nearest_point(placed.box, placed.anchor)
    colour = FAIL if tag.style == "fail" else INK
    pen.line([end, placed.anchor], colour, 1.4)


def _spot(pen: Pen, tag: Tag, anchor: Point) -> None:
    if tag.spot == "ring":
        pen.ring(anchor, _SPOTS["ring"], FASTENER)
    elif tag.spot == "cross":
        pen.cross(anchor, _SPOTS["cross"])
    elif tag.spot == "diamond":
        pen.diamond(anchor, _SPOTS["diamond"])
    elif tag.spot == "dot":
        pen.dot(anchor, _SPOTS["dot"])


def _words(pen: Pen, tag: Tag, placed: Placed) -> None:
    left, top, right, bottom = placed.box
    edge = PAPER if tag.style == "fail" else INK
    pen.box((left, top, right, bottom), FILL[tag.style], edge, 255 if tag.style != "name" else 225)
    size = SIZE[tag.style]
    y = top + _PADDING[1] + 0.5 * size * _LINE_SPACE
    for line in tag.lines:
        pen.text((left + _PADDING[0], y), line, size, COLOUR[tag.style], tag.style in BOLD)
        y += size * _LINE_SPACE
