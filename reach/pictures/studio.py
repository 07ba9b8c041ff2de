"""Draws worksites: one plotter and one set of structure for all pictures of a run."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.geometry import transform_points
from reach.pictures.camera import Camera, eyes_camera, outside_camera, veiling_pieces
from reach.pictures.envelope import Envelope, known_envelope
from reach.pictures.links import crane_under
from reach.pictures.notes import eyes_notes, grips_of, outside_notes
from reach.pictures.overlay import Window, draw_axes, draw_notes
from reach.pictures.palette import ENVELOPE, GHOST, GROUND, INK, SKY
from reach.pictures.pen import lay_over, new_sheet
from reach.pictures.renderer import new_plotter, rendered
from reach.pictures.sheet import VIEW, sheet_of, write_view
from reach.pictures.shown import Shown, shown_of
from reach.pictures.structure import (
    Structure,
    fastener_of,
    hazards_of,
    solid_surfaces,
    structure_of,
    things_near,
)
from reach.pictures.surface import Surface, mesh_of, plain_mesh
from reach.pictures.worker import arm_of, body_of, boots_of, tool_of
from reach.pictures.worksite import Worksite
from reach.site import Site, Situation, Surroundings

Array = NDArray[np.float64]

VIEWS = {
    "outside": "seen from outside",
    "eyes": "seen from the worker's eyes",
    "side": "seen from another side",
}


def views_of(worksite: Worksite) -> tuple[str, str]:
    """Return the two views of a worksite.

    Who stands at rest looks at nothing in particular: they are seen from a second side instead.
    """
    return "outside", "side" if worksite.situation.head is None else "eyes"


OUTLINE = 0.007
"""Width of the dark outline round the worker, m."""

_VEIL, _SEE_THROUGH = 0.16, 0.4
_BUBBLE_BACK, _BUBBLE_FRONT = 0.26, 0.05
_HAZARD = 0.10
_CLIP = (0.04, 80.0)
_COMPRESSION = 4


class Studio:
    """Draws the worksites of one run; to be closed, or used in a ``with`` statement.

    Parameters
    ----------
    site : Site
    size : (int, int), px
        Width and height of a view.
    lettering : float
        Letters, lines and spots over a view are so much larger, for views that are shown small.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer.
    """

    def __init__(
        self, site: Site, size: tuple[int, int] = VIEW[2:], lettering: float = 1.0
    ) -> None:
        self.site = site
        self.view_size = size
        self.lettering = lettering
        self.plotter: Any = new_plotter(*size)
        self.plotter.set_background(GROUND, top=SKY)
        self._structures: dict[int, Structure] = {}
        self._n_added = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the plotter back."""
        self.plotter.close()

    def draw(
        self, worksite: Worksite, views: tuple[str, ...] | None = None
    ) -> dict[str, Image.Image]:
        """Return the pictures of a worksite by view: those of `views_of`, unless told.

        Raises
        ------
        ValueError
            If a view is unknown.
        """
        views = views_of(worksite) if views is None else views
        unknown = [view for view in views if view not in VIEWS]
        if unknown:
            raise ValueError(f"no view {unknown[0]!r}; there are {', '.join(VIEWS)}")
        shown = shown_of(self.site, worksite.situation)
        sheet = sheet_of(worksite, shown)
        return {view: self._picture(worksite, shown, view, sheet.copy()) for view in views}

    def view(self, worksite: Worksite, shown: Shown, view: str) -> Image.Image:
        """Return one view alone, with its notes: ``outside``, ``eyes`` or ``side``."""
        bare, camera = self.bare(worksite, shown, view)
        picture = Image.fromarray(bare)
        notes = (
            eyes_notes(worksite, shown)
            if view == "eyes"
            else outside_notes(worksite, shown, camera, grips_of(self.site, worksite.situation))
        )
        overlay, pen = new_sheet(*self.view_size, self.lettering)
        window = Window(camera, *(each / self.lettering for each in self.view_size))
        rows = shown.capsules[shown.n_own :] if view == "eyes" else shown.capsules
        draw_notes(pen, window, notes, rows)
        draw_axes(pen, window)
        lay_over(picture, overlay, (0, 0))
        return picture

    def bare(self, worksite: Worksite, shown: Shown, view: str) -> tuple[NDArray[np.uint8], Camera]:
        """Return a view without anything written over it, shape (h, w, 3), and its camera."""
        head = worksite.situation.head
        aspect = self.view_size[0] / self.view_size[1]
        if view in ("outside", "side"):
            bubble = self._bubble(worksite.situation, shown)
            grips = [point for _, point in grips_of(self.site, worksite.situation)]
            more = np.reshape(grips, (-1, 3)) if bubble is None else bubble.points
            camera = outside_camera(shown, worksite.situation, aspect, more)
            if view == "side":
                camera = outside_camera(shown, worksite.situation, aspect, more, camera.axes[2])
            self._build_outside(worksite, shown, camera, bubble)
        else:
            camera = eyes_camera(shown, None if head is None else head.point, aspect)
            self._build_eyes(worksite, shown)
        return self._rendered(camera), camera

    def _picture(
        self, worksite: Worksite, shown: Shown, view: str, sheet: Image.Image
    ) -> Image.Image:
        sheet.paste(self.view(worksite, shown, view), VIEW[:2])
        write_view(sheet, VIEWS[view])
        return sheet

    def _build_outside(
        self, worksite: Worksite, shown: Shown, camera: Camera, bubble: Envelope | None
    ) -> None:
        situation = worksite.situation
        self.plotter.clear_actors()
        veiled = veiling_pieces(camera, shown, situation)
        self._add_place(worksite, shown, veiled, camera.position)
        self._add_worker(shown, situation)
        if bubble is not None:
            self._add_bubble(bubble)

    def _add_worker(self, shown: Shown, situation: Situation) -> None:
        self._add(boots_of(situation))
        self._add(body_of(shown), outline=OUTLINE)
        self._add(arm_of(shown), outline=OUTLINE)
        self._add(tool_of(shown, situation), outline=0.6 * OUTLINE)

    def _build_eyes(self, worksite: Worksite, shown: Shown) -> None:
        self.plotter.clear_actors()
        self._add_place(worksite, shown, np.empty(0, np.int64))
        self._add(arm_of(shown), opacity=_SEE_THROUGH)
        self._add(tool_of(shown, worksite.situation), opacity=_SEE_THROUGH)

    def _add_place(
        self,
        worksite: Worksite,
        shown: Shown,
        veiled: NDArray[np.int64],
        viewer: Array | None = None,
    ) -> None:
        situation = worksite.situation
        place, head = situation.place, situation.head
        assert place is not None
        assert place.world_from_boots is not None
        stand = place.world_from_boots[:3, 3]
        centre = 0.5 * (stand + (shown.eye if head is None else head.point))
        structure = self._structure(situation.surroundings)
        solid, veil = solid_surfaces(structure, centre, veiled)
        self._add(solid, shine=0.04)
        self._add(things_near(self.site, situation, centre, viewer))
        self._add(crane_under(self.site, situation))
        if head is not None:
            self._add(fastener_of(head))
        if veil is not None:
            self._add(veil, opacity=_VEIL, colour=GHOST)
        self._add(hazards_of(situation.surroundings, stand), opacity=_HAZARD)

    def _structure(self, around: Surroundings) -> Structure:
        if id(around) not in self._structures:
            self._structures[id(around)] = structure_of(around)
        return self._structures[id(around)]

    def _bubble(self, situation: Situation, shown: Shown) -> Envelope | None:
        """Return what the tool tip reaches, m, world; None where nothing is turned."""
        attempt = shown.attempt
        if attempt is None or situation.held is None:
            return None
        found = known_envelope(self.site, attempt.figure, attempt.target.direction)
        if found is None:
            return None
        pose = shown.world_from_boots
        is_mirrored = np.linalg.det(pose[:3, :3]) < 0.0
        faces = found.faces[:, ::-1] if is_mirrored else found.faces
        return replace(found, points=transform_points(pose, found.points), faces=faces)

    def _mesh(self, mesh: Any, **how: Any) -> Any:
        """Add a mesh under a name of its own: named by its address two could be taken for one."""
        self._n_added += 1
        return self.plotter.add_mesh(
            mesh, name=f"mesh {self._n_added}", render=False, reset_camera=False, **how
        )

    def _add(
        self,
        surface: Surface | None,
        opacity: float = 1.0,
        shine: float = 0.1,
        outline: float = 0.0,
        colour: str | None = None,
    ) -> None:
        if surface is None:
            return
        paint = {"color": colour} if colour else {"scalars": "colour", "rgb": True}
        actor = self._mesh(
            mesh_of(surface),
            opacity=opacity,
            ambient=0.30,
            diffuse=0.80,
            specular=shine,
            specular_power=18,
            show_scalar_bar=False,
            **paint,
        )
        actor.prop.interpolation = "Gouraud"
        if outline:
            self._add_outline(surface, outline)

    def _add_outline(self, surface: Surface, width: float) -> None:
        """Draw the inside of a slightly larger hull in ink, so that the shape gets an edge."""
        hull = Surface(
            surface.points + width * surface.normals,
            surface.normals,
            surface.faces,
            surface.colours,
        )
        self._mesh(
            mesh_of(hull),
            color=INK,
            lighting=False,
            culling="front",
        )

    def _add_bubble(self, bubble: Envelope) -> None:
        mesh = plain_mesh(bubble.points, bubble.faces)
        mesh = mesh.subdivide(2, "loop").compute_normals()
        for culling, opacity in (("front", _BUBBLE_BACK), ("back", _BUBBLE_FRONT)):
            self._mesh(
                mesh,
                color=ENVELOPE,
                opacity=opacity,
                culling=culling,
                ambient=0.5,
                diffuse=0.5,
            )

    def _rendered(self, camera: Camera) -> NDArray[np.uint8]:
        view = self.plotter.camera
        view.position, view.focal_point, view.up = camera.position, camera.focus, camera.up
        view.view_angle = math.degrees(camera.angle)
        view.clipping_range = _CLIP
        return rendered(self.plotter)


def png_of(picture: Image.Image) -> bytes:
    """Return a picture as the bytes of a PNG file."""
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", compress_level=_COMPRESSION)
    return buffer.getvalue()
