"""One plotter that goes on living: a scene to turn, with what changes in layers of their own."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.finding import Finding
from reach.pictures.camera import Camera, fitted, outside_camera
from reach.pictures.carries import Carry
from reach.pictures.carrying import WAY_RADIUS, CarryStudio, flat, way_of
from reach.pictures.links import crane_under
from reach.pictures.moves import Move
from reach.pictures.moving import subject
from reach.pictures.palette import FAIL, GHOST, HAZARD, INK, LINE, PAPER, STRUCTURE, TAUT, WAY, rgb
from reach.pictures.renderer import rendered
from reach.pictures.shown import Shown
from reach.pictures.structure import Structure, fastener_of, structure_of
from reach.pictures.surface import Surface, capsule, joined, mesh_of
from reach.pictures.things import Thing, drawn, outlined, picked, things_of
from reach.site import Site, Situation, Surroundings

Array = NDArray[np.float64]

_HAZARD = 0.13
_MARK, _LINE = 0.004, 0.012
_SIDE = np.array([0.35, 0.85, 0.40])
"""From where a whole scene is seen first."""


class LiveView(CarryStudio):
    """A picture that is turned and changed; layers are built anew, the camera stays."""

    def __init__(self, site: Site, around: Surroundings, size: tuple[int, int]) -> None:
        super().__init__(site, size)
        self.around = around
        self.things: tuple[Thing, ...] = ()
        self._layers: dict[str, list[str]] = {}
        self._stands: bytes = b""
        self._kept: Structure | None = None

    # ---- what stands there ----------------------------------------------------------------

    def stand(self, site: Site, around: Surroundings) -> None:
        """Draw structure, hazards and everything with a name, where it is not drawn already."""
        self.site = site
        key = around.tree.tri.tobytes() + b"".join(
            np.round(pose, 9).tobytes() for pose in around.world_from.values()
        )
        self.around = around
        if key == self._stands:
            return
        self._stands = key
        self.things = things_of(site, around)
        self._kept = structure_of(around)
        with self.layer("scene"):
            self._add(_plain(self._kept), shine=0.04)
            self._add(joined([drawn(thing) for thing in self.things]) if self.things else None)
        with self.layer("hazards"):
            for _, _, tree, _ in around.hazards:
                self._add(flat(tree.tri.reshape(-1, 3, 3), HAZARD), opacity=_HAZARD)

    def forget(self) -> None:
        """Have everything drawn anew by the next `stand`, whatever is there."""
        self._stands = b""

    def names(self, things: Iterable[Thing]) -> None:
        """Write names beside things."""
        shown = list(things)
        with self.layer("names"):
            if shown:
                self.plotter.add_point_labels(
                    np.array([thing.middle + 0.06 * thing.axis for thing in shown]),
                    [thing.name for thing in shown],
                    font_size=13, text_color=INK, shape_color=PAPER, shape_opacity=0.72,
                    fill_shape=True, margin=2, show_points=False, always_visible=True,
                    render=False, reset_camera=False,
                )  # fmt: skip

    # ---- what is tried --------------------------------------------------------------------

    def worker(self, name: str, situation: Situation, shown: Shown, is_bubble: bool) -> None:
        """Draw one worker with restraint and tool; with what the tool's tip reaches if asked."""
        with self.layer(f"worker {name}"):
            self._add_worker(shown, situation)
            self._add(crane_under(self.site, situation))
            if situation.head is not None:
                self._add(fastener_of(situation.head))
        with self.layer(f"envelope {name}"):
            bubble = self._bubble(situation, shown) if is_bubble else None
            if bubble is not None:
                self._add_bubble(bubble)

    def gone(self, *names: str) -> None:
        """Take layers away; a name stands for all that begin with it."""
        for layer in [one for one in self._layers if one.startswith(names)]:
            with self.layer(layer):
                pass

    def marks(self, findings: Sequence[Finding]) -> None:
        """Draw what findings point at as thin lines and balls: violet what fails, ink the rest."""
        parts = []
        for finding in findings:
            for mark in finding.marks:
                if mark.kind in ("segment", "capsule"):
                    start, stop = (np.asarray(point, float) for point in mark.points)
                    if np.linalg.norm(stop - start) > 1e-6:
                        parts.append(capsule(start, stop, _MARK, FAIL if mark.bad else INK))
        with self.layer("marks"):
            self._add(joined(parts) if parts else None)

    def outline(self, thing: Thing | None) -> None:
        """Outline what is picked, facing the camera as it is now, in plain colours."""
        with self.layer("picked"):
            if thing is None:
                return
            camera = self.camera(1, 1)
            line = camera.position - thing.middle
            away = float(np.linalg.norm(line))
            metres = 2.0 * away * math.tan(0.5 * camera.angle) / self.size[1]
            self._mesh(
                mesh_of(outlined(thing, line / away, metres)), scalars="colour", rgb=True,
                lighting=False,
            )  # fmt: skip

    # ---- ways -----------------------------------------------------------------------------

    def move(self, move: Move | None) -> None:
        """Draw a move: rails used, the tube that must be free, the line as led and pulled tight."""
        with self.layer("move"):
            if move is None:
                return
            points = subject(move)
            self._add_move(move, points, self.size[1] / 12.0)
            if move.led is not None:
                self._add(_tube(move.led.route.points, _LINE, LINE))
                if move.tight is not None:
                    self._add(_tube(move.tight.points, _LINE, TAUT))

    def moment(self, carry: Carry | None, at: float = 0.0) -> None:
        """Draw what is moved at a place of its way, 0 at its start and 1 more a leg."""
        with self.layer("moment"):
            if carry is not None:
                self._add(_tube(way_of(carry), WAY_RADIUS, WAY))
                self._add_moment(carry, carry.track.pose_at(at), at)

    # ---- the camera -----------------------------------------------------------------------

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the picture, px."""
        width, height = self.plotter.render_window.GetSize()
        return int(width), int(height)

    def camera(self, width: int, height: int) -> Camera:
        """Return the camera as it is now."""
        view = self.plotter.camera
        return Camera(
            np.asarray(view.position), np.asarray(view.focal_point), np.asarray(view.up),
            math.radians(view.view_angle), width / height,
        )  # fmt: skip

    def look(self, camera: Camera) -> None:
        """Look from somewhere else."""
        view = self.plotter.camera
        view.position, view.focal_point, view.up = camera.position, camera.focus, camera.up
        view.view_angle = math.degrees(camera.angle)
        self.plotter.renderer.ResetCameraClippingRange()

    def look_at_all(self) -> None:
        """Look at the whole scene."""
        points = [thing.ends for thing in self.things]
        if self._kept is not None and len(self._kept.points):
            points.append(self._kept.points[:: max(1, len(self._kept.points) // 4000)])
        every = np.concatenate(points) if points else np.zeros((1, 3))
        width, height = self.size
        self.look(fitted(every, _SIDE / np.linalg.norm(_SIDE), width / height))

    def look_at_worksite(self, situation: Situation, shown: Shown) -> None:
        """Look at a worksite from where most of it is seen."""
        width, height = self.size
        bubble = self._bubble(situation, shown)
        more = None if bubble is None else bubble.points
        self.look(outside_camera(shown, situation, width / height, more))

    def look_at_points(self, points: Array) -> None:
        """Look at points from the side that the camera is on."""
        now = self.camera(*self.size)
        way = now.position - now.focus
        width, height = self.size
        self.look(fitted(points, way / np.linalg.norm(way), width / height))

    def turn(self, right: float, up: float, nearer: float = 1.0) -> None:
        """Turn the camera about what it looks at, deg, and go nearer by a factor."""
        view = self.plotter.camera
        view.Azimuth(right)
        view.Elevation(up)
        view.OrthogonalizeViewUp()
        view.Dolly(nearer)
        self.plotter.renderer.ResetCameraClippingRange()

    def pick(self, x: float, y: float) -> Thing | None:
        """Return what is under a pixel, counted from the left and the top; None for nothing."""
        width, height = self.size
        camera = self.camera(width, height)
        return picked(self.things, camera, self.around.tree, x, y, width, height)

    def thing(self, kind: str, name: str) -> Thing | None:
        """Return a thing by name."""
        return next((one for one in self.things if (one.kind, one.name) == (kind, name)), None)

    def pixels(self) -> NDArray[np.uint8]:
        """Return what is seen, shape (h, w, 3)."""
        return rendered(self.plotter)

    @contextmanager
    def layer(self, name: str) -> Iterator[None]:
        """Build a layer anew: what it held goes, what is added inside belongs to it."""
        gone = self._layers.pop(name, [])
        if gone:
            self.plotter.remove_actor(gone, reset_camera=False, render=False)
        before = set(self.plotter.renderer.actors)
        yield
        added = [one for one in self.plotter.renderer.actors if one not in before]
        if added:
            self._layers[name] = added


def _plain(structure: Structure) -> Surface | None:
    if not len(structure.points):
        return None
    grey = np.asarray(rgb(STRUCTURE), float) * 0.62 + np.asarray(rgb(GHOST), float) * 0.38
    colours = np.tile(np.asarray(np.rint(grey), np.uint8), (len(structure.points), 1))
    return Surface(structure.points, structure.normals, structure.faces, colours)


def _tube(points: Array, radius: float, colour: str) -> Surface | None:
    parts = [
        capsule(a, b, radius, colour) for a, b in pairwise(points) if np.linalg.norm(b - a) > 1e-9
    ]
    return joined(parts) if parts else None
