"""Named parts written as one GLB file (binary glTF 2.0) for other tools."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Y_UP = np.array([[1.0, 0.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, -1.0, 0.0, 0.0], [0, 0, 0, 1.0]])
"""Takes points with z up to points with y up, as glTF has it (Khronos, glTF 2.0, 3.4)."""


@dataclass(frozen=True, eq=False, slots=True)
class Part:
    """One thing as triangles.

    Attributes
    ----------
    name : str
        Of the node.
    points : ndarray, shape (n, 3), m, world, z up
    faces : ndarray of int64, shape (m, 3)
    colour : tuple of 3 int
        Red, green and blue, 0 to 255.
    opacity : float
        0 to 1.
    """

    name: str
    points: Array
    faces: NDArray[np.int64]
    colour: tuple[int, int, int]
    opacity: float = 1.0


def glb_of(parts: Iterable[Part]) -> bytes:
    """Return parts as the bytes of a GLB file: metres, y up, a node each under its name.

    A name that comes again gets a number, for nodes are told apart by name.
    """
    import trimesh
    from trimesh.visual.material import PBRMaterial

    scene = trimesh.Scene(base_frame="scene")
    for name, part in _named(parts):
        material = PBRMaterial(
            name=name,
            baseColorFactor=[*part.colour, round(255 * part.opacity)],
            alphaMode="OPAQUE" if part.opacity >= 1.0 else "BLEND",
            metallicFactor=0.0,
            roughnessFactor=0.8,
            doubleSided=True,
        )
        mesh = trimesh.Trimesh(part.points, part.faces, process=False)
        mesh.visual = trimesh.visual.TextureVisuals(material=material)
        scene.add_geometry(mesh, node_name=name, geom_name=name, transform=Y_UP)
    return bytes(scene.export(file_type="glb"))


def _named(parts: Iterable[Part]) -> list[tuple[str, Part]]:
    found: dict[str, Part] = {}
    for part in parts:
        name, number = part.name, 1
        while name in found:
            number += 1
            name = f"{part.name} ({number})"
        if len(part.faces):
            found[name] = part
    return list(found.items())
