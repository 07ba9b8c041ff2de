"""The off-screen renderer: whether there is one, and a plotter set up for still pictures."""

from __future__ import annotations

import ctypes
import os
import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray

WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"
LIBRARIES = {
    "vtkEGLRenderWindow": ("libEGL.so.1",),
    "vtkOSOpenGLRenderWindow": ("libOSMesa.so.8", "libOSMesa.so.6"),
}
"""Kind of render window -> library files of which it needs one, best first."""

MISSING = (
    "drawing without a screen needs libEGL or OSMesa and neither is there; install one of the "
    "Debian packages libegl1 (with libgl1-mesa-dri) or libosmesa6. Everything else ran."
)

SAMPLES = 4
"""Samples a pixel."""

_AIR = 0.22


def has_library(names: tuple[str, ...]) -> bool:
    """Return whether one of the library files can be loaded."""
    for name in names:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return True
    return False


def choose_window() -> None:
    """Set the kind of render window, before the drawing library is loaded.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the packages that bring one.
    """
    if not sys.platform.startswith("linux"):
        return
    kinds = [kind for kind, names in LIBRARIES.items() if has_library(names)]
    if not kinds:
        raise RuntimeError(MISSING)
    os.environ.setdefault(WINDOW, kinds[0])


def new_plotter(width: int, height: int) -> Any:
    """Return an off-screen plotter of that many pixels.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer.
    """
    choose_window()
    import pyvista as pv
    from vtkmodules.vtkCommonCore import vtkObject

    vtkObject.GlobalWarningDisplayOff()
    plotter = pv.Plotter(off_screen=True, window_size=[width, height], lighting=None)
    window = plotter.render_window
    if window is None or not window.SupportsOpenGL():
        plotter.close()
        raise RuntimeError(MISSING)
    light(plotter)
    smooth(plotter)
    return plotter


def light(plotter: Any) -> None:
    """Light from the viewer's upper left, with a weak one from the right and from behind."""
    import pyvista as pv

    for position, strength in (((-0.7, 0.9, 1.0), 0.62), ((0.9, 0.1, 0.8), 0.24)):
        lamp = pv.Light(position=position, intensity=strength, light_type="camera light")
        plotter.add_light(lamp)
    plotter.add_light(pv.Light(light_type="headlight", intensity=_AIR))


def smooth(plotter: Any) -> None:
    """Switch on smooth edges by multisampling.

    Layered translucency (depth peeling) must stay off with it: together they silently draw no
    translucent thing at all.  The few that there are come in an order that does without.
    """
    plotter.disable_depth_peeling()
    plotter.disable_anti_aliasing()
    plotter.render_window.SetMultiSamples(SAMPLES)


def rendered(plotter: Any) -> NDArray[np.uint8]:
    """Render once and return the picture, shape (h, w, 3).

    The plotter's own way renders nothing before it is shown, and then more than once.
    """
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

    plotter.render_window.Render()
    reader = vtkWindowToImageFilter()
    reader.SetInput(plotter.render_window)
    reader.SetInputBufferTypeToRGB()
    reader.ReadFrontBufferOff()
    reader.ShouldRerenderOff()
    reader.Update()
    image = reader.GetOutput()
    width, height, _ = image.GetDimensions()
    flat = vtk_to_numpy(image.GetPointData().GetScalars())
    return np.asarray(flat.reshape(height, width, 3)[::-1], np.uint8).copy()
