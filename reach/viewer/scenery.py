"""The picture on the page: drawn anew when the desk changes, turned, and picked in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from trame_pyvista.widgets import PyVistaRemoteView

from reach.pictures.live import LiveView
from reach.viewer.delivery import FINE, SMALLEST, Delivery
from reach.viewer.desk import Desk

SIZE = (1000, 760)
"""Width and height of the picture before the browser says its own, px."""

CLICK = 4.0
"""A press and release no farther apart are a click, px."""

ROUND = 1.2
"""So much round what is picked is shown, m."""

NAMED = ("socket", "station")
"""Kinds of things whose names stand in the picture."""


class Scenery:
    """The one plotter of a page.

    Parameters
    ----------
    desk : Desk
    on_click : callable
        Told kind and name of what was clicked on, empty texts for nothing.
    """

    def __init__(self, desk: Desk, on_click: Callable[[str, str], None]) -> None:
        self.desk, self.on_click = desk, on_click
        self.view = LiveView(desk.site, desk.around, SIZE)
        self.delivery = Delivery(self.view)
        self.remote: Any = None
        self.subject: NDArray[np.float64] | None = None
        """Points that what is drawn is about; None for the trial."""
        self._is_fitted = False
        self._pressed: tuple[int, int] | None = None

    def widget(self) -> None:
        """Put the picture on the page that is being laid out."""
        self.remote = PyVistaRemoteView(
            self.view.plotter, interactive_ratio=0.6, still_ratio=1, interactive_quality=60,
            still_quality=FINE,
        )  # fmt: skip
        self.remote.server.add_protocol_to_configure(self.delivery.configure)
        interactor = self.view.plotter.render_window.GetInteractor()
        interactor.AddObserver("LeftButtonPressEvent", self._press)
        # The style takes the release for itself; it tells when it is through with it.
        interactor.GetInteractorStyle().AddObserver("EndInteractionEvent", self._release)
        self.view.plotter.render_window.AddObserver("WindowResizeEvent", self._resized)

    def redraw(self, at: str = "") -> None:
        """Draw the trial as it is, look at something as `look` does if asked, send the picture."""
        desk, view = self.desk, self.view
        quick = desk.quick
        self.clear()
        view.stand(desk.site if quick is None else quick.site, desk.around)
        if quick is not None and quick.shown is not None:
            view.worker("trial", quick.situation, quick.shown, True)
        view.marks(desk.answer.findings if desk.answer is not None else ())
        self.names()
        if at:
            self._aim(at)
        self.outline()
        self.push()

    def names(self) -> None:
        """Write the names of places."""
        self.view.names([one for one in self.view.things if one.kind in NAMED])

    def clear(self) -> None:
        """Take away what changes: people, ways, what moves, what findings point at."""
        self.subject = None
        self.view.gone("worker", "envelope", "move", "moment", "marks")

    def outline(self) -> None:
        """Outline what is picked."""
        self.delivery.changed()
        self.view.outline(self.desk.picked)

    def push(self) -> None:
        """Send the picture as it is now."""
        self.view.plotter.renderer.ResetCameraClippingRange()
        self.delivery.changed()
        if self.remote is not None:
            self.remote.update()

    def turn(self, right: float, up: float, nearer: float) -> None:
        """Turn the camera by degrees, and go nearer by a factor."""
        self.view.turn(float(right), float(up), float(nearer))
        self.outline()
        self.push()

    def look(self, at: str) -> None:
        """Look at the worksite ("work"), at what is picked ("picked") or at all of it ("all")."""
        self._aim(at)
        self.push()

    def _aim(self, at: str) -> None:
        quick, picked = self.desk.quick, self.desk.picked
        if at == "picked" and picked is not None:
            self.view.look_at_points(np.concatenate([picked.ends - ROUND, picked.ends + ROUND]))
        elif at == "work" and self.subject is not None:
            self.view.look_at_points(self.subject)
        elif at == "work" and quick is not None and quick.shown is not None:
            self.view.look_at_worksite(quick.situation, quick.shown)
        else:
            self.view.look_at_all()
        self.outline()

    def _press(self, interactor: Any, _event: str) -> None:
        self._pressed = interactor.GetEventPosition()

    def _release(self, style: Any, _event: str) -> None:
        start, self._pressed = self._pressed, None
        at = style.GetInteractor().GetEventPosition()
        if start is None or abs(at[0] - start[0]) + abs(at[1] - start[1]) > CLICK:
            self.outline()
            return
        thing = self.view.pick(at[0], self.view.size[1] - at[1])
        self.on_click(*((thing.kind, thing.name) if thing is not None else ("", "")))

    def _resized(self, _window: Any, _event: str) -> None:
        """Look anew once the browser has said how large the picture is."""
        if not self._is_fitted and self.view.size != SIZE and min(self.view.size) >= SMALLEST:
            self._is_fitted = True
            self._aim("work")  # what asked for that size is given the picture anyway
