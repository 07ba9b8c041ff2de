"""What is drawn over a view: lines and tags at points of the world, gathered from the findings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.checks.clearance import closest_of
from reach.finding import Finding, Mark, Verdict
from reach.geometry import first_hit
from reach.grasp import Grasp
from reach.grasping import bars_of, without_direction
from reach.pictures.camera import ARROW, Camera
from reach.pictures.palette import FAIL, FASTENER, HAZARD, INK, SIGHT, SPHERE
from reach.pictures.shown import Shown
from reach.pictures.structure import hazards_near
from reach.pictures.surface import across
from reach.pictures.worksite import Worksite, margin_words, named
from reach.site import Site, Situation
from reach.units import text_of

Array = NDArray[np.float64]

_SAME_PLACE = 2e-3
_SHORTEST = 0.004
_MOST_EDGES = 40


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """A line through points of the world (n, 3), m: ``solid``, ``dash`` or ``dot``."""

    points: Array
    colour: str
    width: float = 2.5
    pattern: str = "solid"
    has_arrow: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Tag:
    """Words at a point of the world.

    Attributes
    ----------
    lines : tuple of str
    anchor : ndarray, shape (3,), m, world
    style : str
        One of `STYLES`, which is also the order in which places are given.
    spot : str
        What stands at the point itself: ``ring``, ``cross``, ``diamond``, ``dot`` or nothing.
    others : ndarray, shape (n, 3), m, world, or None
        Points that will do where the anchor is out of sight, best first.
    """

    lines: tuple[str, ...]
    anchor: Array
    style: str = "name"
    spot: str = "dot"
    others: Array | None = None


STYLES = ("fail", "asked", "open", "measure", "name")
"""What fails, the thing asked about, what is not settled, measures, names."""


@dataclass(frozen=True, eq=False, slots=True)
class Notes:
    """Everything that is drawn over one view; ``crosses`` are points without words, m, world."""

    lines: tuple[Line, ...]
    tags: tuple[Tag, ...]
    crosses: tuple[Array, ...] = ()


def outside_notes(
    site: Worksite, shown: Shown, camera: Camera, grips: Sequence[tuple[str, Array]] = ()
) -> Notes:
    """Return what is drawn over the view from outside; ``grips`` are held, by name and middle."""
    situation = site.situation
    lines, tags = _common(site, shown)
    for centre, radius in shown.spheres:
        lines.append(Line(_circle(centre, radius, camera), SPHERE, 1.6, "dash"))
    if situation.head is not None and shown.looks:
        lines += _sight_lines(shown, situation)
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    stand = (
        place.world_from_socket if place.world_from_socket is not None else place.world_from_boots
    )
    tags.append(Tag((f"{place.name} · {place.restraint_name}",), stand[:3, 3], "name"))
    head_part = max(range(len(shown.names)), key=lambda i: float(_top(shown, i)))
    top = shown.capsules[head_part]
    words = f"{situation.worker} · {situation.case}"
    tags.append(Tag((words,), top[3:6] + top[6] * shown.torso[:, 2], "name", ""))
    tags += [Tag((name,), point, "asked", "ring") for name, point in grips]
    return Notes(tuple(lines), merged(tags))


def grips_of(site: Site, situation: Situation) -> list[tuple[str, Array]]:
    """Return name and middle (m, world) of each grip that an action takes hold of."""
    names = tuple(getattr(situation.action, "grips", ()) or ())
    grasp = Grasp.of(site.scene, names)
    if not names or without_direction(site.scene, grasp):
        return []
    return [(bar.name, bar.at(0.5)) for bar in bars_of(site, situation.surroundings, grasp)]


def eyes_notes(site: Worksite, shown: Shown) -> Notes:
    """Return what is drawn over the view from the worker's eyes."""
    lines, tags = _common(site, shown)
    return Notes(tuple(lines), merged(tags))


def hidden_by(shown: Shown, situation: Situation) -> tuple[Array, str] | None:
    """Return where structure first cuts the line from eye to head, and its name; None if free."""
    head = situation.head
    assert head is not None
    way = head.point + 0.005 * head.axis - shown.eye
    hit = first_hit(situation.surroundings.tree, shown.eye[None], way[None], 1.0)
    if hit.face[0] < 0:
        return None
    solid = situation.surroundings.solid_of[hit.face[0]]
    return shown.eye + hit.t[0] * way, situation.surroundings.names[solid]


def merged(tags: Iterable[Tag]) -> tuple[Tag, ...]:
    """Return tags with those of one style at one point made one, the most important first."""
    found: list[Tag] = []
    for tag in tags:
        for i, other in enumerate(found):
            is_near = np.linalg.norm(tag.anchor - other.anchor) < _SAME_PLACE
            if is_near and tag.style == other.style:
                lines = tuple(dict.fromkeys(other.lines + tag.lines))
                found[i] = replace(other, lines=lines, spot=other.spot or tag.spot)
                break
        else:
            found.append(tag)
    return tuple(sorted(found, key=lambda tag: STYLES.index(tag.style)))


def _common(site: Worksite, shown: Shown) -> tuple[list[Line], list[Tag]]:
    situation = site.situation
    lines, tags = _hazards(situation)
    head = situation.head
    if head is not None:
        words = [head.name]
        blocked = hidden_by(shown, situation) if shown.looks else None
        if blocked is not None:
            words.append(f"hidden behind {blocked[1]}")
        lines.append(
            Line(
                np.stack([head.point, head.point + ARROW * head.axis]), FASTENER, 4.0, "solid", True
            )
        )
        tags.append(Tag(tuple(words), head.point, "asked", "ring"))
        if shown.tip is not None and not shown.is_found:
            lines_, tags_ = _gap(shown, head.point)
            lines += lines_
            tags += tags_
    if situation.held is not None and shown.tip is not None:
        rows = [i for i, name in enumerate(shown.names) if name in ("tool", "hand")]
        row = shown.capsules[rows[-1]]
        tags.append(Tag((situation.held.title,), 0.5 * (row[:3] + row[3:6]), "name"))
    if shown.looks and not shown.is_found:
        lines_, tags_ = _least_room(shown, situation)
        lines += lines_
        tags += tags_
    for finding in site.findings:
        for mark in finding.marks:
            lines_, tags_ = of_mark(finding, mark)
            lines += lines_
            tags += tags_
        tags += _unmarked(finding, situation)
    return lines, tags


def _gap(shown: Shown, head: Array) -> tuple[list[Line], list[Tag]]:
    """Return the dashed line from the tool to a fastener that it does not reach."""
    assert shown.tip is not None
    gap = float(np.linalg.norm(head - shown.tip))
    if gap < _SHORTEST:
        return [], []
    words = f"{text_of(gap, 'm')} away in this posture"
    line = Line(np.stack([shown.tip, head]), FAIL, 3.5, "dash")
    return [line], [Tag((words,), 0.5 * (shown.tip + head), "measure", "")]


def _sight_lines(shown: Shown, situation: Situation) -> list[Line]:
    head = situation.head
    assert head is not None
    blocked = hidden_by(shown, situation)
    end = head.point if blocked is None else blocked[0]
    lines = [Line(np.stack([shown.eye, end]), SIGHT, 3.0, "dot")]
    if blocked is not None:
        lines.append(Line(np.stack([end, head.point]), FAIL, 2.0, "dash"))
    return lines


def of_mark(finding: Finding, mark: Mark) -> tuple[list[Line], list[Tag]]:
    """Return how one mark is drawn: what fails with a cross and the margin in words."""
    is_fail = mark.bad and finding.verdict is Verdict.FAIL
    points = np.asarray(mark.points, float)
    if is_fail:
        width = 4.0 if mark.kind == "segment" else 2.5
        lines = [Line(points, FAIL, width, "dash")] if len(points) == 2 else []
        words = [_said(finding)]
        if mark.kind == "point" and mark.label and mark.label not in finding.about:
            words.append(mark.label)
        return lines, [Tag(tuple(words), points[-1], "fail", "cross")]
    if mark.kind == "segment" and "distance" in finding.numbers:
        return _measured(finding, mark, points)
    return [], []


def _unmarked(finding: Finding, situation: Situation) -> list[Tag]:
    """Return the tag of what does not pass and has no mark of its own: at the fastener or boots."""
    if finding.verdict in (Verdict.PASS, Verdict.NOT_ASKED):
        return []
    is_fail = finding.verdict is Verdict.FAIL
    if is_fail and any(mark.bad for mark in finding.marks):
        return []
    place, head = situation.place, situation.head
    assert place is not None
    assert place.world_from_boots is not None
    at = place.world_from_boots[:3, 3] if head is None else head.point
    style, spot = ("fail", "cross") if is_fail else ("open", "diamond")
    return [Tag((_said(finding),), at, style, spot)]


def _said(finding: Finding) -> str:
    return f"{finding.verdict.upper()} {named(finding)}: {margin_words(finding)}"


def _least_room(shown: Shown, situation: Situation) -> tuple[list[Line], list[Tag]]:
    """Return where the drawn posture has the least room, when it is not one that was found."""
    attempt = shown.attempt
    if attempt is None or len(attempt.floor) != len(shown.capsules):
        return [], []
    around, names = situation.surroundings, attempt.bulk.names
    closest = closest_of(around, np.eye(4), shown.capsules, attempt.floor, names)
    if closest.margin >= 0.0:
        return [], []
    points = np.array([closest.on_part, closest.on_solid])
    words = f"{closest.part} to {closest.solid}: {text_of(closest.distance, 'm')}"
    missing = f"{text_of(-closest.margin, 'm')} too little"
    tag = Tag((words, missing), points[1], "open", "diamond")
    return [Line(points, FAIL, 3.5, "dash")], [tag]


def _measured(finding: Finding, mark: Mark, points: Array) -> tuple[list[Line], list[Tag]]:
    """Return a witness line: the gap itself, with the distance beside it."""
    distance = float(finding.numbers["distance"])
    way = points[0] - points[1]
    length = float(np.linalg.norm(way))
    if length < 1e-9 or distance > 1.0:
        return [], []
    share = min(1.0, max(distance, 0.02) / length)
    line = Line(np.stack([points[1], points[1] + share * way]), INK, 3.0)
    tag = Tag((f"{mark.label}: {text_of(distance, 'm')}",), points[1], "measure")
    return [line], [tag]


def _hazards(situation: Situation) -> tuple[list[Line], list[Tag]]:
    lines: list[Line] = []
    tags: list[Tag] = []
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    stand = place.world_from_boots[:3, 3]
    for name, kind, tree, stand_off in hazards_near(situation.surroundings, stand):
        corners = tree.tri.reshape(-1, 3)
        edges = sharp_edges(tree.tri.reshape(-1, 3, 3))
        if len(edges) > _MOST_EDGES // 2:
            edges = edges[::2]  # short ones: leaving out every other one breaks the line
        lines += [Line(edge, HAZARD, 2.5, "dash") for edge in edges]
        words = f"{name}: {kind}" + (f", {text_of(stand_off, 'm')} off" if stand_off else "")
        order = np.argsort(np.linalg.norm(corners - stand, axis=1), kind="stable")
        tags.append(Tag((words,), corners[order[0]], "measure", "dot", corners[order[1:]]))
    return lines, tags


def sharp_edges(triangles: Array) -> Array:
    """Return the edges (n, 2, 3) at which a closed surface bends by more than 30 deg.

    A surface with very many of them, such as a mesh, gives its bounding box instead.
    """
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    sides: dict[tuple[bytes, bytes], list[int]] = {}
    keys = np.round(triangles, 6) + 0.0
    for i, corners in enumerate(keys):
        for a, b in ((0, 1), (1, 2), (2, 0)):
            low, high = sorted((corners[a].tobytes(), corners[b].tobytes()))
            sides.setdefault((low, high), []).append(i)
    edges = [
        (np.frombuffer(a), np.frombuffer(b))
        for (a, b), faces in sides.items()
        if len(faces) != 2 or normals[faces[0]] @ normals[faces[1]] < math.cos(math.radians(30))
    ]
    if 0 < len(edges) <= 2 * _MOST_EDGES:
        return np.asarray(edges)
    return _box_edges(keys.reshape(-1, 3).min(axis=0), keys.reshape(-1, 3).max(axis=0))


def _box_edges(low: Array, high: Array) -> Array:
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)])
    pairs = [
        (a, b) for a in corners for b in corners if (b - a).sum() == 1 and np.abs(b - a).sum() == 1
    ]
    return low + np.asarray(pairs) * (high - low)


def _circle(centre: Array, radius: float, camera: Camera) -> Array:
    """Return the outline of a sphere as a camera sees it, closed."""
    away = camera.position - centre
    distance = float(np.linalg.norm(away))
    axis = away / distance
    share = min(1.0, radius / distance)
    x, y = across(axis)
    turn = np.linspace(0.0, 2.0 * math.pi, 97)
    ring = np.outer(np.cos(turn), x) + np.outer(np.sin(turn), y)
    return np.asarray(centre + radius * (share * axis + math.sqrt(1.0 - share * share) * ring))


def _top(shown: Shown, i: int) -> float:
    row = shown.capsules[i]
    return (
        float(np.asarray(row[3:6]) @ shown.torso[:, 2] + row[6]) if i < shown.n_own else -math.inf
    )
