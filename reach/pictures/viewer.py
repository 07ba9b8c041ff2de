"""The whole scene of a run as a page of its own to turn, and the same view as a picture.

The page is what the drawing library exports: it draws by itself, asks for nothing outside, and
loses letters that are not geometry; names are therefore solids that face the first view.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.util import find_spec
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.files.glb import Part
from reach.finding import Verdict
from reach.pictures.camera import Camera, fitted
from reach.pictures.layout import Placed, layout, nearest_point
from reach.pictures.overlay import Window
from reach.pictures.palette import FAIL, GROUND, INK, PAPER, SOFT_INK
from reach.pictures.panels import side_words
from reach.pictures.plates import packed
from reach.pictures.renderer import new_plotter, rendered
from reach.pictures.surface import mesh_of, plain_mesh, rod
from reach.pictures.whole import Named, around_of, parts_of_outcome
from reach.reports.page.plates import Plate
from reach.run import Outcome
from reach.travel.ground import spot_in

Array = NDArray[np.float64]
Label = tuple[str, Array, str, float]
"""A name, its point (m), its colour, and its height (m) in a scene of `_WIDE` metres."""

SIZE = (1400, 900)
"""Of the first view, px."""

NAMED = (1240, 900)
"""Part of it, about its middle, that names keep to: so much a window of the page shows."""

_WAY = np.array([0.35, -0.82, 0.45])
_HIGH, _HIGH_FAIL = 0.24, 0.28
"""Height of names and of names of what fails, m in a scene of `_WIDE` metres."""

_WIDE = 20.0
_ASPECT = 1.45
"""Of what the first view holds: less than that of the picture, so that narrow windows hold it."""

_BEHIND = 2e-3
PLATE_EDGE = 0.42
"""A name stands on a plate that is so many of its heights wider all round: room for descenders."""

_NEARER, _THIN = 0.88, 0.05
_SAME = 2.0
"""Fails of one check so near each other are named once, m."""

_FITTED = 5000
_MOST = 24
"""Names of what fails that are written; further ones would lie over one another."""


MISSING = "it needs the library trame-pyvista; install it: pip install 'worksite-reach[report]'."


def has_exporter() -> bool:
    """Return whether there is what writes the view to turn."""
    return find_spec("trame_pyvista") is not None and find_spec("trame_vtk") is not None


def overview_of(outcome: Outcome) -> Plate | None:
    """Return the first view as a picture alone; None where nothing is asked.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer.
    """
    seen = _seen(outcome, with_page=False)
    return None if seen is None else seen[1]


def view_of(outcome: Outcome) -> tuple[str, Plate] | None:
    """Return the page to turn and its first view as a picture; None where nothing is asked.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    """
    return _seen(outcome, with_page=True)


def _seen(outcome: Outcome, with_page: bool) -> tuple[str, Plate] | None:
    # Corridors of many moves over one another hide what they are about.
    parts = [one for one in parts_of_outcome(outcome) if one.group != "corridor"]
    if not parts:
        return None
    plotter = new_plotter(*SIZE)
    try:
        plotter.set_background(PAPER, top=GROUND)
        camera = _camera(parts)
        for (colour, opacity), some in _alike(parts).items():
            _add(plotter, some, colour, opacity)
        _label(plotter, outcome, camera)
        _place(plotter, camera)
        picture = _trimmed(Image.fromarray(rendered(plotter)))
        html = _page(plotter) if with_page else ""
    finally:
        plotter.close()
    return html, _plate(outcome, picture, camera, parts)


def _alike(parts: Iterable[Named]) -> dict[tuple[tuple[int, int, int], float], list[Part]]:
    """Return parts by colour and opacity, solid ones first."""
    found: dict[tuple[tuple[int, int, int], float], list[Part]] = {}
    for one in sorted(parts, key=lambda named: -named.part.opacity):
        found.setdefault((one.part.colour, one.part.opacity), []).append(one.part)
    return found


def _add(plotter: Any, parts: Sequence[Part], colour: tuple[int, int, int], opacity: float) -> None:
    starts = np.cumsum([0, *(len(one.points) for one in parts[:-1])])
    points = np.concatenate([one.points for one in parts]).astype(np.float32)
    faces = np.concatenate([one.faces + k for one, k in zip(parts, starts, strict=True)])
    mesh = plain_mesh(points, faces).clean(tolerance=0.0).compute_normals(
        cell_normals=False, split_vertices=True, feature_angle=40.0,
        consistent_normals=False, auto_orient_normals=False,
    )  # fmt: skip
    plotter.add_mesh(
        mesh, color=colour, opacity=opacity, ambient=0.3, diffuse=0.75, specular=0.05,
        show_scalar_bar=False, render=False, reset_camera=False,
    )  # fmt: skip


def _camera(parts: Sequence[Named]) -> Camera:
    points = np.concatenate([one.part.points for one in parts])
    points = points[:: 1 + len(points) // _FITTED]
    return fitted(points, _WAY / np.linalg.norm(_WAY), _ASPECT)


def _place(plotter: Any, camera: Camera) -> None:
    view = plotter.camera
    view.position, view.focal_point, view.up = camera.position, camera.focus, camera.up
    view.view_angle = float(np.degrees(camera.angle))
    away = float(np.linalg.norm(camera.position - camera.focus))
    view.clipping_range = (0.02 * away, 6.0 * away + 40.0)


@dataclass(frozen=True, eq=False, slots=True)
class Seated:
    """A name with its place in the first view.

    Attributes
    ----------
    words, colour : str
    point : ndarray, shape (3,), m, world
    letters : mesh
        Flat, in its own plane, standing on the middle of its lower edge.
    size : ndarray, shape (2,), m
        Width and height of the capitals, where the point is.
    at : ndarray, shape (2,), px
        The point.
    per_metre : float, px
        At the point.
    placed : Placed or None
        The plate under it; None where there is no room.
    """

    words: str
    colour: str
    point: Array
    letters: Any
    size: Array
    at: Array
    per_metre: float
    placed: Placed | None


def seated(labels: Sequence[Label], camera: Camera) -> list[Seated]:
    """Return names with plates in the first view, none over another."""
    if not labels:
        return []
    at, depths = Window(camera, *NAMED).pixels(np.array([point for _, point, _, _ in labels]))
    found: list[Seated] = []
    for (words, point, colour, share), xy, depth in zip(labels, at, depths, strict=True):
        high = share * float(depth) / _WIDE
        letters = _letters(words, high)
        wide = float(np.ptp(np.asarray(letters.points)[:, 0]))
        per_metre = 0.5 * SIZE[1] / (math.tan(0.5 * camera.angle) * float(depth))
        size = np.array([wide, high])
        found.append(Seated(words, colour, point, letters, size, xy, per_metre, None))
    sizes = [one.per_metre * (one.size + 2.0 * PLATE_EDGE * one.size[1]) for one in found]
    boxes = layout(
        [(float(x), float(y)) for x, y in at], [(float(w), float(h)) for w, h in sizes], NAMED, at
    )
    return [replace(one, placed=box) for one, box in zip(found, boxes, strict=True)]


def _label(plotter: Any, outcome: Outcome, camera: Camera) -> None:
    """Write names as solids in front of everything, each on a plate of its own on a thin line."""
    for one in seated([*_fails(outcome), *_places(outcome)], camera):
        if one.placed is None:
            continue
        box, high = one.placed.box, one.size[1]
        end = np.array(nearest_point(box, one.placed.anchor))
        middle = np.array([0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])])
        # From pixels, y down, to metres in the plane of the point that faces the camera, y up.
        way, foot = ((px - one.at) * [1.0, -1.0] / one.per_metre for px in (middle, end))
        half = 0.5 * one.size + PLATE_EDGE * high
        corners = way + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
        behind = _NEARER + _BEHIND
        plate = plain_mesh(
            _facing(corners, one.point, camera, behind), np.array([[0, 1, 2], [0, 2, 3]])
        )
        flat = np.asarray(one.letters.points, float)[:, :2] + way - [0.0, 0.5 * high]
        one.letters.points = _facing(flat, one.point, camera, _NEARER).astype(np.float32)
        foot_at = _facing(foot[None], one.point, camera, behind)[0]
        thin = mesh_of(rod(one.point, foot_at, _THIN * float(high), one.colour))
        for mesh, tone in ((plate, PAPER), (one.letters, one.colour), (thin, one.colour)):
            plotter.add_mesh(
                mesh, color=tone, lighting=False, scalars=None, render=False, reset_camera=False
            )


def _facing(flat: Array, at: Array, camera: Camera, share: float) -> Array:
    """Return points (n, 2) of a plane that faces the camera as points of the world (n, 3).

    They look as if they stood at ``at``, but are only a share as far from the camera.
    """
    nearer = camera.position + share * (at - camera.position)
    return np.asarray(nearer + share * flat @ camera.axes[:2])


def _letters(words: str, high: float) -> Any:
    """Return words as a flat solid in its own plane, standing on the middle of its lower edge."""
    import pyvista as pv

    mesh, capital = pv.Text3D(words, depth=0.0), pv.Text3D("H", depth=0.0)
    flat, tall = np.asarray(mesh.points, float), np.ptp(np.asarray(capital.points, float)[:, 1])
    low, top = flat.min(axis=0), flat.max(axis=0)
    flat[:, 0] -= 0.5 * (low[0] + top[0])
    flat[:, 1] -= float(np.asarray(capital.points)[:, 1].min())
    mesh.points = flat * high / max(float(tall), 1e-9)
    return mesh


def _fails(outcome: Outcome) -> list[Label]:
    """Return the names of what fails and of what is open, at its first mark."""
    found: dict[tuple[Any, ...], Label] = {}
    for one in outcome.findings:
        marks = [mark for mark in one.marks if mark.bad]
        if marks and one.verdict in (Verdict.FAIL, Verdict.OPEN):
            colour = FAIL if one.verdict is Verdict.FAIL else SOFT_INK
            at = np.mean(np.array(marks[0].points, float), axis=0)
            words = f"{one.verdict} {one.check}"
            near = (one.check, *np.round(at / _SAME).astype(int).tolist())
            found.setdefault(near, (words, at, colour, _HIGH_FAIL))
    return list(found.values())[:_MOST]


def _places(outcome: Outcome) -> list[Label]:
    around = around_of(outcome)
    scene = outcome.site.scene
    found: list[Label] = []
    for situation in outcome.situations:
        place = situation.place
        if place is not None and place.world_from_boots is not None:
            words = f"{situation.worker} {place.name}"
            at = place.world_from_boots[:3, 3]
            if words not in {label[0] for label in found}:
                found.append((words, at, INK, _HIGH))
    if around is not None and outcome.situations:
        for name in scene.hatches:
            at = np.asarray(spot_in(outcome.site, outcome.situations[0], name).point, float)
            found.append((name, at, INK, _HIGH))
    return found


def _trimmed(picture: Image.Image) -> Image.Image:
    """Return a picture without most of what is blank above and below."""
    rows = np.flatnonzero(np.asarray(picture, int).std(axis=1).max(axis=1) > 1.0)
    if not len(rows):
        return picture
    top, foot = max(0, rows[0] - _BLANK), min(picture.height, rows[-1] + _BLANK)
    return picture.crop((0, int(top), picture.width, int(foot)))


_BLANK = 24
"""Rows of nothing that are left above and below the first view, px."""


def _page(plotter: Any) -> str:
    """Return the exported page, without the addresses of icons that it would ask for."""
    with _nothing_fetched():
        html: str = plotter.trame.export_html(None).getvalue()
    return re.sub(r"https://[^`\"]*/icon/favicon-", "data:,", html)


@contextmanager
def _nothing_fetched() -> Iterator[None]:
    """Keep the library from fetching another renderer from outside, which the page does not use.

    It would do so in the background whenever its server starts.
    """
    try:
        import trame_vtklocal.module as renderer
    except ImportError:
        yield
        return
    asked = renderer.register_wasm
    renderer.register_wasm = lambda *args, **more: {}
    try:
        yield
    finally:
        renderer.register_wasm = asked


def _plate(outcome: Outcome, picture: Image.Image, camera: Camera, parts: Sequence[Named]) -> Plate:
    way = camera.position - camera.focus
    view = side_words(outcome.site.scene, [way / np.linalg.norm(way)])[0]
    n_marks = len({one.part.name for one in parts if one.group == "mark"})
    n_ways = sum(one.group == "way" for one in parts)
    drawn = (
        f"Structure grey, rails ochre, hazards brown, {n_ways} ways and lines of moves, workers at "
        f"each stand with the reach of the tool in pale teal, the payload at its waypoints, and "
        f"{n_marks} marks of what fails (violet) or is open (pale blue)."
    )
    worst = min((one.verdict for one in outcome.findings), key=list(Verdict).index, default=None)
    return Plate(
        "overview", "overview", view, (), f"{outcome.title}: the whole scene",
        outcome.procedure or "one question", drawn, worst,
        packed(picture, "WEBP"), packed(picture, "JPEG"), *picture.size,
    )  # fmt: skip
