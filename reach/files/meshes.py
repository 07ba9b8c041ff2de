"""Triangle meshes from STL, OBJ, PLY, GLB, GLTF and STEP files, in metres, z up.

Nothing is guessed: what cannot be used is a `ValueError` that says what to do, what looks odd is
a note for the planner.  What is doubled or turned is seen to in `reach.files.facing`.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.files.ceilings import MOST_TRIANGLES
from reach.files.gltf import check_gltf
from reach.files.obj import read_obj
from reach.files.ply_faces import MIXED, check_ply, faces_of
from reach.files.step import read_step
from reach.files.stl import read_stl
from reach.model.shapes import MeshFile
from reach.units import quantity, text_of

FORMATS = ("stl", "obj", "ply", "glb", "gltf", "step", "stp")

LARGEST_FILE = 1_000_000_000
"""Bytes of a mesh file that are read: some ten million triangles as text."""
SMALLEST = 1e-3
LARGEST = 1e3
"""A bounding box with a diagonal (m) outside these is pointed out as suspicious."""
FARTHEST = 1e9
"""Corners farther out (m) are refused: nothing exact can be said of them."""
TIMES_LARGER = 10.0
"""So many times larger than everything else in the scene: most likely inches or millimetres."""
TIMES_SMALLER = 2000.0
"""So many times smaller than everything else: most likely metres declared as millimetres."""


class Mesh(NamedTuple):
    """Triangles of a mesh file, shape (n, 3, 3), m, z up, and notes on faces that are left out."""

    triangles: NDArray[np.float64]
    left_out: list[str]


def read_mesh(path: Path, declared: MeshFile) -> Mesh:
    """Return the triangles of a mesh file with its declared unit and up-axis applied.

    Parameters
    ----------
    path : Path
    declared : MeshFile
        The unit and up-axis the scene gives.

    Returns
    -------
    Mesh
        Triangles without area are left out without a note.

    Raises
    ------
    ValueError
        If the file is empty, cut short, of an unknown format, holds no faces, faces with
        corners that are not there, or coordinates that are not finite numbers.
    """
    kind = path.suffix.lstrip(".").casefold()
    if kind not in FORMATS:
        formats = ", ".join(FORMATS)
        raise ValueError(f"unknown mesh format {path.suffix!r}; export it as one of {formats}")
    size = path.stat().st_size
    if size == 0:
        raise ValueError("the file is empty; export it again")
    if size > LARGEST_FILE:
        most = f"{LARGEST_FILE / 1e6:.0f} MB at most are read"
        raise ValueError(f"has {size / 1e6:.0f} MB, {most}; export it coarser")
    if declared.is_step:
        _check_step(declared)
    in_words = check_ply(path) if kind == "ply" else None
    left_out = check_gltf(path) if kind in ("glb", "gltf") else []
    read = _READERS[kind](path) if kind in _READERS else in_words or _content(path, kind)
    vertices, faces, odd = read
    if not len(faces):
        raise ValueError("holds no faces; export it with its surface as triangles")
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise ValueError("has faces with corners that are not there; export it again")
    triangles = vertices[faces]
    if vertices.ndim != 2 or vertices.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
        raise ValueError("has corners without three coordinates; export it again")
    if not np.isfinite(triangles).all():
        n_bad = int((~np.isfinite(triangles)).any(axis=(1, 2)).sum())
        raise ValueError(
            f"has coordinates that are not finite numbers in {n_bad} of {len(triangles)} "
            "triangles; repair it where it was made and export it again"
        )
    if declared.up == "y":
        x, y, z = np.moveaxis(triangles, -1, 0)
        triangles = np.stack([x, -z, y], axis=-1)
    triangles = triangles * quantity(f"1 {declared.unit}", "length")
    if np.abs(triangles).max() > FARTHEST:
        raise ValueError(f"lies farther than {FARTHEST:g} m from its origin; is its unit right?")
    flat = _areas(triangles) == 0.0
    if flat.all():
        raise ValueError("has no face with an area; export it again in a larger unit")
    return Mesh(np.ascontiguousarray(triangles[~flat]), [*left_out, *odd])


_READERS = {"obj": read_obj, "stl": read_stl, "step": read_step, "stp": read_step}


def _check_step(declared: MeshFile) -> None:
    if importlib.util.find_spec("cascadio") is None:
        raise ValueError("STEP files need an extra: pip install worksite-reach[step]")
    if declared.unit != "m":
        raise ValueError(
            "a STEP file carries its own unit and is read in metres; "
            f"write unit = 'm', found {declared.unit!r}"
        )


def _beside(path: Path) -> Any:
    """Return a reader of what a mesh file names: beside itself or below, and nothing elsewhere."""
    from trimesh.resolvers import FilePathResolver

    class Beside(FilePathResolver):
        def get(self, key: str) -> bytes:
            folder = path.parent.resolve()
            named = (folder / key.strip()).resolve()
            if not named.is_relative_to(folder):
                reason = "outside of its folder, where nothing is read"
                raise FileNotFoundError(f"it names {key!r}, {reason}")
            if not named.is_file():
                raise FileNotFoundError(key)
            if (size := named.stat().st_size) > LARGEST_FILE:
                raise ValueError(f"it names {key!r} of {size / 1e6:.0f} MB")
            return named.read_bytes()

    return Beside(str(path))


def _content(path: Path, kind: str) -> tuple[NDArray[np.float64], NDArray[np.int64], list[str]]:
    """Return vertices (n, 3) and faces (m, 3) of everything in the file, placed, and notes."""
    import trimesh  # takes long, and few scenes need it

    try:
        scene = trimesh.load_scene(path, file_type=kind, process=False, resolver=_beside(path))
        _check_copies(scene)
        loaded = scene.to_mesh()
        vertices, faces = np.asarray(loaded.vertices, float), np.asarray(loaded.faces, np.int64)
    except Exception as error:  # the readers of the formats fail in ways of their own
        reason = " ".join(str(error).split()) or type(error).__name__
        maybe = f" or has {MIXED}" if kind == "ply" else ""
        unread = f"cannot be read as {kind.upper()}, it may be cut short{maybe}"
        raise ValueError(f"{unread}: {reason[:120]}; export it again") from None
    parts = list(scene.geometry.values()) if kind == "ply" else []
    raw = parts[0].metadata.get("_ply_raw", {}) if parts else {}
    return faces_of(raw) or (vertices, faces, [])


def _check_copies(scene: Any) -> None:
    """Refuse a file that shows its parts so often that the copies would not fit into memory."""
    parts = (scene.geometry[scene.graph[node][1]] for node in scene.graph.nodes_geometry)
    n = sum(len(getattr(part, "faces", ())) for part in parts)
    if n > MOST_TRIANGLES:
        raise ValueError(f"{n} triangles, copies counted, {MOST_TRIANGLES} at most")


def _areas(triangles: NDArray[np.float64]) -> NDArray[np.float64]:
    a, b, c = triangles.transpose(1, 0, 2)
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=-1) / 2.0)


def diagonal(points: NDArray[np.float64]) -> float:
    """Return the diagonal of the bounding box of points, shape (..., 3), m."""
    flat = points.reshape(-1, 3)
    return float(np.linalg.norm(flat.max(axis=0) - flat.min(axis=0)))


def spread(records: Iterable[Any]) -> float:
    """Return the diagonal of the box round every point that records place, m."""
    points = [
        point
        for record in records
        for key in ("at", "start", "end")
        if (point := getattr(record, key, None)) is not None
    ]
    return diagonal(np.array(points)) if points else 0.0


def against_standard(declared: MeshFile) -> list[str]:
    """Return what is declared otherwise than the standard of a file's format says, as notes.

    glTF 2.0 (GLB and GLTF) is in metres with y up; many programs write it otherwise.
    """
    kind = Path(declared.file).suffix.lstrip(".").casefold()
    if kind not in ("glb", "gltf") or (declared.unit, declared.up) == ("m", "y"):
        return []
    return [
        f"is read in {declared.unit} with {declared.up} up, as declared; {kind.upper()} files are "
        "in m with y up by their standard: is this one written otherwise?"
    ]


def oddities(triangles: NDArray[np.float64], others: Iterable[float]) -> list[str]:
    """Return what a planner should look at in the size of a mesh.

    Parameters
    ----------
    triangles : ndarray, shape (n, 3, 3), m
    others : iterable of float, m
        Diagonals of everything else in the scene.
    """
    size, largest = diagonal(triangles), max(others, default=0.0)
    text = text_of(size, "m")
    notes = []
    if size < SMALLEST:
        notes.append(f"is only {size:.2g} m across; is its unit right?")
    elif size > LARGEST:
        notes.append(f"is {text} across; is its unit right?")
    elif largest > 0.0 and size > TIMES_LARGER * largest:
        ratio = f"{size / largest:.0f} times"
        notes.append(f"is {text} across, {ratio} everything else here; is its unit right?")
    elif largest > TIMES_SMALLER * size:
        notes.append(f"is {text} across, everything else is {largest:.0f} m; is its unit right?")
    return notes
