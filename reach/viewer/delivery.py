"""Pictures to the browser: each is drawn once and sent as it is, at the size that it is shown in.

The library's own way draws a picture five to ten times before the first one is seen: at sizes that
the browser asks for while it finds its own, and again while it waits for an encoder of its own.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.pictures.live import LiveView

SMALLEST = 100
"""What is asked for at fewer pixels across is no picture that anybody sees, px."""

FINE = 90
"""From this quality on colours are kept as sharp as light and dark: names and thin lines."""


class Delivery:
    """Draws what the browser asks for, and keeps the last picture while nothing changes.

    Parameters
    ----------
    view : LiveView

    Attributes
    ----------
    n_drawn : int
        Pictures drawn so far.
    on_first : callable or None
        Called once, when the first picture that is looked at goes out.
    """

    def __init__(self, view: LiveView) -> None:
        self.view = view
        self.n_drawn = 0
        self.on_first: Callable[[], None] | None = None
        self._n_changes = 0
        self._kept: tuple[tuple[Any, ...], bytes] | None = None

    def changed(self) -> None:
        """Say that what is drawn has changed otherwise than by the camera."""
        self._n_changes += 1

    def configure(self, protocol: Any) -> None:
        """Take the place of the library's own renderer of still pictures."""
        from trame_vtk.modules.vtk.protocols import vtkWebPublishImageDelivery

        for one in protocol.getLinkProtocols():
            if isinstance(one, vtkWebPublishImageDelivery):
                one.decode = False
                one.still_render = self.still

    def still(self, options: dict[str, Any]) -> dict[str, Any]:
        """Return a picture as the library sends it; without an image where none is worth it.

        Parameters
        ----------
        options : dict
            ``size`` in pixels and ``quality`` from 1 to 100.
        """
        begin = time.perf_counter()
        width, height = (int(one) for one in options.get("size", self.view.size))
        image = None
        if min(width, height) >= SMALLEST:
            if self.view.size != (width, height):
                self.view.plotter.render_window.SetSize(width, height)
            quality = int(options.get("quality", FINE))
            image = self.encoded(quality)
            if quality <= FINE and self.on_first is not None:
                # The library asks at its best quality while it registers: nobody looks at that.
                told, self.on_first = self.on_first, None
                told()
        return {
            "image": image, "stale": False, "mtime": self._n_changes + 1,
            "size": list(self.view.size), "memsize": len(image or b""), "format": "jpeg",
            "global_id": str(options["view"]), "localTime": options.get("localTime", 0),
            "workTime": round(1000.0 * (time.perf_counter() - begin)),
        }  # fmt: skip

    def encoded(self, quality: int) -> bytes:
        """Return what is seen as JPEG; drawn anew where anything has changed since the last."""
        key = (self._n_changes, quality, *self.view.size, *self._camera())
        if self._kept is None or self._kept[0] != key:
            self.n_drawn += 1
            self._kept = (key, jpeg(self.view.pixels(), quality))
        return self._kept[1]

    def _camera(self) -> tuple[float, ...]:
        camera = self.view.plotter.camera
        return (*camera.position, *camera.focal_point, *camera.up, camera.view_angle)


def jpeg(pixels: NDArray[np.uint8], quality: int) -> bytes:
    """Return a picture as JPEG."""
    out = io.BytesIO()
    sharpness = 0 if quality >= FINE else 2
    Image.fromarray(pixels).save(out, "JPEG", quality=min(quality, 95), subsampling=sharpness)
    return out.getvalue()
